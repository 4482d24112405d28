"""Quantities as options of the command line: units, commas, two readings, bounds."""

import ast
import json
from pathlib import Path

import pytest

from sumlight import cli
from sumlight.cli import main, parser
from sumlight.cli.guided import _densities


@pytest.mark.parametrize(
    ("typed", "name", "value"),
    [
        (["panel", "teach", "blue", "--seconds", "8:00"], "seconds", 480),
        (["panel", "teach", "blue", "--seconds", "8 min"], "seconds", 480),
        (["light", "steady", "blue", "--seconds", "1,5min"], "seconds", 90),
        (["panel", "strip", "blue", "--first", "0,01 J/cm²"], "first", 10),
        (["panel", "strip", "blue", "--first", "10", "--factor", "1,19"], "factor", 1.19),
        (["panel", "strip", "blue", "--first", "10"], "zones", 8),
        (["panel", "tablet", "blue", "--reference", "55,5 mJ/cm2"], "reference", 55.5),
        (["light", "radiometer", "52,5 W/m²"], "mw_cm2", 5.25),
        (["light", "radiometer", "5", "--uncertainty", "4 %"], "uncertainty", 0.04),
        (["light", "radiometer", "5"], "uncertainty", None),
        (["light", "contact", "--half-angle", "20°", "--gap", "0,05 mm"], "gap", 50),
        (["light", "contact", "--half-angle", "20", "--base", "4 mil"], "base", 101.6),
        (["lamps", "tubes", "lower", "--hours", "120,5"], "hours", 120.5),
        (["lamps", "show", "--level", "65%"], "level", 65),
        (["lamps", "show"], "level", None),
        (["records", "tidy", "--older-than-days", "365"], "older_than_days", 365),
    ],
)
def test_an_option_is_read_as_a_form_reads_it(typed: list[str], name: str, value: float | None) -> None:
    """Units are converted, a comma is a point; without the option the model's own default holds."""
    assert getattr(parser().parse_args(typed), name) == pytest.approx(value)


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        (
            ["panel", "strip", "blue", "--first", "1,250"],
            "argument --first: '1,250' can mean 1.25 mJ/cm² or 1250 mJ/cm². Write 1.25 or 1250.",
        ),
        (
            ["panel", "strip", "blue", "--first", "10", "--zones", "2"],
            "--zones: 2 is not possible here: from 3",
        ),
        (
            ["panel", "teach", "blue", "--seconds", "2 h"],
            "2 h is not possible here: from 0.5 to 3600 s",
        ),
        (["panel", "teach", "blue", "--seconds", "60 mJ"], "'mJ' is not a unit for this"),
        (["light", "radiometer", "much"], "argument MW_CM2: 'much' is not a number"),
        (["panel", "tablet", "blue-38", "--densities", "0,05; 0,2"], "does not hold 21 numbers"),
        (["records", "tidy", "--older-than-days", "1"], "1 is not possible here: from 30 to 36500 days"),
    ],
)
def test_an_option_that_cannot_be_is_named_with_what_is_allowed(
    typed: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Field, value, what is allowed, what to do; exit status 2."""
    with pytest.raises(SystemExit, match="2"):
        main(typed)
    assert told in capsys.readouterr().err


def test_the_densities_of_a_tablet_stand_in_a_row_and_their_uncertainty_behind_them() -> None:
    """With points or commas; without it none is stated."""
    own = [0.05 + 0.15 * step for step in range(21)]
    row = "; ".join(f"{value:.2f}".replace(".", ",") for value in own)
    found = _densities(f"{row}; 0,01")
    assert found["densities"] == pytest.approx(own)
    assert (found["density_uncertainty"], _densities(row)["density_uncertainty"]) == (0.01, 0.0)


def test_no_option_reads_decimals_by_itself() -> None:
    """`float` knows neither units nor a comma, and takes nan."""
    found = []
    for path in Path(cli.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.keyword) and node.arg == "type" and ast.unparse(node.value) == "float":
                found.append(f"{path.name}:{node.value.lineno}")
    assert found == []


def test_readings_with_commas_are_parted_by_semicolons(capsys: pytest.CaptureFixture[str]) -> None:
    """The same as with points and commas."""
    found = []
    for held in (("1.5,80,1", "3.0,60,1"), ("1,5; 80; 1", "3,0; 60 mJ/cm²; 1 %")):
        assert main(["light", "reciprocity", "--json", "--held", held[0], "--held", held[1]]) == 0
        found.append(json.loads(capsys.readouterr().out)["p"])
    assert found[0] == found[1] == pytest.approx(0.7067, abs=1e-4)  # 1/(1 + ln(80/60)/ln 2)
