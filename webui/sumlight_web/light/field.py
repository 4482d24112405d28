"""Routes of the field: where to carry the sensor, a series that the Bench leads through, and the map."""

from collections.abc import Mapping
from typing import Any

from flask import make_response, render_template, request
from werkzeug.wrappers import Response

from sumlight.bounds import Bounds
from sumlight.protocol.amounts import MeasuringLegs
from sumlight.protocol.run_parameters import FARTHEST_MM, FieldParameters, recorded
from sumlight.quantity import QuantityError, shown
from sumlight_web.forms import CONVERTED_DIGITS, LONG_TEXT, Form, Input, blank, proposals, quantity, read
from sumlight_web.language import N_, _
from sumlight_web.light.asking import RECIPE, ask, begin_series, recipe_named, usual_recipe
from sumlight_web.light.blueprint import ID, blueprint
from sumlight_web.light.heat import field_svg
from sumlight_web.light.runs import done_sides, run_of
from sumlight_web.light.steps import Place, step_of
from sumlight_web.services import usable_recipes
from sumlight_web.texts import text_of

SIZES = (3, 5, 7)
FIELD = (
    RECIPE,
    quantity(MeasuringLegs, "width_mm", N_("Width to map"), "mm"),
    quantity(MeasuringLegs, "depth_mm", N_("Depth to map"), "mm"),
    quantity(MeasuringLegs, "columns", N_("Columns"), help=N_("3, 5 or 7, so that one is in the middle.")),
    quantity(MeasuringLegs, "rows", N_("Rows"), help=N_("3, 5 or 7.")),
    quantity(MeasuringLegs, "seconds", N_("Length of a round"), "s"),
)
USUAL = {"width_mm": "200", "depth_mm": "150", "columns": "3", "rows": "3", "seconds": "6"}
BACK_AFTER = 6
"""After so many places the sensor comes back to the middle."""
FAR = Bounds(-FARTHEST_MM, FARTHEST_MM)
PLACES = (
    Input(
        "places",
        N_("Places, one a line"),
        "long",
        "mm",
        N_("In the order of the rounds: x, y."),
        bounds=FAR,
        longest=LONG_TEXT,
    ),
    Input("sensor", N_("Sensor in use: x, y"), "text", "mm", optional=True, bounds=FAR),
    Input(
        "panel",
        N_("Panel: left, right, near, far edge"),
        "text",
        "mm",
        N_("From the middle; to the left and towards you it is less than 0."),
        optional=True,
        bounds=FAR,
    ),
)
PLACE = PLACES[0]


@blueprint.get("/field")
def field() -> Response:
    """A walk that can be begun at once, and the form of another one."""
    usual = {"recipe": usual_recipe()} | USUAL
    form = read(FIELD, proposals(FIELD, usual)) if usual["recipe"] else blank(FIELD, **usual)
    return _field_page(form, _walk(form) if usual["recipe"] else [])


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
        legs = {"seconds": form.required_number("seconds"), "legs": len(places)}
        begun = begin_series(form, "field", legs, parameters={"places": places})
        if begun is not None:
            return begun
    return _field_page(form, [])


def _walk(form: Form) -> list[Place]:
    for key in ("columns", "rows"):
        if key not in form.errors and form.required_whole(key) not in SIZES:
            form.add(key, _("Only 3, 5 or 7 have a middle and fit into one walk."))
    if form.errors:
        return []
    columns, rows = form.required_whole("columns"), form.required_whole("rows")
    return walk(form.required_number("width_mm"), form.required_number("depth_mm"), columns, rows)


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
    first = step_of("field", 1, len(places), tuple(places)) if places else None
    body = render_template(
        "light/field.html",
        title=_("Is my light even?"),
        form=form,
        places=places,
        first=first,
        recipes=usable_recipes(),
    )
    return make_response(body, form.status)


@blueprint.get(f"/field/{ID}")
def field_run(exposure_id: int) -> Response:
    """The map of a walk whose record holds its places; the form of another one."""
    run = run_of(exposure_id, "field")
    known = recorded("field", run["parameters"])
    places = known.places if isinstance(known, FieldParameters) else ()
    form = blank(PLACES, places="\n".join(f"{_typed(x)}, {_typed(y)}" for x, y in places))
    whole = bool(places) and len(done_sides(run)) == len(places)
    return _field_read_page(
        run, form, _map(form, run, {"places": [list(place) for place in places]}) if whole else None
    )


@blueprint.post(f"/field/{ID}")
def field_read(exposure_id: int) -> Response:
    """The map, its figures, and the step from sensor to panel."""
    run = run_of(exposure_id, "field")
    form = read(PLACES, request.form)
    asked: dict[str, Any] = {"places": [_numbers(form, "places", line, 2) for line in form.text("places").splitlines()]}
    for key, count in (("sensor", 2), ("panel", 4)):
        if form.text(key):
            asked[key] = _numbers(form, key, form.text(key), count)
    return _field_read_page(run, form, None if form.errors else _map(form, run, asked))


def _map(form: Form, run: Mapping[str, Any], asked: Mapping[str, Any]) -> dict[str, Any] | None:
    keys = ("x_mm", "y_mm", "values", "heat_map", "usable", "uniformity", "repeat", "drift", "place", "sentence")
    return ask(form, "field", keys, {"exposure_id": run["exposure_id"], **asked})


def _typed(mm: float) -> str:
    """A length as the reader types it among others."""
    return shown(float(PLACE.converted(mm, CONVERTED_DIGITS)))


def _numbers(form: Form, key: str, text: str, count: int) -> list[float]:
    try:
        return form.input(key).several(text, count)
    except QuantityError as error:
        if key not in form.errors:
            form.add(key, text_of(error.message))
        return []


def _field_read_page(run: dict[str, Any], form: Form, result: dict[str, Any] | None) -> Response:
    stored = recipe_named(run["recipe_name"])
    body = render_template(
        "light/field_read.html",
        title=_("Is my light even?"),
        run=run,
        tolerance=None if stored is None else stored.recipe.tolerance,
        form=form,
        result=result,
        drawing="" if result is None else field_svg(result),
        rows=[] if result is None else list(zip(result["y_mm"], result["values"], strict=False))[::-1],
    )
    return make_response(body, form.status)
