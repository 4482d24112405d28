"""`sumlight recipes scales` and `take-over`, against a control that says what a test wants."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from sumlight.cli import main
from sumlight.control.daemon import SOCKET
from sumlight.store.recipes import RecipeStore
from tests.webui.fake_control import FakeControl
from tests.webui.given import BLUE
from tests.webui.scale_told import always, scale


@pytest.fixture
def control(tmp_path: Path) -> Iterator[FakeControl]:
    """A box with one recipe, whose dose was found in box units before it was calibrated."""
    (tmp_path / "recipes").mkdir()
    (tmp_path / "recipes" / "blue-38.yaml").write_text(BLUE, encoding="utf-8")
    with FakeControl(tmp_path / SOCKET) as fake:
        fake.answers["recipe_scales"] = always({"recipes": [scale(tmp_path)]})
        fake.answers["keep_dose"] = always(scale(tmp_path, moved=False, dose_mj_cm2=44.44, same_light_mj_cm2=None))
        yield fake


def test_scales_are_listed_and_a_dose_taken_over(
    control: FakeControl, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With the command that does it; the file then says the new number, and control was told the old one."""
    assert main(["recipes", "scales", "--data", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    assert "now called 44.44 mJ/cm², not 60" in said
    assert "sumlight recipes take-over blue-38" in said
    assert main(["recipes", "take-over", "blue-38", "--data", str(tmp_path)]) == 0
    assert "blue-38: 44.44 mJ/cm² from now on" in capsys.readouterr().out
    now = RecipeStore(tmp_path / "recipes").load("blue-38")
    assert now.recipe.dose_mj_cm2 == 44.44
    (asked,) = [each for each in control.commands if each["command"] == "keep_dose"]
    assert (asked["recipe_sha256"], asked["before_mj_cm2"]) == (now.sha256, 60.0)


@pytest.mark.parametrize("more", [[], ["--keep"]])
def test_a_recipe_saved_by_somebody_else_meanwhile_is_left_as_it_is(
    more: list[str], control: FakeControl, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Between reading the recipe and asking control: what was written then would be lost, or its dose wrongly kept."""
    theirs = BLUE.replace("dose_mj_cm2: 60", "dose_mj_cm2: 75")
    assert theirs != BLUE
    path = tmp_path / "recipes" / "blue-38.yaml"

    def saved_meanwhile(_asked: dict[str, Any]) -> dict[str, Any]:
        path.write_text(theirs, encoding="utf-8")
        return {"recipes": [scale(tmp_path)]}

    control.answers["recipe_scales"] = saved_meanwhile
    assert main(["recipes", "take-over", "blue-38", *more, "--data", str(tmp_path)]) == 2
    assert "was changed meanwhile" in capsys.readouterr().err
    assert path.read_text(encoding="utf-8") == theirs
    assert [each for each in control.commands if each["command"] == "keep_dose"] == []


def test_a_dose_is_kept_at_the_terminal(
    control: FakeControl, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its file stays; where nothing has moved there is nothing to take over."""
    assert main(["recipes", "take-over", "blue-38", "--keep", "--data", str(tmp_path)]) == 0
    assert (tmp_path / "recipes" / "blue-38.yaml").read_text(encoding="utf-8") == BLUE
    control.answers["recipe_scales"] = always({"recipes": [scale(tmp_path, moved=False, same_light_mj_cm2=None)]})
    assert main(["recipes", "take-over", "blue-38", "--data", str(tmp_path)]) != 0
    assert "nothing to take over" in capsys.readouterr().err
