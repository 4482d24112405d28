"""The fading of lamps: TM-21's formulas, certified regressions, and lives whose end is known."""

import math
from collections.abc import Sequence
from random import Random

import pytest

from sumlight.light.ageing import CAP, LampPoint, by_day, duration_h, gathered, temperature_corrected
from sumlight.light.lampcurve import life
from sumlight.light.lampfit import fit_decay

NORRIS_X = (
    "0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0 447.5 11.6 556.0 228.1 "
    "995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2 669.1 448.9 0.5"
)
NORRIS_Y = (
    "0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3 448.9 10.8 557.7 228.3 "
    "998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9 668.4 449.2 0.2"
)
"""NIST StRD, data set Norris (linear regression, certified values)."""

PUBLISHED = [(1000, 0.9126), (2000, 0.8798), (3000, 0.8482), (4000, 0.8177), (5000, 0.7884), (6000, 0.7601)]


def points_of(pairs: Sequence[tuple[float, float]], weight: float = 1.0) -> list[LampPoint]:
    """One reading a day."""
    return [LampPoint(hours, light, day, weight) for day, (hours, light) in enumerate(pairs)]


def fading(
    chance: Random, until_h: float, *, scatter: float, rate: float = 3e-4, strays: float = 0.0
) -> list[LampPoint]:
    """A lamp that was run in long ago, read several times a day."""
    points, hours = [], 100.0
    for day in range(10_000):
        today = chance.gauss(0, 0.7 * scatter)
        for _ in range(chance.randint(1, 4)):
            hours += chance.uniform(0.3, 1.5)
            light = 5 * math.exp(-rate * hours + today + chance.gauss(0, 0.7 * scatter))
            if chance.random() < strays:
                light *= chance.uniform(0.5, 0.9)
            points.append(LampPoint(hours, light, day))
        if hours > until_h:
            break
    return points


def test_the_fit_gives_the_certified_line_of_norris() -> None:
    """Source: NIST StRD Norris: B0, B1, their standard deviations and the residual standard deviation."""
    x, y = ([float(v) for v in text.split()] for text in (NORRIS_X, NORRIS_Y))
    # A hundredth of y, so that e^y stays within what a float can hold.
    pairs = [(a, math.exp(b / 100)) for a, b in zip(x, y, strict=True)]
    decay = fit_decay(points_of(pairs), sturdy=False)
    assert 100 * decay.log_b == pytest.approx(-0.262323073774029, rel=1e-9)
    assert -100 * decay.alpha_per_h == pytest.approx(1.00211681802045, rel=1e-12)
    assert 100 * decay.scatter == pytest.approx(0.884796396144373, rel=1e-11)
    assert 100 * math.sqrt(decay.covariance[1][1]) == pytest.approx(0.429796848199937e-3, rel=1e-10)
    assert 100 * decay.log_at(0.0)[1] == pytest.approx(0.232818234301152, rel=1e-10)
    assert decay.dof == 34


def test_published_lives_of_uv_lamps_come_out_of_their_curve() -> None:
    """Source: published fit of low-pressure UV lamps, L80 = 4600 h and L70 = 8250 h (reference values §3)."""
    decay = fit_decay(points_of(PUBLISHED), sturdy=False)
    assert decay.alpha_per_h == pytest.approx(3.656932e-5, rel=1e-6)
    assert math.exp(decay.log_b) == pytest.approx(0.9465615, rel=1e-7)
    assert life(decay, 0.7, 6000).hours == pytest.approx(8251.6, abs=0.1)
    assert life(decay, 0.8, 6000).calculated_h == pytest.approx(4600, abs=5)


@pytest.mark.parametrize(("alpha", "b", "l70"), [(2e-6, 1.00, 178_337), (5e-6, 1.01, 73_325), (1e-5, 0.98, 33_647)])
def test_life_is_the_logarithm_over_the_rate(alpha: float, b: float, l70: float) -> None:
    """Source: TM-21, L70 = ln(B/0.7)/α; figures by the closed form (reference values §3)."""
    pairs = [(hours, b * math.exp(-alpha * hours)) for hours in range(1000, 7000, 1000)]
    ending = life(fit_decay(points_of(pairs), sturdy=False), 0.7, 6000)
    assert ending.calculated_h == pytest.approx(l70, abs=1)
    assert ending.reported_h == pytest.approx(min(l70, 36_000), abs=1)


def test_a_life_beyond_six_times_the_test_is_not_told() -> None:
    """Source: trade article on TM-21: 315 518 h calculated from a 6000 h test is reported as 36 000 h."""
    rate = math.log(1 / 0.7) / 315_518
    ending = life(fit_decay(points_of([(h, math.exp(-rate * h)) for h in range(1000, 7000, 500)])), 0.7, 6000)
    assert ending.calculated_h == pytest.approx(315_518, rel=1e-4)
    assert ending.reported_h == 36_000
    assert ending.cap_h == CAP * 6000
    assert (ending.hours, ending.low_h, ending.high_h) == (None, None, None)


def test_light_that_grows_never_ends() -> None:
    """No life is made up from a rising curve."""
    ending = life(fit_decay(points_of([(h, 1 + h / 1e5) for h in range(100, 1000, 50)])), 0.7, 950)
    assert math.isinf(ending.calculated_h)
    assert ending.hours is None


