"""Tabs: what would fall out holds, by scipy's labels of the part; each is as wide as asked where it is thinnest."""

import numpy as np
import pytest
from scipy import ndimage

from sumlight.artwork.check import etched_through
from sumlight.artwork.front import build
from sumlight.artwork.sheet import Mask, from_mask
from sumlight.artwork.tabs import with_tabs
from tests.artwork.shapes import disc

PITCH_UM, THICKNESS_UM = 25.0, 150.0
MADE = build("sheet", THICKNESS_UM)


def ring(size_px: int = 400, outer_px: float = 150, inner_px: float = 120) -> Mask:
    """An opening all around a disc."""
    return disc(size_px, outer_px) & ~disc(size_px, inner_px)


def pieces(mask: Mask, factor: float = 1.0) -> int:
    """Pieces of metal of the part, by edges."""
    through = etched_through(from_mask(mask, PITCH_UM), None, MADE, factor).rows(0, mask.shape[0])
    return int(ndimage.label(~through)[1])


@pytest.mark.parametrize("each", [2, *(pytest.param(one, marks=pytest.mark.campaign) for one in (1, 4))])
def test_a_disc_is_held_by_as_many_tabs_as_asked(each: int) -> None:
    """Also where the bath eats furthest; without tabs it falls out."""
    assert pieces(ring()) == 2
    done = with_tabs(from_mask(ring(), PITCH_UM), MADE, 1.0, each)
    made = done.sheet.rows(0, 400)
    assert (done.count, pieces(made)) == (each, 1)
    openings = etched_through(done.sheet, None, MADE, 1.0).rows(0, 400)
    assert ndimage.label(openings, np.ones((3, 3)))[1] == max(1, each)
    assert not (made & ~ring()).any()


def test_a_tab_keeps_the_thickness_as_its_width() -> None:
    """The surface is eaten on both sides by R/F (Steiner): in the middle of the ring the thickness is left of it."""
    done = with_tabs(from_mask(ring(), PITCH_UM), MADE, 1.5, 1)
    made = done.sheet.rows(0, 400)
    angles = np.linspace(0, 2 * np.pi, 20_000)
    x, y = (np.rint(199.5 + 135 * one).astype(int) for one in (np.cos(angles), np.sin(angles)))
    drawn_um = (~made[y, x]).mean() * 2 * np.pi * 135 * PITCH_UM
    assert drawn_um - 2 * MADE.front_reach_um / 1.5 == pytest.approx(THICKNESS_UM, abs=2 * PITCH_UM)


def test_a_piece_within_a_piece_is_held_by_it() -> None:
    """Two rings, one within the other: four tabs, one piece; dust is let go."""
    mask = ring(600, 280, 250) | np.pad(ring(400, 150, 120), 100)
    mask |= np.pad(disc(60, 28) & ~disc(60, 12), 270)
    done = with_tabs(from_mask(mask, PITCH_UM), MADE, 1.0, 2)
    assert done.count == 4
    made = done.sheet.rows(0, 600)
    # No bar goes further than over one opening of 30 px, what the bath eats at both ends, and the metal beyond.
    most_px = 4 * (THICKNESS_UM + 2 * MADE.front_reach_um) / PITCH_UM * (30 + 10)
    assert (mask & ~made).sum() <= most_px
    assert pieces(done.sheet.rows(0, 600)) == 2


def test_nothing_is_added_where_nothing_falls_out() -> None:
    """Or where none was asked for; more than twelve are refused."""
    hole = from_mask(disc(200, 40), PITCH_UM)
    assert with_tabs(hole, MADE, 1.0, 4).count == 0
    assert with_tabs(from_mask(ring(), PITCH_UM), MADE, 1.0, 0).count == 0
    with pytest.raises(ValueError, match="tabs"):
        with_tabs(hole, MADE, 1.0, 13)


def test_a_back_of_its_own_gets_the_same_tabs() -> None:
    """A bridge on one side alone would be etched from the other."""
    front, back = from_mask(ring(), PITCH_UM), from_mask(ring(), PITCH_UM)
    done = with_tabs(front, MADE, 1.0, 2, back)
    assert done.count == 2
    assert done.back is not None
    assert np.array_equal(done.back.packed, done.sheet.packed)
    assert not np.array_equal(done.back.packed, back.packed)
