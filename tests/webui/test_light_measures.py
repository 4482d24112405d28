"""The pages of Light: teaching, radiometer, self-check, lamps, strips, sheets, window and field."""

import pytest
from flask.testing import FlaskClient

from sumlight.store.recipes import RecipeStore
from sumlight.text.message import say
from sumlight_web.light.field import walk
from sumlight_web.light.heat import opacity
from sumlight_web.services import AppServices
from tests.webui import fake_answers as answers
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl, wait_until
from tests.webui.given import BLUE
from tests.webui.light_runs import asked, post

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
    assert "Put 41.3 box units into recipe blue-38" in page
    assert "it is not mJ/cm²" in page


def test_a_radiometer_is_entered_in_percent(client: FlaskClient, control: FakeControl) -> None:
    """4 % is 0.04 for control."""
    response = post(client, "/light/radiometer/steady", recipe="blue-38", seconds="60")
    assert (response.status_code, response.location) == (303, "/light/radiometer")
    page = post(client, "/light/radiometer/reading", bank="lower", mw_cm2="5.2", percent="4")
    assert asked(control, "radiometer") == {"bank": "lower", "mw_cm2": 5.2, "relative_uncertainty": 0.04}
    assert "0.900 of what it counted before." in page.text


def test_the_steady_light_is_told_while_it_is_on(
    client: FlaskClient, control: FakeControl, services: AppServices
) -> None:
    """The reading may then be entered."""
    assert "Only while the steady light is on" in client.get("/light/radiometer").text
    steady = fake.exposure(fake.side("1", target_mj_cm2=None, lit_for_s=60.0), kind="steady", sides_mode="series")
    control.say(fake.lit(exposure=steady))
    wait_until(lambda: fake.state_of(services.watch) == "light")
    assert "is on now" in client.get("/light/radiometer").text


def test_a_sensor_without_an_led_is_not_asked_to_look_at_itself(
    client: FlaskClient, control: FakeControl, services: AppServices
) -> None:
    """The page says why, instead of that the box is silent; nothing is there to press."""
    fake.hear(services.watch, control, fake.snapshot(banks=[fake.bank(self_check=None)]))
    page = client.get("/light/self-check").text
    assert "This light sensor has no LED of its own and cannot look at itself." in page
    assert "No word from the box." not in page
    assert "Check now" not in page


def test_a_self_check_is_started_told_and_applied(
    client: FlaskClient, control: FakeControl, services: AppServices
) -> None:
    """The verdict stands in words; the correction is a press of its own."""
    assert post(client, "/light/self-check", bank="lower").location == "/light/self-check"
    assert asked(control, "self_check") == {"bank": "lower"}
    fake.hear(
        services.watch, control, fake.snapshot(banks=[fake.bank(self_check={"phase": "running", "result": None})])
    )
    assert 'http-equiv="refresh"' in client.get("/light/self-check").text
    result = {
        "verdict": "diffuser_dirty",
        "sentence": say("diffuser_dirty", share=0.9),
        "diffuser": 0.9,
        "ln_shift": 0.105,
        "ln_sigma": 0.01,
        "may_apply": True,
    }
    fake.hear(services.watch, control, fake.snapshot(banks=[fake.bank(self_check={"phase": "idle", "result": result})]))
    page = client.get("/light/self-check").text
    assert "The diffuser is dirty." in page
    assert "Apply the correction (+10.5 %)" in page
    assert "http-equiv" not in page
    post(client, "/light/self-check", bank="lower", apply="yes")
    assert asked(control, "self_check") == {"bank": "lower", "apply": True}


# -- strip, sheets, window, field -------------------------------------------------------------------------------------


