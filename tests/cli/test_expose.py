"""`sumlight panel expose` on the twin, as a script would use it."""

import json
from pathlib import Path
from typing import Any

import pytest

from sumlight.cli import main
from sumlight.cli.expose import _line
from sumlight.twin import demo

SIDE_KEYS = {
    "side",
    "target_mj_cm2",
    "lit_for_s",
    "lit_s",
    "dose_mj_cm2",
    "expanded_uncertainty_mj_cm2",
    "expanded_repeat_mj_cm2",
    "expanded_absolute_mj_cm2",
    "largest_component",
    "dof_eff",
    "k",
    "relative",
    "true_dose_mj_cm2",
    "duration_s",
    "pauses",
    "faults",
}


def expose(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, dict[str, Any]]:
    """Run the command with --json; returns exit status and result."""
    status = main(["panel", "expose", "--twin", "--json", *map(str, arguments)])
    printed = capsys.readouterr().out
    assert printed.count("\n") == 1, "one JSON object and nothing else"
    return status, json.loads(printed)


def test_expose_prints_one_json_object_with_every_figure(capsys: pytest.CaptureFixture[str]) -> None:
    """The true dose of the twin lies within 0.3 % of the recipe's."""
    status, result = expose(capsys)
    assert status == 0
    assert result["outcome"] == "completed"
    (side,) = result["sides"]
    assert set(side) == SIDE_KEYS
    assert side["true_dose_mj_cm2"] == pytest.approx(side["target_mj_cm2"], rel=0.003)
    assert side["pauses"] == 0
    assert side["faults"] == []


def test_expose_with_an_opened_lid_goes_on_to_the_same_target(capsys: pytest.CaptureFixture[str]) -> None:
    """The demo scenario: lid up after eight seconds of light, shut again, the attendant presses go.

    Its tubes are older than the demo box's number: the dose is that of the box's own units, some per cent off.
    """
    status, result = expose(capsys, "--scenario", demo.SCENARIO)
    (side,) = result["sides"]
    assert (status, side["pauses"]) == (0, 1)
    assert side["dose_mj_cm2"] == pytest.approx(side["target_mj_cm2"], rel=0.003)
    assert side["true_dose_mj_cm2"] == pytest.approx(0.943 * side["target_mj_cm2"], rel=0.01)


DRAFT = """\
resist: Invented film
sides: one
draft_lit_s: 20
transmission: {a: 0.9}
time_guard_s: 100
hold_s: 60
interruptions: {forgiven: 2, longest_gap_s: 60}
"""


