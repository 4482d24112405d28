"""`sumlight tablet`, `calibrate` and their like: on a twin of their own, and on a box that runs."""

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from sumlight.cli import benches, main
from sumlight.cli.simulated import SimulatedBox
from sumlight.control.daemon import SOCKET
from sumlight.twin.scenario import Scenario
from tests.control.bench_box import demo_box

SPEED = 40.0


@pytest.fixture
def data(tmp_path: Path) -> Iterator[Path]:
    """The data folder of a simulated box that runs in a thread of its own, faster than life."""
    ready, stop = threading.Event(), threading.Event()

    def run() -> None:
        scenario = Scenario(attendant_go_after_s=None)
        box = SimulatedBox(demo_box(), scenario, tmp_path, speed=SPEED, attended=False, threaded=True)
        box.daemon.serve(tmp_path / SOCKET)
        try:
            while not stop.is_set():
                box.step()
                if "start" in box.daemon.loop.exposure.may() and box.daemon.loop.banks["lower"].fresh(box.clock.now_s):
                    ready.set()
        finally:
            box.daemon.close()

    thread = threading.Thread(target=run)
    thread.start()
    assert ready.wait(10)
    yield tmp_path
    stop.set()
    thread.join(10)


def test_a_guided_tablet_run_on_the_twin_ends_calibrated(capsys: pytest.CaptureFixture[str]) -> None:
    """Within the 8 % (k = 2) that the command itself states, against the twin's own truth."""
    assert main(["tablet", "--twin"]) == 0
    said = capsys.readouterr().out
    assert "The calibration was set by it." in said
    share = float(said.split("now counts ")[1].split("%")[0])
    assert 92 <= share <= 108


def test_a_running_box_is_asked_and_told(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """State of calibration, self-check, a taught dose, lamps old and new: each in a plain sentence."""

    def said(*arguments: str) -> str:
        assert main([*arguments, "--data", str(data)]) == 0
        return capsys.readouterr().out

    assert "the number in box.yaml" in said("calibrate")
    assert "later ones are compared with it" in said("selfcheck")
    assert "Put this dose into the recipe" in said("teach", "blue-38", "--seconds", "5")
    assert "Doses are relative" in said("calibrate", "--recipe", "blue-38")
    assert "set 0, 100.0 h" in said("lamps")
    assert "set 1, 0.0 h, 0 strikes" in said("lamps", "--new", "invented tubes")


def test_a_tablet_is_read_at_the_terminal(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One zone; the convention is asked for, a slip of the finger asked again."""
    answers = iter(["x", "h", "seven", "7h"])
    monkeypatch.setattr(benches.RunningBench, "question", lambda _self, _text: next(answers))
    assert main(["tablet", "blue-38", "--zones", "1", "--data", str(data)]) == 0
    said = capsys.readouterr().out
    assert "'seven' is no reading." in said
    assert "zone 1: 7, the next one half" in said
    assert "The calibration was set by it." in said


def test_without_a_running_box_each_command_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit status 2."""
    assert main(["calibrate", "--data", str(tmp_path)]) == 2
    assert "no box is running at" in capsys.readouterr().err


def test_a_gap_costs_more_than_seconds(capsys: pytest.CaptureFixture[str]) -> None:
    """50 µm of air at 30°: 50 tan 30° = 28.9 µm at each edge (similar triangles)."""
    assert main(["contact", "--half-angle", "30", "--gap", "50"]) == 0
    said = capsys.readouterr().out
    assert "28.9 µm at each edge" in said
    assert "draw the vacuum longer" in said