def test_a_strip_is_planned_started_and_read(client: FlaskClient, control: FakeControl, runs: dict[str, int]) -> None:
    """Zone 2 of parts 10, 20, 30 holds at 30 mJ/cm² (outside check: addition)."""
    fields = {"recipe": "blue-38", "first_mj_cm2": "10", "factor": "1.2", "zones": "3"}
    page = post(client, "/light/strip/plan", **fields).text
    assert "Slide the mask over zone 1." in page
    assert "The shortest part takes only 1.4 s" in page
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
    client: FlaskClient, control: FakeControl, runs: dict[str, int], shelf: RecipeStore
) -> None:
    """By one press, and worked out anew for it."""
    assert post(client, "/light/sheets", recipe="blue-38", sheets="2", seconds="5").location == "/"
    assert asked(control, "series")["legs"] == 5
    at = f"/light/sheets/{runs['compare']}"
    page = post(client, at, covered="2").text
    assert asked(control, "transmission")["covered"] == [2]
    assert "Put 81.0 % into recipe blue-38, side A" in page
    assert "side B" not in page
    sha256 = shelf.load("blue-38").sha256
    assert post(client, f"{at}/recipe", key="transmission.a", sha256=sha256, covered="2").status_code == 303
    assert shelf.load("blue-38").recipe.transmission.a == 0.81
    assert post(client, f"{at}/recipe", key="transmission.a", sha256=sha256).status_code == 409


@pytest.mark.parametrize("verdict", ["blocks_uv", "doubtful", "dim"])
def test_a_sheet_that_does_not_pass_never_gets_into_a_recipe(
    client: FlaskClient, control: FakeControl, runs: dict[str, int], shelf: RecipeStore, verdict: str
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
    assert series["parameters"]["places"][:3] == [[0.0, 0.0], [-60.0, -40.0], [0.0, -40.0]]
    assert len(series["parameters"]["places"]) == 11
    assert "note" not in series
    page = client.get(f"/light/field/{runs['field']}").text
    assert "0, 0\n-60, -40\n0, 0</textarea>" in page
    place = {"factor": 0.95, "standard": 0.01, "spread": 0.02}
    control.answers["field"] = lambda _r: answers.field(place)
    fields = {"places": "0, 0\r\n-60, -40\r\n0, 0", "sensor": "0, -40", "panel": "-30, 30, -20, 20"}
    page = post(client, f"/light/field/{runs['field']}", **fields).text
    told = asked(control, "field")
    assert told["places"] == [[0.0, 0.0], [-60.0, -40.0], [0.0, 0.0]]
    assert (told["sensor"], told["panel"]) == ([0.0, -40.0], [-30.0, 30.0, -20.0, 20.0])
    # The scale is fixed and every place read carries its number: 0.9 over the strongest 1.0 is always 90.0.
    for share in ("90.0", "95.0", "100.0", "88.0"):
        assert f">{share}</text>" in page
    assert page.index(">40</th>") < page.index(">-40</th>")  # far on top, as in the drawing
    for words in ("≤ 80", "% of the strongest place", ">x, mm<", ">y, mm<"):
        assert words in page
    for words in ('<svg class="heat-map"', "24 cm²", "0.950 ± 0.020", "0.970", "style="):
        assert (words in page) == (words != "style=")
    # A reader of inches finds, and types, the same places in inches: 25.4 mm each (exact).
    client.set_cookie("sumlight_units", "inch")
    page = client.get(f"/light/field/{runs['field']}").text
    assert "0, 0\n-2.3622, -1.5748\n0, 0</textarea>" in page
    assert "in inches</span>" in page
    post(client, f"/light/field/{runs['field']}", places="0, 0\r\n-2.3622, -1.5748\r\n0, 0", sensor="0; -1", panel="")
    told = asked(control, "field")
    assert told["places"] == [[0.0, 0.0], [-60.0, -40.0], [0.0, 0.0]]
    assert told["sensor"] == [0.0, -25.4]


@pytest.mark.parametrize(("share", "seen"), [(1.0, 1.0), (0.9, 0.56), (0.8, 0.12), (0.5, 0.12), (0.99, 0.956)])
def test_the_heat_maps_scale_does_not_stretch_noise(share: float, seen: float) -> None:
    """A field that scatters by one per cent is drawn nearly even, not from black to full (worked out by hand)."""
    assert opacity(share) == pytest.approx(seen)
