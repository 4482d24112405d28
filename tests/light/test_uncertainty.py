"""The uncertainty budget against the GUM's own example and a statistics library."""

import math

import pytest
from scipy import stats

from sumlight.light import uncertainty
from sumlight.light.uncertainty import Component, budget, combine, coverage_factor, student_cdf, student_quantile

# JCGM 100:2008 H.1, end gauge, |c| u in nm with degrees of freedom; as quoted in the project's reference values §2.
H1_DIFFERENCE = [(5.8, 24.0), (3.9, 5.0), (6.7, 8.0)]


def h1_contributions() -> list[tuple[float, float]]:
    """All components of the example: standard, difference, and the two temperature terms that do not vanish."""
    difference, dof = combine(H1_DIFFERENCE)
    d_alpha = 50_000_623 * 0.1 * 1e-6 / math.sqrt(3)
    d_theta = 50_000_623 * 11.5e-6 * 0.05 / math.sqrt(3)
    return [(25.0, 18.0), (difference, dof), (d_alpha, 50.0), (d_theta, 2.0)]


def test_the_end_gauge_of_the_gum_has_32_nm() -> None:
    """JCGM 100:2008 H.1.4: combined standard uncertainty."""
    u, _ = combine(h1_contributions())
    assert u == pytest.approx(31.6639, abs=1e-3)


def test_the_end_gauge_of_the_gum_has_16_degrees_of_freedom_and_93_nm() -> None:
    """JCGM 100:2008 H.1.6: truncated to 16, k = 2.92 for 99 %, expanded 93 nm (with u rounded to 32 nm)."""
    _, dof = combine(h1_contributions())
    assert dof == pytest.approx(16.752, abs=2e-3)
    k = coverage_factor(dof, 0.99)
    assert k == pytest.approx(2.9208, abs=1e-4)
    assert math.floor(k * 32) == 93


def test_the_difference_in_the_end_gauge_has_25_degrees_of_freedom() -> None:
    """JCGM 100:2008 H.1: 9.7 nm with 25.6 by the printed rounding, 9.682 and 25.45 unrounded."""
    assert combine(H1_DIFFERENCE) == pytest.approx((9.682, 25.45), rel=1e-3)


@pytest.mark.parametrize("dof", [1, 2, 3.5, 5, 16, 60, 1e4, math.inf])
@pytest.mark.parametrize("p", [0.025, 0.4, 0.6, 0.95, 0.97725, 0.995, 0.9999])
def test_quantiles_of_t_agree_with_a_statistics_library(dof: float, p: float) -> None:
    """scipy.stats.t, and the normal distribution for infinite freedom."""
    reference = stats.norm.ppf(p) if math.isinf(dof) else stats.t.ppf(p, dof)
    assert student_quantile(p, dof) == pytest.approx(reference, rel=1e-8)


@pytest.mark.parametrize(("t", "dof"), [(-3.0, 4.0), (0.0, 7.0), (0.3, 1.0), (8.0, 30.0)])
def test_probabilities_of_t_agree_with_a_statistics_library(t: float, dof: float) -> None:
    """scipy.stats.t."""
    assert student_cdf(t, dof) == pytest.approx(stats.t.cdf(t, dof), rel=1e-12)


def test_k_is_two_when_everything_is_well_known() -> None:
    """The usual k = 2 stands for 95.45 % (JCGM 100:2008 G.6.4)."""
    assert coverage_factor(math.inf) == pytest.approx(2.0, abs=1e-3)


def test_repeat_and_absolute_are_kept_apart() -> None:
    """A calibration common to all exposures is no part of how well they repeat."""
    found = budget(
        60.0,
        [
            Component("calibration", 0.012, 0.0012, kind="absolute"),
            Component("cut-off", 60.0, 0.3, kind="repeat"),
            Component("gaps", 60.0, 0.4, kind="repeat"),
        ],
    )
    assert found.u_repeat_mj_cm2 == pytest.approx(0.5)
    assert found.u_absolute_mj_cm2 == pytest.approx(math.hypot(6.0, 0.5))
    assert found.expanded_absolute_mj_cm2 == pytest.approx(2 * math.hypot(6.0, 0.5), rel=1e-4)
    assert found.largest == "calibration"
    assert [share.name for share in found.shares] == ["calibration", "gaps", "cut-off"]
    assert math.fsum(share.share for share in found.shares) == pytest.approx(1.0)


def test_few_readings_widen_the_interval() -> None:
    """One component with 4 degrees of freedom: k from scipy.stats.t."""
    found = budget(100.0, [Component("repeats", 1.0, 0.02, dof=4.9, kind="repeat")])
    k = stats.t.ppf(0.5 + 0.9545 / 2, 4)
    assert (found.k, found.expanded_repeat_mj_cm2) == pytest.approx((k, 2 * k))


def test_a_dose_without_any_doubt_names_no_contributor() -> None:
    """Nothing to blame."""
    found = budget(10.0, [Component("stack", 0.9, 0.0)])
    assert (found.expanded_absolute_mj_cm2, found.largest) == (0.0, "")


def test_a_quarter_of_doubt_about_a_doubt_is_worth_eight_degrees() -> None:
    """JCGM 100:2008 G.4.2, the example there."""
    assert uncertainty.dof_of_doubt(0.25) == pytest.approx(8.0)


def test_a_rectangle_of_half_width_one_has_its_textbook_deviation() -> None:
    """scipy.stats.uniform on -1…1."""
    assert uncertainty.rectangular(1.0) == pytest.approx(stats.uniform(-1, 2).std())


@pytest.mark.parametrize(("value", "standard", "dof"), [(0.0, 1.0, 5.0), (1.0, -0.1, 5.0), (1.0, 0.1, 0.0)])
def test_impossible_components_are_refused_by_name(value: float, standard: float, dof: float) -> None:
    """The message says which one."""
    with pytest.raises(ValueError, match="of glass"):
        Component("glass", value, standard, dof)
