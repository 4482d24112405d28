"""When to switch off: predictions on ramps in closed form, and the learning of the lead."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate

from sumlight.light.cutoff import FIT_SAMPLES, LEAD_GAIN, LEAD_MAX_S, MIN_FIT, CutOff

WINDOW_S = 0.05004


def fed(level: float, slope: float, count: int = FIT_SAMPLES, lead_s: float = 0.0) -> tuple[CutOff, float, float]:
    """A cut-off that saw `count` conversions of level + slope·t from t = 0; its end and the dose by then."""
    cut_off = CutOff(lead_s)
    for number in range(1, count + 1):
        mid_s = (number - 0.5) * WINDOW_S
        cut_off.add(number * WINDOW_S, mid_s, level + slope * mid_s)
    end_s = count * WINDOW_S
    return cut_off, end_s, level * end_s + 0.5 * slope * end_s**2


def true_off_s(level: float, slope: float, target: float) -> float:
    """When the integral of level + slope·t reaches the target, by the quadratic formula."""
    if slope == 0:
        return target / level
    return (-level + math.sqrt(level**2 + 2 * slope * target)) / slope


@pytest.mark.parametrize("slope", [-0.4, -0.05, 0.0, 0.05, 0.4])
def test_on_a_ramp_the_moment_is_that_of_the_closed_form(slope: float) -> None:
    """Falling, level and rising light, up to two seconds ahead."""
    cut_off, _, dose = fed(5.0, slope)
    for ahead_mj_cm2 in (0.01, 0.2, 1.0, 8.0):
        off_s = cut_off.off_at_s(dose, dose + ahead_mj_cm2)
        assert off_s == pytest.approx(true_off_s(5.0, slope, dose + ahead_mj_cm2), abs=1e-9)


def test_whatever_has_changed_since_it_was_asked_last_moves_the_moment() -> None:
    """Time is what is missing over the light: dose, target, light, lead, and darkness, one after the other."""
    cut_off, end_s, _ = fed(5.0, 0.0)
    assert cut_off.off_at_s(10.0, 20.0) == pytest.approx(end_s + 10 / 5)
    assert cut_off.off_at_s(15.0, 20.0) == pytest.approx(end_s + 5 / 5)
    assert cut_off.off_at_s(15.0, 30.0) == pytest.approx(end_s + 15 / 5)
    for number in range(FIT_SAMPLES):
        later_s = end_s + (number + 1) * WINDOW_S
        cut_off.add(later_s, later_s - WINDOW_S / 2, 10.0)
        cut_off.off_at_s(15.0, 30.0)
    end_s += FIT_SAMPLES * WINDOW_S
    assert cut_off.off_at_s(15.0, 30.0) == pytest.approx(end_s + 15 / 10)
    lead_s = cut_off.learn(15.0, 16.0)
    assert lead_s > 0
    assert cut_off.off_at_s(15.0, 30.0) == pytest.approx(end_s + 15 / 10 - lead_s)
    cut_off.begin()
    assert cut_off.off_at_s(15.0, 30.0) == math.inf


@pytest.mark.parametrize("slope", [-0.3, 0.0, 0.3])
def test_the_dose_at_a_moment_is_that_of_the_quadrature(slope: float) -> None:
    """By scipy, over the next window."""
    cut_off, end_s, dose = fed(5.0, slope)
    for ahead_s in (0.0, 0.003, 0.05, 0.5):
        truth = integrate.quad(lambda t: 5.0 + slope * t, 0.0, end_s + ahead_s)[0]
        assert cut_off.dose_at(dose, end_s + ahead_s) == pytest.approx(truth, abs=1e-9)


def test_warm_up_is_predicted_to_a_thousandth_a_window_ahead() -> None:
    """A straight line through 0.4 s of an exponential; what is missing then matters for one window only."""

    def light(t_s: float) -> float:
        return 5.0 - 2.0 * math.exp(-t_s / 6.0)

    cut_off = CutOff(0.0)
    for number in range(1, 41):
        begin_s, end_s = (number - 1) * WINDOW_S, number * WINDOW_S
        cut_off.add(end_s, begin_s + WINDOW_S / 2, integrate.quad(light, begin_s, end_s)[0] / WINDOW_S)
    dose = integrate.quad(light, 0, end_s)[0]
    target = integrate.quad(light, 0, end_s + WINDOW_S)[0]
    assert cut_off.off_at_s(dose, target) == pytest.approx(end_s + WINDOW_S, abs=0.001 * WINDOW_S)


def test_the_lead_is_taken_off_at_full_light() -> None:
    """What lamps give after the command need not be waited for."""
    without, _, dose = fed(5.0, 0.0)
    with_lead, _, _ = fed(5.0, 0.0, lead_s=0.02)
    assert without.off_at_s(dose, dose + 1) - with_lead.off_at_s(dose, dose + 1) == pytest.approx(0.02)


def test_a_target_within_the_lead_is_due_at_once() -> None:
    """The end of the last conversion has passed already."""
    cut_off, end_s, dose = fed(5.0, 0.0, lead_s=0.02)
    assert cut_off.off_at_s(dose, dose + 0.05) == pytest.approx(end_s)
    assert cut_off.off_at_s(dose, dose - 3.0) == pytest.approx(end_s)


def test_without_light_there_is_no_moment() -> None:
    """Before the first conversion, in the dark, and when falling light would never get there."""
    assert CutOff(0.01).off_at_s(0.0, 5.0) == math.inf
    dark, _, _ = fed(0.0, 0.0)
    assert dark.off_at_s(0.0, 5.0) == math.inf
    falling, _, dose = fed(5.0, -0.5)
    assert falling.off_at_s(dose, dose + 100.0) == math.inf


def test_few_conversions_give_a_level_only() -> None:
    """Three points make no slope."""
    cut_off, end_s, dose = fed(5.0, 0.5, count=MIN_FIT - 1)
    last = 5.0 + 0.5 * (end_s - WINDOW_S / 2)
    assert cut_off.mw_cm2 == pytest.approx(last)
    assert cut_off.off_at_s(dose, dose + 1.0) == pytest.approx(end_s + 1.0 / last)


def test_a_strike_is_not_extrapolated() -> None:
    """From nothing to all within two windows: the last conversion stands for what follows."""
    cut_off = CutOff(0.0)
    for number, light in enumerate((0, 0, 0, 0, 0, 0, 2.5, 5.0), 1):
        cut_off.add(number * WINDOW_S, (number - 0.5) * WINDOW_S, light)
    assert cut_off.mw_cm2 == 5.0
    assert cut_off.dose_at(0.0, 9 * WINDOW_S) == pytest.approx(5.0 * WINDOW_S)


def test_beginning_again_forgets_the_past() -> None:
    """The lamps were dark meanwhile."""
    cut_off, _, _ = fed(5.0, 0.3)
    cut_off.begin()
    assert cut_off.mw_cm2 == 0.0
    assert cut_off.off_at_s(1.0, 5.0) == math.inf
    assert cut_off.dose_at(1.0, 99.0) == 1.0


def test_the_lead_is_learned_from_what_came_after_the_command() -> None:
    """Part of the way each time, all of it after some panels."""
    cut_off, _, dose = fed(5.0, 0.0, lead_s=0.010)
    assert cut_off.learn(dose, dose + 5.0 * 0.030) == pytest.approx(0.010 + LEAD_GAIN * 0.020)
    for _ in range(20):
        cut_off.learn(dose, dose + 5.0 * 0.030)
    assert cut_off.lead_s == pytest.approx(0.030, abs=1e-5)


def test_the_lead_stays_within_reason() -> None:
    """Never below zero, never more than half a second, whatever was measured."""
    cut_off, _, dose = fed(5.0, 0.0, lead_s=0.010)
    for _ in range(30):
        cut_off.learn(dose, dose - 1.0)
    assert 0.0 <= cut_off.lead_s < 1e-6
    for _ in range(30):
        cut_off.learn(dose, dose + 100.0)
    assert cut_off.lead_s == pytest.approx(LEAD_MAX_S, abs=1e-3)


def test_nothing_is_learned_in_the_dark() -> None:
    """There is no light to measure a time by."""
    cut_off = CutOff(0.015)
    assert cut_off.learn(0.0, 3.0) == 0.015


@given(
    readings=st.lists(st.floats(-0.5, 60.0), min_size=1, max_size=30),
    dose=st.floats(0, 500),
    missing=st.floats(0.001, 500),
    ahead_s=st.floats(-1, 100),
)
def test_whatever_was_read_a_prediction_never_lies_in_the_past_nor_takes_dose_away(
    readings: list[float], dose: float, missing: float, ahead_s: float
) -> None:
    """Any jumble of readings."""
    cut_off = CutOff(0.01)
    for number, light in enumerate(readings, 1):
        cut_off.add(number * WINDOW_S, (number - 0.5) * WINDOW_S, light)
    end_s = len(readings) * WINDOW_S
    assert cut_off.off_at_s(dose, dose + missing) >= end_s - 1e-9
    assert cut_off.dose_at(dose, end_s + ahead_s) >= dose
