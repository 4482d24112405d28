"""`sumlight setup check`, and every example file of the repository."""

from pathlib import Path

import pytest

from sumlight.cli import main
from sumlight.twin import demo

ROOT = Path(__file__).parents[2]


def test_every_example_file_of_the_repository_is_usable(capsys: pytest.CaptureFixture[str]) -> None:
    """Boxes, recipes and scenarios, found by pattern so that a new one cannot be forgotten."""
    boxes = [*ROOT.glob("hardware/*.yaml"), *demo.DEMO.glob("box*.yaml")]
    scenarios = list(demo.DEMO.glob("scenario*.yaml"))
    assert len(boxes) >= 3
    assert scenarios
    for box in boxes:
        assert main(["setup", "check", "--box", str(box)]) == 0
    for scenario in scenarios:
        assert main(["setup", "check", "--scenario", str(scenario)]) == 0
    assert main(["setup", "check", "--box", str(demo.TWO_BANK_BOX), "--recipes", str(demo.RECIPES)]) == 0
    assert "usable" in capsys.readouterr().out


def test_check_tells_what_a_box_cannot_run(capsys: pytest.CaptureFixture[str]) -> None:
    """A recipe for two banks against the one-bank box."""
    assert main(["setup", "check", "--box", str(demo.BOX), "--recipes", str(demo.RECIPES)]) == 1
    printed = capsys.readouterr()
    assert "together-25.yaml: sides: 'together' lights both sides at once" in printed.err
    assert "blue-38.yaml: usable" in printed.out


def test_check_of_nothing_says_what_to_name(capsys: pytest.CaptureFixture[str]) -> None:
    """An empty check would pass for the wrong reason."""
    assert main(["setup", "check"]) == 2
    assert "name --box, --recipe, --recipes or --scenario" in capsys.readouterr().err
