"""The judge of what is told but does not darken, fed by hand."""

from datetime import UTC, datetime, timedelta

import pytest

from sumlight.control.safety.advisories import STEP_S, UNWATCHED_S, Advisories
from tests.control.bench_box import BenchBox

BEGAN = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)


def look(
    advisories: Advisories,
    now_s: float,
    wall_s: float | None = None,
    *,
    low: bool | None = False,
    watched: bool = True,
    lit: bool = False,
) -> list[str]:
    """The names of what is found; the wall clock goes with the monotonic one unless told otherwise."""
    utc = BEGAN + timedelta(seconds=now_s if wall_s is None else wall_s)
    return [name for name, _ in advisories.look(now_s, utc, supply_low=low, watched=watched, lit=lit)]


@pytest.mark.parametrize("jump_s", [-3600.0, -(STEP_S + 0.1), STEP_S + 0.1, 1e6])
def test_a_jump_of_the_wall_clock_is_told_once(jump_s: float) -> None:
    """And is over as soon as it was seen."""
    advisories = Advisories()
    assert look(advisories, 1.0) == []
    assert look(advisories, 2.0, 2.0 + jump_s) == ["clock_stepped"]
    assert advisories.present == set()
    assert look(advisories, 3.0, 3.0 + jump_s) == []


def test_a_clock_that_is_slewed_is_not_told() -> None:
    """As a time service does it."""
    advisories = Advisories()
    for second in range(100):
        assert look(advisories, float(second), second * 1.01) == []


@pytest.mark.parametrize(("low", "found"), [(True, ["supply_low"]), (False, []), (None, [])])
def test_the_supply_is_told_while_it_is_low(low: bool | None, found: list[str]) -> None:
    """A machine that cannot tell is no fault."""
    advisories = Advisories()
    assert look(advisories, 1.0, low=low) == found
    assert advisories.present == set(found)
    assert look(advisories, 2.0) == []


def test_light_that_nobody_watches_any_more_is_told_after_a_while() -> None:
    """Counted from the last moment that somebody did."""
    advisories = Advisories()
    look(advisories, 0.0, lit=True)
    assert look(advisories, UNWATCHED_S, watched=False, lit=True) == []
    assert look(advisories, UNWATCHED_S + 0.1, watched=False, lit=True) == ["page_gone"]
    assert advisories.present == {"page_gone"}
    assert look(advisories, UNWATCHED_S + 1, lit=True) == []


def test_a_box_that_never_had_a_page_is_not_told_of() -> None:
    """Work from the terminal needs none."""
    advisories = Advisories()
    for second in range(100):
        assert look(advisories, float(second), watched=False, lit=second > 10) == []


def test_without_light_nobody_needs_to_watch() -> None:
    """The time runs only under light."""
    advisories = Advisories()
    look(advisories, 0.0)
    assert look(advisories, 100.0, watched=False) == []
    assert look(advisories, 100.0 + UNWATCHED_S, watched=False, lit=True) == []
    assert look(advisories, 100.1 + UNWATCHED_S, watched=False, lit=True) == ["page_gone"]


def told(bench: BenchBox) -> list[str]:
    """Names of everything that stands, remarks included."""
    return [fault["name"] for fault in bench.snapshot()["faults"]]


def test_a_wall_clock_set_under_light_is_told_recorded_and_does_not_darken(bench: BenchBox) -> None:
    """The dose does not depend on it."""
    bench.light_up(dose_mj_cm2=40)
    bench.set_wall_clock(3600.0)
    bench.run(2.0)
    assert told(bench) == ["clock_stepped"]
    assert (bench.state, bench.any_light()) == ("light", True)
    assert bench.ask("acknowledge") == {"cleared": ["clock_stepped"], "standing": []}
    bench.until_state("done")
    assert bench.true_dose() == pytest.approx(40, rel=0.003)
    with bench.logbook() as book:
        row = book.recent()[0]
        exposure = book.exposure(row["exposure_id"])
    assert exposure is not None
    assert [fault["name"] for fault in exposure["faults"]] == ["clock_stepped"]


def test_a_page_that_went_away_under_light_is_told_and_does_not_darken(bench: BenchBox) -> None:
    """The exposure ends by its dose, whoever looks on."""
    bench.light_up(dose_mj_cm2=400, time_guard_s=200)
    bench.loop.watched = True
    bench.run(2.0)
    bench.loop.watched = False
    bench.run(UNWATCHED_S + 2.0)
    assert told(bench) == ["page_gone"]
    assert (bench.state, bench.any_light()) == ("light", True)
    bench.loop.watched = True
    bench.run(1.5)
    assert bench.ask("acknowledge") == {"cleared": ["page_gone"], "standing": []}
