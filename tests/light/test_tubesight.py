"""Which tubes a sensor sees, against the field planner's own light and plain trigonometry on paper."""

import math

import pytest

from sumlight.light.tubefield import TubeBank, irradiance, tube_irradiance
from sumlight.light.tubesight import tube_angles_deg, tube_shares, tube_sight


def planners_angle_deg(tube: int, tubes: int, pitch_mm: float, height_mm: float, across_mm: float) -> float:
    """A very short tube of the planner gives P h / (π² ρ³): from its light follows the distance, and so the angle."""
    one = TubeBank(tubes=1, length_mm=0.1, pitch_mm=pitch_mm, height_mm=height_mm)
    light = irradiance(one, across_mm - (tube - (tubes - 1) / 2) * pitch_mm, 0.0) / 1e5
    distance_mm = (height_mm / (math.pi**2 * light)) ** (1 / 3)
    return math.degrees(math.acos(min(1.0, height_mm / distance_mm)))


@pytest.mark.parametrize("across_mm", [-40.0, 0.0, 25.0, 150.0])
@pytest.mark.parametrize(("tubes", "pitch_mm", "height_mm"), [(6, 50.0, 80.0), (4, 60.0, 100.0), (1, 50.0, 80.0)])
def test_every_tubes_angle_is_that_of_the_field_planner(
    tubes: int, pitch_mm: float, height_mm: float, across_mm: float
) -> None:
    """Also beside the middle."""
    wanted = [planners_angle_deg(tube, tubes, pitch_mm, height_mm, across_mm) for tube in range(tubes)]
    assert tube_angles_deg(tubes, pitch_mm, height_mm, across_mm) == pytest.approx(wanted, abs=0.05)


@pytest.mark.parametrize("height_mm", [50.0, 80.0, 120.0])
@pytest.mark.parametrize("accepts_deg", [40.0, 55.0, 63.0, 75.0])
def test_a_tube_counts_as_seen_only_5_degrees_within_what_the_sensor_takes(
    height_mm: float, accepts_deg: float
) -> None:
    """The margin is the issue's own figure; angles are the planner's."""
    looks = tube_sight(6, 50.0, height_mm, 10.0, accepts_deg)
    unseen = [tube + 1 for tube in range(6) if planners_angle_deg(tube, 6, 50.0, height_mm, 10.0) + 5.0 > accepts_deg]
    assert list(looks.unseen) == unseen
    assert looks.seen == 6 - len(unseen)


def test_the_review_sees_two_tubes_through_its_deep_collar() -> None:
    """20 mm wide, 15 mm deep, above the last tube: two of six (review's ray sum); half-angle 33.7° from the middle."""
    looks = tube_sight(6, 50.0, 80.0, 125.0, math.degrees(math.atan2(10.0, 15.0)) + 5.0)
    assert looks.unseen == (1, 2, 3, 4)


@pytest.mark.parametrize(("tubes", "pitch_mm", "height_mm"), [(0, 50.0, 80.0), (6, 0.0, 80.0), (6, 50.0, 0.0)])
def test_sizes_that_cannot_be_are_refused(tubes: int, pitch_mm: float, height_mm: float) -> None:
    """Said, not divided by."""
    with pytest.raises(ValueError, match="above 0"):
        tube_angles_deg(tubes, pitch_mm, height_mm, 0.0)


@pytest.mark.parametrize("across_mm", [0.0, 25.0, -60.0])
def test_shares_are_those_of_long_tubes(across_mm: float) -> None:
    """By the planner's field of one tube (Keitz, 2007 IOA congress, p. 1396), 100 m long."""
    given = [tube_irradiance(1.0, 1e5, x - across_mm, 0.0, 80.0) for x in (-125.0, -75.0, -25.0, 25.0, 75.0, 125.0)]
    shares = [each / sum(given) for each in given]
    assert tube_shares(6, 50.0, 80.0, across_mm) == pytest.approx(shares, rel=1e-4)
