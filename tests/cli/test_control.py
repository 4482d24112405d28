"""`sumlight box control` of a real box: the folder is taken, then the computer tried, and control knows the figure.

Pins, bus and the trial's figure are stand-ins here; files, lock and control are real.
"""

import faulthandler
import signal
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from sumlight.box.charge_pump import needed_ticks_hz
from sumlight.box.description import load_box
from sumlight.cli import control, main
from sumlight.control.daemon import SOCKET, Daemon
from sumlight.store.datalock import DataInUseError, DataLock
from sumlight.twin.clock import TwinClock
from sumlight.twin.scenario import Scenario
from sumlight.twin.world import World
from tests.real_box import REAL_BOX, other_box

SLOW_HZ = 118.0


class Started:
    """What a start was like; control is told to stop as soon as it runs."""

    def __init__(self, data: Path) -> None:
        self.data = data
        self.tried: list[float] = []
        self.seen: dict[str, Any] = {}

    def trial(self, _description: object, enough_hz: float, *, go_on: Callable[[], bool]) -> float:
        """In place of the real one, which takes three seconds: a computer that is too slow."""
        assert go_on()
        with pytest.raises(DataInUseError):
            DataLock(self.data)
        assert not (self.data / SOCKET).exists()
        self.tried.append(enough_hz)
        return SLOW_HZ

    def run(self, daemon: Daemon, _go_on: object, _step: object) -> None:
        """In place of the loop."""
        self.seen = daemon.commander.snapshot()
        assert (self.data / SOCKET).exists()
        daemon.close()


@pytest.fixture
def started(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Started]:
    """A computer with the pins of a simulated box, which is too slow."""
    found = Started(tmp_path / "data")
    before = {number: signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)}
    world = World(TwinClock(None), load_box(REAL_BOX), Scenario())
    monkeypatch.setattr(faulthandler, "enable", lambda: None)  # pytest has its own
    monkeypatch.setattr(control, "real_pin_factory", lambda _library: world.pin_factory)
    monkeypatch.setattr(control, "real_bus", world.bus)
    monkeypatch.setattr(control, "tried_hz", found.trial)
    monkeypatch.setattr(Daemon, "run", lambda daemon, go_on, step: found.run(daemon, go_on, step))
    yield found
    for number, handler in before.items():
        signal.signal(number, handler)


def test_a_computer_that_its_trial_found_too_slow_is_told_so_at_the_start(started: Started) -> None:
    """Against what K1's charge pump needs, with the figure, before anybody presses anything."""
    assert main(["box", "control", "--box", str(REAL_BOX), "--data", str(started.data)]) == 0
    assert started.tried == [needed_ticks_hz()]
    (fault,) = [fault for fault in started.seen["faults"] if fault["name"] == "too_slow"]
    assert "118 ticks a second" in fault["detail"]
    assert started.seen["ticks"]["measured_hz"] == pytest.approx(SLOW_HZ)
    assert "start" not in started.seen["may"]


def test_a_box_without_a_charge_pump_needs_no_trial(started: Started, tmp_path: Path) -> None:
    """There is nothing that could ask for a rate."""
    text = REAL_BOX.read_text(encoding="utf-8")
    lines = {line.split(":")[0].strip(): line for line in text.splitlines() if "_pin:" in line}
    box = other_box(
        tmp_path,
        (lines["enable_pin"], "enable_pin: null"),
        (lines["k1_mirror_pin"], "  k1_mirror_pin: left_out"),
    )
    assert main(["box", "control", "--box", str(box), "--data", str(started.data)]) == 0
    assert started.tried == []
    assert "too_slow" not in [fault["name"] for fault in started.seen["faults"]]


def test_a_folder_that_is_in_use_is_found_before_the_trial(
    started: Started, capsys: pytest.CaptureFixture[str]
) -> None:
    """Else the trial would take its time from the control that works there, under light perhaps."""
    with DataLock(started.data):
        assert main(["box", "control", "--box", str(REAL_BOX), "--data", str(started.data)]) == 2
    assert "another Sumlight is working with the data folder" in capsys.readouterr().err
    assert started.tried == []
