"""Front and back that lie off each other, by closed form: two ellipses, or one beside a flat floor."""

import math

import numpy as np
import pytest

from sumlight.artwork import predict
from sumlight.artwork.behind import shifted
from sumlight.artwork.front import build
from sumlight.artwork.prior import factor_band
from sumlight.artwork.sheet import from_mask
from sumlight.craft.etching.registration import laid_off


@pytest.mark.parametrize(
    ("thickness", "factor", "over_etch", "off"), [(150.0, 1.0, 1.2, 40.0), (100.0, 2.0, 1.5, 30.0)]
)
def test_two_fronts_meet_where_the_ellipses_cross(
    thickness: float, factor: float, over_etch: float, off: float
) -> None:
    """Squared twice, sqrt(R² - (W-H)²) + sqrt(R² - (W+H)²) = T gives W² = (R² - T²/4 - H²)/(1 + 4H²/T²), W = F·w."""
    reach, high = over_etch * thickness / 2, factor * off / 2
    wide = math.sqrt((reach**2 - thickness**2 / 4 - high**2) / (1 + 4 * high**2 / thickness**2))
    assert wide >= high  # beyond both drawn edges, where both walls are ellipses
    narrower = 2 * (math.sqrt(reach**2 - thickness**2 / 4) - wide) / factor
    found = laid_off(thickness, factor, off, over_etch=over_etch)
    assert (found.step_um, found.narrower_um) == pytest.approx((off, narrower), abs=1e-6)


def test_further_off_a_front_meets_the_floor_of_the_other_opening() -> None:
    """Where one side is open its depth is R: sqrt(R² - F²(w + s/2)²) = T - R (T 150, k 1.2, F 1, s 120)."""
    beyond = math.sqrt(90.0**2 - 60.0**2) - 60.0
    assert beyond < 60
    narrower = 2 * (math.sqrt(90.0**2 - 75.0**2) - beyond)
    assert laid_off(150.0, 1.0, 120.0).narrower_um == pytest.approx(narrower, abs=1e-6)


def test_sides_that_meet_lose_nothing_and_impossible_ones_are_refused() -> None:
    """By definition; with the field."""
    found = laid_off(150.0, 2.0, 0.0)
    assert (found.step_um, found.narrower_um) == (0.0, 0.0)
    for wrong in (-1.0, 5001.0, math.nan):
        with pytest.raises(ValueError, match="off_um"):
            laid_off(150.0, 2.0, wrong)


def test_the_part_of_a_picture_loses_as_much() -> None:
    """A slot of 2 × 6 mm: the sum over its pixels, which share the depths but none of this, is narrower by it."""
    mask = np.zeros((800, 500), np.bool_)
    mask[100:700, 150:350] = True
    drawn, made, factors = from_mask(mask, 10.0), build("sheet", 150.0), factor_band(1.5)
    across = []
    for back in (None, shifted(drawn, 80.0, 0.0)):
        levels = np.concatenate(list(predict.levels_of(drawn, back, made, factors)))
        across.append(np.count_nonzero(levels[400] == predict.THROUGH) * 10.0)
    # Whole pixels, a half at each of two edges of two pictures.
    assert across[0] - across[1] == pytest.approx(laid_off(150.0, 1.5, 80.0).narrower_um, abs=20.0)
    assert laid_off(150.0, 1.5, 80.0).narrower_um > 40.0
