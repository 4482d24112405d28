"""Whether the same dose does the same at another irradiance."""

import math

import pytest

from sumlight.light.reciprocity import dose_factor, effective_mw_cm2, fit_exponent, in_words, warning


def test_half_the_light_needs_eight_percent_more_dose_at_p_of_nine_tenths() -> None:
    """Schwarzschild's form, worked number in the reference values §5: dose × 1.08006, time × 2.16012."""
    factor = dose_factor(1.0, 2.0, 0.9)
    assert factor == pytest.approx(1.08006, abs=5e-6)
    assert factor * 2 == pytest.approx(2.16012, abs=5e-6)


def test_dose_alone_counts_by_default() -> None:
    """Bunsen and Roscoe: p = 1."""
    assert dose_factor(1.0, 7.0) == 1.0
    assert effective_mw_cm2(3.0, 1.0) == 3.0


def test_effective_dose_of_constant_light_meets_the_law() -> None:
    """E t^p is the same for the time that gives the same effective dose at the reference."""
    p, time_s = 0.85, 20.0
    reference_s = effective_mw_cm2(6.0, 2.0, p) * time_s / 2.0
    assert 6.0 * time_s**p == pytest.approx(2.0 * reference_s**p)


@pytest.mark.parametrize("p", [0.8, 1.0, 1.15])
def test_a_fit_finds_the_exponent_behind_exact_doses(p: float) -> None:
    """Doses made by the law itself at three irradiances."""
    doses = [(e, 60.0 * dose_factor(e, 2.0, p), 0.02) for e in (1.0, 2.0, 5.0)]
    assert fit_exponent(doses).p == pytest.approx(p)


def test_the_exponents_uncertainty_follows_from_the_doses() -> None:
    """Two irradiances a factor e apart, 3 % each: slope ± 0.0424, and so is p near 1 (JCGM 100:2008 5.1.2)."""
    found = fit_exponent([(1.0, 50.0, 0.03), (math.e, 50.0, 0.03)])
    assert (found.p, found.standard, found.clear) == (pytest.approx(1.0), pytest.approx(0.03 * math.sqrt(2)), False)


@pytest.mark.parametrize(("now", "warned"), [(1.01, False), (3.9, False), (0.9, True), (4.2, True)])
def test_light_more_than_a_factor_of_two_away_warns(now: float, warned: bool) -> None:
    """Recipe found at 2 mW/cm²."""
    assert (warning(now, 2.0) is not None) is warned


def test_irradiances_too_much_alike_are_refused() -> None:
    """Nothing can be learned from them."""
    with pytest.raises(ValueError, match="change the light more"):
        fit_exponent([(1.0, 50.0, 0.03), (1.1, 50.0, 0.03)])


def test_an_exponent_is_told_with_what_it_means_at_half_the_light() -> None:
    """p = 0.9 known exactly: 2^(1/0.9 - 1) = 1.0801 times the dose (reference values §5)."""
    doses = [(e, 60.0 * dose_factor(e, 2.0, 0.9), 1e-6) for e in (1.0, 2.0)]
    told = in_words(fit_exponent(doses))
    assert told.startswith("Weak light does less than its dose says: its exponent is 0.90 ± 0.00.")
    assert "needs 1.08 to 1.08 times the dose" in told
    assert "Write the exponent 0.90 into the recipe" in told


def test_an_exponent_that_cannot_be_told_from_one_gives_an_interval_and_no_advice() -> None:
    """Two lights a factor 2 apart, 5 % each: slope ± 0.0707/ln 2, so 2^(±2 × 0.102) = 0.868 to 1.152."""
    told = in_words(fit_exponent([(2.0, 50.0, 0.05), (1.0, 50.0, 0.05)]))
    assert told.startswith("The dose holds as far as these readings tell: its exponent is 1.00 ± 0.20.")
    assert "needs 0.87 to 1.15 times the dose" in told
    assert "Write" not in told


def test_weak_light_that_does_more_is_told_as_such() -> None:
    """p above 1."""
    doses = [(e, 60.0 * dose_factor(e, 2.0, 1.2), 0.001) for e in (1.0, 4.0)]
    assert in_words(fit_exponent(doses)).startswith("Weak light does more")
