"""The straight-line fit against published results."""

import pytest

from sumlight.light.straight import fit_line

# JCGM 100:2008 H.3, thermometer calibration; data and results as quoted in the project's reference values §2.
H3_T_C = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
H3_B_C = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)

# NIST StRD, data set Norris: certified values of intercept and slope (reference values §3).
NORRIS_X = """0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0 447.5 11.6 556.0
 228.1 995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2 669.1 448.9 0.5"""
NORRIS_Y = """0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3 448.9 10.8 557.7
 228.3 998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9 668.4 449.2 0.2"""


def test_the_thermometer_line_of_the_gum_comes_out_as_printed() -> None:
    """JCGM 100:2008 H.3: intercept at 20 °C, slope, their uncertainties, correlation, scatter and freedom."""
    line = fit_line(H3_T_C, H3_B_C, reference_x=20.0)
    assert line.intercept == pytest.approx(-0.1712, abs=5e-5)
    assert line.intercept_sigma == pytest.approx(0.0029, abs=5e-5)
    assert line.slope == pytest.approx(0.00218, abs=5e-6)
    assert line.slope_sigma == pytest.approx(0.00067, abs=5e-6)
    assert line.correlation == pytest.approx(-0.930, abs=5e-4)
    assert line.residual == pytest.approx(0.0035, abs=5e-5)
    assert line.dof == 9


def test_the_thermometer_line_is_foretold_at_30_degrees_as_printed() -> None:
    """JCGM 100:2008 H.3.4: -0.1494 °C with 0.0041 °C."""
    assert fit_line(H3_T_C, H3_B_C, reference_x=20.0).at(30.0) == pytest.approx((-0.1494, 0.0041), abs=5e-5)


def test_norris_meets_the_certified_values_to_ten_digits() -> None:
    """NIST StRD Norris, certified estimates and standard deviations."""
    line = fit_line([float(v) for v in NORRIS_X.split()], [float(v) for v in NORRIS_Y.split()])
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-10)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert line.intercept_sigma == pytest.approx(0.232818234301152, rel=1e-10)
    assert line.slope_sigma == pytest.approx(0.429796848199937e-03, rel=1e-10)


def test_two_points_with_known_scatter_give_its_propagated_value() -> None:
    """By hand: slope of two points 1 apart with sigmas 0.3 and 0.4 has 0.5."""
    line = fit_line([0.0, 1.0], [1.0, 3.0], sigmas=[0.3, 0.4])
    assert (line.slope, line.slope_sigma, line.intercept_sigma) == pytest.approx((2.0, 0.5, 0.3))


@pytest.mark.parametrize(
    ("x", "y", "sigmas"),
    [([1.0, 2.0], [1.0, 2.0], None), ([1.0, 1.0, 1.0], [1.0, 2.0, 3.0], None), ([1.0, 2.0], [1.0, 2.0], [0.1, 0.0])],
)
def test_points_that_make_no_line_are_refused(x: list[float], y: list[float], sigmas: list[float] | None) -> None:
    """Too few, all above each other, or without weight."""
    with pytest.raises(ValueError, match=r"line needs|all x are alike|sigmas must"):
        fit_line(x, y, sigmas=sigmas)
