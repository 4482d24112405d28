"""Dose from a chain of conversions against quadrature of lamp curves in closed form."""

import math
import random
from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate

from sumlight.light.dose import BRIDGE_DOUBT, CONTIGUOUS, DoseSum, expanded_uncertainty_mj_cm2, exposure_time_s

WINDOW_S = 0.05004
TICK_S = 0.005

Curve = Callable[[float], float]


def warm_up(t_s: float) -> float:
    """Strike at once, then two exponentials towards 5 mW/cm², as cold tubes warm up."""
    return 5.0 - 1.4 * math.exp(-t_s / 40.0) - 0.6 * math.exp(-t_s / 6.0)


def over_the_top(t_s: float) -> float:
    """Tubes that get too hot: up, then slowly down."""
    return 5.0 * (1 - 0.5 * math.exp(-t_s / 8.0)) * math.exp(-(((t_s - 25) / 60.0) ** 2))


def step_at_strike(t_s: float) -> float:
    """No light for 0.83 s, then all of it."""
    return 4.2 if t_s >= 0.83 else 0.0


def rippled(curve: Curve, hz: float, depth: float = 0.35, phase: float = 0.7) -> Curve:
    """`curve` on a magnetic ballast."""
    return lambda t_s: curve(t_s) * (1 + depth * math.cos(2 * math.pi * hz * t_s + phase))


def quad(curve: Curve, begin_s: float, end_s: float) -> float:
    """The integral by scipy, in pieces short enough for ripple."""
    pieces = max(1, math.ceil((end_s - begin_s) / 0.05))
    edges = [begin_s + (end_s - begin_s) * n / pieces for n in range(pieces + 1)]
    parts = pairwise(edges)
    return sum(  # type: ignore[no-any-return]
        integrate.quad(curve, a, b, epsabs=1e-11, epsrel=1e-11, limit=200, points=_kink(a, b))[0] for a, b in parts
    )


def _kink(begin_s: float, end_s: float) -> list[float] | None:
    return [0.83] if begin_s < 0.83 < end_s else None


def exposed(
    curve: Curve, seconds: float, *, lost: frozenset[int] = frozenset(), jitter: bool = False, start_s: float = 0.0
) -> tuple[DoseSum, float]:
    """Sum conversions of `curve` back to back from `start_s`; each is seen up to a tick late if `jitter`.

    Returns the sum and the end of its last conversion.
    """
    rng = random.Random(11)
    total = DoseSum(WINDOW_S)
    total.begin(start_s)
    seen_s = start_s
    for number in range(1, math.floor(seconds / WINDOW_S) + 1):
        begin_s, end_s = start_s + (number - 1) * WINDOW_S, start_s + number * WINDOW_S
        if number not in lost:
            seen_s = end_s + (rng.uniform(0.0, TICK_S) if jitter else 0.0)
            total.add(seen_s, quad(curve, begin_s, end_s) / WINDOW_S)
    return total, start_s + math.floor(seconds / WINDOW_S) * WINDOW_S


@pytest.mark.parametrize("curve", [warm_up, over_the_top, step_at_strike])
def test_a_chain_without_gaps_is_exactly_the_integral(curve: Curve) -> None:
    """Conversions are integrals themselves; nothing is interpolated."""
    total, end_s = exposed(curve, 30.0)
    assert total.dose_mj_cm2 == pytest.approx(quad(curve, 0.0, end_s), rel=1e-9)
    assert total.doubt_mj_cm2 == 0.0


@pytest.mark.parametrize("hz", [100, 120])
@pytest.mark.parametrize("curve", [warm_up, over_the_top])
def test_ripple_of_either_mains_does_not_change_the_dose(curve: Curve, hz: float) -> None:
    """Against the integral with ripple, and against that without."""
    total, end_s = exposed(rippled(curve, hz), 10.0)
    assert total.dose_mj_cm2 == pytest.approx(quad(rippled(curve, hz), 0.0, end_s), rel=1e-9)
    assert total.dose_mj_cm2 == pytest.approx(quad(curve, 0.0, end_s), rel=2e-4)


