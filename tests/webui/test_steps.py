"""What the hands do before each leg of a series, on the Bench and before the first one."""

import re
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from sumlight_web.language import Reader, written_for
from sumlight_web.light.field import walk
from sumlight_web.light.places import PlacesKeeper
from sumlight_web.light.steps import map_svg, place_words, step_of
from sumlight_web.services import AppServices
from tests.webui import fake_answers as answers
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl
from tests.webui.light_runs import asked, keep, post


def waiting(kind: str, count: int, due: int, **changed: Any) -> dict[str, Any]:
    """A series between two legs, its lid shut again."""
    legs = [
        fake.side(
            str(n),
            state="done" if n < due else "waiting",
            target_mj_cm2=None,
            lit_for_s=6.0,
            irradiance_at_resist_mw_cm2=0.0,
        )
        for n in range(1, count + 1)
    ]
    series = fake.exposure(*legs, kind=kind, sides_mode="series", panel=kind)
    return fake.snapshot(state="turn", may=["go", "dark", "abandon"], exposure=series | changed)


# -- words and map ----------------------------------------------------------------------------------------------------


def test_a_step_of_a_walk_says_what_the_hands_do() -> None:
    """Issue 14 asks for these very words: "3 of 11: sensor to the centre, 75 mm towards you"."""
    places = tuple(walk(200.0, 150.0, 3, 3))
    step = step_of("field", 3, len(places), places)
    assert step is not None
    assert step.words == "3 of 11: sensor to the centre, 75 mm towards you"
    assert place_words((-100.0, 75.0)) == "sensor 100 mm to the left, 75 mm away from you"
    assert place_words((100.0, 0.0)) == "sensor 100 mm to the right"
    assert place_words((0.0, 0.0)) == "sensor to the centre"


def test_readers_of_inches_carry_the_sensor_in_inches() -> None:
    """25.4 mm are one inch (exact, since 1959)."""
    with written_for(Reader("en", "inch")):
        assert place_words((-50.8, -25.4)) == "sensor 2 in to the left, 1 in towards you"


def test_sheets_are_laid_in_and_taken_off_in_turns() -> None:
    """The first and the last leg are bare, as the sum needs it."""
    assert [step.words for n in (1, 2, 3) if (step := step_of("compare", n, 3))] == [
        "1 of 3: nothing over the sensor",
        "2 of 3: lay the sheet over the sensor",
        "3 of 3: take the sheet off",
    ]
    assert [step.words for n in (2, 4) if (step := step_of("compare", n, 5))] == [
        "2 of 5: lay sheet 1 over the sensor",
        "4 of 5: lay sheet 2 over the sensor",
    ]


def test_tablet_and_mask_are_moved_from_zone_to_zone() -> None:
    """A taught exposure and steady light have no second leg, so nothing to move."""
    tablet, mask = step_of("tablet", 2, 4), step_of("strip", 3, 8)
    assert tablet is not None
    assert mask is not None
    assert tablet.words == "2 of 4: tablet on zone 2, the other zones masked"
    assert mask.words == "3 of 8: mask over zone 2"
    assert step_of("teach", 1, 1) is None
    assert step_of("steady", 1, 1) is None


def test_the_map_has_the_near_edge_at_the_bottom() -> None:
    """In an SVG y grows downwards (SVG 1.1, 7.3): what lies nearer to the person is drawn lower, right is right."""
    places = [(0.0, 0.0), (-60.0, -40.0), (60.0, 40.0)]
    found = re.findall(r'<circle class="(\w+)" cx="([\d.]+)" cy="([\d.]+)"', map_svg(places, 1))
    assert [look for look, _x, _y in found] == ["been", "at", "yet"]
    near, far = found[1], found[2]
    assert float(near[2]) > float(far[2])
    assert float(near[1]) < float(far[1])


# -- on the Bench -----------------------------------------------------------------------------------------------------


def test_the_bench_says_where_the_sensor_goes(
    client: FlaskClient, control: FakeControl, services: AppServices, data: Path
) -> None:
    """The places stand in the record of the walk; a small map stands beside the words."""
    number = keep(data / "logbook.sqlite", "field", ended=False)
    fake.hear(services.watch, control, waiting("field", 3, 2, exposure_id=number))
    page = client.get("/").text
    assert "2 of 3: sensor 60 mm to the left, 40 mm towards you" in page
    assert '<svg class="where"' in page
    client.set_cookie("sumlight_language", "de")
    assert "2 von 3: Sensor 60 mm nach links, 40 mm zu Ihnen hin" in client.get("/").text


def test_the_bench_says_when_the_sheet_is_laid_in(
    client: FlaskClient, control: FakeControl, services: AppServices
) -> None:
    """Nothing has to be known but the number of the leg."""
    fake.hear(services.watch, control, waiting("compare", 3, 2))
    assert "2 of 3: lay the sheet over the sensor" in client.get("/").text


