"""What to draw: published and worked examples, and a front stepped in time that shares no code with the program."""

import numpy as np
import pytest
from shapely import Point, Polygon, union_all
from shapely import box as shapely_box

from sumlight.artwork.compensate import Compensated, Wanted, compensate
from sumlight.artwork.sheet import Mask, from_mask
from tests.artwork import front_in_time
from tests.artwork.shapes import box, disc, stripe
from tests.artwork.test_clean import pixels

PITCH = 25_400 / 1200


def slot(width_px: int) -> Mask:
    """From edge to edge, 1 µm a pixel."""
    made = np.zeros((12, 600), np.bool_)
    made[:, 300 - width_px // 2 : 300 + width_px // 2] = True
    return made


@pytest.mark.parametrize(
    ("at", "over_etch", "draws_um"),
    [("surface", 1.0, 225), ("waist", 1.0, 300), ("waist", 1.2, 250), ("waist", 1.5, 216)],
)
def test_a_slot_of_300_um_in_150_um_is_drawn_as_worked_by_hand(at: str, over_etch: float, draws_um: float) -> None:
    """F 2; the first is the handbook rule, finished - 2·T/(2·F)."""
    done = compensate(from_mask(slot(300), 1.0), Wanted(150, 2.0, over_etch=over_etch, wanted_at=at))
    assert np.count_nonzero(pixels(done.sheet)[6]) == pytest.approx(draws_um, abs=1)
    assert done.impossible_mm2 == 0


def judged(
    wanted: Mask, done: Compensated, thickness_um: float, factor: float, over_etch: float
) -> tuple[float, float]:
    """Largest way of the judge's outline from the wanted one, in pixels, where nothing was marked; and share marked."""
    lines = front_in_time.part(pixels(done.sheet), PITCH, thickness_um, factor, over_etch)
    places, inside = front_in_time.outline(wanted)
    on_mark = pixels(done.impossible)[*inside.T]
    off = front_in_time.off_px(places, lines)
    return float(off[~on_mark].max()), float(on_mark.mean())


@pytest.mark.parametrize(("factor", "over_etch"), [(1.0, 1.2), (1.0, 1.5), (1.5, 1.5), (3.0, 1.2)])
def test_the_wanted_outline_comes_out_of_a_front_stepped_in_time(factor: float, over_etch: float) -> None:
    """Within one pixel of the part wanted, but where it was marked as impossible, which is little."""
    wanted = disc(48, 12)
    wanted[6:15, 3:45] = True
    wanted |= stripe(48, 8, 35)
    done = compensate(from_mask(wanted, PITCH), Wanted(100, factor, over_etch=over_etch))
    furthest, marked = judged(wanted, done, 100, factor, over_etch)
    assert furthest <= 1.0
    assert marked <= 0.1


def test_the_judge_sees_a_drawing_that_was_not_compensated() -> None:
    """By the 33 µm that an edge moves at F 1, T 100, k 1.2: 1.57 pixels too far, at corners of metal √2 of it."""
    wanted = disc(64, 13)
    plain = Compensated(
        from_mask(wanted, PITCH), Wanted(100, 1.0).grown, 0.0, from_mask(wanted & ~wanted, PITCH), 0, ()
    )
    furthest, _marked = judged(wanted, plain, 100, 1.0, 1.2)
    assert 1.56 < furthest < 1.57 * np.sqrt(2)


@pytest.mark.parametrize("factor", [1.0, 1.5, 3.0])
@pytest.mark.parametrize("over_etch", [1.2, 1.5])
def test_the_front_in_time_comes_where_geometry_says(factor: float, over_etch: float) -> None:
    """A square, a single pixel, a stair at 45°, a bar of metal: every point of an opening is the centre of a sphere,
    sideways F times flatter, whose section half way down is a circle (Steiner's offsets, by shapely)."""
    square, stair = box(30, 8, 8, 22, 22), np.zeros((30, 30), np.bool_)
    stair[5:22, 5:22] = np.tri(17, dtype=np.bool_)
    for opening in (square, box(30, 15, 15, 16, 16), stair, square & ~box(30, 12, 0, 19, 30)):
        by_px = np.sqrt((50 * over_etch) ** 2 - 50**2) / factor / PITCH
        march = front_in_time.etched(opening, PITCH, 50, 50 * over_etch, factor)
        exact = front_in_time.grown(opening, by_px)
        for one, other in ((march, exact), (exact, march)):
            assert front_in_time.off_px(np.concatenate(one), other).max() <= front_in_time.OFF_PX


def test_the_exact_judge_grows_by_steiners_formula() -> None:
    """A square of 10 pixels by 1: 143.14 pixels of area, and 46.28 around (craft reference A11: A + P·r + π·r²)."""
    (line,) = front_in_time.grown(box(20, 5, 5, 15, 15), 1.0)
    polygon = Polygon(line)
    assert polygon.area == pytest.approx(100 + 40 + np.pi, abs=1e-3)
    assert polygon.length == pytest.approx(40 + 2 * np.pi, abs=1e-3)


def test_the_judge_tells_ways_to_a_hundredth_of_a_pixel() -> None:
    """A square wanted, and one grown by 0.37 pixels: so far at its sides, and at its corners."""
    wanted = box(20, 5, 5, 15, 15)
    off = front_in_time.off_px(front_in_time.outline(wanted)[0], front_in_time.grown(wanted, 0.37))
    assert off.min() == pytest.approx(0.37, abs=1e-3)
    assert off.max() == pytest.approx(0.37, abs=1e-3)


def test_what_film_and_light_add_is_taken_off_too() -> None:
    """Twelve µm at each edge more, or so much less that openings are drawn wider; within a pixel of 1 µm at each."""
    bare = np.count_nonzero(pixels(compensate(from_mask(slot(300), 1.0), Wanted(150, 2.0)).sheet)[6])
    for bias in (12.0, -60.0):
        done = compensate(from_mask(slot(300), 1.0), Wanted(150, 2.0, bias_um=bias))
        assert np.count_nonzero(pixels(done.sheet)[6]) == pytest.approx(bare - 2 * bias, abs=2)
        assert done.impossible_mm2 == 0
    with pytest.raises(ValueError, match="bias_um"):
        compensate(from_mask(slot(300), 1.0), Wanted(150, 2.0, bias_um=1e3))


def test_the_tip_of_a_slanted_slot_is_marked_where_it_stays_behind() -> None:
    """Exact offsets by shapely: no corner of a pixel that is not marked stays more than a pixel behind."""
    wanted = np.zeros((24, 30), np.bool_)
    for row, left in enumerate((15, 12, 8, 4, 4, 4, 4, 4, 4, 4), start=6):
        wanted[row, left:16] = True
    done = compensate(from_mask(wanted, PITCH), Wanted(100, 1.5))
    drawn = union_all([shapely_box(x, y, x + 1, y + 1) for y, x in np.argwhere(pixels(done.sheet))])
    part = drawn.buffer(done.moves_um / PITCH, quad_segs=64)
    kept = np.argwhere(wanted & ~pixels(done.impossible))
    corners = [(x + i, y + j) for y, x in kept for i in (0, 1) for j in (0, 1)]
    assert max(part.distance(Point(corner)) for corner in corners) <= 1.0
    assert pixels(done.impossible)[6, 15]
    assert pixels(done.impossible).sum() <= 6


def test_what_is_too_narrow_is_marked_with_the_least_that_works() -> None:
    """T 100, F 1, k 1.5: the waist moves by 55.9 µm, so that a slot of 80 µm cannot be; 2 · 55.9 + 50 can."""
    wanted = box(200, 20, 20, 28, 180) | box(200, 80, 20, 120, 180)
    done = compensate(from_mask(wanted, 10.0), Wanted(100, 1.0, over_etch=1.5))
    narrow = next(one for one in done.findings if one.kind == "too_narrow")
    assert narrow.count == 1
    assert (narrow.places[0].x_mm, narrow.places[0].y_mm) == (pytest.approx(0.24), pytest.approx(1.0))
    assert "162 µm wide or more" in narrow.remedy
    corner = next(one for one in done.findings if one.kind == "corner")
    assert "radius of 56 µm" in corner.words
    assert corner.count == 4


def test_a_line_whose_surface_goes_is_told() -> None:
    """T 100, F 1, k 1.2: the surface moves 60 - 33 = 27 µm further at each edge: a line of 40 µm keeps no surface."""
    wanted = ~box(300, 148, 0, 152, 300)
    done = compensate(from_mask(wanted, 10.0), Wanted(100, 1.0))
    eaten = next(one for one in done.findings if one.kind == "line_eaten")
    assert eaten.places[0].size_um == 40
    assert "wider than 54 µm" in eaten.remedy
    wide = compensate(from_mask(~box(300, 140, 0, 160, 300), 10.0), Wanted(100, 1.0))
    assert [one.kind for one in wide.findings] == []


def test_a_drawn_opening_that_does_not_print_is_told() -> None:
    """A slot of 100 µm is drawn 34 µm wide (T 100, F 1, k 1.2); 50 is the least that prints."""
    done = compensate(from_mask(box(200, 95, 0, 105, 200), 10.0), Wanted(100, 1.0))
    told = next(one for one in done.findings if one.kind == "does_not_print")
    assert told.places[0].size_um == pytest.approx(34, abs=10)
    just = compensate(from_mask(box(200, 95, 0, 106, 200), 10.0), Wanted(100, 1.0))
    assert [one.kind for one in just.findings] == []  # three pixels go at each edge: 50 µm are left, and print


@pytest.mark.parametrize("rows", [5, 31])
def test_tiles_and_the_whole_draw_the_same(monkeypatch: pytest.MonkeyPatch, rows: int) -> None:
    """With their halo."""
    sheet = from_mask(disc(160, 40) ^ stripe(160, 9, 25), 10.0)
    whole = compensate(sheet, Wanted(150, 1.0))
    monkeypatch.setattr("sumlight.artwork.picture.LEAST_ROWS", rows)
    monkeypatch.setattr("sumlight.artwork.picture.STRIP_PIXELS", 160 * rows)
    tiled = compensate(sheet, Wanted(150, 1.0))
    assert np.array_equal(pixels(tiled.sheet), pixels(whole.sheet))
    assert np.array_equal(pixels(tiled.impossible), pixels(whole.impossible))
    assert tiled.findings == whole.findings
