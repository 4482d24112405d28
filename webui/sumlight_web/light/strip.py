"""Routes of the test strip: doses to try, a series that the Bench leads through, and which zone held."""

import math
from typing import Any

from flask import make_response, render_template, request
from werkzeug.wrappers import Response

from sumlight.protocol.commands import StripPlan
from sumlight_web import scale, words
from sumlight_web.forms import Form, Input, blank, quantity, read
from sumlight_web.language import N_, _
from sumlight_web.light.asking import RECIPE, ask, begin_series, recipe_named
from sumlight_web.light.blueprint import ID, blueprint
from sumlight_web.light.runs import done_sides, run_of
from sumlight_web.services import usable_recipes

STRIP = (
    RECIPE,
    quantity(StripPlan, "first_mj_cm2", N_("Dose of the first zone"), "mJ/cm²"),
    quantity(
        StripPlan, "factor", N_("From zone to zone times"), help=N_("1.19 is half a tablet step, 1.41 a whole one.")
    ),
    quantity(StripPlan, "zones", N_("Zones")),
)
USUAL = {"factor": "1.19", "zones": "8"}
"""Half a tablet step from zone to zone, around a dose of which something is known."""
FROM_NOTHING = {"first_mj_cm2": "10", "factor": "1.41", "zones": "10"}
"""A strip over a factor of twenty where nothing is known: 10 to 220 mJ/cm² (common practice, no source)."""
HELD = (Input("held", N_("Which is the first zone that held?"), "pick"),)


@blueprint.get("/strip")
def strip() -> Response:
    """The form of a new strip."""
    recipe = request.args.get("recipe", "")
    stored = recipe_named(recipe) if recipe else None
    if stored is not None and stored.recipe.dose_unknown:
        return _strip_page(blank(STRIP, recipe=recipe, **FROM_NOTHING), None)
    return _strip_page(blank(STRIP, recipe=recipe, first_mj_cm2=request.args.get("first", "")[:20], **USUAL), None)


@blueprint.post("/strip/plan")
def strip_plan() -> Response:
    """What each zone gets and how the mask moves."""
    form = read(scale.counted(STRIP, "first_mj_cm2"), request.form)
    return _strip_page(form, _strip(form))


@blueprint.post("/strip/start")
def strip_start() -> Response:
    """Begin it, and go to the Bench."""
    form = read(scale.counted(STRIP, "first_mj_cm2"), request.form)
    plan = _strip(form)
    if plan is not None:
        begun = begin_series(form, "strip", {"doses_mj_cm2": plan["leg_doses_mj_cm2"]})
        if begun is not None:
            return begun
    return _strip_page(form, None)


def _strip(form: Form) -> dict[str, Any] | None:
    if form.errors:
        return None
    asked: dict[str, float] = {key: form.required_number(key) for key in ("first_mj_cm2", "factor")}
    asked["zones"] = form.required_whole("zones")
    return ask(form, "strip_plan", ("leg_doses_mj_cm2", "steps", "warnings"), asked)


def _strip_page(form: Form, plan: dict[str, Any] | None) -> Response:
    form.inputs = scale.counted(form.inputs, "first_mj_cm2")
    body = render_template("light/strip.html", title=_("Test strip"), form=form, plan=plan, recipes=usable_recipes())
    return make_response(body, form.status)


@blueprint.get(f"/strip/{ID}")
def strip_run(exposure_id: int) -> Response:
    """Which zone held?"""
    return _strip_read_page(run_of(exposure_id, "strip"), blank(HELD), None)


@blueprint.post(f"/strip/{ID}")
def strip_read(exposure_id: int) -> Response:
    """Between which doses the resist begins to hold."""
    run = run_of(exposure_id, "strip")
    form = read(HELD, request.form)
    held, result = form.text("held"), None
    if not form.errors and held not in [value for value, _, _ in _strip_options(run)]:
        form.add("held", _("There is no such zone. Choose one."))
    if not form.errors:
        zone = None if held == "none" else int(held)
        keys = ("low_mj_cm2", "high_mj_cm2", "sentence")
        result = ask(
            form,
            "strip",
            keys,
            {"exposure_id": exposure_id, "first_held_zone": zone},
            {"first_held_zone": "held"},
        )
    return _strip_read_page(run, form, result)


def _strip_options(run: dict[str, Any]) -> list[tuple[str, str, str]]:
    doses = [side["dose_mj_cm2"] for side in done_sides(run)]
    zones = [
        (str(number), _("Zone {zone}", zone=number), f"{words.dose(math.fsum(doses[:number]))} {scale.of_run(run)}")
        for number in range(1, len(doses) + 1)
    ]
    return [*zones, ("none", _("No zone held"), "")] if zones else []


def _strip_read_page(run: dict[str, Any], form: Form, result: dict[str, Any] | None) -> Response:
    body = render_template(
        "light/strip_read.html",
        title=_("Test strip"),
        run=run,
        form=form,
        result=result,
        options=_strip_options(run),
        stored=recipe_named(run["recipe_name"]),
    )
    return make_response(body, form.status)
