"""The twin's clock. These tests are about real time, so some wait for a few hundredths of a second."""

import time
from datetime import timedelta

import pytest

from sumlight.twin.clock import START_S, TwinClock


def test_time_stands_still_between_waits() -> None:
    """Only a wait moves the clock."""
    clock = TwinClock()
    assert [clock.mono_s() for _ in range(3)] == [START_S] * 3


def test_a_wait_moves_time_exactly_to_its_end() -> None:
    """No rounding, no overshoot."""
    clock = TwinClock()
    clock.wait_until(START_S + 12.345)
    assert clock.mono_s() == START_S + 12.345


def test_a_wait_for_the_past_changes_nothing() -> None:
    """The clock never steps back."""
    clock = TwinClock()
    clock.wait_until(START_S + 2)
    clock.wait_until(START_S + 1)
    assert clock.mono_s() == START_S + 2


def test_utc_moves_with_simulated_time() -> None:
    """A simulated hour is an hour on the label."""
    clock = TwinClock()
    before = clock.utc()
    clock.wait_until(START_S + 3600)
    assert clock.utc() - before == timedelta(hours=1)
    assert before.tzinfo is not None


@pytest.fixture
def slept_s(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """How long each sleep from now on would be; none is."""
    asked_s: list[float] = []
    monkeypatch.setattr(time, "sleep", asked_s.append)
    return asked_s


def test_without_a_speed_an_hour_takes_no_time(slept_s: list[float]) -> None:
    """As fast as the machine goes means no sleeping at all."""
    TwinClock().wait_until(START_S + 3600)
    assert slept_s == []


def test_with_a_speed_an_hour_takes_its_share(slept_s: list[float]) -> None:
    """Six minutes at ten times the pace of life, less what this test itself has taken."""
    TwinClock(speed=10).wait_until(START_S + 3600)
    (asked_s,) = slept_s
    assert 300 < asked_s <= 360


def test_with_a_speed_time_never_runs_ahead() -> None:
    """After every wait, at least the real time that the speed asks for has passed."""
    clock = TwinClock(speed=50)
    began_s = clock._began_real_s
    for step in range(1, 11):
        clock.wait_until(START_S + 0.2 * step)
        assert (time.monotonic() - began_s) * 50 >= 0.2 * step - 1e-6


def test_after_falling_behind_the_clock_catches_up_without_sleeping(slept_s: list[float]) -> None:
    """Real time lost elsewhere is not added to the waits."""
    clock = TwinClock(speed=10)
    until_s = time.monotonic() + 0.05
    while time.monotonic() < until_s:
        pass
    clock.wait_until(START_S + 0.4)
    assert slept_s == []
    assert clock.mono_s() == START_S + 0.4


@pytest.mark.parametrize("speed", [0, -1, float("inf"), float("nan")])
def test_a_speed_that_is_not_above_zero_is_refused(speed: float) -> None:
    """The message names the value and what is allowed."""
    with pytest.raises(ValueError, match=r"speed is .*above 0"):
        TwinClock(speed=speed)
