"""What is drawn for openings whose edges move: within a pixel of what is wanted by exact offsets, or marked."""

import numpy as np
import pytest

from sumlight.artwork.sheet import Mask
from sumlight.artwork.shrink import shrunk
from tests.artwork import front_in_time
from tests.artwork.shapes import box, disc, stripe

SIZE = 56


def jumble(number: int) -> Mask:
    """Openings of any size and place that cross, with lines, wedges and single pixels of metal between them."""
    chance = np.random.default_rng(number)
    made = np.zeros((SIZE, SIZE), np.bool_)
    for _ in range(5):
        x, y = chance.integers(10, 34, 2)
        wide, high = chance.integers(1, 14, 2)
        made |= box(SIZE, x, y, x + wide, y + high)
        made ^= np.roll(stripe(SIZE, float(chance.uniform(1, 6)), float(chance.uniform(0, 180))), 3, 0)
    made ^= disc(SIZE, float(chance.uniform(2, 9)))
    made[:8], made[-8:], made[:, :8], made[:, -8:] = False, False, False, False
    return made


def furthest(wanted: Mask, by_px: float) -> tuple[float, Mask]:
    """How far the part is from the wanted outline where nothing is marked; and what is."""
    drawn, missed = shrunk(wanted, by_px)
    places, inside = front_in_time.outline(wanted)
    off = front_in_time.off_px(places, front_in_time.grown(drawn, by_px))
    return float(off[~missed[*inside.T]].max(initial=0)), missed


@pytest.mark.parametrize("by_px", [0.3, 0.52, 0.88, 1.04, 1.57, 2.32, 2.64, 3.5])
def test_every_place_is_within_a_pixel_or_marked(by_px: float) -> None:
    """Ways whose rounding to whole pixels is large and small, half up and half down."""
    for number in range(6):
        assert furthest(jumble(number), by_px)[0] <= 1.0, number


@pytest.mark.parametrize("by_px", [0.52, 0.88, 1.57, 2.64])
def test_the_corner_of_a_wide_opening_comes_out(by_px: float) -> None:
    """An edge drawn at whole pixels leaves a right angle up to 1.6 pixels behind; a single pixel more reaches there."""
    worst, missed = furthest(box(40, 10, 10, 30, 30), by_px)
    assert worst <= 1.0
    assert not missed.any()


def test_a_corner_that_no_drawing_reaches_is_marked_and_nothing_else() -> None:
    """Edges that move by 6 pixels: a square of 13 pixels grown by that (half of what is drawn) is short of the corner
    by 6·(√2 - 1), 2.5 pixels, and even a pixel nearer to both edges by (√2 - 1)·5 = 2.1."""
    worst, missed = furthest(box(60, 20, 20, 40, 40), 6.0)
    assert worst <= 1.0
    assert missed[20, 20]
    assert missed[20, 39]
    assert not missed[20, 30]
    assert 4 <= missed.sum() <= 4 * 9


def test_a_wedge_of_metal_keeps_its_tip() -> None:
    """Two slots that meet at 45°: the tip between them went 1.23 pixels back when distances were between middles."""
    wanted = np.zeros((40, 40), np.bool_)
    for row in range(8, 32):
        wanted[row, 8 : min(8 + 2 * (row - 8) + 2, 32)] = True
    wanted[8:32, 26:32] = True
    worst, missed = furthest(wanted, 0.88)
    assert worst <= 1.0
    assert missed.sum() <= 2


@pytest.mark.parametrize("by_px", [0.5, 1.0, 1.5, 2.6, 4.4])
def test_no_middle_of_a_line_of_metal_of_one_pixel_is_etched(by_px: float) -> None:
    """Its outline is half a pixel from there."""
    wanted = box(40, 8, 8, 32, 32)
    wanted[20] = False
    wanted[8:20, 20] = False
    worst, _missed = furthest(wanted, by_px)
    assert worst <= 1.0


def test_edges_that_do_not_move_are_drawn_as_they_are() -> None:
    """By nothing."""
    wanted = jumble(1)
    drawn, missed = shrunk(wanted, 0.0)
    assert np.array_equal(drawn, wanted)
    assert not missed.any()
