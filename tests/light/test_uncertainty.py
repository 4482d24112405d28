"""The uncertainty budget against the GUM's own example and a statistics library."""

import math

import pytest
from scipy import stats

from sumlight.light import uncertainty
from sumlight.light.uncertainty import (
    Component,
    budget,
    combine,
    covariance,
    coverage_factor,
    student_cdf,
    student_quantile,
)

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


# JCGM 100:2008 H.2, resistance and reactance from one set of five readings: table H.2 (means, standard uncertainties of
# the means, correlations) and what follows in table H.3, as printed there; figures from memory, recomputed.
H2_V, H2_I, H2_PHI = (4.9990, 0.0032), (19.661e-3, 0.0095e-3), (1.04446, 0.00075)
H2_R = {("V", "I"): -0.36, ("V", "phi"): 0.86, ("I", "phi"): -0.65}


def h2_results() -> dict[str, tuple[float, dict[str, float]]]:
    """R = (V/I) cos phi, X = (V/I) sin phi, Z = V/I: values, and sensitivity times uncertainty of each input."""
    (v, u_v), (i, u_i), (phi, u_phi) = H2_V, H2_I, H2_PHI
    z = v / i
    r, x = z * math.cos(phi), z * math.sin(phi)
    return {
        "R": (r, {"V": r / v * u_v, "I": -r / i * u_i, "phi": -x * u_phi}),
        "X": (x, {"V": x / v * u_v, "I": -x / i * u_i, "phi": r * u_phi}),
        "Z": (z, {"V": z / v * u_v, "I": -z / i * u_i}),
    }


@pytest.mark.parametrize(("name", "value", "u"), [("R", 127.732, 0.071), ("X", 219.847, 0.295), ("Z", 254.260, 0.236)])
def test_resistance_and_reactance_of_the_gum(name: str, value: float, u: float) -> None:
    """JCGM 100:2008 table H.3: with correlated inputs, to the digits printed."""
    found, parts = h2_results()[name]
    assert found == pytest.approx(value, abs=0.001)
    assert math.sqrt(covariance(parts, parts, H2_R)) == pytest.approx(u, abs=0.002)
    without = math.sqrt(covariance(parts, parts, {}))
    assert abs(without - u) > 0.02, "here correlation matters"


@pytest.mark.parametrize(("a", "b", "r"), [("R", "X", -0.588), ("R", "Z", -0.485), ("X", "Z", 0.993)])
def test_results_of_the_same_readings_are_correlated(a: str, b: str, r: float) -> None:
    """The same table: the correlation of two results."""
    (_, one), (_, other) = h2_results()[a], h2_results()[b]
    both = covariance(one, other, H2_R)
    alone = covariance(one, one, H2_R) * covariance(other, other, H2_R)
    assert both / math.sqrt(alone) == pytest.approx(r, abs=0.02)


def test_a_budget_takes_correlated_components() -> None:
    """The impedance of H.2 as a product: voltage to the first power, current to the power of -1."""
    (v, u_v), (i, u_i) = H2_V, H2_I
    parts = [Component("V", v, u_v, dof=4), Component("I", i, u_i, dof=9, exponent=-1.0)]
    found = budget(254.260, parts, correlations={("I", "V"): -0.36})
    assert found.u_absolute_mj_cm2 == pytest.approx(0.236, abs=0.001)
    assert found.dof_eff == pytest.approx(4), "Welch-Satterthwaite is for independent inputs (G.4.1): the fewest count"
    assert math.fsum(share.share for share in found.shares) == pytest.approx(1.0)
    plain = budget(254.260, parts)
    assert plain.u_absolute_mj_cm2 == pytest.approx(0.204, abs=0.001)


def test_components_that_cancel_leave_the_others() -> None:
    """The same meter in numerator and denominator, fully correlated."""
    twice = [Component("up", 5.0, 0.1), Component("down", 5.0, 0.1, exponent=-1.0), Component("rest", 1.0, 0.01)]
    found = budget(100.0, twice, correlations={("up", "down"): 1.0})
    assert found.u_absolute_mj_cm2 == pytest.approx(1.0)
    assert found.largest == "rest"


@pytest.mark.parametrize(
    ("correlations", "words"),
    [
        ({("a", "x"): 0.5}, "not two of a, b, c"),
        ({("a", "a"): 0.5}, "not two of"),
        ({("a", "b"): 1.2}, "must lie between -1 and 1"),
        ({("a", "b"): -0.9, ("b", "c"): -0.9, ("a", "c"): -0.9}, "cannot all hold"),
    ],
)
def test_correlations_that_cannot_be_are_refused(correlations: dict[tuple[str, str], float], words: str) -> None:
    """Three things cannot each run against both others."""
    with pytest.raises(ValueError, match=words):
        budget(10.0, [Component(name, 1.0, 0.1) for name in "abc"], correlations=correlations)


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
