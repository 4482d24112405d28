"""Routes of Light: what needs no series of several legs."""

from collections.abc import Mapping
from typing import Any, cast

from flask import make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from sumlight.checkedfile import PLAIN_NUMBER
from sumlight.protocol.amounts import SteadyLeg, TeachLeg
from sumlight.protocol.commands import DoseWindow, Radiometer
from sumlight.protocol.errors import BadRequestError
from sumlight.text.message import NOTHING, Message
from sumlight_web import scale
from sumlight_web.forms import Form, Input, blank, quantity, read
from sumlight_web.language import N_, _
from sumlight_web.light import calculators, field, questions, sheets, strip, tablet
from sumlight_web.light.asking import RECIPE, ask, begin_series, recipe_named
from sumlight_web.light.blueprint import ID, blueprint
from sumlight_web.light.questions import overview
from sumlight_web.light.runs import KINDS, any_run, run_of
from sumlight_web.light.writing import NotWrittenError, put
from sumlight_web.link import LinkDownError
from sumlight_web.services import services, usable_recipes

__all__ = ["blueprint", "calculators", "field", "questions", "sheets", "strip", "tablet"]

WINDOW_VERDICTS = {"safe": N_("Safe"), "thin": N_("Thin"), "bleeds": N_("It bleeds")}
VERDICTS = {
    "reference": N_("First look"),
    "steady": N_("Nothing has changed"),
    "diffuser_dirty": N_("The diffuser is dirty"),
    "diffuser_cleaned": N_("The diffuser was cleaned"),
    "sensor_changed": N_("The sensor itself has changed"),
    "lamp_ages": N_("The lamps have aged"),
}

BANK = Input("bank", N_("Lamps"), "pick", optional=True)
TEACH = (RECIPE, quantity(TeachLeg, "seconds", N_("Time known to be good"), "s"))
STEADY = (RECIPE, quantity(SteadyLeg, "seconds", N_("How long the lamps stay on"), "s"))
READING = (
    BANK,
    quantity(
        Radiometer,
        "mw_cm2",
        N_("The radiometer reads"),
        "mW/cm²",
        N_("At the glass, where the panel lies."),
    ),
    quantity(
        Radiometer,
        "relative_uncertainty",
        N_("Its uncertainty"),
        "%",
        N_("Standard uncertainty. A certificate that says ± 8 % with k = 2 means 4 here."),
        key="percent",
    ),
)
STANDARD = N_("Standard uncertainty.")
WINDOW = (
    quantity(DoseWindow, "clear", N_("Clear film passes"), "%"),
    quantity(DoseWindow, "clear_standard", N_("± of that"), "%", STANDARD, optional=True),
    quantity(DoseWindow, "opaque", N_("Black film passes"), "%"),
    quantity(DoseWindow, "opaque_standard", N_("± of that"), "%", STANDARD, optional=True),
    quantity(DoseWindow, "dose_mj_cm2", N_("Dose of the tablet panel"), "mJ/cm²"),
    quantity(DoseWindow, "held_step", N_("Last step held on it")),
    quantity(DoseWindow, "clean_step", N_("First step without any residue")),
    quantity(
        DoseWindow,
        "target_step",
        N_("Step that the job needs held"),
        help=N_("The held one if left out."),
        optional=True,
    ),
)


@blueprint.get(f"/series/{ID}")
def series(exposure_id: int) -> Response:
    """The page that reads this series."""
    kind = any_run(exposure_id)["kind"]
    if kind not in KINDS:
        return redirect(url_for("panels.record", exposure_id=exposure_id), 303)
    target = KINDS[kind][1]
    return redirect(url_for(target) if kind == "steady" else url_for(target, exposure_id=exposure_id), 303)


@blueprint.post("/recipe")
def write_recipe() -> Response:
    """Put a dose into a recipe: one press."""
    name, value = request.form.get("recipe", ""), request.form.get("value", "")
    form = blank(())
    if request.form.get("key") != "dose_mj_cm2" or not PLAIN_NUMBER.fullmatch(value):
        form.add("", _("That was not a dose for a recipe. Work the measurement out again."))
        return overview(form)
    try:
        put(services().shelf, name, "dose_mj_cm2", float(value), request.form.get("sha256", ""))
    except NotWrittenError as error:
        form.add("", str(error), 409)
        return overview(form)
    return redirect(url_for("light.page", written=name), 303)


# -- teach ------------------------------------------------------------------------------------------------------------


@blueprint.route("/teach", methods=["GET", "POST"])
def teach() -> Response:
    """Expose for a time that is known to be good."""
    form = blank(TEACH, recipe=request.args.get("recipe", ""))
    form = form if request.method == "GET" else read(TEACH, request.form)
    if request.method == "POST" and not form.errors:
        begun = begin_series(form, "teach", {"seconds": form.required_number("seconds")})
        if begun is not None:
            return begun
    body = render_template("light/teach.html", title=_("Teach"), form=form, recipes=usable_recipes())
    return make_response(body, form.status)


