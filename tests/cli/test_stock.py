"""`sumlight stock` on a running box."""

import json
from functools import partial

import pytest

from sumlight.store.recipes import RecipeStore
from tests.cli.terminal import printed
from tests.control.bench_box import BenchBox, recipe_text

stock = partial(printed, "stock")


def test_the_shelf_is_filled_and_emptied(box: BenchBox, capsys: pytest.CaptureFixture[str]) -> None:
    """A roll, metal, a stencil; each by its number."""
    RecipeStore(box.data / "recipes").save("two", recipe_text(sides="turned"))
    assert "Nothing is on the shelf." in stock(box, capsys, "list")
    told = stock(box, capsys, "roll", "Invented film", "--film", "1.5mil", "--opened", "closed", "--storage", "warm")
    assert "roll 1 (Invented film)\n38.1 µm thick." in told
    assert "Still closed" in told
    assert "Pieces left: 10." in stock(box, capsys, "metal", "brass", "--thickness", "0.15mm", "--pieces", "10")
    told = stock(box, capsys, "stencil", "gear", "--spacer", "150um", "--held", "pins")
    assert "Still to do: print, let it lie, register and fix, check against light." in told
    told = stock(
        box, capsys, "note", "3", "--step", "check", "--apart", "40um", "--density", "2.4", "--readable-a", "no"
    )
    assert "Side A reads the wrong way round" in told
    assert "Front and back lie 40 µm apart" in told
    assert "[check] check against light: done" in told
    assert "Still to do" not in told
    (measured,) = json.loads(stock(box, capsys, "list", "3", "--json"))["stencil"]["measured"]
    assert (measured["apart_um"], measured["readable_a"], measured["readable_b"]) == (40, False, None)
    assert "Panels of two that have no card" in stock(box, capsys, "note", "3", "--recipe", "two", "--density", "2.5")
    assert "no card" not in stock(box, capsys, "note", "3", "--recipe", "none")
    stock(box, capsys, "end", "3")
    assert "gear" not in stock(box, capsys, "list")
    stock(box, capsys, "end", "3", "--back")
    assert "stencil 3 (gear): Side A reads the wrong way round" in stock(box, capsys, "list")


def test_what_cannot_be_noted_says_why(box: BenchBox, capsys: pytest.CaptureFixture[str]) -> None:
    """A day that is none, a roll that is measured, a step that is not named, nothing at all."""
    for typed, words in (("March", "write it as 2026-11-30"), ("03/04/2026", "3 April 2026 or 4 March 2026")):
        with pytest.raises(SystemExit):
            stock(box, capsys, "roll", "Film", "--opened", typed)
        assert words in capsys.readouterr().err
    told = json.loads(stock(box, capsys, "roll", "Old", "--opened", "1. Nov. 2025", "--expires", "1/31/2027", "--json"))
    assert (told["roll"]["opened_on"], told["roll"]["expires_on"]) == ("2025-11-01", "2027-01-31")
    assert "Number 1 is no stencil." in stock(box, capsys, "note", "1", "--density", "2", status=2)
    assert "say which step" in stock(box, capsys, "note", "1", "--density", "2", "--take-back", status=2)
    assert "say what to note" in stock(box, capsys, "note", "1", status=2)
    assert "not 7" in stock(box, capsys, "list", "7", status=2)
