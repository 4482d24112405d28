"""Estimates from intervals, against statistics libraries and published data."""

import math

import numpy as np
import pandas as pd
import pytest
from lifelines import LogNormalFitter
from scipy import integrate, stats

from sumlight.craft.censored import NoEstimateError, fitted, located, log_likelihood, probability, without_prior

# Last step held n means a threshold in (n, n+1]: made-up readings of ten tablets, in the reference values §9.
WEDGE = [(6.0, 7.0)] * 6 + [(7.0, 8.0)] * 3 + [(5.0, 6.0)]

# Finkelstein and Wolfe 1985, Biometrics 41, 933-945: radiotherapy arm, n = 46, months; (L, R], inf for no right end.
ARM = """45 . 25 37 37 . 6 10 46 . 0 5 0 7 26 40 18 . 46 . 46 . 24 . 46 . 27 34 36 . 7 16 36 44 5 11 17 . 46 . 19 35
 7 14 36 48 17 25 37 44 37 . 24 . 0 8 40 . 32 . 4 11 17 25 33 . 15 . 46 . 19 26 11 15 11 18 37 . 22 . 38 . 34 . 46 .
 5 12 36 . 46 ."""


def arm() -> list[tuple[float, float]]:
    """The arm's intervals in months."""
    words = [math.inf if word == "." else float(word) for word in ARM.split()]
    return list(zip(words[::2], words[1::2], strict=True))


def arm_ln() -> list[tuple[float, float]]:
    """The same in logarithms."""
    return [(math.log(a) if a > 0 else -math.inf, math.log(b) if b < math.inf else math.inf) for a, b in arm()]


def test_the_step_wedge_example_comes_out() -> None:
    """Normal model in step number: values of the reference values §9, found there with another program."""
    found = fitted(WEDGE)
    assert (found.mean, found.sigma) == pytest.approx((6.70003, 0.523985), abs=2e-5)
    assert found.log_likelihood == pytest.approx(-9.070713, abs=1e-6)


def test_the_radiotherapy_arm_gives_its_published_log_normal() -> None:
    """Survival library and R agree on 3.75036 and 1.30807 (reference values §9)."""
    found = fitted(arm_ln())
    assert (found.mean, found.sigma) == pytest.approx((3.75036, 1.30807), abs=2e-4)
    assert found.log_likelihood == pytest.approx(-64.735, abs=1e-3)


def test_the_log_normal_agrees_with_a_survival_library_run_here() -> None:
    """lifelines LogNormalFitter on the same intervals."""
    table = pd.DataFrame(arm(), columns=["low", "high"])
    fitter = LogNormalFitter().fit_interval_censoring(table["low"], table["high"])
    found = fitted(arm_ln())
    assert (found.mean, found.sigma) == pytest.approx((fitter.mu_, fitter.sigma_), rel=1e-3)


def test_readings_that_all_agree_have_no_finite_scatter_and_say_so() -> None:
    """The likelihood grows for ever as the scatter falls to nothing (reference values §9)."""
    found = fitted([(6.0, 7.0)] * 5)
    assert (found.mean, found.sigma) == (6.5, 0.0)
    assert "too small to be seen" in found.note


@pytest.mark.parametrize(
    ("intervals", "side"), [([(-math.inf, 3.0)] * 3, "from below"), ([(3.0, math.inf), (4.0, math.inf)], "from above")]
)
def test_one_sided_observations_give_no_estimate(intervals: list[tuple[float, float]], side: str) -> None:
    """The message says which side is missing."""
    with pytest.raises(NoEstimateError, match=side):
        fitted(intervals)
    with pytest.raises(NoEstimateError, match=side):
        located([intervals], within_sigma=0.1, between_sigma=0.1)


@pytest.mark.parametrize(("low", "high"), [(-1.0, 0.5), (8.0, 9.0), (-math.inf, -7.0), (6.0, math.inf)])
def test_probabilities_agree_with_a_library_in_the_tails(low: float, high: float) -> None:
    """scipy.stats.norm, upper tail through its survival function."""
    library = stats.norm.sf(low) - stats.norm.sf(high) if low > 0 else stats.norm.cdf(high) - stats.norm.cdf(low)
    assert probability(low, high, 0.0, 1.0) == pytest.approx(library, rel=1e-10)


def test_a_shared_shift_is_integrated_out_as_a_library_does() -> None:
    """Two groups with two zones each: posterior moments against scipy's Simpson rule on the same model."""
    groups = [[(0.0, 0.1), (0.05, 0.2)], [(-0.05, 0.08), (-0.2, 0.02)]]
    within, between = 0.02, 0.05
    shift = np.linspace(-0.4, 0.4, 1601)
    means = np.linspace(-0.4, 0.5, 601)
    weights = np.ones_like(means)
    for group in groups:
        at = means[:, None] + shift[None, :]
        zones = [stats.norm.cdf(b, at, within) - stats.norm.cdf(a, at, within) for a, b in group]
        weights *= integrate.simpson(zones[0] * zones[1] * stats.norm.pdf(shift, 0, between), x=shift, axis=1)
    weights /= integrate.simpson(weights, x=means)
    expected = float(integrate.simpson(weights * means, x=means))
    spread = math.sqrt(float(integrate.simpson(weights * (means - expected) ** 2, x=means)))
    found = located(groups, within_sigma=within, between_sigma=between)
    assert (found.mean, found.sigma) == pytest.approx((expected, spread), abs=2e-4)


def test_a_narrow_interval_leaves_the_shift_of_the_panel() -> None:
    """One panel, width 0.0001: what remains is the scatter between panels and within."""
    found = located([[(1.0, 1.0001)]], within_sigma=0.01, between_sigma=0.03)
    assert (found.mean, found.sigma) == pytest.approx((1.0, math.hypot(0.01, 0.03)), rel=0.01)
    assert found.high - found.mean == pytest.approx(1.96 * found.sigma, rel=0.02)


def test_a_prior_is_combined_and_taken_out_again() -> None:
    """Normal theory: precisions add; without_prior gives the observation back."""
    prior = (1.05, 0.04)
    joined = located([[(1.0, 1.0001)]], within_sigma=0.01, between_sigma=0.03, prior=prior)
    own = located([[(1.0, 1.0001)]], within_sigma=0.01, between_sigma=0.03)
    weight = own.sigma**-2 / (own.sigma**-2 + prior[1] ** -2)
    assert joined.mean == pytest.approx(1.05 + weight * (own.mean - 1.05), abs=1e-4)
    mean, sigma = without_prior((joined.mean, joined.sigma), prior)
    assert mean == pytest.approx(own.mean, abs=1e-3)
    assert sigma == pytest.approx(own.sigma, rel=0.02)


def test_zones_that_contradict_each_other_are_counted() -> None:
    """One zone says below 0, another above 0.3, with a scatter of 0.01."""
    found = located([[(-0.3, 0.0), (0.3, 0.6)]], within_sigma=0.01, between_sigma=0.03)
    assert found.contradicting == 1


def test_the_likelihood_is_that_of_the_library() -> None:
    """Sum of logs of scipy's normal probabilities."""
    expected = sum(math.log(stats.norm.cdf(b, 6.5, 0.7) - stats.norm.cdf(a, 6.5, 0.7)) for a, b in WEDGE)
    assert log_likelihood(WEDGE, 6.5, 0.7) == pytest.approx(expected)
