"""Scenario files: what they may say and how mistakes are told."""

from pathlib import Path
from typing import Any

import pytest

from sumlight import checkedfile
from sumlight.box.description import load_box
from sumlight.store.recipe import Recipe
from sumlight.twin import demo
from sumlight.twin.clock import TwinClock
from sumlight.twin.events import EVENTS
from sumlight.twin.scenario import Scenario, ScenarioMismatchError, load_scenario
from sumlight.twin.world import World
from tests.twin.rig import Rig, demo_box, scenario

EXTRAS: dict[str, dict[str, Any]] = {
    "contact_sticks": {"contact": "shut"},
    "contact_frees": {"contact": "shut"},
    "wire_breaks": {"wire": "k1_mirror"},
    "wire_mended": {"wire": "k1_mirror"},
    "tube_fails": {"tubes": 2},
    "daylight_enters": {"level_mw_cm2": 0.5},
    "mains_factor": {"value": 0.95},
    "press": {"button": "dark"},
    "room_c": {"value": 18.0},
    "diffuser_fouls": {"transmission": 0.8},
    "sheet_laid": {"transmission": 0.9},
    "sensor_moved": {"x_mm": 50.0, "y_mm": 0.0},
}


def told(tmp_path: Path, text: str) -> str:
    """The message for a scenario file with this text."""
    path = tmp_path / "scenario.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(checkedfile.FileProblemsError) as caught:
        load_scenario(path)
    return str(caught.value).replace(str(path), "scenario.yaml")


def test_the_demo_scenario_is_read_with_its_events_by_kind() -> None:
    """Two events, each of its own class."""
    script = load_scenario(demo.SCENARIO)
    assert [type(event).__name__ for event in script.events] == ["LidOpens", "LidCloses"]


def test_every_demo_file_passes_its_own_check() -> None:
    """Boxes and recipes shipped for the simulation are valid."""
    assert [load_box(path).pin_library for path in (demo.BOX, demo.TWO_BANK_BOX, demo.BOTH_SENSORS_BOX)] == ["twin"] * 3
    sides = [checkedfile.load(path, Recipe).sides for path in sorted(demo.RECIPES.glob("*.yaml"))]
    assert sorted(sides) == ["one", "together", "turned"]


@pytest.mark.parametrize("path", sorted(demo.DEMO.rglob("*.yaml")), ids=lambda path: str(path.name))
def test_every_demo_file_says_that_it_is_invented(path: Path) -> None:
    """Nobody shall take the numbers for a real resist's."""
    assert "Invented" in path.read_text(encoding="utf-8").splitlines()[0]


def test_an_empty_scenario_has_the_documented_defaults() -> None:
    """A nominal box with an attendant and the lid switch in the supply."""
    script = Scenario()
    assert (script.lamp_hours, script.room_c, script.mains_factor, script.ripple_hz) == (100.0, 25.0, 1.0, 100)
    assert script.hardwired_lid_switch
    assert script.attendant_go_after_s == 2.0
    assert script.events == []


@pytest.mark.parametrize("name", EVENTS)
def test_every_kind_of_event_happens_at_its_time(name: str) -> None:
    """The world knows what to do with each kind, and notes it when it is due."""
    rig = Rig(scenario({"at_s": 1.0, "do": name, **EXTRAS.get(name, {})}))
    rig.run(0.99)
    assert all(name not in words for _, words in rig.world.log)
    rig.run(0.02)
    assert [at_s - rig.start_s for at_s, words in rig.world.log if words.startswith(name)] == [1.0]


def test_three_mistakes_are_told_at_once_with_line_and_remedy(tmp_path: Path) -> None:
    """The whole text for a file with a wrong event, a wrong key and a wrong value."""
    text = """\
seed: 3
events:
  - {at_s: 1, do: lid_opened}
  - at_s: 2
    do: tube_fails
    tube: 1
  - at_s: 3
    do: mains_factor
    value: 1.5
"""
    assert told(tmp_path, text).splitlines() == [
        f"scenario.yaml, line 3: events[0].do: 'lid_opened' is no event; known events: {', '.join(EVENTS)}",
        "scenario.yaml, line 6: events[1].tube: unknown key; known here: at_s, since, do, bank, tubes",
        "scenario.yaml, line 9: events[2].value: input should be less than or equal to 1.2 (given: 1.5)",
    ]


def test_an_unknown_key_is_refused_with_the_known_ones(tmp_path: Path) -> None:
    """A misspelt key never passes silently."""
    assert "line 1: lamp_hour: unknown key; known here: seed, lamp_hours" in told(tmp_path, "lamp_hour: 3\n")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("events: {at_s: 1}\n", "line 1: events: input should be a valid list"),
        ("events: [lid_opens]\n", "line 1: events[0]: must hold `key: value` lines"),
        ("events: [{at_s: 1}]\n", "events[0].do: is missing; known events: lid_opens"),
        ("events: [{do: lid_opens}]\n", "events[0].at_s: is missing"),
        ("events: [{at_s: -1, do: lid_opens}]\n", "events[0].at_s: input should be greater than or equal to 0"),
        ("events: [{at_s: 1, since: noon, do: lid_opens}]\n", "events[0].since: input should be 'start' or 'light'"),
        ("ripple_hz: 50\n", "ripple_hz: input should be one of 100, 120"),
        ("mains_factor: 0.5\n", "mains_factor: input should be greater than or equal to 0.8"),
    ],
)
def test_a_wrong_value_is_told_with_its_field(tmp_path: Path, text: str, message: str) -> None:
    """Field, value and what is allowed stand in the message."""
    assert message in told(tmp_path, text)


@pytest.mark.parametrize(
    ("event", "message"),
    [
        ({"do": "tube_fails", "bank": "upper"}, "events[0].bank: 'upper' is not a bank of Demo box; use lower"),
        ({"do": "meter_hangs", "meter": "above"}, "events[0].meter: 'above' is not a meter of Demo box; use below"),
    ],
)
def test_a_part_that_the_box_lacks_is_refused_before_the_run(event: dict[str, Any], message: str) -> None:
    """A scenario for another box does not start."""
    with pytest.raises(ScenarioMismatchError) as caught:
        World(TwinClock(), demo_box(), scenario({"at_s": 0, **event}))
    assert message in str(caught.value)