@pytest.mark.parametrize("hz", [100, 120])
def test_ends_seen_a_little_late_average_out(hz: float) -> None:
    """Up to a tick of jitter: what one conversion gets too much the next gets too little."""
    total, end_s = exposed(rippled(warm_up, hz), 30.0, jitter=True)
    assert total.dose_mj_cm2 == pytest.approx(quad(warm_up, 0.0, end_s), rel=3e-4)
    assert total.doubt_mj_cm2 == 0.0


@pytest.mark.parametrize("hz", [100, 120])
@pytest.mark.parametrize("first", [3, 60, 150])
@pytest.mark.parametrize("count", [1, 3, 8])
def test_lost_conversions_are_bridged_within_the_doubt(hz: float, first: int, count: int) -> None:
    """One to eight in a row, early in the warm-up and later, with ripple and jitter."""
    lost = frozenset(range(first, first + count))
    total, end_s = exposed(rippled(warm_up, hz), 10.0, lost=lost, jitter=True)
    truth = quad(warm_up, 0.0, end_s)
    assert abs(total.dose_mj_cm2 - truth) <= total.doubt_mj_cm2 + 5e-4 * truth
    assert total.doubt_mj_cm2 == pytest.approx(BRIDGE_DOUBT * count * WINDOW_S * warm_up(first * WINDOW_S), rel=0.3)


def test_a_gap_across_the_strike_is_covered_by_its_doubt() -> None:
    """Nobody saw when the light came: half of the gap, give or take half."""
    strike = round(0.83 / WINDOW_S)
    for first in range(strike - 5, strike + 2):
        total, end_s = exposed(step_at_strike, 5.0, lost=frozenset(range(first, first + 5)))
        assert abs(total.dose_mj_cm2 - quad(step_at_strike, 0.0, end_s)) <= total.doubt_mj_cm2 + 0.5 * WINDOW_S * 4.2


def test_the_dose_of_two_parts_adds_up() -> None:
    """Darkness in between counts nothing, however long it was."""
    total, first_end_s = exposed(warm_up, 5.0)
    total.assume(total.dose_mj_cm2, 0.0)
    total.begin(100.0)
    for number in range(1, 21):
        total.add(100.0 + number * WINDOW_S, 3.0)
    assert total.dose_mj_cm2 == pytest.approx(quad(warm_up, 0.0, first_end_s) + 20 * WINDOW_S * 3.0, rel=1e-9)


def test_negative_light_counts_as_none() -> None:
    """Noise around zero must not pile up a negative dose, nor take any away."""
    total = DoseSum(WINDOW_S, dose_mj_cm2=7.0)
    total.begin(0.0)
    total.add(WINDOW_S, -0.3)
    total.add(10 * WINDOW_S, -0.1)
    assert (total.dose_mj_cm2, total.doubt_mj_cm2) == (7.0, 0.0)


def test_a_conversion_before_begin_is_refused() -> None:
    """Since when would it count?"""
    total = DoseSum(WINDOW_S)
    with pytest.raises(ValueError, match="begin"):
        total.add(1.0, 5.0)
    total.begin(1.0)
    total.assume(3.0, 0.1)
    with pytest.raises(ValueError, match="begin"):
        total.add(2.0, 5.0)


@pytest.mark.parametrize("end_s", [1.0, 0.99, 0.5])
def test_a_conversion_that_does_not_follow_is_refused(end_s: float) -> None:
    """The same one twice, or an older one."""
    total = DoseSum(WINDOW_S)
    total.begin(0.95)
    total.add(1.0, 5.0)
    before = total.dose_mj_cm2
    with pytest.raises(ValueError, match="does not follow"):
        total.add(end_s, 5.0)
    assert total.dose_mj_cm2 == before


