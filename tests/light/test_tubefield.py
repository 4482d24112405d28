"""The planned field of tubes against a published formula and numerical integration."""

import math
from dataclasses import replace

import pytest
from scipy import integrate

from sumlight.light.tubefield import TubeBank, irradiance, judged, planned, tube_irradiance

BANK = TubeBank(tubes=6, length_mm=400, pitch_mm=50, height_mm=80)


@pytest.mark.parametrize(
    ("power_w", "length_m", "distance_m", "expected"),
    [(4, 0.3, 0.05, 41.8536), (4, 0.3, 0.10, 19.5122), (4, 0.3, 0.60, 1.08137), (10, 1.0, 2.0, 0.243309)],
)
def test_a_tube_seen_from_its_middle_follows_keitz(
    power_w: float, length_m: float, distance_m: float, expected: float
) -> None:
    """Keitz' formula as published in the 2007 IOA congress proceedings, vectors in the reference values §6."""
    assert tube_irradiance(power_w, length_m, 0.0, 0.0, distance_m) == pytest.approx(expected, rel=5e-6)


@pytest.mark.parametrize(("across", "along"), [(0.0, 0.0), (0.08, 0.05), (0.3, 0.35), (-0.1, -0.2)])
def test_the_closed_form_agrees_with_quadrature_anywhere(across: float, along: float) -> None:
    """scipy quad over a Lambertian line: P/(pi² L) times sine per length, cosine law, inverse square."""
    power, length, height = 4.0, 0.4, 0.08

    def piece(y: float) -> float:
        r = math.sqrt(across**2 + height**2 + (y - along) ** 2)
        sine = math.hypot(across, height) / r
        return power / (math.pi**2 * length) * sine * (height / r) / r**2

    expected, _ = integrate.quad(piece, -length / 2, length / 2, epsabs=0, epsrel=1e-11)
    assert tube_irradiance(power, length, across, along, height) == pytest.approx(expected, rel=1e-9)


def test_far_away_a_tube_follows_the_inverse_square() -> None:
    """P/(pi² d²) far from a Lambertian line (reference values §6)."""
    assert tube_irradiance(4.0, 0.3, 0.0, 0.0, 30.0) == pytest.approx(4.0 / (math.pi**2 * 900), rel=1e-3)


def test_power_is_conserved_over_a_wide_plane() -> None:
    """Half of the light of a tube falls on the plane below: scipy dblquad over a large square."""
    half = 40.0
    total, _ = integrate.dblquad(
        lambda y, x: tube_irradiance(1.0, 0.4, x, y, 0.3), 0, half, 0, half, epsabs=1e-4, epsrel=1e-4
    )
    assert 4 * total == pytest.approx(0.5, rel=0.02)


def test_the_ripple_of_tubes_dies_away_with_height() -> None:
    """Endless tubes at pitch s, height h: max/min in between is coth²(pi h/s) (project's trade notes 1.2)."""
    bank = TubeBank(tubes=81, length_mm=20_000, pitch_mm=50, height_mm=25)
    ratio = irradiance(bank, 0.0, 0.0) / irradiance(bank, 25.0, 0.0)
    assert ratio == pytest.approx(1 / math.tanh(math.pi * 0.5) ** 2, rel=5e-3)


def test_a_mirror_is_a_second_bank_behind_it() -> None:
    """One perfect side wall each, with one tube: the images as tubes of their own give the same light."""
    walled = TubeBank(1, 400, 50, 80, side_mm=120, side_reflectance=1.0)
    alone = replace(walled, side_mm=None, side_reflectance=0.0)
    expected = sum(irradiance(alone, 30.0 - x, 20.0) for x in (0.0, 240.0, -240.0))
    assert irradiance(walled, 30.0, 20.0) == pytest.approx(expected)


def test_a_reflector_behind_is_a_weaker_bank_farther_up() -> None:
    """30 mm behind the axes: images 60 mm higher, weighted with the reflectance."""
    backed = replace(BANK, back_mm=30, back_reflectance=0.7)
    expected = irradiance(BANK, 20.0, 10.0) + 0.7 * irradiance(replace(BANK, height_mm=140), 20.0, 10.0)
    assert irradiance(backed, 20.0, 10.0) == pytest.approx(expected)


def test_side_walls_lift_the_edge() -> None:
    """Reflecting walls make the field more even and brighter."""
    walls = replace(BANK, side_mm=160, side_reflectance=0.8, end_mm=210, back_mm=30, back_reflectance=0.8)
    bare, lifted = judged(BANK, 250, 200), judged(walls, 250, 200)
    assert lifted.uniformity.contrast < bare.uniformity.contrast
    assert lifted.middle_mw_cm2_per_w > bare.middle_mw_cm2_per_w


def test_plans_come_with_the_most_even_one_first_and_only_what_fits() -> None:
    """A pitch that would put tubes into the walls is left out."""
    walls = replace(BANK, side_mm=160, side_reflectance=0.8)
    plans = planned(walls, 200, 150, heights_mm=(40, 80, 120), pitches_mm=(40, 50, 70))
    assert [plan.uniformity.contrast for plan in plans] == sorted(plan.uniformity.contrast for plan in plans)
    assert {plan.pitch_mm for plan in plans} == {40, 50}


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"tubes": 0}, "one tube"),
        ({"side_mm": 100.0}, "side_mm"),
        ({"end_mm": 100.0}, "end_mm"),
        ({"back_mm": 0.0}, "back_mm"),
    ],
)
def test_banks_that_cannot_be_built_are_refused(change: dict[str, float], field: str) -> None:
    """The message names what is wrong."""
    with pytest.raises(ValueError, match=field):
        replace(BANK, **change)  # type: ignore[arg-type]
