"""Routes of the guided run with a step tablet: doses, start, readings, calibration."""

import math
from typing import Any

from flask import make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from sumlight.bounds import Bounds
from sumlight.checkedfile import PLAIN_NUMBER
from sumlight.craft.tablet import MOST_DENSITY, STEPS
from sumlight.light.calibration import reference_ln_sigma
from sumlight.protocol.amounts import MOST_DOSE_MJ_CM2
from sumlight.protocol.commands import Reading, TabletPlan, TabletReadings
from sumlight.protocol.run_parameters import RunParameters, TabletParameters, recorded
from sumlight.quantity import QuantityError, read_list, shown
from sumlight_web.forms import MISSING, Form, Input, blank, quantity, read
from sumlight_web.language import N_, _
from sumlight_web.light.asking import ask, begin_series, recipe_named, usual_recipe
from sumlight_web.light.blueprint import ID, blueprint
from sumlight_web.light.runs import done_sides, run_of
from sumlight_web.light.writing import NotWrittenError, put
from sumlight_web.logbook import reader
from sumlight_web.services import services, usable_recipes
from sumlight_web.texts import text_of

SURPRISING = 3.0
"""From so many standard deviations on, control wants to hear that the reading stands."""

TARGET = quantity(
    TabletParameters,
    "target_step",
    N_("Step that must just be held"),
    help=N_("From the resist's data sheet, for a 21-step tablet."),
)
REFERENCE = quantity(
    TabletParameters,
    "reference_mj_cm2",
    N_("Dose that is known to just hold it"),
    "mJ/cm²",
    N_("From the data sheet. The recipe's dose, if this stays empty."),
    optional=True,
)
PLAN = (
    Input("recipe", N_("Recipe"), "pick", help=N_("Its side A, its glass and film and its time guard are used.")),
    TARGET,
    REFERENCE,
    quantity(
        TabletPlan,
        "zones",
        N_("Zones of the panel"),
        help=N_("Four zones, a fraction of a step apart, tell far more than one."),
    ),
)
RESULT_KEYS = (
    *("sentence", "threshold_mj_cm2", "low_mj_cm2", "high_mj_cm2", "factor", "factor_sigma", "textbook_factor"),
    *("recipe_dose_mj_cm2", "surprise", "retry_factor", "applied", "calibration"),
)


@blueprint.get("/tablet")
def tablet() -> Response:
    """The form of a new run."""
    form = blank(PLAN, target_step="8", zones="4", recipe=request.args.get("recipe", "") or usual_recipe())
    return _plan_page(form, None)


@blueprint.post("/tablet/plan")
def tablet_plan() -> Response:
    """Which doses to try."""
    form = read(PLAN, request.form)
    return _plan_page(form, None if form.errors else _proposal(form))


def _proposal(form: Form) -> dict[str, Any] | None:
    asked: dict[str, Any] = {"recipe": form.text("recipe"), "target_step": form.required_whole("target_step")}
    asked["zones"] = form.required_whole("zones")
    reference = form.number("reference_mj_cm2")
    if reference is not None:
        asked["reference_mj_cm2"] = reference
    plan = ask(form, "tablet_plan", ("doses_mj_cm2", "sentence"), asked)
    return plan if plan and plan["doses_mj_cm2"] else None


@blueprint.post("/tablet/start")
def tablet_start() -> Response:
    """Begin the run with the doses that were proposed, and go to the Bench."""
    form = read(PLAN, request.form)
    typed = request.form.getlist("dose")
    doses = [float(dose) for dose in typed if PLAIN_NUMBER.fullmatch(dose)]
    if not doses or len(doses) != len(typed):
        form.add("", _("The doses did not arrive whole. Propose them again."))
    if not form.errors:
        known: dict[str, Any] = {"target_step": form.required_whole("target_step")}
        reference = form.number("reference_mj_cm2")
        known |= {} if reference is None else {"reference_mj_cm2": reference}
        begun = begin_series(form, "tablet", {"doses_mj_cm2": doses}, parameters=known)
        if begun is not None:
            return begun
    return _plan_page(form, None)


def _plan_page(form: Form, plan: dict[str, Any] | None) -> Response:
    body = render_template("light/tablet.html", title=_("Tablet run"), form=form, plan=plan, recipes=usable_recipes())
    return make_response(body, form.status)


@blueprint.get(f"/tablet/{ID}")
def tablet_run(exposure_id: int) -> Response:
    """The form for the readings of a run."""
    run = run_of(exposure_id, "tablet")
    zones = done_sides(run)
    values = _as_begun(recorded("tablet", run["parameters"]))
    values |= {f"what_{zone['side']}": "step" for zone in zones} | _last_certificate()
    return _readings_page(run, zones, blank(_readings(zones), **values), None)


def _last_certificate() -> dict[str, str]:
    """What the certificate said of the tablet that was read last: a bench has one tablet, as a rule."""
    with reader() as logbook:
        densities, sigma = ((), None) if logbook is None else logbook.calibrations.last_certificate()
    if not densities:
        return {}
    typed = {"densities": "; ".join(shown(value) for value in densities)}
    return typed if sigma is None else typed | {"density_uncertainty": shown(sigma)}


def _densities(form: Form) -> list[float]:
    """Those that were typed; empty for a usual tablet, and for what is no row of numbers, which the form then says."""
    text = form.text("densities")
    if not text:
        return []
    try:
        return read_list(text, STEPS, bounds=Bounds(0, MOST_DENSITY))
    except QuantityError as error:
        form.add("densities", text_of(error.message))
        return []


