"""One guess at drift and scatter, against textbook conditioning with numpy and integrals with scipy."""

import math

import numpy as np
import pytest
from scipy import integrate, stats

from sumlight.light.guess import JUMP_LN, JUMPED, MISREAD, MISREAD_LN, Guess

CHECKS = [(5.0, -4.5, 0.04), (90.0, -4.58, 0.03), (210.0, -4.57, 0.04), (400.0, -4.70, 0.05)]


def guess(level_noise: float, slope_noise: float, tau_h: float = 60.0) -> Guess:
    """Before any check: level unknown, slope -2e-4 ± 1e-4 an hour, early -0.04 ± 0.03."""
    return Guess(1.0, tau_h, level_noise, slope_noise, 0.0, 0.0, (0.0, -2e-4, -0.04), (9.0, 0.0, 0.0, 1e-8, 0.0, 9e-4))


def batch(hours: float, level_noise: float, slope_noise: float, tau_h: float) -> tuple[float, float]:
    """The same knowledge from one big normal distribution, by conditioning (textbook formula), with numpy.

    Covariance of level + drift at two times, integrated random walks started at hour 0.
    """
    times = np.array([when for when, _, _ in CHECKS] + [hours])
    early = 1 - np.exp(-times / tau_h)
    low, high = np.minimum.outer(times, times), np.maximum.outer(times, times)
    cov = 9.0 + np.outer(times, times) * 1e-8 + np.outer(early, early) * 9e-4
    cov = cov + level_noise * low + slope_noise * (low**2 * high / 2 - low**3 / 6)
    mean = -2e-4 * times - 0.04 * early
    gain = np.linalg.solve(cov[:-1, :-1] + np.diag([sigma**2 for _, _, sigma in CHECKS]), cov[:-1, -1])
    missed = np.array([ln_ratio for _, ln_ratio, _ in CHECKS]) - mean[:-1]
    return float(mean[-1] + gain @ missed), float(cov[-1, -1] - gain @ cov[:-1, -1])


@pytest.mark.parametrize("noises", [(1.6e-7, 1e-12), (4e-6, 1e-10), (0.0, 0.0)])
@pytest.mark.parametrize("tau_h", [25.0, 130.0])
def test_following_step_by_step_agrees_with_solving_all_at_once(noises: tuple[float, float], tau_h: float) -> None:
    """Without doubt in the checks it is the plain filter: numpy's solution of the same normal distribution."""
    followed = guess(*noises, tau_h)
    for hours, ln_ratio, sigma in CHECKS:
        followed.move_to(hours)
        followed.take(ln_ratio, sigma**2, doubt=False)
    assert followed.at(450.0) == pytest.approx(batch(450.0, *noises, tau_h), rel=1e-6)


@pytest.mark.parametrize("ln_ratio", [0.0, 0.05, 0.12, 0.3, -0.7])
def test_a_doubted_check_is_the_mixture_of_its_three_stories(ln_ratio: float) -> None:
    """Mean, variance and likelihood against scipy's integrals over the level, of misread and jumped checks too."""
    known, noise = 0.02, 0.036
    followed = Guess(1.0, 60.0, 0.0, 0.0, 0.0, 0.0, (0.0, 0.0, 0.0), (known**2, 0.0, 0.0, 0.0, 0.0, 0.0))
    followed.take(ln_ratio, noise**2, doubt=True)

    def density(level: float) -> float:
        def story(prior: float, wide: float) -> float:
            return float(stats.norm.pdf(level, 0, prior) * stats.norm.pdf(ln_ratio, level, wide))

        jumped = JUMPED * story(math.hypot(known, JUMP_LN), noise)
        misread = MISREAD * story(known, math.hypot(noise, MISREAD_LN))
        return (1 - MISREAD - JUMPED) * story(known, noise) + misread + jumped

    def moment(power: int) -> float:
        places = [0.0, ln_ratio]
        found, _ = integrate.quad(lambda level: level**power * density(level), -2, 2, points=places, limit=400)
        return float(found)

    whole, mean = moment(0), moment(1) / moment(0)
    assert followed.at(0.0) == pytest.approx((mean, moment(2) / whole - mean**2), rel=1e-5, abs=1e-9)
    assert followed.ln_weight - 0.5 * math.log(2 * math.pi) == pytest.approx(math.log(whole), rel=1e-6)


def test_a_step_that_is_known_moves_the_level_and_adds_its_doubt() -> None:
    """By hand."""
    followed = guess(0.0, 0.0)
    before = followed.at(0.0)
    followed.shift(0.1, 0.01)
    assert followed.at(0.0) == pytest.approx((before[0] + 0.1, before[1] + 0.01))