def test_a_walk_without_a_record_names_no_place(
    client: FlaskClient, control: FakeControl, services: AppServices
) -> None:
    """A guess would send the sensor to the wrong place."""
    fake.hear(services.watch, control, waiting("field", 3, 2, exposure_id=77))
    page = client.get("/").text
    assert "2 of 3: " not in page
    assert "Next round, lamps off" in page


def test_the_record_is_read_once_it_is_there(data: Path) -> None:
    """Its beginning may still be on the way to the disk when the Bench first asks."""
    path = data / "logbook.sqlite"
    keeper, said = PlacesKeeper(path), waiting("field", 3, 2, exposure_id=1)
    assert keeper.of(said) == ()  # type: ignore[arg-type]
    assert keep(path, "field", ended=False) == 1
    assert keeper.of(said) == ((0.0, 0.0), (-60.0, -40.0), (0.0, 0.0))  # type: ignore[arg-type]
    path.unlink()
    assert len(keeper.of(said)) == 3  # type: ignore[arg-type]
    assert keeper.of(waiting("compare", 3, 2)) == ()  # type: ignore[arg-type]


@pytest.mark.parametrize("kind", ["compare", "field", "steady"])
def test_the_page_speaks_of_no_panel_where_the_sensor_alone_is_lit(
    client: FlaskClient, control: FakeControl, services: AppServices, kind: str
) -> None:
    """Neither beside the act nor in the line under it, nor where it is given up."""
    fake.hear(services.watch, control, waiting(kind, 3, 2))
    page = client.get("/").text
    assert "End this measurement for good" in page
    assert "Panel steady" not in page
    assert f"Panel {kind}" not in page
    assert "Measurement with the light of recipe blue-38" in page
    done = waiting(kind, 3, 2)["exposure"] | {"outcome": "completed"}
    for lid, act in (("shut", "Open the lid"), ("open", "Shut the lid")):
        fake.hear(services.watch, control, fake.snapshot(state="done", may=["dark"], lid=lid, exposure=done))
        place = client.get("/").text.split('class="place"')[1]
        assert act in place
        assert "panel" not in place.split("Lamps off")[0].lower()


# -- before the first leg ---------------------------------------------------------------------------------------------


def test_a_walk_begins_with_one_press(client: FlaskClient, control: FakeControl) -> None:
    """Area, places and recipe are known: what is shown is what starts."""
    page = client.get("/light/field").text
    assert "1 of 11: sensor to the centre" in page
    form = page.split('action="/light/field/start"')[1].split("</form>")[0]
    fields = dict(re.findall(r'name="(\w+)" value="([^"]*)"', form))
    assert post(client, "/light/field/start", **fields).location == "/"
    series = asked(control, "series")
    assert (series["recipe"], series["legs"], len(series["parameters"]["places"])) == ("blue-38", 11, 11)


def test_a_sheet_begins_with_one_press(client: FlaskClient, control: FakeControl) -> None:
    """With the only recipe there is."""
    page = client.get("/light/sheets").text
    assert "1 of 3: nothing over the sensor" in page
    assert 'name="recipe" value="blue-38" checked' in page
    assert post(client, "/light/sheets", recipe="blue-38", sheets="1", seconds="5").location == "/"
    assert asked(control, "series")["legs"] == 3


def test_a_run_is_called_what_it_is_for_in_the_words_of_whoever_starts_it(
    client: FlaskClient, control: FakeControl
) -> None:
    """On its record, too, which keeps the label that the start gave it."""
    client.set_cookie("sumlight_language", "de")
    post(client, "/light/sheets", recipe="blue-38", sheets="1", seconds="5")
    assert asked(control, "series")["panel"] == "Vergleich"
    post(client, "/light/teach", recipe="blue-38", seconds="480")
    assert asked(control, "series")["panel"] == "Einlernen"


def test_results_stay_readable_later(client: FlaskClient, control: FakeControl, runs: dict[str, int]) -> None:
    """From the page of Light, without anything typed or pressed again."""
    overview = client.get("/light/").text
    for kind, words in (("compare", "Put 81.0 % into recipe blue-38"), ("field", "Yes, for recipe blue-38")):
        at = f"/light/series/{runs[kind]}"
        assert at in overview.split("Workshop")[0]
        assert words in client.get(at, follow_redirects=True).text


@pytest.mark.parametrize(("contrast", "words"), [(0.064, "Yes, for recipe"), (0.12, "Not for recipe")])
def test_the_light_is_even_enough_or_not_for_the_recipe(
    client: FlaskClient, control: FakeControl, runs: dict[str, int], contrast: float, words: str
) -> None:
    """blue-38 tolerates ±10 %; ± is (max - min) / (max + min), the visibility of Michelson (1927)."""
    result = fake_field(contrast)
    control.answers["field"] = lambda _request: result
    page = client.get(f"/light/field/{runs['field']}").text
    assert words in page
    assert ("Look at the lamps" in page) == words.startswith("Not")


def fake_field(contrast: float) -> dict[str, Any]:
    """A map of that contrast."""
    found = answers.field()
    return found | {"uniformity": found["uniformity"] | {"contrast": contrast}}