def _as_begun(known: RunParameters | None) -> dict[str, str]:
    """Step and dose that the run was begun with. Without them in its record nothing is proposed: a guess would pass."""
    if not isinstance(known, TabletParameters):
        return {}
    reference = known.reference_mj_cm2
    return {
        "target_step": str(known.target_step),
        "reference_mj_cm2": "" if reference is None else shown(reference, 4),
    }


@blueprint.post(f"/tablet/{ID}")
def tablet_read(exposure_id: int) -> Response:
    """Work the readings out and, if asked to, set the calibration by them or put the dose into the recipe."""
    run = run_of(exposure_id, "tablet")
    zones = done_sides(run)
    form = read(_readings(zones), request.form)
    readings = [_reading(form, str(zone["side"])) for zone in zones]
    densities, density_sigma = _densities(form), form.number("density_uncertainty")
    result = None
    if not form.errors and zones:
        asked: dict[str, Any] = {
            "exposure_id": exposure_id,
            "convention": form.text("convention"),
            "readings": readings,
            "target_step": form.required_whole("target_step"),
            "lot": form.text("lot"),
        }
        percent = form.number("reference_percent")
        asked |= {"reference_uncertainty": percent / 100} if percent else {}
        asked |= {"densities": densities, "density_uncertainty": density_sigma} if densities else {}
        reference = form.number("reference_mj_cm2")
        asked |= {} if reference is None else {"reference_mj_cm2": reference}
        apply = request.form.get("apply")
        asked |= {"apply": apply} if apply in ("calibration", "recipe") else {}
        asked |= {"sure": True} if request.form.get("sure") == "yes" else {}
        at = {"reference_uncertainty": "reference_percent"}
        result = ask(form, "tablet_readings", RESULT_KEYS, asked, at)
        if result is not None and apply == "recipe" and result["recipe_dose_mj_cm2"] is not None:
            try:
                put(
                    services().shelf,
                    run["recipe_name"],
                    "dose_mj_cm2",
                    round(result["recipe_dose_mj_cm2"], 1),
                    request.form.get("sha256", ""),
                )
            except NotWrittenError as error:
                form.add("", str(error), 409)
            else:
                return redirect(url_for("light.page", written=run["recipe_name"]), 303)
    return _readings_page(run, zones, form, result)


def _readings(zones: list[dict[str, Any]]) -> tuple[Input, ...]:
    found = [
        Input(
            "convention",
            N_("How do you read the tablet?"),
            "pick",
            help=N_("The two differ by a step. Ask yourself which it is."),
        )
    ]
    for zone in zones:
        name = zone["side"]
        found += [
            quantity(
                Reading,
                "step",
                _("Step in zone {zone}", zone=name),
                help=N_("Empty for all held or all gone."),
                key=f"step_{name}",
                optional=True,
            ),
            Input(f"half_{name}", _("Half of the next step in zone {zone}", zone=name), "text", optional=True),
            Input(f"what_{name}", _("What zone {zone} shows", zone=name), "pick", optional=True),
        ]
    return (
        *found,
        TARGET,
        REFERENCE,
        quantity(
            TabletReadings,
            "reference_uncertainty",
            N_("Uncertainty of that dose"),
            "%",
            N_("Standard, of the data sheet; left out it counts as 10 %."),
            key="reference_percent",
            optional=True,
        ),
        Input("lot", N_("Lot of the resist"), "text", optional=True),
        Input(
            "densities",
            N_("Densities of your tablet"),
            help=N_("Steps 1 to 21 by its own certificate. Empty for a usual tablet."),
            optional=True,
            longest=300,
        ),
        quantity(
            TabletReadings,
            "density_uncertainty",
            N_("Uncertainty of these densities"),
            help=N_("Standard, of the certificate; left out they count as ±20 % of the light."),
            optional=True,
        ),
    )


def _reading(form: Form, zone: str) -> dict[str, Any]:
    what, key = form.text(f"what_{zone}") or "step", f"step_{zone}"
    if what in ("all_held", "all_gone"):
        return {"zone": zone, "step": what}
    if not form.text(key):
        form.add(key, _(MISSING))
    if key in form.errors:
        return {}
    return {"zone": zone, "step": form.required_whole(key), "half": form.text(f"half_{zone}") == "yes"}


def _readings_page(
    run: dict[str, Any], zones: list[dict[str, Any]], form: Form, result: dict[str, Any] | None
) -> Response:
    surprise = None if result is None else result["surprise"]
    body = render_template(
        "light/readings.html",
        title=_("Tablet readings"),
        run=run,
        zones=zones,
        form=form,
        result=result,
        stored=recipe_named(run["recipe_name"]),
        absolute=_absolute(form, result),
        surprising=surprise is not None and abs(surprise) > SURPRISING,
        retry_doses=_retry(zones, result),
    )
    return make_response(body, form.status)


def _absolute(form: Form, result: dict[str, Any] | None) -> float | None:
    """Expanded, as a share: what the readings leave unsure and what the known dose does."""
    if result is None or result["factor_sigma"] is None:
        return None
    percent, own, sigma = form.number("reference_percent"), form.text("densities"), form.number("density_uncertainty")
    common = reference_ln_sigma(percent / 100 if percent else None, densities=bool(own), density_sigma=sigma)
    return 2 * math.hypot(result["factor_sigma"], common)


def _retry(zones: list[dict[str, Any]], result: dict[str, Any] | None) -> list[str]:
    factor = None if result is None else result["retry_factor"]
    if not factor:
        return []
    return [shown(min(MOST_DOSE_MJ_CM2, zone["dose_mj_cm2"] * factor), 1) for zone in zones]
