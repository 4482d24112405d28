"""What the dose of a recipe rests on, by the logbook."""

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from sumlight.store.logbook.calibrations import MeasurementRecord
from sumlight.store.logbook.database import utc_text
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.recipe_doses import TakenDose, alike
from sumlight.store.logbook.records import NewSide
from tests.store.making import START_UTC, ask, later, new_exposure, state


@pytest.fixture
def book(path: Path) -> Iterator[Logbook]:
    """An empty logbook."""
    with Logbook(path) as made:
        yield made


def lit(book: Logbook, kind: str, target_mj_cm2: float | None, dose_mj_cm2: float, factor: float = 1.0) -> int:
    """A completed exposure of one side; `factor` is what a count was worth."""
    new = replace(new_exposure(sides="A"), kind=kind, sides=(NewSide("A", "lower", target_mj_cm2, 1.0),))
    begun = book.begin(new)
    budget = json.dumps({"anchor": {"origin": "box.yaml", "mw_cm2_per_basic_count": factor, "lamp_hours": 5.0}})
    book.put_sides([replace(state(begun.side_ids["A"], dose_mj_cm2, "done"), budget=budget)], later(9))
    book.finish(begun.exposure_id, "completed", False, later(9))
    return begun.exposure_id


def kinds(book: Logbook, dose_mj_cm2: float) -> list[str]:
    """What a dose of the recipe rests on."""
    return [found.kind for found in book.recipe_doses.found("invented-38", dose_mj_cm2).values()]


def test_a_dose_rests_on_the_newest_panel_with_it(book: Logbook) -> None:
    """And on none that was lit with another dose; a number that panels were not lit with since is a new one."""
    lit(book, "panel", 60.0, 60.1)
    newest = lit(book, "panel", 60.0, 60.0, factor=2.0)
    found = book.recipe_doses.found("invented-38", 60.0)
    assert (found["lower"].exposure_id, found["lower"].anchor["mw_cm2_per_basic_count"]) == (newest, 2.0)
    assert kinds(book, 52.0) == []
    assert book.recipe_doses.found("another", 60.0) == {}
    lit(book, "panel", 52.0, 52.0)
    assert kinds(book, 60.0) == []


def test_a_draft_a_taught_time_and_a_strip_gave_the_dose(book: Logbook) -> None:
    """Before any panel was lit with it; a strip by the dose at which the resist began to hold."""
    lit(book, "panel", None, 34.26)
    assert kinds(book, 34.3) == ["draft"]
    lit(book, "teach", None, 47.11)
    assert kinds(book, 47.1) == ["teach"]
    assert kinds(book, 34.3) == ["draft"]
    strip = lit(book, "strip", 10.0, 10.0)
    assert kinds(book, 10.0) == []
    book.calibrations.add_metrology(MeasurementRecord("strip", strip, "", json.dumps({"high_mj_cm2": 27.04})))
    assert kinds(book, 27.0) == ["strip"]
    assert kinds(book, 10.0) == []


def test_what_a_person_took_over_counts_until_something_newer_is_lit(book: Logbook) -> None:
    """For the dose that was taken over only."""
    lit(book, "panel", 60.0, 60.0)
    anchors = {"lower": {"origin": "radiometer", "mw_cm2_per_basic_count": 0.7}}
    book.recipe_doses.take(TakenDose("invented-38", 42.0, 60.0, anchors, "Ada"), START_UTC)
    found = book.recipe_doses.found("invented-38", 42.0)["lower"]
    assert (found.kind, found.anchor["origin"], found.found_utc) == ("taken", "radiometer", utc_text(START_UTC))
    assert kinds(book, 60.0) == ["panel"]
    lit(book, "panel", 42.0, 42.0)
    assert kinds(book, 42.0) == ["panel"]
    ((before, who),) = ask(book.path, "SELECT before_mj_cm2, taken_by FROM taken_doses")
    assert (before, who) == (60.0, "Ada")


@pytest.mark.parametrize(("a", "b", "same"), [(34.26, 34.3, True), (10.0, 10.05, True), (60.0, 60.4, False)])
def test_a_dose_that_was_written_down_again_is_the_same(a: float, b: float, same: bool) -> None:
    """With one decimal, or four digits."""
    assert alike(a, b) is same
