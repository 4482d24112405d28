"""Every form with numbers: units and commas reach control and files as plain numbers, and bounds are control's own."""

import ast
import re
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from sumlight.bounds import Bounds
from sumlight.control.calibration import measurements
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.messages import Request
from sumlight.quantity import QuantityError
from sumlight.store.recipes import RecipeStore
from sumlight_web.forms import APART_C, Input, blank, read
from sumlight_web.language import Reader, written_for
from tests.webui.fake_control import FakeControl
from tests.webui.given import ORIGIN
from tests.webui.light_runs import asked, beside, post
from tests.webui.test_recipes import GOOD

WEBUI = Path(__file__).parents[2] / "webui" / "sumlight_web"


@pytest.mark.parametrize(
    ("typed", "seconds"),
    [("8:00", 480), ("8 min", 480), ("28 s", 28), ("1,5 min", 90), ("0:28", 28), ("1 h", 3600), ("28", 28)],
)
def test_a_time_reaches_control_in_seconds(
    client: FlaskClient, control: FakeControl, typed: str, seconds: float
) -> None:
    """However it was typed."""
    assert post(client, "/light/teach", recipe="blue-38", seconds=typed).status_code == 303
    assert asked(control, "series")["seconds"] == seconds


def test_light_and_per_cent_reach_control_in_their_units(client: FlaskClient, control: FakeControl) -> None:
    """1 W/m² is 0.1 mW/cm² (SI); per cent become a share."""
    post(client, "/light/radiometer/reading", mw_cm2="52,5 W/m²", percent="4,5 %")
    sent = asked(control, "radiometer")
    assert (sent["mw_cm2"], sent["relative_uncertainty"]) == (pytest.approx(5.25), pytest.approx(0.045))


def test_a_recipe_typed_with_units_is_a_file_of_plain_decimals(client: FlaskClient, data: Path) -> None:
    """As a person types it on a phone; the file holds neither commas nor units."""
    typed = {
        "thickness_um": "1,5 mil",
        "dose_mj_cm2": "0,0855 J/cm²",
        "transmission.a": "90 %",
        "time_guard_s": "10 min",
        "hold_s": "15:00",
        "interruptions.longest_gap_s": "2 min",
    }
    assert client.post("/recipes/new", data=GOOD | typed, headers=ORIGIN).status_code == 303
    file = (data / "recipes" / "green-50.yaml").read_text(encoding="utf-8")
    assert "," not in file
    recipe = RecipeStore(data / "recipes").load("green-50").recipe
    assert (recipe.thickness_um, recipe.dose_mj_cm2, recipe.transmission.a) == (38.1, 85.5, 0.9)
    assert (recipe.time_guard_s, recipe.hold_s, recipe.interruptions.longest_gap_s) == (600, 900, 120)


def test_a_recipe_s_dose_of_two_readings_is_saved_in_neither(client: FlaskClient, data: Path) -> None:
    """Both are shown, in German too, and stay in the form."""
    german = ORIGIN | {"Accept-Language": "de"}
    answer = client.post("/recipes/new", data=GOOD | {"dose_mj_cm2": "1.250"}, headers=german)
    assert answer.status_code == 422
    told = "„1.250“ kann 1.25 mJ/cm² oder 1250 mJ/cm² bedeuten. Schreiben Sie 1.25 oder 1250."
    assert beside(answer.text, "f-dose-mj-cm2") == told
    assert 'value="1.250"' in answer.text
    assert not (data / "recipes" / "green-50.yaml").exists()


STRIP = {"recipe": "blue-38", "first_mj_cm2": "10", "factor": "1.2", "zones": "8"}
WINDOW = {"clear": "80", "opaque": "0.1", "dose_mj_cm2": "60", "held_step": "8", "clean_step": "12"}
ENDS = [
    *[(STRIP, "zones", typed) for typed in ("2", "3", "20", "21")],
    *[(STRIP, "factor", typed) for typed in ("1.01", "1.02", "4", "4.01")],
    *[(STRIP, "first_mj_cm2", typed) for typed in ("0.09", "0.1", "5000", "5000.1")],
    *[(WINDOW, "dose_mj_cm2", typed) for typed in ("0.09", "0.1", "5000", "5000.1")],
    *[(WINDOW, "held_step", typed) for typed in ("0", "1", "20", "21")],
]


@pytest.mark.parametrize(("good", "field", "typed"), ENDS)
def test_the_page_lets_pass_what_control_takes_and_nothing_else(
    client: FlaskClient, control: FakeControl, good: dict[str, str], field: str, typed: str
) -> None:
    """At and just beyond each end, control's own check is the judge; the page once offered it two zones."""
    command = "strip_plan" if good is STRIP else "dose_window"
    values: dict[str, Any] = {key: float(value) for key, value in (good | {field: typed}).items() if key != "recipe"}
    values |= {key: values[key] / 100 for key in ("clear", "opaque") if key in values}
    try:
        getattr(measurements, command)(Request(1, command, values).asked)
        refused = False
    except BadRequestError as error:
        refused = error.field == field
    answer = post(client, "/light/strip/plan" if good is STRIP else "/light/window", **good | {field: typed})
    assert (command not in control.names()) == refused
    assert (f'id="f-{field.replace("_", "-")}-error"' in answer.text) == refused


