"""Routes of test strip, sheets and field: a plan, a series that the Bench leads through, and what it tells."""

import math
import re
from typing import Any

from flask import make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from sumlight_web import words
from sumlight_web.desk import desk
from sumlight_web.language import N_, _
from sumlight_web.light.asking import ask, begin_series, recipe_named
from sumlight_web.light.blueprint import ID, blueprint
from sumlight_web.light.forms import NUMBER, WHOLE, Form, Input, blank, cut, read
from sumlight_web.light.heat import field_svg
from sumlight_web.light.runs import done_sides, run_of
from sumlight_web.light.writing import NotWrittenError, put
from sumlight_web.seen import usable_recipes
from sumlight_web.spoken import said

RECIPE = Input("recipe", N_("Recipe"), "pick", help=N_("Its side A and its time guard are used."))
STRIP = (
    RECIPE,
    Input("first_mj_cm2", N_("Dose of the first zone"), unit="mJ/cm²", low=0.1, high=5000),
    Input(
        "factor",
        N_("From zone to zone times"),
        help=N_("1.19 is half a tablet step, 1.41 a whole one."),
        low=1.02,
        high=4,
    ),
    Input("zones", N_("Zones"), "whole", low=2, high=20),
)
HELD = (Input("held", N_("Which is the first zone that held?"), "pick"),)
SHEETS = (
    RECIPE,
    Input("sheets", N_("Sheets, one after the other"), "whole", low=1, high=20),
    Input(
        "seconds", N_("Length of a leg"), unit="s", help=N_("Five seconds suffice; longer tells more."), low=3, high=600
    ),
)
COVERED = (
    Input(
        "covered",
        N_("Legs with a sheet"),
        "text",
        "",
        N_("Such as 2, 4. Every second leg if this stays empty."),
        optional=True,
    ),
)
SIZES = tuple(str(number) for number in (3, 5, 7))
FIELD = (
    RECIPE,
    Input("width_mm", N_("Width to map"), unit="mm", low=10, high=2000),
    Input("depth_mm", N_("Depth to map"), unit="mm", low=10, high=2000),
    Input("columns", N_("Columns"), "whole", "", N_("3, 5 or 7, so that one is in the middle."), low=3, high=7),
    Input("rows", N_("Rows"), "whole", "", N_("3, 5 or 7."), low=3, high=7),
    Input("seconds", N_("Length of a leg"), unit="s", low=3, high=600),
)
BACK_AFTER = 6
"""After so many places the sensor comes back to the middle."""
PLACES = (
    Input("places", N_("Places in mm, one a line"), "long", "", N_("In the order of the legs: x, y.")),
    Input("sensor", N_("Sensor in use: x, y"), "text", "mm", optional=True),
    Input(
        "panel", N_("Panel: left, right, near, far edge"), "text", "mm", N_("Such as -60, 60, -40, 40."), optional=True
    ),
)
NOTE_BEGINS = "places in mm: "
Place = tuple[float, float]


# -- test strip -------------------------------------------------------------------------------------------------------


@blueprint.get("/strip")
def strip() -> Response:
    """The form of a new strip."""
    return _strip_page(blank(STRIP, factor="1.19", zones="8"), None)


@blueprint.post("/strip/plan")
def strip_plan() -> Response:
    """What each zone gets and how the mask moves."""
    form = read(STRIP, request.form)
    return _strip_page(form, _strip(form))


@blueprint.post("/strip/start")
def strip_start() -> Response:
    """Begin it, and go to the Bench."""
    form = read(STRIP, request.form)
    plan = _strip(form)
    if plan is not None:
        begun = begin_series(form, "strip", {"doses_mj_cm2": plan["leg_doses_mj_cm2"]}, panel="test strip")
        if begun is not None:
            return begun
    return _strip_page(form, None)


def _strip(form: Form) -> dict[str, Any] | None:
    if form.errors:
        return None
    asked: dict[str, float] = {key: form.sure_number(key) for key in ("first_mj_cm2", "factor")}
    asked["zones"] = form.sure_whole("zones")
    return ask(form, "strip_plan", ("leg_doses_mj_cm2", "steps", "warnings"), asked)


def _strip_page(form: Form, plan: dict[str, Any] | None) -> Response:
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
        (str(number), _("Zone {zone}", zone=number), f"{words.dose(math.fsum(doses[:number]))} mJ/cm²")
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


# -- sheets -----------------------------------------------------------------------------------------------------------


@blueprint.route("/sheets", methods=["GET", "POST"])
def sheets() -> Response:
    """Start a series with and without sheets."""
    form = blank(SHEETS, sheets="1", seconds="5") if request.method == "GET" else read(SHEETS, request.form)
    if request.method == "POST" and not form.errors:
        legs = {"seconds": form.sure_number("seconds"), "legs": 2 * form.sure_whole("sheets") + 1}
        begun = begin_series(form, "compare", legs, panel="sheets")
        if begun is not None:
            return begun
    body = render_template(
        "light/timed.html", title=_("Sheets"), job="sheets", action="light.sheets", form=form, recipes=usable_recipes()
    )
    return make_response(body, form.status)


@blueprint.get(f"/sheets/{ID}")
def sheets_run(exposure_id: int) -> Response:
    """Before it is worked out."""
    return _sheets_page(run_of(exposure_id, "compare"), blank(COVERED), None)


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
        form.add("", _("Nothing was written.") + " " + said(result["sentence"]), 409)
        return _sheets_page(run, form, result)
    name = run["recipe_name"]
    try:
        put(desk().shelf, name, key, result["recipe_value"], request.form.get("sha256", ""))
    except NotWrittenError as error:
        form.add("", str(error), 409)
        return _sheets_page(run, form, result)
    return redirect(url_for("light.page", written=name), 303)


