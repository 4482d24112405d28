"""`sumlight setup check --inputs`: what the contacts of a box say before control runs."""

from pathlib import Path
from typing import Any

import pytest

from sumlight.box.description import BoxDescription, load_box
from sumlight.box.inputs import contacts_closed, troubles
from sumlight.cli import check, main
from sumlight.store.datalock import DataLock
from sumlight.text.message import Message
from sumlight.twin.clock import TwinClock
from sumlight.twin.events import EVENTS
from sumlight.twin.scenario import Scenario
from sumlight.twin.world import World

ROOT = Path(__file__).parents[2]
REAL_BOX = ROOT / "hardware" / "box.yaml"


def told(box: BoxDescription, *happened: dict[str, Any]) -> list[Message]:
    """What a simulated box with this wiring gives after these events, lid shut at first."""
    world = World(TwinClock(None), box, Scenario())
    for event in happened:
        world.happen(EVENTS[event["do"]].model_validate({"at_s": 0.0, **event}))
        world.clock.wait_until(world.clock.mono_s() + 2.0)
    return troubles(contacts_closed(box, world.pin_factory))


@pytest.fixture
def box() -> BoxDescription:
    """The box of hardware/, with the levels that the drawings have."""
    return load_box(REAL_BOX)


def test_a_sound_box_has_nothing_to_tell_with_the_lid_shut_or_open(box: BoxDescription) -> None:
    """One of the two lid contacts is closed at all times."""
    assert told(box) == []
    assert told(box, {"do": "lid_opens"}) == []


def test_a_missing_field_supply_is_named_as_that_and_as_nothing_else(box: BoxDescription) -> None:
    """One cause, one line, and where to look."""
    (line,) = told(box, {"do": "field_supply_fails"})
    assert "the 24 V of the inputs are missing: all 5 contacts read open" in line
    assert "fuse F5" in line


def test_without_stop_and_thermostat_it_cannot_be_told_from_two_loose_wires(box: BoxDescription) -> None:
    """Said so, instead of guessed."""
    signals = dict.fromkeys(("k1_mirror_pin", "emergency_stop_pin", "over_temperature_pin"), "left_out")
    bare = box.model_copy(update={"signals": box.signals.model_copy(update=signals)})
    (line,) = told(bare, {"do": "field_supply_fails"})
    assert "either the 24 V of the inputs are missing or both wires are off" in line


@pytest.mark.parametrize(
    ("happened", "words"),
    [
        ([{"do": "contact_sticks", "contact": "shut"}, {"do": "lid_opens"}], "both contacts are closed"),
        ([{"do": "wire_breaks", "wire": "shut"}], "both contacts are open"),
        ([{"do": "stop_pressed"}], "signals.emergency_stop_pin: the emergency stop is pressed"),
        ([{"do": "overheats"}], "signals.over_temperature_pin: the thermostat is open"),
    ],
)
def test_each_contact_that_is_wrong_is_named(box: BoxDescription, happened: list[dict[str, Any]], words: str) -> None:
    """With what to do."""
    lines = told(box, *happened)
    assert [line for line in lines if words in line] != [], lines


def test_the_command_reads_them_and_answers_1_when_the_supply_is_missing(
    box: BoxDescription, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Over the command line, once with and once without the 24 V."""
    world = World(TwinClock(None), box, Scenario())
    monkeypatch.setattr(check, "real_pin_factory", lambda _library: world.pin_factory)
    command = ["setup", "check", "--box", str(REAL_BOX), "--inputs", "--data", str(tmp_path)]
    assert main(command) == 0
    assert "lid.shut_pin: closed" in capsys.readouterr().out
    world.happen(EVENTS["field_supply_fails"].model_validate({"at_s": 0.0, "do": "field_supply_fails"}))
    monkeypatch.setattr(check, "real_pin_factory", lambda _library: world.pin_factory)
    assert main(command) == 1
    assert "the 24 V of the inputs are missing" in capsys.readouterr().err


def test_the_command_leaves_the_pins_alone_while_control_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Control holds the folder's lock; two programs on one pin would disturb each other."""
    monkeypatch.setattr(check, "real_pin_factory", lambda _library: pytest.fail("a pin was opened"))
    with DataLock(tmp_path):
        assert main(["setup", "check", "--box", str(REAL_BOX), "--inputs", "--data", str(tmp_path)]) == 1
    assert "The controller must not run on this box meanwhile" in capsys.readouterr().err


def test_a_computer_without_pins_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """And asks for the file that names the contacts."""
    assert main(["setup", "check", "--box", str(REAL_BOX), "--inputs", "--data", str(tmp_path)]) == 1
    assert "contacts not read: " in capsys.readouterr().err
    assert main(["setup", "check", "--inputs"]) == 2
    assert "--inputs needs --box FILE" in capsys.readouterr().err
