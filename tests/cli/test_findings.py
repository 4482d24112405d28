"""`sumlight records signs`, `why` and `cause`."""

import json
from pathlib import Path

import pytest

from sumlight.cli import main
from sumlight.store.logbook.logbook import Logbook
from tests.cli.terminal import at_terminal
from tests.control.bench_box import BenchBox
from tests.store.making import later
from tests.webui.test_panels import record


def test_signs_go_to_the_box_and_why_reads_the_logbook(box: BenchBox, capsys: pytest.CaptureFixture[str]) -> None:
    """The whole way at the terminal: put on, ask, keep what it was."""
    box.start_new(dose_mj_cm2=5).until_state("done")
    number, data = str(box.snapshot()["exposure"]["exposure_id"]), ["--data", str(box.data)]
    words = ["floats_off", "held_step=6", "wanted_step=8", "rested_s=20min", "same_place=no"]
    assert at_terminal(box, lambda: main(["records", "signs", number, *words, *data])) == 0
    assert "resist comes off all over in the developer" in capsys.readouterr().out
    box.run(0.5)
    assert main(["records", "why", number, *data]) == 0
    told = capsys.readouterr().out
    assert "1. too little light" in told
    assert "for: " in told
    assert "check (" in told
    assert at_terminal(box, lambda: main(["records", "cause", number, "underexposed", *data])) == 0
    capsys.readouterr()
    box.run(0.5)
    assert main(["records", "why", number, "--json", *data]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["confirmed"] == ["underexposed"]
    assert found["known"]["rested_s"] == 1200
    assert found["answer"]["causes"][0]["name"] == "underexposed"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["signs", "1", "glows"], "no sign is called 'glows'"),
        (["signs", "1", "aura=3"], "nothing is called 'aura'"),
        (["signs", "1", "place=moon"], "place must be one of everywhere"),
        (["signs", "1", "held_step=30"], "held_step: 30 is not possible here: from 0 to 21"),
        (["signs", "7", "scum"], "there is no exposure 7"),
        (["why", "7"], "there is no exposure 7"),
        (["cause", "1", "moonlight"], "no cause is called 'moonlight'"),
        (["cause", "7", "fogged"], "there is no exposure 7"),
        (["signs", "1", "scum"], "no box is running"),
    ],
)
def test_what_cannot_be_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], told: str
) -> None:
    """What is wrong and what there is; exit status 2."""
    record(tmp_path / "logbook.sqlite")
    assert main(["records", *words, "--data", str(tmp_path)]) == 2
    assert told in capsys.readouterr().err


def test_the_lists_can_be_asked_for(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nobody has to know the names by heart."""
    assert main(["records", "signs", "--data", str(tmp_path)]) == 0
    told = capsys.readouterr().out
    assert "floats_off " in told
    assert "place=everywhere|" in told
    assert main(["records", "cause", "1", "--data", str(tmp_path)]) == 0
    assert "underexposed " in capsys.readouterr().out


def test_without_signs_there_is_not_enough_to_tell(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No guess out of thin air."""
    number = record(tmp_path / "logbook.sqlite")
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as book:
        book.findings.put_findings(number, [], {}, "Ada", later(1))
    assert main(["records", "why", str(number), "--data", str(tmp_path)]) == 0
    told = capsys.readouterr().out
    assert "1. " not in told
