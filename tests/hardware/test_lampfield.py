"""Spacing and height of tubes, against sums and integrals of single tubes."""

import math

import lampfield
import numpy as np
import pytest
from scipy.integrate import quad

from sumlight.box.description import load_box

from .conftest import ROOT


def summed(x_mm: float, height_mm: float, pitch_mm: float) -> float:
    """Light of many endless tubes at a place on the plate, added one by one."""
    places_mm = np.arange(-20_000, 20_001) * pitch_mm
    return float(np.sum(height_mm / (height_mm**2 + (x_mm - places_mm) ** 2)))


@pytest.mark.parametrize("relative", [0.5, 0.75, 1.0])
def test_ripple_is_what_a_sum_of_tubes_gives(relative: float) -> None:
    """Brightest above a tube, darkest between two."""
    above, between = summed(0, relative * 50, 50), summed(25, relative * 50, 50)
    assert lampfield.ripple(relative * 50, 50) == pytest.approx((above - between) / (above + between), rel=2e-3)


@pytest.mark.parametrize(("relative", "expected"), [(0.5, 0.086), (0.75, 0.018), (1.0, 0.004)])
def test_ripple_has_the_published_size(relative: float, expected: float) -> None:
    """Worked figures of the bench study (h/s 0.5: 8.6 %, 0.75: 1.8 %, 1: 0.4 %)."""
    assert lampfield.ripple(relative, 1) == pytest.approx(expected, abs=0.0005)


def test_height_for_a_ripple_undoes_the_ripple() -> None:
    """The smallest height gives just that ripple."""
    assert lampfield.ripple(lampfield.height_for_ripple_mm(55, 0.01), 55) == pytest.approx(0.01)


@pytest.mark.parametrize(("x_mm", "expected"), [(100, 0.84), (125, 0.74), (150, 0.61)])
def test_the_field_across_a_bank_falls_as_integrated(x_mm: float, expected: float) -> None:
    """A bank 300 mm wide at 80 mm, as a sheet of light: integral of h/(h²+x²), and the bench study's figures."""
    light = [quad(lambda u, at=at: 80 / (80**2 + (at - u) ** 2), -150, 150)[0] for at in (x_mm, 0)]
    share = lampfield.across_share(x_mm, 150, 80)
    assert share == pytest.approx(light[0] / light[1], rel=1e-6)
    assert share == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize("y_mm", [0, 60, 136, 200])
def test_the_field_along_a_tube_falls_as_integrated(y_mm: float) -> None:
    """A bright line seen by a flat plate: the integral of h²/r⁴ over its lit length (Lambertian tube)."""
    light = [quad(lambda u, at=at: 80**2 / (80**2 + (at - u) ** 2) ** 2, -205, 205)[0] for at in (y_mm, 0)]
    assert lampfield.along_share(y_mm, 410, 80) == pytest.approx(light[0] / light[1], rel=1e-6)


@pytest.mark.parametrize(("lit_mm", "height_mm", "expected_mm"), [(410, 80, 273), (410, 50, 318), (250, 80, 137)])
def test_the_useful_length_has_the_published_size(lit_mm: float, height_mm: float, expected_mm: float) -> None:
    """The bench study's figures for 90 %: tube minus about 0.85 to 0.9 heights an end."""
    assert lampfield.useful_length_mm(lit_mm, height_mm) == pytest.approx(expected_mm, abs=1.5)


def test_at_the_edge_of_the_useful_field_the_light_is_at_the_asked_share() -> None:
    """Both directions."""
    assert lampfield.across_share(lampfield.useful_width_mm(150, 80) / 2, 150, 80) == pytest.approx(0.9)
    assert lampfield.along_share(lampfield.useful_length_mm(410, 80) / 2, 410, 80) == pytest.approx(0.9)


@pytest.mark.parametrize(("sensor_x_mm", "height_mm"), [(0.0, 80.0), (0.0, 100.0), (150.0, 80.0)])
def test_the_farthest_tubes_angle_is_that_of_the_field_planner(sensor_x_mm: float, height_mm: float) -> None:
    """A very short tube of the planner gives P h / (π² ρ³): from its light follows the distance, and so the angle."""
    from sumlight.light.tubefield import TubeBank, irradiance

    angles = []
    for number in range(6):
        one = TubeBank(tubes=1, length_mm=0.1, pitch_mm=50, height_mm=height_mm)
        light = irradiance(one, sensor_x_mm - (number - 2.5) * 50, 0.0) / 1e5
        distance_mm = (height_mm / (math.pi**2 * light)) ** (1 / 3)
        angles.append(math.degrees(math.acos(height_mm / distance_mm)))
    assert lampfield.farthest_tube_deg(6, 50, height_mm, sensor_x_mm) == pytest.approx(max(angles), abs=0.01)


def test_the_sensors_head_as_drawn_sees_five_degrees_beyond_the_farthest_tube() -> None:
    """And the deep collar of the first drawing does not: 15 mm wide 20 mm before the diffuser."""
    from sheets import sensor

    sight = load_box(ROOT / "hardware" / "box.yaml").meters[0].sight
    assert sight is not None
    farthest = lampfield.farthest_tube_deg(sight.tubes, sight.pitch_mm, sight.height_mm, sight.across_mm)
    drawn = lampfield.accepted_deg(sensor.SEEN_WIDTH_MM, sensor.COLLAR_WIDTH_MM, sensor.COLLAR_DEPTH_MM)
    assert drawn >= sight.accepts_deg >= farthest + 5
    assert lampfield.accepted_deg(10, 15, 20) < farthest
    text = (ROOT / "hardware" / "drawings" / "sensor.svg").read_text(encoding="utf-8")
    assert f"up to {farthest + 5:.0f}° or more" in text


def test_shares_of_the_tubes_are_those_of_the_planner() -> None:
    """Long tubes, the sensor over their middle; within 2 points of the share."""
    from sumlight.light.tubefield import tube_irradiance

    light = [tube_irradiance(1, 4000, (number - 2.5) * 50, 0, 80) for number in range(6)]
    for number in range(6):
        share = lampfield.tube_share(number, 6, 50, 80, 0)
        assert share == pytest.approx(light[number] / sum(light), abs=0.02)
