"""Routes of sheets: a series with and without them, what each lets through, and the way into the recipe."""

import re
from typing import Any

from flask import make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from sumlight.protocol.amounts import MeasuringLegs
from sumlight_web.forms import Form, Input, blank, cut, quantity, read
from sumlight_web.language import N_, _
from sumlight_web.light.asking import RECIPE, ask, begin_series, recipe_named, usual_recipe
from sumlight_web.light.blueprint import ID, blueprint
from sumlight_web.light.runs import done_sides, run_of
from sumlight_web.light.steps import step_of
from sumlight_web.light.writing import NotWrittenError, put
from sumlight_web.services import services, usable_recipes
from sumlight_web.texts import text_of

WHOLE = re.compile(r"\d{1,3}", re.ASCII)
SHEETS = (
    RECIPE,
    quantity(MeasuringLegs, "sheets", N_("Sheets, one after the other")),
    quantity(MeasuringLegs, "seconds", N_("Length of a round"), "s", N_("Five seconds suffice; longer tells more.")),
)
COVERED = (
    Input(
        "covered",
        N_("Rounds with a sheet"),
        "text",
        "",
        N_("Such as 2, 4. Every second round if this stays empty."),
        optional=True,
    ),
)


@blueprint.route("/sheets", methods=["GET", "POST"])
def sheets() -> Response:
    """Start a series with and without sheets."""
    begun = request.method == "POST"
    form = read(SHEETS, request.form) if begun else blank(SHEETS, recipe=usual_recipe(), sheets="1", seconds="5")
    if begun and not form.errors:
        legs = {"seconds": form.required_number("seconds"), "legs": 2 * form.required_whole("sheets") + 1}
        away = begin_series(form, "compare", legs)
        if away is not None:
            return away
    first = step_of("compare", 1, 3)
    body = render_template(
        "light/sheets.html", title=_("Is my sheet good?"), form=form, first=first, recipes=usable_recipes()
    )
    return make_response(body, form.status)


@blueprint.get(f"/sheets/{ID}")
def sheets_run(exposure_id: int) -> Response:
    """What each sheet lets through, if one lay there in every second leg, as the Bench asked."""
    run, form = run_of(exposure_id, "compare"), blank(COVERED)
    whole = len(done_sides(run)) == len(run["sides"])
    return _sheets_page(run, form, _transmission(form, exposure_id) if whole else None)


@blueprint.post(f"/sheets/{ID}")
def sheets_read(exposure_id: int) -> Response:
    """What each sheet lets through."""
    run = run_of(exposure_id, "compare")
    form = read(COVERED, request.form)
    return _sheets_page(run, form, _transmission(form, exposure_id))


@blueprint.post(f"/sheets/{ID}/recipe")
def sheets_write(exposure_id: int) -> Response:
    """Put the measured stack into the recipe; it is worked out anew, so that only a stack that passes gets there."""
    run = run_of(exposure_id, "compare")
    form = read(COVERED, request.form)
    result, key = _transmission(form, exposure_id), request.form.get("key", "")
    if result is None:
        return _sheets_page(run, form, None)
    if result["recipe_value"] is None or key not in ("transmission.a", "transmission.b"):
        form.add("", _("Nothing was written.") + " " + text_of(result["sentence"]), 409)
        return _sheets_page(run, form, result)
    name = run["recipe_name"]
    try:
        put(services().shelf, name, key, result["recipe_value"], request.form.get("sha256", ""))
    except NotWrittenError as error:
        form.add("", str(error), 409)
        return _sheets_page(run, form, result)
    return redirect(url_for("light.page", written=name), 303)


def _transmission(form: Form, exposure_id: int) -> dict[str, Any] | None:
    parts = [part for part in re.split(r"[\s,;]+", form.text("covered")) if part]
    if any(not WHOLE.fullmatch(part) for part in parts) or len(parts) > 60:
        form.add(
            "covered", _("'{typed}' is not a list of rounds. Write one such as 2, 4.", typed=cut(form.text("covered")))
        )
    if form.errors:
        return None
    covered: dict[str, Any] = {"covered": [int(part) for part in parts]} if parts else {}
    return ask(form, "transmission", ("sheets", "recipe_value", "sentence"), {"exposure_id": exposure_id, **covered})


def _sheets_page(run: dict[str, Any], form: Form, result: dict[str, Any] | None) -> Response:
    stored = recipe_named(run["recipe_name"])
    body = render_template(
        "light/sheets_read.html", title=_("Is my sheet good?"), run=run, form=form, result=result, stored=stored
    )
    return make_response(body, form.status)
