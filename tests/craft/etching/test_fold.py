"""Fold lines: the groove's section is built from its walls and bent in thought (shapely), which shares no sum."""

import numpy as np
import pytest
from shapely import Polygon, box
from shapely.affinity import rotate

from sumlight.craft.etching.fold import Fold, groove


def halves(thickness_um: float, factor: float, over_etch: float, drawn_um: float) -> tuple[Polygon, Polygon]:
    """Metal left and right of the groove's middle: a wall is a quarter of an ellipse, R deep and R/F wide.

    The surface is up, and the middle of the groove's floor is the origin.
    """
    reach = over_etch * thickness_um / 2
    turns = np.linspace(0, np.pi / 2, 400)
    wall = list(zip(drawn_um / 2 + reach / factor * np.sin(turns), reach * (1 - np.cos(turns)), strict=True))
    far, below = 20 * thickness_um, reach - thickness_um
    right = Polygon([(0, 0), *wall, (far, reach), (far, below), (0, below)])
    return Polygon([(-x, y) for x, y in right.exterior.coords]), right


@pytest.mark.parametrize("angle", [45.0, 90.0, 120.0])
@pytest.mark.parametrize(("factor", "over_etch"), [(1.5, 1.2), (3.0, 1.2), (3.0, 1.0)])
def test_the_edges_of_a_groove_meet_just_at_its_angle(angle: float, factor: float, over_etch: float) -> None:
    """Two degrees before both halves stand clear above the floor; two degrees after they run into each other."""
    thickness = 150.0
    found = groove(thickness, factor, angle, over_etch=over_etch, smallest_printed_um=0.001)
    left, right = halves(thickness, factor, over_etch, found.drawn_um)
    above = box(-1e5, 1e-3, 1e5, 1e5)

    def overlap_um2(bent_deg: float) -> float:
        # What is bent below the floor is the hinge, which is no rigid body.
        one = rotate(left.intersection(above), -bent_deg / 2, origin=(0, 0))
        other = rotate(right.intersection(above), bent_deg / 2, origin=(0, 0))
        return float(one.intersection(other).area)

    if found.drawn_um > 0.002:  # else the bath alone makes it wider than the angle needs
        assert overlap_um2(angle + 2) > 1.0
    assert overlap_um2(angle - 2) < 0.1
    assert found.width_um == pytest.approx(found.drawn_um + 2 * over_etch * thickness / 2 / factor)


def test_a_right_angle_takes_the_thickness_and_half_of_it_is_left() -> None:
    """At k 1, as such lines are commonly drawn (common practice, no source); F 2 leaves 50 of 100 µm to draw."""
    found = groove(100.0, 2.0, over_etch=1.0)
    assert (found.width_um, found.drawn_um) == pytest.approx((100.0, 50.0))
    assert (found.depth_um, found.left_um) == (50.0, 50.0)


def test_what_film_and_light_widen_is_drawn_narrower_and_never_below_what_prints() -> None:
    """T 150, k 1.2, F 3: 180 wide, 60 by the bath, 10 by each edge; at F 1 the bath alone makes all of it."""
    assert groove(150.0, 3.0, bias_um=10.0).drawn_um == pytest.approx(100.0)
    wide = groove(150.0, 1.0)
    assert (wide.drawn_um, wide.width_um) == pytest.approx((50.0, 230.0))


def test_what_cannot_be_folded_is_refused() -> None:
    """With the field, what is allowed and what to do."""
    with pytest.raises(ValueError, match="go through: with over-etch k = 2"):
        groove(150.0, 2.0, over_etch=2.0)
    for wrong, told in (
        (("left", 1, 1, 2, 2), "towards must be one of front, back"),
        (("front", -1, 1, 2, 2), "x_mm must lie between 0"),
        (("front", 1, 1, 1, 1.05), "both ends, 0.1 mm apart or more"),
        (("front", 1, 1, 2, 2, 180), "two lines side by side"),
    ):
        with pytest.raises(ValueError, match=told):
            Fold(*wrong)
