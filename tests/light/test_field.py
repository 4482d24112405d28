"""The measured field over the work plane."""

import math

import pytest
from scipy.interpolate import RegularGridInterpolator

from sumlight.light.field import FieldMap, FieldReading, map_from, place_factor, uniformity, usable_area

XS = (-100.0, 0.0, 100.0)
YS = (-60.0, 0.0, 60.0)


def true_field(x: float, y: float) -> float:
    """A bowl turned over: 1 in the middle."""
    return 1 - (x / 400) ** 2 - (y / 300) ** 2


def walk(drift_per_s: float = 0.0) -> list[FieldReading]:
    """Middle, three columns with the middle in between, middle again; one reading every 10 s."""
    places = [(0.0, 0.0)]
    for x in XS:
        places += [(x, y) for y in YS if (x, y) != (0.0, 0.0)]
        places.append((0.0, 0.0))
    return [
        FieldReading(x, y, 50 * true_field(x, y) * (1 + drift_per_s * 10 * i), 10.0 * i)
        for i, (x, y) in enumerate(places)
    ]


@pytest.mark.parametrize("drift_per_s", [0.0, 0.0005, -0.0008])
def test_drift_of_the_lamps_during_the_walk_is_taken_out(drift_per_s: float) -> None:
    """Steady drift of up to 10 % over the walk leaves the true field."""
    found = map_from(walk(drift_per_s))
    for j, y in enumerate(YS):
        for i, x in enumerate(XS):
            assert found.values[j][i] == pytest.approx(true_field(x, y), rel=1e-9)
    assert found.repeat == pytest.approx(0.0, abs=1e-12)


def test_scatter_of_the_middle_is_the_repeatability() -> None:
    """A single outlier of 3 % among five repeats of the middle is not lost."""
    readings = [FieldReading(r.x_mm, r.y_mm, r.value, r.at_s) for r in walk()]
    index = [i for i, r in enumerate(readings) if (r.x_mm, r.y_mm) == (0.0, 0.0)][1]
    outlier = readings[index]
    readings[index] = FieldReading(0.0, 0.0, outlier.value * 1.03, outlier.at_s)
    assert 0.01 < map_from(readings).repeat < 0.03


def test_figures_of_uniformity_by_hand() -> None:
    """0.8, 1.0 and 1.2: 2/3, 0.8 and 0.2; 1.17 steps of the tablet."""
    found = uniformity([0.8, 1.0, 1.2])
    assert (found.min_over_max, found.min_over_mean, found.contrast) == pytest.approx((2 / 3, 0.8, 0.2))
    assert found.steps == pytest.approx(math.log10(1.5) / 0.15)


@pytest.mark.parametrize(("x", "y"), [(-100.0, -60.0), (-30.0, 10.0), (99.0, 59.0), (0.0, 0.0)])
def test_between_readings_the_map_agrees_with_a_library(x: float, y: float) -> None:
    """scipy RegularGridInterpolator, linear."""
    found = map_from(walk())
    library = RegularGridInterpolator((found.y_mm, found.x_mm), found.values)
    assert found.at(x, y) == pytest.approx(float(library((y, x))))


def test_the_panels_mean_is_related_to_the_sensors_place() -> None:
    """A plane that rises with x: the panel's mean is its middle, known to the repeatability and the coarse grid."""
    plane = FieldMap((0.0, 100.0, 200.0), (0.0, 100.0), ((1.0, 1.1, 1.2), (1.0, 1.1, 1.2)), 0.01, 0.0)
    found = place_factor(plane, (0.0, 50.0), (100.0, 200.0, 0.0, 100.0))
    assert found.factor == pytest.approx(1.15)
    between = 0.25 * 0.1 / 1.15 / math.sqrt(3)
    assert found.standard == pytest.approx(1.15 * math.hypot(0.01 * math.sqrt(2), between))
    assert found.spread == pytest.approx(0.1 / math.sqrt(12), rel=0.05)


def test_the_usable_area_of_a_ramp_is_worked_out_by_hand() -> None:
    """From 1.0 to 2.0 over 200 mm: ±10 % fits the upper end, (2 - a)/(2 + a) = 0.1, a = 1.636."""
    ramp = FieldMap((0.0, 200.0), (0.0, 100.0), ((1.0, 2.0), (1.0, 2.0)), 0.0, 0.0)
    found = usable_area(ramp, 0.1, points=26)
    assert found.x_mm == (pytest.approx(128.0), pytest.approx(200.0))
    assert found.area_cm2 == pytest.approx(72.0)
    assert found.share == pytest.approx(0.36)


def test_an_even_field_is_usable_everywhere() -> None:
    """All of it."""
    even = FieldMap((0.0, 200.0), (0.0, 100.0), ((1.0, 1.0), (1.0, 1.0)), 0.0, 0.0)
    assert usable_area(even, 0.01).share == pytest.approx(1.0)


def test_a_walk_that_does_not_come_back_is_refused() -> None:
    """Drift cannot be known."""
    with pytest.raises(ValueError, match="read at least twice"):
        map_from([r for r in walk() if (r.x_mm, r.y_mm) != (0.0, 0.0)])


def test_a_hole_in_the_grid_is_named() -> None:
    """The message says where."""
    with pytest.raises(ValueError, match="no reading at x 100 mm, y 60 mm"):
        map_from([r for r in walk() if (r.x_mm, r.y_mm) != (100.0, 60.0)])


def test_places_outside_the_map_are_refused() -> None:
    """Nothing is known there."""
    with pytest.raises(ValueError, match="x_mm must lie between"):
        map_from(walk()).at(101.0, 0.0)
