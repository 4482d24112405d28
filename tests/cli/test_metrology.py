"""`sumlight panel tablet`, `light calibration` and their like: on a twin of their own, and on a box that runs."""

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from sumlight.cli import main, rigs
from sumlight.cli.simulated import SimulatedBox
from sumlight.control.daemon import LOGBOOK, SOCKET
from sumlight.store.logbook.calibrations import TabletRecord
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.reading import LogbookReader
from sumlight.twin.scenario import Scenario
from tests.control.bench_box import demo_box
from tests.running import first_in_line
from tests.webui.light_runs import keep

SPEED = 40.0


@pytest.fixture
def data(tmp_path: Path) -> Iterator[Path]:
    """The data folder of a simulated box that runs in a thread of its own, faster than life."""
    ready, stop = threading.Event(), threading.Event()

    def run() -> None:
        first_in_line(0)
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
    assert ready.wait(120)
    yield tmp_path
    stop.set()
    thread.join(60)


@pytest.mark.long
def test_a_guided_tablet_run_on_the_twin_ends_calibrated(capsys: pytest.CaptureFixture[str]) -> None:
    """Within the 8 % (k = 2) that the command itself states, against the twin's own truth."""
    assert main(["panel", "tablet", "--twin"]) == 0
    said = capsys.readouterr().out
    assert "The calibration was set by it." in said
    share = float(said.split("now counts ")[1].split("%")[0])
    assert 92 <= share <= 108


def test_a_running_box_is_asked_and_told(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """State of calibration, self-check, a taught dose, lamps old and new: each in a plain sentence."""

    def said(*arguments: str) -> str:
        assert main([*arguments, "--data", str(data)]) == 0
        return capsys.readouterr().out

    assert "Nobody has calibrated this box" in said("light", "calibration")
    assert "later ones are compared with it" in said("light", "self-check")
    assert "Put this dose into the recipe" in said("panel", "teach", "blue-38", "--seconds", "5")
    assert "Doses are relative" in said("light", "calibration", "blue-38")
    assert "set 0, 100.0 h" in said("lamps", "show")
    assert "set 1, 0.0 h, 0 starts" in said("lamps", "new", "invented tubes")


def test_a_tablet_is_read_at_the_terminal(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One zone; the convention is asked for, a slip of the finger asked again."""
    answers = iter(["x", "h", "seven", "7h"])
    monkeypatch.setattr(rigs.RunningBench, "question", lambda _self, _text: next(answers))
    assert main(["panel", "tablet", "blue-38", "--zones", "1", "--data", str(data)]) == 0
    said = capsys.readouterr().out
    assert "'seven' is not a reading." in said
    assert "zone 1: 7, the next one half" in said
    assert "The calibration was set by it." in said
    with LogbookReader.open_reader(data / "logbook.sqlite") as book:
        assert book.recent(1)[0]["parameters"] == {"target_step": 8}  # the page finds it there, as one of its own


def test_only_enter_says_that_no_zone_of_a_strip_held(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A slip of the finger is asked again: taken for none it would send somebody off to expose for longer."""
    answers = iter(["third", "0", "4", "2"])
    monkeypatch.setattr(rigs.TwinBench, "question", lambda _self, _text: next(answers))
    assert main(["panel", "strip", "--twin", "--first", "5", "--zones", "3"]) == 0
    said = capsys.readouterr().out
    for slip in ("third", "0", "4"):
        assert f"'{slip}' is not a zone of this strip: there are 1 to 3." in said
    assert "The resist begins to hold between" in said


def test_without_a_running_box_each_command_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit status 2."""
    assert main(["light", "calibration", "--data", str(tmp_path)]) == 2
    assert "no box is running at" in capsys.readouterr().err


def test_a_gap_costs_more_than_seconds(capsys: pytest.CaptureFixture[str]) -> None:
    """50 µm of air at 30°: 50 tan 30° = 28.9 µm at each edge (similar triangles)."""
    assert main(["light", "contact", "--half-angle", "30", "--gap", "50"]) == 0
    said = capsys.readouterr().out
    assert "28.9 µm at each edge" in said
    assert "draw the vacuum longer" in said


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["panel", "teach", "--twin", "--seconds", "5"], "Put this dose into the recipe"),
        (
            ["panel", "strip", "--twin", "--first", "30", "--zones", "5"],
            "begins to hold between 42.5 and 50.6 box units",
        ),
        (["light", "transmission", "--twin", "--seconds", "4"], "This sheet passes UV: 90% of the light comes through"),
    ],
)
def test_every_guided_series_runs_on_a_twin_of_its_own(
    capsys: pytest.CaptureFixture[str], arguments: list[str], told: str
) -> None:
    """Sheets of 90 %; a strip whose resist holds at 45 mJ/cm², scattered by 3 % (both the twin's own)."""
    assert main(arguments) == 0
    assert told in capsys.readouterr().out


@pytest.mark.long
def test_a_field_is_walked_on_a_twin_of_its_own(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """The twin's hands carry the sensor: the edge of a tube bank is darker than its middle."""
    places = ["0,0", "-120,-60", "120,-60", "-120,60", "120,60", "0,-60", "0,60", "-120,0", "120,0", "0,0"]
    walk = [f"--place={place}" for place in places]
    assert main(["light", "field", "--twin", "--seconds", "4", "--data", str(tmp_path), *walk]) == 0
    assert int(capsys.readouterr().out.split("weakest place gets ")[1].split("%")[0]) < 95
    with LogbookReader.open_reader(tmp_path / "logbook.sqlite") as book:
        kept = book.recent(1)[0]["parameters"]["places"]
    assert (len(kept), kept[1], kept[-1]) == (10, [-120, -60], [0, 0])
    assert main(["light", "field", "--twin", "--place=0,0"]) == 2


def test_without_twin_a_recipe_must_be_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The message says how."""
    assert main(["panel", "strip", "--first", "5", "--data", str(tmp_path)]) == 2
    assert "sumlight panel strip RECIPE" in capsys.readouterr().err


def test_weak_and_strong_light_are_compared(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """80 mJ/cm² at 1 and 60 at 2 mW/cm²: p = 1/(1 + ln(80/60)/ln 2) = 0.707 (Schwarzschild's form)."""
    assert main(["light", "reciprocity", "--held", "1,80,1", "--held", "2,60,1"]) == 0
    assert "exponent is 0.71" in capsys.readouterr().out
    assert main(["light", "reciprocity", "--held", "1:80"]) == 2
    assert "--held '1:80' is not a reading" in capsys.readouterr().err
    assert main(["light", "reciprocity", "--held", "1,80"]) == 2
    assert "at least two irradiances" in capsys.readouterr().err


def test_weak_and_strong_light_come_from_tablet_runs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By the numbers of the runs; one that tells nothing is named with those that do."""
    run = keep(tmp_path / LOGBOOK, "tablet")
    with Logbook(tmp_path / LOGBOOK) as book:
        book.calibrations.add_metrology(
            TabletRecord(run, "1", 10.0, "6", "last_held", False, "", "2026-11-25T08:00:00.000000Z")
        )
    asked = ["light", "reciprocity", "--data", str(tmp_path), "--held", "1,30"]
    assert main([*asked, "--run", str(run)]) == 0
    assert "mJ/cm² at 8.33 mW/cm²" in capsys.readouterr().out
    assert main([*asked, "--run", "77"]) == 2
    assert (
        f"--run 77: no tablet run of that number has readings that give a dose; these have: {run}"
        in capsys.readouterr().err
    )
