"""The ± learns from the checks: scatter, misreadings, trends that bend, jumps; and says that it did."""

import math
from random import Random

import numpy as np
import pytest

from sumlight.light.calibration import Calibration, RatioModel, model_from

ASSUMED = 0.031
READING = 0.017


def checks(ln_ratios: list[float], every_h: float = 90.0, start_h: float = 200.0) -> list[Calibration]:
    """Tablet checks, one every so many hours, all with the assumed scatter of panels."""
    sigma = math.hypot(ASSUMED, READING)
    return [
        Calibration("tablet", ln_ratio, sigma, start_h + every_h * number, "", scatter_ln_sigma=ASSUMED)
        for number, ln_ratio in enumerate(ln_ratios)
    ]


def falling(scatter: float, seed: int, count: int = 12) -> list[float]:
    """A straight fall with so much scatter."""
    chance = Random(seed)
    return [-0.013 * number + chance.gauss(0, scatter) for number in range(count)]


def stated(model: RatioModel) -> float:
    """The stated standard uncertainty ten hours after the last check."""
    assert model.checked_h is not None
    return model.at(model.checked_h + 10.0)[1]


def mean_stated(scatter: float) -> float:
    """Over a dozen boxes."""
    return math.fsum(stated(model_from(checks(falling(scatter, seed)))) for seed in range(12)) / 12


def test_panels_that_scatter_more_widen_the_interval_and_quiet_ones_do_not() -> None:
    """The same stated uncertainty of each check, other scatter: the evidence is in the checks alone."""
    quiet, usual, wild = mean_stated(0.018), mean_stated(0.035), mean_stated(0.08)
    assert quiet < usual
    assert wild > 1.7 * usual


def test_wild_panels_are_said_to_disagree_and_usual_ones_are_not() -> None:
    """In a dozen boxes: nearly all, next to none."""

    def told(scatter: float) -> int:
        return sum(model_from(checks(falling(scatter, seed))).disagreement is not None for seed in range(12))

    assert told(0.09) >= 9
    assert told(0.03) <= 1


def test_two_checks_are_too_few_to_say_that_they_disagree() -> None:
    """The first has nothing to disagree with."""
    assert model_from(checks([0.0, 0.3, -0.3])).disagreement is None


def test_one_misread_check_moves_the_answer_less_than_its_share_and_is_forgotten() -> None:
    """A whole step off (0.345) after six good checks: misread or tubes changed. The answer stays nearer to the first
    with an interval that holds both, and another check is asked for soon."""
    good = [-0.013 * number for number in range(6)]
    before = model_from(checks(good))
    after = model_from(checks([*good, -0.078 + 0.345]))
    hours = 200.0 + 90.0 * 6 + 1
    moved = after.at(hours)[0] - before.at(hours)[0]
    assert 0 < moved < 0.345 / 2
    assert 2 * stated(after) > 0.345 - moved
    assert after.check_due(hours + 9.0, 0.05)
    assert not before.check_due(200.0 + 90.0 * 5 + 10.0, 0.05)
    later = model_from(checks([*good, -0.078 + 0.345, -0.091, -0.104, -0.117]))
    assert later.at(1200.0)[0] == pytest.approx(-0.013 * 1000 / 90, abs=0.04)


def test_tubes_changed_without_a_word_are_followed_from_the_second_check_on() -> None:
    """Both lie 0.25 above: that is no misreading."""
    good = [-0.013 * number for number in range(6)]
    jumped = model_from(checks([*good, 0.17, 0.16]))
    assert jumped.at(200.0 + 90.0 * 7 + 1)[0] == pytest.approx(0.165, abs=0.05)


def test_surprises_that_run_one_way_let_the_trend_bend() -> None:
    """Level for long, then 6 % a check: the next is foretold better than by numpy's line through all of them, it lies
    inside k = 2, and the interval is wider than while all was straight."""
    level, bend = [0.0] * 7, [-0.06, -0.12, -0.18]
    straight, bent = model_from(checks(level)), model_from(checks(level + bend))
    line = np.polynomial.Polynomial.fit(range(10), level + bend, 1)
    mean, sigma = bent.at(200.0 + 90.0 * 10)
    assert mean < float(line(10))
    assert abs(mean + 0.24) < 2 * sigma
    assert stated(bent) > 1.3 * stated(straight)


def test_a_radiometers_scatter_is_not_taken_for_that_of_panels() -> None:
    """Its stated uncertainty holds no assumed scatter: no guess has any say in it, only the surprises have."""
    readings = [Calibration("radiometer", -0.01 * n, 0.01, 100.0 * (n + 1), "") for n in range(5)]
    assert stated(model_from(readings)) < 0.012
    with pytest.raises(ValueError, match="scatter_ln_sigma"):
        Calibration("tablet", 0.0, 0.03, 1.0, "", scatter_ln_sigma=-0.1)


def test_surprises_that_no_guess_foresaw_widen_the_interval_too() -> None:
    """A radiometer whose readings scatter by three times what they say: no guess has a scatter to learn there, and the
    mean square of the last surprises, by hand from the same model read by read, is what stands beside the variance."""
    chance = Random(4)
    readings = [Calibration("radiometer", chance.gauss(0, 0.03), 0.01, 100.0 * (n + 1), "") for n in range(8)]
    wild, surprises = model_from(readings), []
    for number in range(1, len(readings)):
        surprises.append(min(6.0, model_from(readings[:number]).surprise(readings[number]) ** 2))
    widened = (8 + sum(surprises[-6:])) / (8 + 6) / 1.2
    assert widened > 1.1
    steady = model_from(readings)
    steady._surprises.clear()
    assert stated(wild) == pytest.approx(math.sqrt(widened) * stated(steady), rel=1e-9)