def test_an_assumed_dose_never_lowers_what_was_measured() -> None:
    """It may add; the doubt is added in any case."""
    total = DoseSum(WINDOW_S, 10.0, 0.2)
    total.assume(9.0, 0.3)
    assert (total.dose_mj_cm2, total.doubt_mj_cm2) == (10.0, 0.5)
    total.assume(10.4, 0.1)
    assert total.dose_mj_cm2 == 10.4


@given(steps=st.lists(st.tuples(st.floats(1e-4, 3.0), st.floats(-1.0, 50.0), st.booleans()), min_size=1, max_size=60))
def test_dose_and_doubt_never_fall(steps: list[tuple[float, float, bool]]) -> None:
    """Whatever the readings, the gaps and the interruptions."""
    total = DoseSum(WINDOW_S)
    now_s = 0.0
    total.begin(now_s)
    for span_s, light, interrupted in steps:
        dose, doubt = total.dose_mj_cm2, total.doubt_mj_cm2
        now_s += span_s
        total.add(now_s, light)
        assert total.dose_mj_cm2 >= dose
        assert total.doubt_mj_cm2 >= doubt >= 0.0
        if interrupted:
            total.assume(total.dose_mj_cm2 - 1.0, 0.1)
            assert total.dose_mj_cm2 >= dose
            total.begin(now_s)


@given(light=st.floats(0.0, 50.0), gap=st.floats(CONTIGUOUS + 0.01, 40.0))
def test_a_steady_light_is_bridged_exactly_with_a_twentieth_in_doubt(light: float, gap: float) -> None:
    """The same before and after."""
    total = DoseSum(WINDOW_S)
    total.begin(0.0)
    total.add(WINDOW_S, light)
    total.add(WINDOW_S * (1 + gap), light)
    assert total.dose_mj_cm2 == pytest.approx(light * WINDOW_S * (1 + gap), abs=1e-12)
    assert total.doubt_mj_cm2 == pytest.approx(BRIDGE_DOUBT * light * WINDOW_S * (gap - 1), abs=1e-12)


# JCGM 100:2008: root sum of squares of uncorrelated inputs (5.1.2), rectangular half-width / √3 (4.3.7), U = k·u
# (6.2.1).
def test_the_expanded_uncertainty_follows_the_guide() -> None:
    """60 mJ/cm² with 6 % of calibration and ±1.5 mJ/cm² of doubt, by hand."""
    by_hand = 2 * math.sqrt((60 * 0.06) ** 2 + (1.5 / math.sqrt(3)) ** 2)
    assert expanded_uncertainty_mj_cm2(60, 1.5, 0.06) == pytest.approx(by_hand)
    assert expanded_uncertainty_mj_cm2(60, 0.0, 0.06) == pytest.approx(7.2)
    assert expanded_uncertainty_mj_cm2(0.0, 1.5, 0.06) == pytest.approx(1.7320508)


@given(dose=st.floats(0, 1000), doubt=st.floats(0, 100), share=st.floats(0, 0.5))
def test_the_expanded_uncertainty_is_never_less_than_each_part(dose: float, doubt: float, share: float) -> None:
    """And never more than their sum."""
    value = expanded_uncertainty_mj_cm2(dose, doubt, share)
    parts = 2 * dose * share, 2 * doubt / math.sqrt(3)
    assert max(parts) - 1e-9 <= value <= sum(parts) + 1e-9


# Dose / irradiance = time, common practice, no source: figures as a maker of resists prints them.
def test_the_time_for_a_dose_at_a_steady_light() -> None:
    """60 mJ/cm² at 2.5 mW/cm² are 24.0 s."""
    assert exposure_time_s(60, 2.5) == pytest.approx(24.0)
    assert DoseSum(WINDOW_S, 60).dose_mj_cm2 / exposure_time_s(60, 2.5) == pytest.approx(2.5)


@pytest.mark.parametrize("mw_cm2", [0.0, -1.0])
def test_without_light_there_is_no_time(mw_cm2: float) -> None:
    """Told with the value."""
    with pytest.raises(ValueError, match="above 0"):
        exposure_time_s(60, mw_cm2)