def test_a_field_shows_what_is_allowed_and_fits_what_people_type(client: FlaskClient) -> None:
    """The same bounds stand in the HTML; a phone offers letters and the colon where 8:00 or 8 min may be typed."""
    page = client.get("/light/teach").text
    field = page.split('name="seconds"')[1].split(">")[0]
    assert 'title="from 0.5 to 3600 s"' in field
    assert 'inputmode="text"' in field
    dose = client.get("/recipes/blue-38").text.split('name="dose_mj_cm2"')[1].split(">")[0]
    assert 'title="from 1 to 5000 mJ/cm²"' in dose
    assert 'inputmode="decimal"' in dose


def test_no_other_part_of_the_page_reads_numbers() -> None:
    """A second pattern for decimals would soon read them in a second way."""
    found = []
    for path in WEBUI.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "attr", "") == "compile" and node.args:
                pattern = node.args[0]
                if isinstance(pattern, ast.Constant) and isinstance(pattern.value, str):
                    takes = re.compile(pattern.value).fullmatch
                    found += [f"{path.name}:{node.lineno}"] if takes("12.5") and not takes("ab.c") else []
    assert found == []


INCHES = Reader("en", "inch")
MM = Input("width_mm", "Width", "number", "mm", bounds=Bounds(10, 400))


@pytest.mark.parametrize(
    ("unit", "typed", "found"),
    [
        ("mm", "2", 50.8),  # 25.4 mm are one inch (exact, since 1959)
        ("mm", "2 mm", 2.0),  # a unit that was typed is what counts
        ("µm", "1.5", 38.1),  # a mil is a thousandth of an inch
        ("cm²", "2", 12.903),  # 6.4516 cm² are one square inch
        ("°C", "73.4", 23.0),  # °F = 9/5 °C + 32 (NIST SP 811, B.9)
        ("°C", "23 °C", 23.0),
        (APART_C, "-9", -5.0),  # a difference: no 32 in it
        ("mJ/cm²", "60", 60.0),  # has no unit of its own for readers of inches
    ],
)
def test_readers_of_inches_type_inches_mils_and_fahrenheit(unit: str, typed: str, found: float) -> None:
    """A bare number is in the unit that stands beside the field."""
    each = Input("x", "X", "number", unit)
    with written_for(INCHES):
        assert read((each,), {"x": typed}).numbers["x"] == pytest.approx(found)


@pytest.mark.parametrize("value", [200.0, 38.0, 35.0, 12.7, 0.5, 1.5875, 17.5])
@pytest.mark.parametrize("unit", ["mm", "µm", "cm²", "°C", APART_C])
def test_what_was_shown_in_inches_and_not_touched_is_saved_as_it_was(unit: str, value: float) -> None:
    """Whoever opens a recipe and saves it again changes nothing."""
    each = Input("x", "X", "number", unit)
    with written_for(INCHES):
        form = blank((each,), x=str(value))
        assert form.text("x") != str(value)
        assert read((each,), form.values).numbers["x"] == value


def test_several_lengths_in_one_field_are_inches_too_and_differences_have_their_own_bounds() -> None:
    """1 in = 25.4 mm (exact); a unit that was typed is what counts."""
    places, apart = Input("p", "P", "text", "mm", bounds=Bounds(-50, 50)), Input("d", "D", "number", APART_C)
    assert places.several("-40; 12,5", 2) == [-40.0, 12.5]
    with written_for(INCHES):
        assert places.several("-1, 0.5", 2) == [-25.4, 12.7]
        assert places.several("-10 mm; 0,5", 2) == [-10.0, 12.7]
        with pytest.raises(QuantityError):
            places.several("-40, 12.5", 2)
        assert (apart.unit_shown, apart.number("9")) == ("°F", 5.0)
        warm = Input("w", "W", "number", APART_C, bounds=Bounds(-40, 60))
        assert warm.number("108") == 60.0
        assert read((warm,), {"w": "109"}).errors
        assert warm.allowed() == "from -72 to 108 °F"


def test_bounds_and_units_stand_in_the_readers_unit() -> None:
    """What is allowed is what can be typed."""
    assert (MM.unit_shown, MM.allowed()) == ("mm", "from 10 to 400 mm")
    with written_for(INCHES):
        assert (MM.unit_shown, MM.allowed()) == ("in", "from 0.3937 to 15.75 in")
        assert read((MM,), {"width_mm": "0.1"}).errors
        assert Input("places", "Places", "long", "mm").unit_shown == "in"


def test_the_form_of_a_recipe_is_in_mils_for_readers_of_inches(client: FlaskClient) -> None:
    """38 µm over 25.4 µm a mil."""
    client.set_cookie("sumlight_units", "inch")
    page = client.get("/recipes/blue-38").text
    assert 'name="thickness_um"' in page
    assert 'value="1.49606"' in page
    assert "in mil</span>" in page