def _transmission(form: Form, exposure_id: int) -> dict[str, Any] | None:
    parts = [part for part in re.split(r"[\s,;]+", form.text("covered")) if part]
    if any(not WHOLE.match(part) for part in parts) or len(parts) > 60:
        form.add("covered", _("'{typed}' is no list of legs. Write one such as 2, 4.", typed=cut(form.text("covered"))))
    if form.errors:
        return None
    covered: dict[str, Any] = {"covered": [int(part) for part in parts]} if parts else {}
    return ask(form, "transmission", ("sheets", "recipe_value", "sentence"), {"exposure_id": exposure_id, **covered})


def _sheets_page(run: dict[str, Any], form: Form, result: dict[str, Any] | None) -> Response:
    stored = recipe_named(run["recipe_name"])
    body = render_template(
        "light/sheets_read.html", title=_("Sheets"), run=run, form=form, result=result, stored=stored
    )
    return make_response(body, form.status)


# -- field ------------------------------------------------------------------------------------------------------------


@blueprint.get("/field")
def field() -> Response:
    """The form of a new walk."""
    form = blank(FIELD, width_mm="200", depth_mm="150", columns="3", rows="3", seconds="6")
    return _field_page(form, [])


@blueprint.post("/field/plan")
def field_plan() -> Response:
    """Where to carry the sensor."""
    form = read(FIELD, request.form)
    return _field_page(form, _walk(form))


@blueprint.post("/field/start")
def field_start() -> Response:
    """Begin the walk, and go to the Bench."""
    form = read(FIELD, request.form)
    places = _walk(form)
    if places:
        note = NOTE_BEGINS + "; ".join(f"{x:g}, {y:g}" for x, y in places)
        legs = {"seconds": form.sure_number("seconds"), "legs": len(places)}
        begun = begin_series(form, "field", legs, panel="field", note=note)
        if begun is not None:
            return begun
    return _field_page(form, [])


def _walk(form: Form) -> list[Place]:
    for key in ("columns", "rows"):
        if key not in form.errors and form.text(key) not in SIZES:
            form.add(key, _("Only 3, 5 or 7 have a middle and fit into one walk."))
    if form.errors:
        return []
    columns, rows = form.sure_whole("columns"), form.sure_whole("rows")
    return walk(form.sure_number("width_mm"), form.sure_number("depth_mm"), columns, rows)


def walk(width_mm: float, depth_mm: float, columns: int, rows: int) -> list[Place]:
    """Places about the middle of an area: the middle first, last and now and then, the rest row by row, to and fro."""
    across = [round(width_mm * (number / (columns - 1) - 0.5), 1) for number in range(columns)]
    along = [round(depth_mm * (number / (rows - 1) - 0.5), 1) for number in range(rows)]
    middle = (0.0, 0.0)
    others = []
    for number, y in enumerate(along):
        others += [(x, y) for x in (across if number % 2 == 0 else reversed(across)) if (x, y) != middle]
    found = [middle]
    for number, place in enumerate(others, start=1):
        found.append(place)
        if number % BACK_AFTER == 0 and number < len(others):
            found.append(middle)
    return [*found, middle]


def _field_page(form: Form, places: list[Place]) -> Response:
    body = render_template("light/field.html", title=_("Field"), form=form, places=places, recipes=usable_recipes())
    return make_response(body, form.status)


@blueprint.get(f"/field/{ID}")
def field_run(exposure_id: int) -> Response:
    """Before it is worked out: the places as they were proposed."""
    run = run_of(exposure_id, "field")
    note = run["note"] or ""
    places = note.removeprefix(NOTE_BEGINS).replace("; ", "\n") if note.startswith(NOTE_BEGINS) else ""
    return _field_read_page(run, blank(PLACES, places=places), None)


@blueprint.post(f"/field/{ID}")
def field_read(exposure_id: int) -> Response:
    """The map, its figures, and the step from sensor to panel."""
    run = run_of(exposure_id, "field")
    form = read(PLACES, request.form)
    asked: dict[str, Any] = {"places": [_numbers(form, "places", line, 2) for line in form.text("places").splitlines()]}
    for key, count in (("sensor", 2), ("panel", 4)):
        if form.text(key):
            asked[key] = _numbers(form, key, form.text(key), count)
    result = None
    if not form.errors:
        keys = ("x_mm", "y_mm", "values", "heat_map", "usable", "uniformity", "repeat", "drift", "place", "sentence")
        result = ask(form, "field", keys, {"exposure_id": exposure_id, **asked})
    return _field_read_page(run, form, result)


def _numbers(form: Form, key: str, text: str, count: int) -> list[float]:
    parts = [part for part in re.split(r"[\s,;]+", text.strip()) if part]
    if len(parts) != count or any(not NUMBER.match(part) for part in parts):
        if key not in form.errors:
            told = _("'{typed}' does not hold {n} numbers. Write them with commas between.", typed=cut(text), n=count)
            form.add(key, told)
        return []
    return [float(part) for part in parts]


def _field_read_page(run: dict[str, Any], form: Form, result: dict[str, Any] | None) -> Response:
    body = render_template(
        "light/field_read.html",
        title=_("Field"),
        run=run,
        form=form,
        result=result,
        drawing="" if result is None else field_svg(result),
        rows=[] if result is None else list(zip(result["y_mm"], result["values"], strict=False)),
    )
    return make_response(body, form.status)