def test_a_draft_is_lit_by_time_and_says_so(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """In the object for scripts and in words; the dose is measured."""
    (tmp_path / "brass.yaml").write_text(DRAFT, encoding="utf-8")
    status, result = expose(capsys, "--recipe", tmp_path / "brass.yaml")
    (side,) = result["sides"]
    assert (status, result["draft"], side["target_mj_cm2"], side["lit_for_s"]) == (0, True, None, 20.0)
    assert side["lit_s"] == pytest.approx(20.0, abs=0.01)
    assert side["dose_mj_cm2"] == pytest.approx(side["true_dose_mj_cm2"], rel=0.005)
    assert main(["panel", "expose", "--twin", "--recipe", str(tmp_path / "brass.yaml")]) == 0
    assert "in 20 of 20 s" in (told := capsys.readouterr().out)
    assert "a draft: lit by time" in told


def test_a_shelf_calls_a_draft_one(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """And a recipe of which nothing is known yet as well."""
    (tmp_path / "recipes").mkdir()
    (tmp_path / "recipes" / "brass.yaml").write_text(DRAFT, encoding="utf-8")
    (tmp_path / "recipes" / "new.yaml").write_text(DRAFT.replace("draft_lit_s: 20", "dose_unknown: true"))
    assert main(["recipes", "list", "--data", str(tmp_path)]) == 0
    told = capsys.readouterr().out
    assert "brass: Invented film, draft, lit for 20 s, one side" in told
    assert "new: Invented film, no dose yet, one side" in told


@pytest.mark.parametrize("typed", ["8 min", "8min", "8:00", "480 s", "480"])
def test_a_recipe_begins_with_a_time_as_people_write_it(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, typed: str
) -> None:
    """The file holds plain decimals; a second one of that name is refused."""
    (tmp_path / "recipes").mkdir()
    command = ["recipes", "new", "Brass 8 min", "--time", typed, "--sides", "turned", "--through", "0,9"]
    assert main([*command, "--data", str(tmp_path)]) == 0
    assert "brass-8-min: draft, lit for 480 s, two sides, panel turned by hand" in capsys.readouterr().out
    text = (tmp_path / "recipes" / "brass-8-min.yaml").read_text(encoding="utf-8")
    assert "draft_lit_s: 480.0" in text
    assert text.count("0.9") == 2
    assert main(["recipes", "check", str(tmp_path / "recipes" / "brass-8-min.yaml"), "--box", str(demo.BOX)]) == 0
    assert main([*command, "--data", str(tmp_path)]) == 2
    assert "exists already" in capsys.readouterr().err


def test_a_recipe_begins_with_a_dose_or_with_neither_but_not_with_nothing_said(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """And not with two of them."""
    (tmp_path / "recipes").mkdir()
    data = ["--data", str(tmp_path)]
    assert main(["recipes", "new", "board", "--dose", "0,06 J/cm2", *data]) == 0
    assert main(["recipes", "new", "new film", "--neither", *data]) == 0
    assert "new-film: no dose yet" in capsys.readouterr().out
    for wrong in ([], ["--time", "8min", "--neither"]):
        with pytest.raises(SystemExit):
            main(["recipes", "new", "other", *wrong, *data])
    assert sorted(file.name for file in (tmp_path / "recipes").iterdir()) == ["board.yaml", "new-film.yaml"]


@pytest.mark.parametrize(
    ("recipe", "box"),
    [("turned-50.yaml", demo.BOX), ("turned-50.yaml", demo.TWO_BANK_BOX), ("together-25.yaml", demo.TWO_BANK_BOX)],
)
def test_expose_of_two_sides_gives_each_its_own_dose(
    capsys: pytest.CaptureFixture[str], recipe: str, box: Path
) -> None:
    """Panel turned by the attendant under one bank, or both sides at once under two."""
    status, result = expose(capsys, "--recipe", demo.RECIPES / recipe, "--box", box)
    assert status == 0
    sides: list[dict[str, float]] = result["sides"]
    assert [side["side"] for side in sides] == ["A", "B"]
    for side in sides:
        assert side["true_dose_mj_cm2"] == pytest.approx(side["target_mj_cm2"], rel=0.003)


def test_expose_that_faults_exits_with_one_and_names_the_fault(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """The sensor is unplugged in mid-exposure; the dose so far is told."""
    scenario = tmp_path / "scenario.yaml"
    scenario.write_text("events:\n  - {at_s: 5, since: light, do: meter_disappears}\n")
    status, result = expose(capsys, "--scenario", scenario)
    (side,) = result["sides"]
    assert (status, result["outcome"], side["faults"]) == (1, "faulted", ["meter_lost"])
    assert 10 < side["dose_mj_cm2"] < 30


def test_expose_that_nobody_continues_is_abandoned(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """No attendant: after a while the panel is given up, lamps dark."""
    scenario = tmp_path / "scenario.yaml"
    scenario.write_text("attendant_go_after_s: null\nevents:\n  - {at_s: 5, since: light, do: lid_opens}\n")
    status, result = expose(capsys, "--scenario", scenario)
    assert (status, result["outcome"]) == (1, "abandoned")


def test_expose_runs_the_same_at_any_speed(capsys: pytest.CaptureFixture[str]) -> None:
    """The twin's time stands still while control computes: same seed, same figures."""
    _, slow = expose(capsys, "--speed", "20")
    _, fast = expose(capsys, "--speed", "max")
    assert slow == fast


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("resist: [", "is not valid YAML"),
        ("resist: x\ndose_mj_cm2: -5\n", "line 2: dose_mj_cm2: input should be greater than or equal to 1 (given: -5)"),
        ("transmission: {a: 0}\n", "line 1: transmission.a: input should be greater than 0 (given: 0)"),
        ("transmission: {a: 1.2}\n", "line 1: transmission.a: input should be less than or equal to 1 (given: 1.2)"),
        ("doze_mj_cm2: 5\n", "line 1: doze_mj_cm2: unknown key; known here: resist, thickness_um, sides, dose_mj_cm2"),
    ],
)
def test_a_bad_recipe_is_told_with_line_and_field_and_nothing_is_lit(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, text: str, words: str
) -> None:
    """Exit status 2, every message on standard error, nothing on standard output."""
    recipe = tmp_path / "bad.yaml"
    recipe.write_text(text)
    assert main(["panel", "expose", "--twin", "--json", "--recipe", str(recipe)]) == 2
    printed = capsys.readouterr()
    assert words in printed.err
    assert printed.out == ""


def test_a_recipe_for_two_banks_is_refused_on_a_one_bank_box(capsys: pytest.CaptureFixture[str]) -> None:
    """With what to do instead."""
    assert main(["panel", "expose", "--twin", "--recipe", str(demo.RECIPES / "together-25.yaml")]) == 2
    assert "needs two lamp banks; this box has one. Use 'turned', or add a bank" in capsys.readouterr().err


def test_a_scenario_with_an_unknown_key_is_refused(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A typing mistake must not silently simulate something else."""
    scenario = tmp_path / "scenario.yaml"
    scenario.write_text("room_f: 70\n")
    assert main(["panel", "expose", "--twin", "--scenario", str(scenario)]) == 2
    assert "scenario.yaml, line 1: room_f: unknown key; known here: seed, lamp_hours" in capsys.readouterr().err


def test_expose_without_a_running_box_says_so(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Exit status 2 and what to do."""
    assert main(["panel", "expose", "blue-38", "--data", str(tmp_path)]) == 2
    assert "no box is running at" in capsys.readouterr().err


def test_a_dose_in_units_of_the_box_has_no_absolute_width() -> None:
    """Nothing outside the box has checked it; only how far its doses lie apart is known."""
    side = {
        "side": "A",
        "dose_mj_cm2": 20.0,
        "relative": True,
        "expanded_repeat_mj_cm2": 0.3,
        "expanded_absolute_mj_cm2": 9.9,
        "largest_component": "calibration",
        "target_mj_cm2": 20.0,
        "lit_for_s": None,
        "duration_s": 6.0,
        "pauses": 0,
        "true_dose_mj_cm2": None,
        "faults": [],
    }
    told = _line(side)
    assert told.startswith("side A: 20.00 in units of this box, between doses of this box ± 0.30")
    assert "9.90" not in told
    assert "mJ/cm² ±" not in told
