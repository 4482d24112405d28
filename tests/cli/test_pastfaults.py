"""`sumlight records faults`."""

import json
from pathlib import Path

import pytest

from sumlight.cli import main
from sumlight.protocol.snapshot import OF_LIGHT
from tests.cli.terminal import at_terminal
from tests.control.bench_box import BenchBox
from tests.webui.test_panels import record


def test_faults_are_listed_and_a_look_goes_to_the_box(box: BenchBox, capsys: pytest.CaptureFixture[str]) -> None:
    """The whole way at the terminal: marked as open, looked at, not marked any more."""
    data = ["--data", str(box.data)]
    box.light_up()
    box.happen("tube_fails", tubes=6)
    box.until_state("faulted")
    box.run(0.5)
    box.ask("acknowledge")
    box.run(0.5)
    assert main(["records", "faults", *data]) == 0
    told = capsys.readouterr().out
    assert told.startswith("*    1 ")
    assert "The light went out" in told
    assert main(["records", "faults", "7", "a fuse", *data]) == 2
    assert "may not be over yet: 1" in capsys.readouterr().err
    assert at_terminal(box, lambda: main(["records", "faults", "1", "a fuse", *data])) == 0
    capsys.readouterr()
    box.run(0.5)
    assert main(["records", "faults", "--json", *data]) == 0
    (fault,) = json.loads(capsys.readouterr().out)["faults"]
    assert (fault["looked_word"], fault["looked_by"], fault["may_not_be_over"]) == ("a fuse", "terminal", False)
    assert main(["records", "faults", *data]) == 0
    assert "looked at by terminal: a fuse" in capsys.readouterr().out


def test_a_fault_that_is_none_of_the_lamps_takes_no_word(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A meter that went silent: three panels without it, or commissioning."""
    record(tmp_path / "logbook.sqlite")
    assert "meter_lost" not in OF_LIGHT
    assert main(["records", "faults", "1", "a plug", "--data", str(tmp_path)]) == 2
    assert "there are none" in capsys.readouterr().err
