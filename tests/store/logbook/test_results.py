"""Results of a recipe's panels in the logbook: of one scale only, with what cards and baths say of their times."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from sumlight.craft.baths.contents import Contents
from sumlight.craft.baths.load import Taken
from sumlight.store.logbook.baths import BathPanel, BathRecord
from sumlight.store.logbook.jobs import PanelRecord
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.results import results_of
from tests.store.logbook.test_jobs import JOB
from tests.store.making import later, new_exposure, state

ANCHOR = {"meter": "below", "position": "", "relative": False, "mw_cm2_per_basic_count": 0.02}


def lit(book: Logbook, panel: str, dose_mj_cm2: float = 60.0, recipe: str = "invented-38", **anchor: Any) -> int:
    """A panel that got its dose under a calibration."""
    begun = book.begin(replace(new_exposure(panel, sides="A"), recipe_name=recipe))
    budget = json.dumps({"anchor": ANCHOR | anchor})
    book.put_sides([replace(state(begun.side_ids["A"], dose_mj_cm2, "done"), budget=budget)], later(1))
    book.finish(begun.exposure_id, "completed", False, later(2))
    return begun.exposure_id


def test_a_result_is_what_is_on_record_of_a_panel(path: Path) -> None:
    """Verdict, confirmed cause, held step; etched as its bath noted it."""
    with Logbook(path, durable=False) as book:
        number = lit(book, "P1")
        book.put_verdict(number, "too_little", "Ada")
        book.findings.put_findings(
            number, [], {"held_step": 9.0, "wanted_step": 11.0, "clear_s": 30.0}, "Ada", later(3)
        )
        book.findings.confirm_cause(number, "underexposed", True, "Ada", later(4))
        book.jobs.put_job(JOB)
        book.jobs.put_panel(PanelRecord(1, 1, "P1"))
        book.baths.put_bath(BathRecord(1, Contents("iron", 1.0, 36.0), later(0)))
        taken = Taken("brass", 50.0, 75.0, 600.0)
        book.baths.put_bath_panel(BathPanel(1, 1, taken, later(5), later(6), 1, 17, "P1", 600.0, 0.2))
        (found,) = results_of(book, "invented-38")
    assert (found.dose_mj_cm2, found.verdict, found.causes) == (60, "too_little", frozenset({"underexposed"}))
    assert (found.held_step, found.wanted_step, found.clear_s) == (9, 11, 30)
    assert (found.etch, found.depth_um, found.etched_s, found.used) == (("brass", "iron"), 75, 600, 0.2)


@pytest.mark.parametrize(
    "anchor", [{"mw_cm2_per_basic_count": 0.03}, {"meter": "above"}, {"position": "corner"}, {"relative": True}]
)
def test_a_dose_of_another_scale_is_left_out(path: Path, anchor: dict[str, Any]) -> None:
    """The newest panel's counts; a check that moved it by a hundredth does not matter."""
    with Logbook(path, durable=False) as book:
        lit(book, "P1", 50.0, **anchor)
        lit(book, "P2", 55.0, mw_cm2_per_basic_count=0.0202)
        lit(book, "P3", 60.0)
        assert [found.dose_mj_cm2 for found in results_of(book, "invented-38")] == [60, 55, None]


def test_another_recipe_whose_name_holds_this_one_is_not_looked_at(path: Path) -> None:
    """Names are compared as a whole."""
    with Logbook(path, durable=False) as book:
        lit(book, "P1", recipe="invented-38-thick")
        assert results_of(book, "invented-38") == []
