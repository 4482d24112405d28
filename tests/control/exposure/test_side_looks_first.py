"""A dose is not ended before those who judge the light have seen it, and hardly any is delayed by that. Pure."""

import math

import pytest

from sumlight.control.exposure.plan import SidePlan
from sumlight.control.exposure.side import SideRun
from sumlight.light.sample import Sample

WINDOW_S = 0.05


def lit(target_mj_cm2: float, mw_cm2: float, readings: int) -> SideRun:
    """A side after so many conversions of steady light without stack, relay or afterglow."""
    side = SideRun(SidePlan("A", "lower", target_mj_cm2, 1.0, 60.0, 0.0), WINDOW_S)
    side.light(100.0, 100.0, 0.0)
    for number in range(1, readings + 1):
        end_s = 100.0 + WINDOW_S * number
        side.reading(Sample(end_s, end_s - WINDOW_S / 2, (1,) * 6, 5, 0), mw_cm2)
    return side


def test_a_dose_that_is_met_by_the_first_reading_waits_for_three_more() -> None:
    """178 mW/cm², as violet LEDs read on a number made for tubes: three readings are enough for a judge."""
    for readings in (1, 2, 3):
        assert math.isinf(lit(5.0, 178.0, readings).off_at_s())
    assert lit(5.0, 178.0, 4).off_at_s() <= 100.0 + 4 * WINDOW_S


@pytest.mark.parametrize("mw_cm2", [0.02, 5.0, 25.0])
def test_an_ordinary_dose_is_not_delayed(mw_cm2: float) -> None:
    """However weak the light is: 0.3 s of it are enough to be looked at."""
    side = lit(0.3 * mw_cm2, mw_cm2, 5)
    assert side.off_at_s() == pytest.approx(100.3, abs=0.001)
