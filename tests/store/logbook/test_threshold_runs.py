"""What recorded tablet runs say about weak and strong light."""

from pathlib import Path

import pytest

from sumlight.store.logbook.calibrations import TabletRecord
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.threshold_runs import threshold_doses
from tests.webui.light_runs import keep

UTC = "2026-11-25T08:00:00.000000Z"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A logbook to be."""
    return tmp_path / "logbook.sqlite"


def read(path: Path, run: int, *steps: str) -> None:
    """Record readings of a run, zone by zone; its zones got 10, 20 and 30 mJ/cm² in 2.4 s each."""
    with Logbook(path) as book:
        for zone, step in enumerate(steps, start=1):
            book.calibrations.add_metrology(
                TabletRecord(run, str(zone), 10.0 * zone, step, "last_held", False, "L7", UTC)
            )


def test_a_run_gives_the_dose_that_holds_and_the_light_it_was_held_in(path: Path) -> None:
    """Step 6 held and 7 not at 20 mJ/cm²: step 8 needs 20 × 10^(0.15 × 1.5) = 33.6, half a step either way.

    By the definition of density (ISO 5-2). 60 mJ/cm² in 7.2 s are 8.33 mW/cm² (division).
    """
    run = keep(path, "tablet")
    read(path, run, "4", "6", "7")
    with Logbook.open_reader(path) as book:
        (held,) = threshold_doses(book, 8)
    assert held.mw_cm2 == pytest.approx(60 / 7.2)
    assert held.dose_mj_cm2 == pytest.approx(33.6, rel=0.1)
    assert 0.02 < held.ln_sigma < 0.12
    assert (held.exposure_id, held.lot) == (run, "L7")


def test_a_step_without_a_mark_is_read_as_this_bench_marks(path: Path) -> None:
    """Where other runs show that half steps are marked, none says that the resist needed more."""
    run = keep(path, "tablet")
    read(path, run, "4")
    with Logbook.open_reader(path) as book:
        (before,) = threshold_doses(book, 8)
    for marked in (True, False, True, False, True):
        other = keep(path, "tablet")
        with Logbook(path) as book:
            book.calibrations.add_metrology(TabletRecord(other, "1", 10.0, "4", "last_held", marked, "L7", UTC))
    with Logbook.open_reader(path) as book:
        after = threshold_doses(book, 8)[-1]
    assert after.exposure_id == before.exposure_id
    assert after.dose_mj_cm2 > 1.02 * before.dose_mj_cm2


def test_runs_without_a_number_are_left_out_and_the_newest_comes_first(path: Path) -> None:
    """All held everywhere bounds nothing."""
    first, blind, last = (keep(path, "tablet") for _ in range(3))
    read(path, first, "4")
    read(path, blind, "all_held", "all_held")
    read(path, last, "5")
    with Logbook.open_reader(path) as book:
        assert [held.exposure_id for held in threshold_doses(book, 8)] == [last, first]
        assert threshold_doses(book, 9)[0].dose_mj_cm2 == pytest.approx(
            10**0.15 * threshold_doses(book, 8)[0].dose_mj_cm2
        )
