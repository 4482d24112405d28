"""When timers ring, and what is left of their time after a restart."""

from datetime import UTC, datetime, timedelta

import pytest

from sumlight.craft.jobs import timers
from sumlight.craft.jobs.timers import Ring, Schedule
from tests.craft.jobs.test_instructions import numbers, step

NOON = datetime(2026, 11, 29, 12, tzinfo=UTC)


def test_an_etch_rings_at_half_then_for_looks_without_end() -> None:
    """150 µm at 10 µm/min from both sides: looks from 360 s on, every 36 s, half-way the reminder (by hand)."""
    found = timers.schedule_of(step("etch"), numbers())
    assert found is not None
    times = [(ring.what, round(ring.after_s, 6)) for n in range(5) if (ring := found.ring(n))]
    assert times == [("half", 180), ("look_etch", 360), ("look_etch", 396), ("look_etch", 432), ("look_etch", 468)]
    assert [found.rung(s) for s in (0, 179, 181, 359.9, 361, 397, 3601)] == [0, 0, 1, 1, 2, 3, 92]


def test_developing_rings_at_half_at_the_break_point_and_at_the_end() -> None:
    """30 s to clear, 50 s in all (trade notes E1: break point best at 60 %)."""
    found = timers.schedule_of(step("develop"), numbers())
    assert found is not None
    assert [ring.what for ring in found.rings] == ["half", "look_clear", "end"]
    assert [ring.after_s for ring in found.rings] == pytest.approx([25, 30, 50])
    assert timers.schedule_of(step("develop"), numbers(clear_s=None)) is None


def test_rest_and_settling_ring_once() -> None:
    """By the recipe, and after a quarter of an hour."""
    hold, settle = timers.schedule_of(step("hold"), numbers()), timers.schedule_of(step("settle"), numbers())
    assert hold == Schedule((Ring(900.0, "end"),))
    assert settle == Schedule((Ring(900.0, "end"),))
    assert hold.ring(1) is None
    assert [hold.rung(s) for s in (899, 900, 1e6)] == [0, 1, 1]
    assert timers.schedule_of(step("hold"), numbers(hold_s=0.0)) is None
    assert timers.schedule_of(step("cut"), numbers()) is None


@pytest.mark.parametrize("seconds", [0, -60, 8 * 86_400, float("nan"), float("inf")])
def test_a_timer_takes_a_time_that_can_be(seconds: float) -> None:
    """Not one of last year."""
    with pytest.raises(ValueError, match="seconds must be"):
        timers.after(seconds)


def test_time_goes_on_while_the_box_is_off() -> None:
    """By the wall clock, as far as that can be believed."""
    assert timers.passed_s(100.0, NOON, NOON + timedelta(seconds=50)) == (150.0, True)


def test_a_clock_that_went_back_is_not_believed() -> None:
    """A Pi without a battery starts in the past."""
    assert timers.passed_s(100.0, NOON, NOON - timedelta(days=300)) == (100.0, False)


@pytest.mark.parametrize(("steady", "wall", "jump"), [(1, 1.01, 0), (1, 2.9, 0), (1, 4, 3), (1, -599, -600)])
def test_a_clock_that_was_set_is_told_from_one_that_drifts(steady: float, wall: float, jump: float) -> None:
    """Two seconds apart in one look is no drift."""
    assert timers.jump_s(steady, wall) == jump


@pytest.mark.parametrize(
    ("off", "jump", "extra"),
    [(0, 600, 600), (-300, 900, 600), (-300, 200, 0), (500, -200, -200), (500, -900, -500)],
)
def test_time_off_is_counted_anew_when_the_clock_is_set_right(off: float, jump: float, extra: float) -> None:
    """By hand: a box that was off for 600 s, whose clock stood still, or had gone back by 300 s more."""
    assert timers.recounted_s(off, jump) == extra
