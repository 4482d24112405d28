"""The true field over the glass against Keitz' formula, quadrature and the inverse square of the distance."""

from random import Random

import pytest
from scipy.integrate import quad

from sumlight.twin.field import Field, Geometry, tube_irradiance


@pytest.mark.parametrize(
    ("power_w", "length_m", "distance_m", "irradiance_w_m2"),
    [(4.0, 0.3, 0.05, 41.8536), (4.0, 0.3, 0.10, 19.5122), (4.0, 0.3, 0.60, 1.08137), (10.0, 1.0, 2.0, 0.243309)],
)
def test_a_tube_shines_below_its_middle_as_keitz_has_it(
    power_w: float, length_m: float, distance_m: float, irradiance_w_m2: float
) -> None:
    """Vectors of the reference values §6 (Keitz' formula, 2007 IOA World Congress proceedings, p. 1396)."""
    assert tube_irradiance(power_w, length_m, 0.0, 0.0, distance_m) == pytest.approx(irradiance_w_m2, rel=1e-5)


@pytest.mark.parametrize(("across", "along"), [(0.0, 0.0), (0.12, 0.0), (0.05, 0.19), (-0.3, 0.4)])
def test_a_tube_shines_anywhere_as_quadrature_has_it(across: float, along: float) -> None:
    """Each piece of a thin Lambertian line shines by the sine of the angle to its axis (scipy.integrate.quad)."""

    def piece(at: float) -> float:
        square = across**2 + 0.08**2 + (at - along) ** 2
        sine, cosine = (across**2 + 0.08**2) ** 0.5 / square**0.5, 0.08 / square**0.5
        return float(3.0 / 0.41 / 9.869604401 * sine * cosine / square)

    assert tube_irradiance(3.0, 0.41, across, along, 0.08) == pytest.approx(quad(piece, -0.205, 0.205)[0], rel=1e-8)


def test_far_away_light_falls_with_the_square_of_the_distance() -> None:
    """And a tube is no isotropic source: P / (π² d²), reference values §6."""
    assert tube_irradiance(1.0, 0.4, 0.0, 0.0, 40.0) == pytest.approx(1 / (3.14159265**2 * 40.0**2), rel=1e-4)


def test_the_middle_of_the_glass_is_one_and_the_edges_are_darker() -> None:
    """For any tubes; even ones give the same light on both sides."""
    even, real = Field(Geometry()), Field(Geometry(), Random(3))
    assert even.relative(0.0, 0.0) == real.relative(0.0, 0.0) == 1.0
    assert even.relative(120.0, 60.0) == pytest.approx(even.relative(-120.0, -60.0))
    assert real.relative(120.0, 60.0) != pytest.approx(real.relative(-120.0, 60.0), rel=1e-4)
    assert even.relative(0.0, 200.0) < even.relative(0.0, 100.0) < 1.0


def test_mirrors_at_the_sides_lift_the_edge() -> None:
    """More so the better they are."""
    edges = [Field(Geometry(side_reflectance=share)).relative(130.0, 0.0) for share in (0.0, 0.4, 0.8)]
    assert edges == sorted(edges)
    assert edges[2] > edges[0] + 0.05


def test_a_wide_bank_of_close_tubes_falls_off_as_the_closed_form() -> None:
    """Half-width a at height h: atan((a−x)/h) + atan((a+x)/h), 84 % at x 100 (a 150, h 80; trade notes 1.2)."""
    built = Geometry(tubes=60, length_mm=20_000.0, pitch_mm=5.0, height_mm=80.0, side_reflectance=0.0)
    assert Field(built).relative(100.0, 0.0) == pytest.approx(0.84, abs=0.01)
