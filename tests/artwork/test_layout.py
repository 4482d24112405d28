"""Films laid out together: judged by laying them onto a sheet of metal in thought, ink down."""

import numpy as np
import pytest
from scipy import ndimage

from sumlight.artwork.layout import ZONE_MM, lay_out, plain
from sumlight.artwork.sheet import from_mask
from tests.artwork.shapes import Mask, box

PITCH_UM = 100.0
ZONE, BORDER = round(ZONE_MM * 10), 50


def laid(black: str) -> tuple[Mask, Mask, Mask]:
    """A drawing of 40 × 30 mm, and both films as their ink lies on the metal, seen from the front."""
    drawing = box(400, 30, 40, 200, 90)[:300]
    films = lay_out(*(from_mask(drawing, PITCH_UM),) * 2, black, border_mm=5.0, names=("FRONT A", "BACK A"))
    assert films.metal_mm == pytest.approx((50.0, 40.0))
    front, back = (film.rows(0, film.height_px) for film in (films.front(), films.back()))
    # Ink down on the front turns a film over; ink down on the back turns it over and is looked at through the metal.
    return drawing, front[:, ::-1], back


@pytest.mark.parametrize("black", ["open", "metal"])
def test_front_and_back_meet_ink_on_metal(black: str) -> None:
    """Both show the drawing in the same place, and the same marks beyond the metal."""
    drawing, front, back = laid(black)
    around = ZONE + BORDER
    wanted = drawing if black == "open" else ~drawing
    for film in (front, back):
        assert np.array_equal(film[around:-around, around:-around], wanted)
        border = film[ZONE : ZONE + BORDER, ZONE:-ZONE]
        assert border.all() if black == "metal" else not border.any()
    assert np.array_equal(front[:ZONE], back[:ZONE])
    assert front[:ZONE].any()
    assert not np.array_equal(front[:ZONE], front[:ZONE, ::-1])  # a film laid upside down shows


def test_the_text_of_each_side_reads_right_from_outside() -> None:
    """The front's as it lies, the back's from behind: cut out, the same words have the same ink."""
    drawing = from_mask(np.zeros((300, 600), np.bool_), PITCH_UM)
    films = lay_out(drawing, drawing, "open", border_mm=5.0, names=("SIDE F", "SIDE F"), control_marks=False)
    front, back = (film.rows(film.height_px - ZONE, film.height_px) for film in (films.front(), films.back()))
    front = front[:, ::-1]
    middle = slice(2 * ZONE, -2 * ZONE)
    assert front[:, middle].any()
    assert np.array_equal(front[:, middle], back[:, ::-1][:, middle])
    left = front[:, middle]
    assert not np.array_equal(left, left[:, ::-1])


def test_sizes_and_borders_that_cannot_be_are_refused() -> None:
    """With field and bounds."""
    small, large = (from_mask(np.zeros((size, size), np.bool_), PITCH_UM) for size in (20, 30))
    with pytest.raises(ValueError, match="must be one size"):
        lay_out(small, large, "open", border_mm=5.0, names=("", ""))
    with pytest.raises(ValueError, match="border_mm"):
        lay_out(small, small, "open", border_mm=51.0, names=("", ""))


def test_control_marks_have_the_widths_that_they_are_for() -> None:
    """Lines and gaps of 500, 300, 200 µm as far as pixels and room allow, each field with one line alone beside it."""
    drawing = from_mask(np.zeros((100, 1000), np.bool_), 50.0)
    films = lay_out(drawing, drawing, "open", border_mm=5.0, names=("", ""))
    row = films.back().rows(round(ZONE_MM * 10), round(ZONE_MM * 10) + 1)[0]
    changes = np.flatnonzero(np.diff(row.astype(np.int8)))
    runs = np.diff(changes) * 50
    for width_um in (500, 300, 200, 150, 100):
        assert np.count_nonzero(runs == width_um) >= 9  # five lines and four gaps


def test_each_control_field_has_a_dot_alone_as_wide_as_its_lines() -> None:
    """A disc's area is π/4 of its square; the widest has 10 pixels across."""
    drawing = from_mask(np.zeros((100, 1600), np.bool_), 50.0)
    films = [
        lay_out(drawing, drawing, "open", border_mm=5.0, names=("", ""), control_marks=on).back()
        for on in (True, False)
    ]
    marks, bare = (film.rows(0, round(ZONE_MM * 20)) for film in films)
    labels, _count = ndimage.label(marks & ~bare)
    boxes = ndimage.find_objects(labels)
    round_ones = {}
    for number, (down, across) in enumerate(boxes, 1):
        if down.stop - down.start == across.stop - across.start:
            round_ones[across.stop - across.start] = int((labels[down, across] == number).sum())
    assert {10, 6, 4, 3, 2} <= set(round_ones)
    assert round_ones[10] == pytest.approx(np.pi / 4 * 100, rel=0.05)


def test_names_are_written_in_letters_that_there_are() -> None:
    """The built-in font has no others; what cannot be spelt is a question mark, never a box."""
    assert plain("Löwe 5 µm, café, 齿轮") == "Loewe 5 um, cafe, ??"
