"""The test strip with its sliding mask."""

import math

import pytest

from sumlight.craft.strip import strip, strip_between, threshold_between


def test_every_zone_gets_what_was_planned() -> None:
    """Adding up what each zone saw: a zone is open until the mask covers it."""
    found = strip(20.0, 1.4, 6)
    for zone, dose in enumerate(found.zone_doses_mj_cm2):
        assert math.fsum(p.dose_mj_cm2 for p in found.parts if p.covered <= zone) == pytest.approx(dose)


def test_zones_grow_by_the_same_factor() -> None:
    """Geometric, from first to last."""
    found = strip_between(10.0, 160.0, 5)
    assert found.zone_doses_mj_cm2 == pytest.approx((10, 20, 40, 80, 160))
    assert [p.dose_mj_cm2 for p in found.parts] == pytest.approx([10, 10, 20, 40, 80])


def test_the_mask_moves_on_by_one_zone() -> None:
    """The instruction says which zone to cover."""
    parts = strip(20.0, 1.4, 4).parts
    assert [p.covered for p in parts] == [0, 1, 2, 3]
    assert parts[2].sentence.startswith("Slide the mask over zone 2.")


def test_parts_too_short_for_the_lamps_are_warned_of() -> None:
    """20 mJ/cm² × 0.1 at 5 mW/cm² is 0.4 s."""
    assert "0.4 s" in strip(20.0, 1.1, 4, mw_cm2=5.0).warnings[0]
    assert strip(20.0, 1.5, 4, mw_cm2=5.0).warnings == ()


@pytest.mark.parametrize(("zone", "low", "high"), [(1, 0.0, 10.0), (3, 20.0, 40.0), (None, 160.0, math.inf)])
def test_the_threshold_lies_between_the_zones_that_part(zone: int | None, low: float, high: float) -> None:
    """First zone that held, or none."""
    assert threshold_between(strip_between(10.0, 160.0, 5), zone) == pytest.approx((low, high))


@pytest.mark.parametrize(
    ("first", "factor", "zones", "field"),
    [
        (0.0, 1.4, 5, "first_mj_cm2"),
        (10.0, 1.0, 5, "factor"),
        (10.0, 1.4, 2, "zones"),
        (math.nan, 1.4, 5, "first_mj_cm2"),
    ],
)
def test_strips_that_cannot_be_are_refused_by_field(first: float, factor: float, zones: int, field: str) -> None:
    """The message names the field."""
    with pytest.raises(ValueError, match=field):
        strip(first, factor, zones)
