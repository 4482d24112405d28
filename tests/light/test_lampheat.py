"""The warmth of lamps, and what it leaves in doubt. Judged by scipy's integration of Newton's law of cooling."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from sumlight.light.lampheat import SETTLES_S, UNKNOWN_SIGMA, LampHeat, warmth_doubt

SPANS_S = st.lists(st.floats(0.5, 900.0), min_size=1, max_size=6)


def newton(spans_s: list[float]) -> tuple[float, float]:
    """Warmth after spans of light and dark in turn, and its mean over the last light; both by scipy."""
    heat, mean = 0.0, 0.0
    for number, span_s in enumerate(spans_s):
        end = 1.0 - number % 2

        def slope(_at_s: float, state: list[float], end: float = end) -> list[float]:
            return [(end - state[0]) / SETTLES_S, state[0]]

        found = solve_ivp(slope, (0.0, span_s), [heat, 0.0], rtol=1e-9, atol=1e-12)
        heat = found.y[0][-1]
        mean = found.y[1][-1] / span_s if end else mean
    return heat, mean


@given(SPANS_S)
def test_it_follows_newtons_law_of_cooling(spans_s: list[float]) -> None:
    """However light and dark follow each other; also told twice what it knows."""
    heat, now_s = LampHeat(), 100.0
    for number, span_s in enumerate(spans_s):
        heat.switched(on=number % 2 == 0, now_s=now_s)
        now_s += span_s
    at, mean = newton(spans_s)
    assert heat.at(now_s) == pytest.approx(at, abs=1e-6)
    assert heat.mean(now_s) == pytest.approx(mean, abs=1e-6)


def test_a_box_that_has_just_started_has_cold_lamps() -> None:
    """At any moment of its clock, before any light and in the first of it."""
    heat = LampHeat()
    assert (heat.at(1e6), heat.mean(1e6)) == (0.0, 0.0)
    heat.switched(on=True, now_s=1e6)
    assert (heat.at(1e6), heat.mean(1e6), heat.mean(-math.inf)) == (0.0, 0.0, 0.0)


def test_the_mean_of_a_light_stays_while_the_lamps_cool() -> None:
    """The side is reckoned up after its light."""
    heat = LampHeat()
    heat.switched(on=True, now_s=0.0)
    lit = heat.mean(60.0)
    heat.switched(on=False, now_s=60.0)
    assert [heat.mean(later_s) for later_s in (60.0, 61.0, 5000.0)] == pytest.approx([lit] * 3)
    heat.switched(on=False, now_s=70.0)
    assert heat.mean(80.0) == pytest.approx(lit)


def test_the_doubt_grows_with_the_difference_and_is_none_at_the_warmth_of_the_calibration() -> None:
    """Colder or warmer alike; an unknown warmth counts as anything between (JCGM 100, 4.3.7)."""
    doubts = [warmth_doubt(0.3 + apart, 0.3) for apart in (0.0, 0.1, 0.3, 0.7)]
    assert doubts[0] == 0.0
    assert all(less < more for less, more in pairwise(doubts))
    assert warmth_doubt(0.1, 0.4) == pytest.approx(warmth_doubt(0.7, 0.4))
    assert warmth_doubt(0.5, None) == pytest.approx(doubts[-1] / 0.7 * UNKNOWN_SIGMA)
    assert warmth_doubt(0.0, None) == warmth_doubt(1.0, None) > warmth_doubt(0.5, None)