@blueprint.get(f"/teach/{ID}")
def taught(exposure_id: int) -> Response:
    """A taught exposure, before it is made a dose."""
    return _taught(run_of(exposure_id, "teach"), blank(()), None)


@blueprint.post(f"/teach/{ID}")
def teach_read(exposure_id: int) -> Response:
    """Make it a dose."""
    run, form = run_of(exposure_id, "teach"), blank(())
    result = ask(form, "teach", ("recipe_dose_mj_cm2", "relative", "sentence"), {"exposure_id": exposure_id})
    return _taught(run, form, result)


def _taught(run: dict[str, Any], form: Form, result: dict[str, Any] | None) -> Response:
    stored = recipe_named(run["recipe_name"])
    body = render_template("light/taught.html", title=_("Teach"), run=run, form=form, result=result, stored=stored)
    return make_response(body, form.status)


# -- radiometer -------------------------------------------------------------------------------------------------------


@blueprint.get("/radiometer")
def radiometer() -> Response:
    """Steady light, and the reading."""
    return _radiometer(blank(STEADY + READING, seconds="60"))


@blueprint.post("/radiometer/steady")
def steady() -> Response:
    """Light the lamps and keep them."""
    form = read(STEADY, request.form)
    if not form.errors:
        legs, go_to = {"seconds": form.required_number("seconds")}, url_for("light.radiometer")
        begun = begin_series(form, "steady", legs, go_to=go_to)
        if begun is not None:
            return begun
    form.inputs = STEADY + READING
    return _radiometer(form)


@blueprint.post("/radiometer/reading")
def radiometer_read() -> Response:
    """Take the reading in."""
    form = read(READING, request.form)
    result = None
    if not form.errors:
        reading = {
            "mw_cm2": form.required_number("mw_cm2"),
            "relative_uncertainty": form.required_number("percent") / 100,
        }
        at = {"relative_uncertainty": "percent"}
        result = ask(form, "radiometer", ("sentence",), {**_bank(form), **reading}, at)
    form.inputs = STEADY + READING
    form.values.setdefault("seconds", "60")
    return _radiometer(form, NOTHING if result is None else result["sentence"])


def _bank(form: Form) -> dict[str, str]:
    return {"bank": form.text("bank")} if form.text("bank") else {}


def _radiometer(form: Form, told: Message = NOTHING) -> Response:
    latest = services().watch.latest()
    snapshot = cast(Mapping[str, Any] | None, latest.snapshot)
    exposure = snapshot["exposure"] if snapshot and latest.live else None
    lit = bool(exposure and exposure.get("kind") == "steady" and any(b["commanded"] for b in snapshot["banks"]))  # type: ignore[index]
    body = render_template(
        "light/radiometer.html",
        title=_("Radiometer"),
        form=form,
        recipes=usable_recipes(),
        banks=snapshot["banks"] if snapshot else [],
        lit=lit,
        told=told,
    )
    return make_response(body, form.status)


# -- self-check and new lamps -----------------------------------------------------------------------------------------


@blueprint.get("/self-check")
def self_check() -> Response:
    """What the sensor's own LED tells, per bank."""
    return _self_check(blank(()))


@blueprint.post("/self-check")
def self_check_start() -> Response:
    """Start a look, or apply the correction that the last one offers."""
    form = read((BANK,), request.form)
    apply = {"apply": True} if request.form.get("apply") == "yes" else {}
    if ask(form, "self_check", (), {**_bank(form), **apply}) is None:
        return _self_check(form)
    return redirect(url_for("light.self_check"), 303)


def _self_check(form: Form) -> Response:
    try:  # asked now: what the watch heard last may be older than the press
        banks = services().link.ask("state").get("banks", [])
    except (LinkDownError, BadRequestError):
        banks = []
    blind = bool(banks) and not any(bank.get("self_check") for bank in banks)
    banks = [bank for bank in banks if bank.get("self_check")]
    looking = any(bank["self_check"]["phase"] == "running" for bank in banks)
    body = render_template(
        "light/self_check.html",
        title=_("Self-check"),
        form=form,
        banks=banks,
        looking=looking,
        blind=blind,
        verdicts=VERDICTS,
    )
    return make_response(body, form.status)


# -- safe dose window -------------------------------------------------------------------------------------------------

SHARES = ("clear", "clear_standard", "opaque", "opaque_standard")


@blueprint.route("/window", methods=["GET", "POST"])
def window() -> Response:
    """Between which doses an artwork works."""
    inputs = scale.counted(WINDOW, "dose_mj_cm2")
    form, result = blank(inputs), None
    if request.method == "POST":
        form = read(inputs, request.form)
        if not form.errors:
            typed = {each.key: form.number(each.key) for each in WINDOW}
            values = {k: v / 100 if k in SHARES else v for k, v in typed.items() if v is not None}
            keys = ("verdict", "sentence", "low_mj_cm2", "high_mj_cm2", "margin_steps")
            result = ask(form, "dose_window", keys, values)
    body = render_template(
        "light/window.html", title=_("Safe dose window"), form=form, result=result, verdicts=WINDOW_VERDICTS
    )
    return make_response(body, form.status)
