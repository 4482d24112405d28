"""`sumlight job` on a running box: what the page can do, from a terminal."""

import json
from functools import partial

import pytest

from tests.cli.terminal import printed
from tests.control.bench_box import BenchBox

job = partial(printed, "job")


def test_a_panel_goes_from_new_to_its_next_step(box: BenchBox, capsys: pytest.CaptureFixture[str]) -> None:
    """By its label; the step that is due needs no number."""
    assert "No job is open." in job(box, capsys, "list")
    assert "job 1: quick · 1" in job(box, capsys, "new", "quick", "--artwork", "gear", "--thickness", "0,07mm")
    assert "  quick · 1: step 1 of 21, Cut and deburr" in job(box, capsys, "list")
    shown = job(box, capsys, "show", "quick · 1")
    assert "! Gloves: fresh edges cut." in shown
    assert "a burr tears the film" in shown
    assert "step 2 of 21, Degrease" in job(box, capsys, "step", "quick · 1", "done", "--word", "band saw")
    answer = json.loads(job(box, capsys, "show", "quick · 1", "--json"))
    assert answer["steps"][0]["word"] == "band saw"
    assert answer["job"]["numbers"]["thickness_um"] == 70


def test_a_panel_that_is_not_there_is_told_with_those_that_are(
    box: BenchBox, capsys: pytest.CaptureFixture[str]
) -> None:
    """Labels are long; nobody should have to guess."""
    job(box, capsys, "new", "quick")
    told = job(box, capsys, "show", "P9", status=2)
    assert "no panel of an open job is called 'P9'; there are: 'quick · 1'" in told


def test_what_control_refuses_is_told(box: BenchBox, capsys: pytest.CaptureFixture[str]) -> None:
    """In its words."""
    assert "the recipe 'quick' lights one" in job(box, capsys, "new", "quick", "--plan", "sheet_two", status=2)


def test_the_last_step_ends_the_panel(box: BenchBox, capsys: pytest.CaptureFixture[str]) -> None:
    """By its number in the plan."""
    job(box, capsys, "new", "quick")
    assert "quick · 1: finished" in job(box, capsys, "step", "quick · 1", "done", "--step", "21")


def test_a_panel_that_has_cleared_is_told_from_a_terminal_too(
    box: BenchBox, capsys: pytest.CaptureFixture[str]
) -> None:
    """Only while it lies in the developer; its bath learns the time."""
    box.ask("bath_new", kind="developer", volume_l=1.0, wt_percent=0.85)
    job(box, capsys, "new", "quick")
    card = json.loads(job(box, capsys, "show", "quick · 1", "--json"))
    number = next(str(step["step_id"]) for step in card["steps"] if step["kind"] == "develop")
    assert "can be clear" in job(box, capsys, "step", "quick · 1", "clear", "--step", number, status=2)
    job(box, capsys, "step", "quick · 1", "begin", "--step", number, "--warmth", "86F")
    box.run(30)
    job(box, capsys, "step", "quick · 1", "clear")
    job(box, capsys, "step", "quick · 1", "done")
    (taken,) = box.ask("bath", bath_id=1)["taken"]
    assert 29 <= taken["took_s"] <= 40
    assert taken["bath_c"] == pytest.approx(30)
