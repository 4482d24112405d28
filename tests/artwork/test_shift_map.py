"""The map of a sheet that was bent in a known way (closed form): within 3 µm rms, whichever way it lies."""

from functools import cache

import numpy as np
import pytest

from sumlight.artwork.compare import Comparison, compare
from sumlight.artwork.comparedwords import shift_map
from tests.artwork.bent_sheets import HEIGHT, WIDTH, bent, bowed, left_over_um, openings, points_px, scan_of
from tests.artwork.known_scans import Lying, sheet_of

BEND = bowed(4.0, -3.0, 2.0)


@cache
def compared(*, mirrored: bool) -> Comparison:
    """A bent sheet against the straight one."""
    shapes = openings()
    lying = Lying(-1.5 if mirrored else 2.0, mirrored=mirrored)
    return compare(scan_of(bent(shapes, BEND), lying), sheet_of(shapes, WIDTH, HEIGHT))


@pytest.mark.parametrize("mirrored", [False, True])
def test_a_known_bend_is_what_the_map_shows(mirrored: bool) -> None:
    """5 × 7 places, up to some 60 µm off; turn and shift are no fault of the sheet."""
    done = compared(mirrored=mirrored)
    assert done.affine.mirrored is mirrored
    points = points_px([(one.x_mm, one.y_mm) for one in done.places])
    expected = left_over_um(points, BEND(points))
    found = np.array([(one.off_x_um, one.off_y_um) for one in done.places])
    assert len(found) == 35
    assert np.abs(expected).max() > 60
    assert np.sqrt(((found - expected) ** 2).mean()) < 3.0  # the goal at 1200 dpi is 5 µm
    assert found == pytest.approx(expected, abs=8.0)  # a corner is told by what lies on one side of it
    assert done.bends_um > 50


def test_the_map_is_printed_row_by_row() -> None:
    """Its heading, a row for each height with a pair of numbers for each column, and how to see what it does."""
    done = compared(mirrored=True)
    lines = shift_map(done)
    assert len(lines) == 9
    for number, line in enumerate(lines[1:8]):
        cells = line.partition(":")[2].replace("+", " ").replace("-", " -").split()
        row = done.places[5 * number : 5 * number + 5]
        assert [float(one) for one in cells] == [round(um) for place in row for um in (place.off_x_um, place.off_y_um)]
    assert f"--shift {done.worst.off_um:.0f}um,0um" in lines[8]
