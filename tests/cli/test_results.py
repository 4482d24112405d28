"""`sumlight recipes results`, beside a control that takes what it is told."""

from pathlib import Path

import pytest

from sumlight.cli import main
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.recipes import RecipeStore
from tests.cli.test_scales import control as control
from tests.store.logbook.test_results import lit
from tests.store.making import later
from tests.webui.fake_control import FakeControl
from tests.webui.scale_told import always, scale
from tests.webui.test_results import etched


def test_results_are_told_and_one_is_applied(
    control: FakeControl, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing changes unless somebody asks; then the version is named."""
    Logbook(tmp_path / "logbook.sqlite").close()
    results = ["recipes", "results", "blue-38", "--data", str(tmp_path)]
    assert main(results) == 0
    assert "No panel of 'blue-38' says anything yet." in capsys.readouterr().out
    with Logbook(tmp_path / "logbook.sqlite") as book:
        for number in range(3):
            known = {"held_step": 9.0, "wanted_step": 11.0}
            book.findings.put_findings(lit(book, f"P{number}", recipe="blue-38"), [], known, "Ada", later(3))
    shelf = RecipeStore(tmp_path / "recipes")
    before = shelf.load("blue-38").sha256
    assert main(results) == 0
    assert "The recipe lies outside." in capsys.readouterr().out
    assert shelf.load("blue-38").sha256 == before
    assert main([*results, "--apply", "dose"]) == 2
    assert "recipes take-over blue-38" in capsys.readouterr().err
    control.answers["recipe_scales"] = always({"recipes": [scale(tmp_path, moved=False)]})
    assert main([*results, "--apply", "dose"]) == 0
    now = shelf.load("blue-38")
    assert f"version {now.sha256[:10]}" in capsys.readouterr().out
    assert now.recipe.dose_mj_cm2 == pytest.approx(115, rel=0.15)
    (kept,) = [each for each in control.commands if each["command"] == "keep_dose"]
    assert (kept["recipe"], kept["recipe_sha256"], kept["before_mj_cm2"]) == ("blue-38", now.sha256, 60)
    with Logbook(tmp_path / "logbook.sqlite") as book:
        for number, metal in enumerate(("brass", "copper")):
            etched(book, number, f"P{number}", metal)
    assert main([*results, "--apply", "etch-rates"]) == 0
    rates = shelf.load("blue-38")
    assert rates.recipe.etch_rates_um_min == {"brass": {"iron": 5.0}, "copper": {"iron": 5.0}}
    assert f"etch_rates_um_min.copper.iron 5, version {rates.sha256[:10]}" in capsys.readouterr().out
    assert main([*results, "--apply", "break-point"]) == 2
    assert "says anything of that yet" in capsys.readouterr().err