def test_weights_count_as_so_many_readings() -> None:
    """A reading of weight 3 is worth three equal ones; the curve is the same."""
    pairs = [(100.0 * n, math.exp(-3e-4 * 100 * n + 0.01 * (n % 3))) for n in range(1, 12)]
    heavy = [LampPoint(h, v, i, 3.0 if i == 4 else 1.0) for i, (h, v) in enumerate(pairs)]
    thrice = [*points_of(pairs), LampPoint(*pairs[4], 99), LampPoint(*pairs[4], 98)]
    one, other = fit_decay(heavy, sturdy=False), fit_decay(thrice, sturdy=False)
    assert one.alpha_per_h == pytest.approx(other.alpha_per_h, rel=1e-10)
    assert one.log_b == pytest.approx(other.log_b, rel=1e-10)


def test_readings_far_off_do_not_bend_the_curve() -> None:
    """One reading in ten at half the light: the slope stays, they are counted."""
    chance = Random(4)
    days = by_day(fading(chance, 900, scatter=0.01))
    spoilt = [LampPoint(p.hours, p.mw_cm2 * (0.5 if i % 10 == 7 else 1), p.day, p.weight) for i, p in enumerate(days)]
    clean, sturdy, bent = fit_decay(days), fit_decay(spoilt), fit_decay(spoilt, sturdy=False)
    assert sturdy.put_aside >= len(days) // 10
    assert sturdy.alpha_per_h == pytest.approx(clean.alpha_per_h, abs=1.5e-5)
    assert sturdy.scatter < 0.015 < bent.scatter


@pytest.mark.long
def test_the_prediction_interval_holds_what_it_promises() -> None:
    """By simulation: of 400 readings foretold at 95 %, 93 to 97 % fall inside, strays in the data or not."""
    chance, inside = Random(20261), 0
    for number in range(400):
        scatter = chance.uniform(0.005, 0.03)
        days = by_day(fading(chance, 350, scatter=scatter, strays=0.02 * (number % 2)))
        decay = fit_decay(days)
        ahead_h = chance.uniform(350, 600)
        sigma = 0.7 * scatter * math.sqrt(2)
        seen = 5 * math.exp(-3e-4 * ahead_h + chance.gauss(0, sigma))
        _, low, high = decay.reading(ahead_h, weight=1.0)
        inside += low <= seen <= high
    assert 0.93 <= inside / 400 <= 0.975


def test_the_observed_time_of_lamps_first_seen_old_is_what_was_seen() -> None:
    """Lamps with 1000 h behind them that were watched for 200 h allow 1200 h ahead, no more."""
    assert duration_h(points_of([(1000.0, 4), (1200.0, 3.9)])) == 200
    assert duration_h(points_of([(20.0, 4), (1200.0, 3.9)])) == 1200


def test_a_step_in_the_middle_does_not_disturb_the_slope() -> None:
    """A tube out at 400 h: the rate is that of the lamps, the jump is found as it was made."""
    chance = Random(8)
    days = by_day(fading(chance, 800, scatter=0.01))
    broken = [LampPoint(p.hours, p.mw_cm2 * (5 / 6 if p.hours >= 400 else 1), p.day, p.weight) for p in days]
    decay = fit_decay(broken, step_hours=[400.0])
    assert decay.alpha_per_h == pytest.approx(3e-4, abs=5e-5)
    assert math.expm1(decay.steps[0][1]) == pytest.approx(-1 / 6, abs=0.02)


@pytest.mark.parametrize(("off_k", "loss"), [(10, 0.12), (-10, 0.12), (15, 0.25)])
def test_cold_or_hot_air_is_taken_out_as_the_trade_knows_it(off_k: float, loss: float) -> None:
    """Source: trade notes L2, −12 % at 10 K and −25 % at 15 K off the best air."""
    assert temperature_corrected(1 - loss, 25 + off_k) == pytest.approx(1, abs=0.01)


def test_air_far_from_the_best_is_refused() -> None:
    """Where the bell is not known no correction is made up."""
    with pytest.raises(ValueError, match="15 K"):
        temperature_corrected(4.0, 5.0)


def test_too_few_or_unlit_readings_are_refused() -> None:
    """With words."""
    with pytest.raises(ValueError, match="unknowns"):
        fit_decay(points_of([(1.0, 1.0), (2.0, 1.0)]))
    with pytest.raises(ValueError, match="above 0"):
        fit_decay(points_of([(1.0, 1.0), (2.0, 0.0), (3.0, 1.0)]))
    with pytest.raises(ValueError, match="tell these unknowns apart"):
        fit_decay(points_of([(5.0, 1.0), (5.0, 1.1), (5.0, 1.0)]), sturdy=False)


def test_years_of_days_are_gathered_without_changing_the_curve() -> None:
    """2000 days in at most 240 points; the latest stay single; strays do not get in."""
    chance = Random(6)
    days = []
    for day in range(2000):
        light = 5 * math.exp(-3e-4 * (100 + day * 0.4) + chance.gauss(0, 0.01)) * (0.6 if day % 97 == 5 else 1.0)
        days.append(LampPoint(100 + day * 0.4, light, day))
    few = gathered(days)
    assert len(few) <= 241
    assert few[-60:] == days[-60:]
    assert gathered(days[:200]) == days[:200]
    assert fit_decay(few).alpha_per_h == pytest.approx(3e-4, rel=0.02)
