"""Every form with numbers: units and commas reach control and files as plain numbers, and bounds are control's own."""

import ast
import re
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from sumlight.control.calibration import measurements
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.messages import Request
from sumlight.store.recipes import RecipeStore
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
