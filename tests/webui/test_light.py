"""The pages of Light against a fake control: every form, its mistakes beside their fields, and hostile input."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight.store.logbook import Logbook
from sumlight.store.recipes import RecipeShelf
from sumlight.store.records import NewExposure, NewSide, SideState
from sumlight_web.desk import Desk
from sumlight_web.light.forms import shown
from sumlight_web.light.measures import walk
from tests.webui import fake_answers as answers
from tests.webui import fake_control as fake
from tests.webui.conftest import BLUE, ORIGIN
from tests.webui.fake_control import FakeControl, RefusalError, wait_until
from tests.webui.test_hostile import BODIES

BEGAN = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)
KINDS = {"tablet": 1, "teach": 2, "strip": 3, "compare": 4, "field": 5, "steady": 6, "panel": 7}
"""The number that each kind of run has in the logbook below."""
NOTES = {"tablet": "target step 9, reference 55 mJ/cm²", "field": "places in mm: 0, 0; -60, -40; 0, 0"}


def keep(path: Path, kind: str, *, ended: bool = True, done: str = "done") -> int:
    """Write a series of three legs; returns its number."""
    logbook = Logbook(path, durable=False)
    timed = kind in ("teach", "compare", "field", "steady")
    sides = tuple(NewSide(str(leg), "lower", None if timed else 10.0 * leg, 0.82) for leg in (1, 2, 3))
    new = NewExposure(kind, NOTES.get(kind, ""), "blue-38", BLUE, "0" * 64, sides, BEGAN, "Demo box", True, kind)
    begun = logbook.begin(new)
    legs = [SideState(begun.side_ids[str(leg)], done, 10.0 * leg, 0.1, 2.4, 0, 0.0) for leg in (1, 2, 3)]
    logbook.put_sides(legs, BEGAN)
    if ended:
        logbook.finish(begun.exposure_id, "completed", False, BEGAN + timedelta(seconds=60))
    logbook.close()
    return begun.exposure_id


@pytest.fixture
def runs(data: Path) -> dict[str, int]:
    """A logbook with one finished run of each kind."""
    found = {kind: keep(data / "logbook.sqlite", kind) for kind in KINDS}
    assert found == KINDS
    return found


@pytest.fixture
def shelf(data: Path) -> RecipeShelf:
    """The shelf the page works on."""
    return RecipeShelf(data / "recipes")


def post(client: FlaskClient, path: str, **fields: Any) -> Any:
    """A form of this page."""
    return client.post(path, data=fields, headers=ORIGIN)


def asked(control: FakeControl, command: str) -> dict[str, Any]:
    """What the last such command said, without its number."""
    found = [c for c in control.commands if c["command"] == command]
    assert found, f"{command} was never asked"
    return {key: value for key, value in found[-1].items() if key not in ("id", "command")}


def refuse(control: FakeControl, command: str, field: str | None, message: str = "no such thing") -> None:
    """From now on that command is refused."""

    def no(_request: dict[str, Any]) -> dict[str, Any]:
        raise RefusalError("bad_value", message, field)

    control.answers[command] = no


def beside(page: str, html_id: str) -> str:
    """The mistake that stands beside a field."""
    return page.split(f'id="{html_id}-error">')[1].split("</p>")[0]


# -- state of calibration ---------------------------------------------------------------------------------------------


def test_an_uncalibrated_box_says_so_and_what_to_do(client: FlaskClient) -> None:
    """Origin, age, both uncertainties, why a check is due, and the way to a tablet run."""
    page = client.get("/light/").text
    for words in (
        "check due",
        "the number in box.yaml",
        "never calibrated",
        "60.0 %",
        "What to do now",
        "/light/tablet",
    ):
        assert words in page
    assert "± absolute" in page
    assert "± repeat" in page
    assert "known after the next exposure" in page


def test_a_relative_calibration_is_called_relative_in_plain_words(
    client: FlaskClient, control: FakeControl, desk: Desk
) -> None:
    """Somebody who never heard of it learns what cannot be done with such a dose."""
    block = answers.calibration(origin="teach", relative=True, check_due=False, age_hours=3.2)
    control.say(fake.snapshot(state="done", calibration={"lower": block}))
    wait_until(lambda: fake.state_of(desk.watch) == "done")
    page = client.get("/light/").text
    assert "they are not mJ/cm²" in page
    assert "3.2 lamp hours" in page
    assert "What to do now" not in page


def test_repeat_is_what_the_last_dose_told(client: FlaskClient, data: Path) -> None:
    """0.4 of 20 mJ/cm² are 2 % (outside check: division)."""
    budget = '{"expanded_repeat_mj_cm2": 0.4, "expanded_absolute_mj_cm2": 5.0}'
    logbook = Logbook(data / "logbook.sqlite", durable=False)
    side = NewSide("A", "lower", 20.0, 0.82)
    begun = logbook.begin(NewExposure("P", "", "blue-38", BLUE, "0" * 64, (side,), BEGAN, "Demo box", True))
    logbook.put_sides([SideState(begun.side_ids["A"], "done", 20.0, 0.1, 2.4, 0, 0.0, budget)], BEGAN)
    logbook.finish(begun.exposure_id, "completed", False, BEGAN)
    logbook.close()
    assert "2.0 %" in client.get("/light/").text


def test_it_is_judged_for_a_recipe(client: FlaskClient, control: FakeControl) -> None:
    """Each recipe tolerates something else."""
    assert client.get("/light/?recipe=blue-38").status_code == 200
    assert asked(control, "calibration") == {"recipe": "blue-38"}


def test_without_word_from_the_box_nothing_is_shown_as_live(
    client: FlaskClient, control: FakeControl, desk: Desk
) -> None:
    """No calibration of yesterday."""
    control.mute.set()
    wait_until(lambda: not desk.watch.latest().live)
    page = client.get("/light/").text
    assert "No word from the box" in page
    assert "box.yaml" not in page
    control.mute.clear()


# -- tablet -----------------------------------------------------------------------------------------------------------

PLAN = {"recipe": "blue-38", "target_step": "9", "reference_mj_cm2": "55", "zones": "4"}
READ = {"convention": "last_held", "step_1": "6", "half_1": "yes", "step_2": "7", "step_3": "8", "target_step": "9"}


def test_doses_are_proposed_and_started_as_proposed(client: FlaskClient, control: FakeControl) -> None:
    """What the button says is what control gets; the Bench comes next."""
    page = post(client, "/light/tablet/plan", **PLAN).text
    assert asked(control, "tablet_plan") == {
        "recipe": "blue-38",
        "target_step": 9,
        "zones": 4,
        "reference_mj_cm2": 55.0,
    }
    assert "Start with zone 1: 31.6 mJ/cm²" in page
    assert 'name="dose" value="34.50"' in page
    response = post(client, "/light/tablet/start", **PLAN, dose=["31.60", "34.50"])
    assert (response.status_code, response.location) == (303, "/")
    series = asked(control, "series")
    assert (series["kind"], series["doses_mj_cm2"]) == ("tablet", [31.6, 34.5])
    assert series["note"] == "target step 9, reference 55 mJ/cm²"


@pytest.mark.parametrize("dose", [[], ["many"], ["1", "1e9"], ["1", ""]])
def test_doses_that_arrive_broken_start_nothing(client: FlaskClient, control: FakeControl, dose: list[str]) -> None:
    """Nothing half-way."""
    response = post(client, "/light/tablet/start", **PLAN, dose=dose)
    assert response.status_code == 422
    assert "Propose them again" in response.text
    assert control.names() == []


def test_the_form_for_readings_remembers_step_and_reference_and_asks_how_it_is_read(
    client: FlaskClient, runs: dict[str, int]
) -> None:
    """Neither convention is chosen beforehand."""
    page = client.get(f"/light/tablet/{runs['tablet']}").text
    assert (
        'name="target_step" type="text" maxlength="80" spellcheck="false" inputmode="decimal" class="numeric" value="9"'
        in page
    )
    assert 'value="55"' in page
    assert "Last step held" in page
    assert "First step cleared" in page
    assert 'value="last_held" checked' not in page
    assert 'value="first_cleared" checked' not in page


def test_readings_go_to_control_as_read_and_come_back_with_an_interval(
    client: FlaskClient, control: FakeControl, runs: dict[str, int], shelf: RecipeShelf
) -> None:
    """Steps, halves and convention; then the two ways to use the result."""
    page = post(
        client, f"/light/tablet/{runs['tablet']}", **READ, what_3="all_held", lot="L1", reference_percent="3"
    ).text
    told = asked(control, "tablet_readings")
    assert told["readings"] == [
        {"zone": "1", "step": 6, "half": True},
        {"zone": "2", "step": 7, "half": False},
        {"zone": "3", "step": "all_held"},
    ]
    assert (told["convention"], told["target_step"], told["lot"]) == ("last_held", 9, "L1")
    assert told["reference_uncertainty"] == pytest.approx(0.03)
    assert "apply" not in told
    assert "3.80 to 4.40 mJ/cm²" in page
    assert "Set the calibration by it" in page
    assert "Put 48.6 mJ/cm² into recipe blue-38" in page


def test_the_calibration_is_set_by_one_press(client: FlaskClient, control: FakeControl, runs: dict[str, int]) -> None:
    """The readings stay in the form, so nothing is typed twice."""
    control.answers["tablet_readings"] = lambda _r: answers.tablet(applied=True, calibration=answers.calibration())
    page = post(client, f"/light/tablet/{runs['tablet']}", **READ, apply="calibration").text
    assert asked(control, "tablet_readings")["apply"] == "calibration"
    assert "The calibration is set" in page


def test_a_surprise_has_to_be_confirmed(client: FlaskClient, control: FakeControl, runs: dict[str, int]) -> None:
    """A reading by the wrong convention is a whole step off."""
    control.answers["tablet_readings"] = lambda _r: answers.tablet(surprise=-4.2)
    page = post(client, f"/light/tablet/{runs['tablet']}", **READ, apply="calibration").text
    assert "I have read the tablet again" in page
    post(client, f"/light/tablet/{runs['tablet']}", **READ, apply="calibration", sure="yes")
    assert asked(control, "tablet_readings")["sure"] is True


def test_all_gone_offers_a_new_panel_with_four_times_the_doses(
    client: FlaskClient, control: FakeControl, runs: dict[str, int]
) -> None:
    """Common practice: ×4 when nothing held, so 10, 20 and 30 become 40, 80 and 120 (outside check: multiplication)."""
    control.answers["tablet_readings"] = lambda _r: answers.all_alike(4.0)
    page = post(client, f"/light/tablet/{runs['tablet']}", **READ).text
    assert "40, 80, 120 mJ/cm²" in page
    assert "Set the calibration by it" not in page


def test_a_zone_without_reading_and_a_missing_convention_are_named_at_their_fields(
    client: FlaskClient, control: FakeControl, runs: dict[str, int]
) -> None:
    """All at once, what was typed is kept."""
    page = post(client, f"/light/tablet/{runs['tablet']}", step_1="6", step_2="", step_3="7.5", target_step="9")
    assert page.status_code == 422
    assert "Choose one." in beside(page.text, "f-convention")
    assert "Fill this in." in beside(page.text, "f-step-2")
    assert "not a whole number" in beside(page.text, "f-step-3")
    assert 'value="6"' in page.text
    assert control.names() == []


def test_a_run_of_another_kind_or_one_that_goes_on_cannot_be_read(
    client: FlaskClient, data: Path, runs: dict[str, int]
) -> None:
    """A clear page instead."""
    assert client.get(f"/light/tablet/{runs['teach']}").status_code == 404
    open_run = keep(data / "logbook.sqlite", "tablet", ended=False)
    response = client.get(f"/light/tablet/{open_run}")
    assert response.status_code == 409
    assert "has not ended" in response.text
    empty = keep(data / "logbook.sqlite", "tablet", done="abandoned")
    assert "No zone of this run was finished" in client.get(f"/light/tablet/{empty}").text


# -- recipe -----------------------------------------------------------------------------------------------------------


def press_recipe(client: FlaskClient, shelf: RecipeShelf, **changed: str) -> Any:
    """The button that writes a dose."""
    sha256 = shelf.load("blue-38").sha256
    return post(
        client,
        "/light/recipe",
        **{"recipe": "blue-38", "sha256": sha256, "key": "dose_mj_cm2", "value": "48.6"} | changed,
    )


def test_a_dose_goes_into_the_recipe_and_comments_stay(client: FlaskClient, shelf: RecipeShelf) -> None:
    """One press, one number changed."""
    shelf.save("blue-38", "# by hand\n" + BLUE.replace("dose_mj_cm2: 60.0", "dose_mj_cm2: 60.0  # from the sheet"))
    response = press_recipe(client, shelf)
    assert (response.status_code, response.location) == (303, "/light/?written=blue-38")
    text = shelf.load("blue-38").text
    assert "# by hand" in text
    assert "dose_mj_cm2: 48.6  # from the sheet" in text
    assert "Recipe blue-38 is written." in client.get(response.location).text


@pytest.mark.parametrize(
    ("changed", "status"),
    [
        ({"sha256": "0" * 64}, 409),
        ({"recipe": "nobody"}, 409),
        ({"recipe": "../blue-38"}, 409),
        ({"value": "0.2"}, 409),
        ({"value": "999999"}, 409),
        ({"value": "much"}, 422),
        ({"value": ""}, 422),
        ({"key": "transmission.a"}, 422),
        ({"key": "hold_s"}, 422),
        ({"sha256": ""}, 409),
    ],
)
def test_nothing_else_is_ever_written_into_a_recipe(
    client: FlaskClient, shelf: RecipeShelf, changed: dict[str, str], status: int
) -> None:
    """A changed file, an unsound dose, another key: refused, the file untouched."""
    response = press_recipe(client, shelf, **changed)
    assert response.status_code == status
    assert 'role="alert"' in response.text
    assert shelf.load("blue-38").text == BLUE


# -- teach, radiometer, self-check, lamps -----------------------------------------------------------------------------


def test_a_known_time_is_taught(client: FlaskClient, control: FakeControl, runs: dict[str, int]) -> None:
    """Seconds, series, then one press to make it a dose and one to put it into the recipe."""
    assert post(client, "/light/teach", recipe="blue-38", seconds="8").location == "/"
    series = asked(control, "series")
    assert (series["kind"], series["seconds"]) == ("teach", 8.0)
    assert "Was the panel good?" in client.get(f"/light/teach/{runs['teach']}").text
    assert "teach" not in control.names()
    page = post(client, f"/light/teach/{runs['teach']}").text
    assert asked(control, "teach") == {"exposure_id": runs["teach"]}
    assert "Put 41.3 into recipe blue-38" in page
    assert "it is not mJ/cm²" in page


def test_a_radiometer_is_entered_in_percent(client: FlaskClient, control: FakeControl) -> None:
    """4 % is 0.04 for control."""
    response = post(client, "/light/radiometer/steady", recipe="blue-38", seconds="60")
    assert (response.status_code, response.location) == (303, "/light/radiometer")
    page = post(client, "/light/radiometer/reading", bank="lower", mw_cm2="5.2", percent="4")
    assert asked(control, "radiometer") == {"bank": "lower", "mw_cm2": 5.2, "relative_uncertainty": 0.04}
    assert "It counts anew." in page.text


def test_the_steady_light_is_told_while_it_is_on(client: FlaskClient, control: FakeControl, desk: Desk) -> None:
    """The reading may then be entered."""
    assert "Only while the steady light is on" in client.get("/light/radiometer").text
    steady = fake.exposure(fake.side("1", target_mj_cm2=None, lit_for_s=60.0), kind="steady", sides_mode="series")
    control.say(fake.lit(exposure=steady))
    wait_until(lambda: fake.state_of(desk.watch) == "light")
    assert "is on now" in client.get("/light/radiometer").text


def test_a_self_check_is_started_told_and_applied(client: FlaskClient, control: FakeControl) -> None:
    """The verdict stands in words; the correction is a press of its own."""
    assert post(client, "/light/self-check", bank="lower").location == "/light/self-check"
    assert asked(control, "self_check") == {"bank": "lower"}
    control.say(fake.snapshot(banks=[fake.bank(self_check={"phase": "running", "result": None})]))
    assert 'http-equiv="refresh"' in client.get("/light/self-check").text
    result = {
        "verdict": "diffuser_dirty",
        "sentence": "The diffuser passes 90%.",
        "diffuser": 0.9,
        "ln_shift": 0.105,
        "ln_sigma": 0.01,
        "may_apply": True,
    }
    control.say(fake.snapshot(banks=[fake.bank(self_check={"phase": "idle", "result": result})]))
    page = client.get("/light/self-check").text
    assert "The diffuser is dirty." in page
    assert "Apply the correction (+10.5 %)" in page
    assert "http-equiv" not in page
    post(client, "/light/self-check", bank="lower", apply="yes")
    assert asked(control, "self_check") == {"bank": "lower", "apply": True}


def test_new_lamps_are_recorded(client: FlaskClient, control: FakeControl) -> None:
    """And the way to a tablet run is shown."""
    page = post(client, "/light/new-lamps", bank="lower", lamp_type="invented tubes")
    assert asked(control, "new_lamps") == {"bank": "lower", "lamp_type": "invented tubes"}
    assert "Lamp set 1 of bank lower is recorded." in page.text
    assert "/light/tablet" in page.text


# -- strip, sheets, window, field -------------------------------------------------------------------------------------


def test_a_strip_is_planned_started_and_read(client: FlaskClient, control: FakeControl, runs: dict[str, int]) -> None:
    """Zone 2 of parts 10, 20, 30 holds at 30 mJ/cm² (outside check: addition)."""
    fields = {"recipe": "blue-38", "first_mj_cm2": "10", "factor": "1.2", "zones": "3"}
    page = post(client, "/light/strip/plan", **fields).text
    assert "Cover zone 1." in page
    assert "less than two seconds" in page
    assert post(client, "/light/strip/start", **fields).location == "/"
    assert asked(control, "series")["doses_mj_cm2"] == [10.0, 2.0, 2.4]
    page = client.get(f"/light/strip/{runs['strip']}").text
    assert "30.0 mJ/cm²" in page
    page = post(client, f"/light/strip/{runs['strip']}", held="2").text
    assert asked(control, "strip") == {"exposure_id": runs["strip"], "first_held_zone": 2}
    assert "Put 12.0 mJ/cm² into recipe" in page
    post(client, f"/light/strip/{runs['strip']}", held="none")
    assert asked(control, "strip")["first_held_zone"] is None
    assert post(client, f"/light/strip/{runs['strip']}", held="9").status_code == 422


def test_a_sheet_that_passes_goes_into_the_stack(
    client: FlaskClient, control: FakeControl, runs: dict[str, int], shelf: RecipeShelf
) -> None:
    """By one press, and worked out anew for it."""
    assert post(client, "/light/sheets", recipe="blue-38", sheets="2", seconds="5").location == "/"
    assert asked(control, "series")["legs"] == 5
    at = f"/light/sheets/{runs['compare']}"
    page = post(client, at, covered="2").text
    assert asked(control, "transmission")["covered"] == [2]
    assert "Put 81.0 % into recipe blue-38, stack of side A" in page
    assert "side B" not in page
    sha256 = shelf.load("blue-38").sha256
    assert post(client, f"{at}/recipe", key="transmission.a", sha256=sha256, covered="2").status_code == 303
    assert shelf.load("blue-38").recipe.transmission.a == 0.81
    assert post(client, f"{at}/recipe", key="transmission.a", sha256=sha256).status_code == 409


@pytest.mark.parametrize("verdict", ["blocks_uv", "doubtful", "dim"])
def test_a_sheet_that_does_not_pass_never_gets_into_a_recipe(
    client: FlaskClient, control: FakeControl, runs: dict[str, int], shelf: RecipeShelf, verdict: str
) -> None:
    """No button, and a hand-made request is refused as well."""
    control.answers["transmission"] = lambda _r: answers.transmission(verdict, 0.6)
    at = f"/light/sheets/{runs['compare']}"
    page = post(client, at).text
    assert "into recipe blue-38" not in page
    assert ("Blocks UV." in page) == (verdict == "blocks_uv")
    sha256 = shelf.load("blue-38").sha256
    assert post(client, f"{at}/recipe", key="transmission.a", sha256=sha256).status_code == 409
    assert shelf.load("blue-38").text == BLUE


def test_the_safe_window_is_worked_out_from_percents(client: FlaskClient, control: FakeControl) -> None:
    """80 % is 0.8 for control; what stays empty is not sent."""
    fields = {"clear": "80", "opaque": "0.1", "dose_mj_cm2": "60", "held_step": "8", "clean_step": "12"}
    page = post(client, "/light/window", **fields).text
    told = asked(control, "dose_window")
    assert told["clear"] == pytest.approx(0.8)
    assert told["opaque"] == pytest.approx(0.001)
    assert "target_step" not in told
    assert "Safe: 4.0 steps are left" in page


def test_a_walk_begins_and_ends_in_the_middle_and_fits_into_one_series() -> None:
    """Every place of the grid once, the middle more often; at most 60 legs."""
    for columns in (3, 5, 7):
        for rows in (3, 5, 7):
            places = walk(200.0, 150.0, columns, rows)
            assert places[0] == places[-1] == (0.0, 0.0)
            assert len(set(places)) == columns * rows
            assert len([place for place in places if place != (0.0, 0.0)]) == columns * rows - 1
            assert len(places) <= 60


def test_a_field_is_walked_and_drawn(client: FlaskClient, control: FakeControl, runs: dict[str, int]) -> None:
    """Places go with the series and come back for the reading; table, map, area and factor are shown."""
    plan = {"recipe": "blue-38", "width_mm": "120", "depth_mm": "80", "columns": "3", "rows": "3", "seconds": "6"}
    assert "Start: 11 places" in post(client, "/light/field/plan", **plan).text
    assert post(client, "/light/field/start", **plan).location == "/"
    series = asked(control, "series")
    assert (series["legs"], series["seconds"]) == (11, 6.0)
    assert series["note"].startswith("places in mm: 0, 0; -60, -40; 0, -40;")
    page = client.get(f"/light/field/{runs['field']}").text
    assert "0, 0\n-60, -40\n0, 0</textarea>" in page
    place = {"factor": 0.95, "standard": 0.01, "spread": 0.02}
    control.answers["field"] = lambda _r: answers.field(place)
    fields = {"places": "0, 0\r\n-60, -40\r\n0, 0", "sensor": "0, -40", "panel": "-30, 30, -20, 20"}
    page = post(client, f"/light/field/{runs['field']}", **fields).text
    told = asked(control, "field")
    assert told["places"] == [[0.0, 0.0], [-60.0, -40.0], [0.0, 0.0]]
    assert (told["sensor"], told["panel"]) == ([0.0, -40.0], [-30.0, 30.0, -20.0, 20.0])
    for words in ('<svg class="heat-map"', "24 cm²", "0.950 ± 0.020", "0.970", "style="):
        assert (words in page) == (words != "style=")


# -- what every form does with mistakes -------------------------------------------------------------------------------

FORMS: tuple[tuple[str, dict[str, str], str, str, str], ...] = (
    ("/light/tablet/plan", PLAN, "target_step", "tablet_plan", "target_step"),
    ("/light/tablet/plan", PLAN, "zones", "tablet_plan", "zones"),
    ("/light/tablet/plan", PLAN, "recipe", "tablet_plan", "recipe"),
    ("/light/teach", {"recipe": "blue-38", "seconds": "8"}, "seconds", "series", "seconds"),
    ("/light/radiometer/steady", {"recipe": "blue-38", "seconds": "60"}, "seconds", "series", "seconds"),
    ("/light/radiometer/reading", {"mw_cm2": "5", "percent": "4"}, "mw_cm2", "radiometer", "mw_cm2"),
    ("/light/radiometer/reading", {"mw_cm2": "5", "percent": "4"}, "percent", "radiometer", "relative_uncertainty"),
    ("/light/new-lamps", {"lamp_type": "tubes"}, "lamp_type", "new_lamps", "lamp_type"),
    (
        "/light/strip/plan",
        {"recipe": "blue-38", "first_mj_cm2": "10", "factor": "1.2", "zones": "8"},
        "factor",
        "strip_plan",
        "factor",
    ),
    ("/light/sheets", {"recipe": "blue-38", "sheets": "1", "seconds": "5"}, "seconds", "series", "seconds"),
    (
        "/light/window",
        {"clear": "80", "opaque": "0.1", "dose_mj_cm2": "60", "held_step": "8", "clean_step": "12"},
        "clean_step",
        "dose_window",
        "clean_step",
    ),
)


@pytest.mark.parametrize(("path", "good", "field", "command", "names"), FORMS)
def test_a_no_of_control_stands_beside_the_field_it_is_about(
    client: FlaskClient, control: FakeControl, path: str, good: dict[str, str], field: str, command: str, names: str
) -> None:
    """What was typed is kept."""
    refuse(control, command, names)
    response = post(client, path, **good)
    assert response.status_code == 422
    if field != "recipe":
        assert f'value="{good[field]}"' in response.text
    assert "No such thing." in beside(response.text, "f-" + field.replace("_", "-"))


@pytest.mark.parametrize(("path", "good", "field", "command", "names"), FORMS)
@pytest.mark.parametrize("typed", ["", "much", "-1", "1e9", "٣", "9" * 40, "nan", "<b>", "\x00", "0x10", "1,5"])
def test_a_mistake_is_found_before_control_is_asked(
    client: FlaskClient,
    control: FakeControl,
    path: str,
    good: dict[str, str],
    field: str,
    command: str,
    names: str,
    typed: str,
) -> None:
    """Whatever is typed into a number; free text goes to control, which knows."""
    response = post(client, path, **good | {field: typed})
    assert response.status_code in (200, 303) if field in ("recipe", "lamp_type") and typed else 422
    if field not in ("recipe", "lamp_type"):
        assert beside(response.text, "f-" + field.replace("_", "-"))
        assert control.names() == []
        assert "<b>" not in beside(response.text, "f-" + field.replace("_", "-"))


def test_a_refusal_that_belongs_to_no_field_stands_on_top(client: FlaskClient, control: FakeControl) -> None:
    """Such as a box that is at work."""

    def no(_request: dict[str, Any]) -> dict[str, Any]:
        raise RefusalError("refused", "An exposure is under way.", None, "Finish it first.")

    control.answers["series"] = no
    response = post(client, "/light/teach", recipe="blue-38", seconds="8")
    assert response.status_code == 409
    assert "An exposure is under way. Finish it first." in response.text


def test_a_control_that_does_not_answer_is_told_and_nothing_is_lost(client: FlaskClient, control: FakeControl) -> None:
    """Never called lost when it may have arrived."""
    control.mute.set()
    response = post(client, "/light/teach", recipe="blue-38", seconds="8")
    control.mute.clear()
    assert response.status_code == 503
    assert "It may have arrived all the same." in response.text
    assert 'value="8"' in response.text


def test_the_bench_finds_the_way_from_a_run_to_its_page(client: FlaskClient, runs: dict[str, int]) -> None:
    """By its number alone."""
    for kind, number in runs.items():
        response = client.get(f"/light/series/{number}")
        assert response.status_code == 303, kind
        assert client.get(response.location).status_code == 200, kind
    assert client.get("/light/series/99").status_code == 404


def test_hostile_bodies_break_no_form(client: FlaskClient, app: Flask, runs: dict[str, int], data: Path) -> None:
    """Every route that takes a form, for runs that exist."""
    before = (data / "recipes" / "blue-38.yaml").read_bytes()
    odd = b"&".join(
        f"{key}={value}".encode()
        for key in (
            "recipe",
            "dose",
            "places",
            "covered",
            "held",
            "panel",
            "sensor",
            "step_1",
            "what_1",
            "zones",
            "key",
        )
        for value in ("%00", "%ff%fe", "9" * 30, "-0", "%F0%9F%92%A1", "<script>", "x" * 3000)
    )
    bodies = (*BODIES, ("application/x-www-form-urlencoded", odd))
    for rule in app.url_map.iter_rules():
        if not rule.endpoint.startswith("light.") or "POST" not in (rule.methods or set()):
            continue
        for number in runs.values():
            path = rule.rule.split("<")[0] + (f"{number}{rule.rule.split('>')[1]}" if "<" in rule.rule else "")
            for kind, body in bodies:
                response = client.post(path, data=body, headers=ORIGIN | {"Content-Type": kind})
                assert response.status_code < 500, (path, kind, body[:50], response.text[:300])
                response.close()
            if "<" not in rule.rule:
                break
    assert (data / "recipes" / "blue-38.yaml").read_bytes() == before


@pytest.mark.parametrize(("value", "text"), [(41.0, "41"), (0.8123, "0.8123"), (1e-5, "0"), (123456.5, "123456.5")])
def test_a_number_is_shown_as_a_form_takes_it(value: float, text: str) -> None:
    """Never with an exponent."""
    assert shown(value) == text
