"""What is wrong with artwork: widths by exact geometry, pieces by scikit-image, halftones by making some."""

import numpy as np
import pytest
from PIL import Image
from skimage import measure

from sumlight.artwork import front, prior
from sumlight.artwork.check import Checked, Finding, check, loose
from sumlight.artwork.regions import EIGHT, FOUR, metal_of, pieces_by_row, regions
from sumlight.artwork.runs import widths
from sumlight.artwork.sheet import Mask, Sheet, Tones, from_mask
from tests.artwork.shapes import box, disc, drawn, stripe


def tones_of(grey: np.ndarray[tuple[int, ...], np.dtype[np.uint8]]) -> Tones:
    """By another way than the program's."""
    return Tones(np.histogram(grey, bins=256, range=(0, 256))[0].astype(np.int64))


def checked(mask: Mask, pitch_um: float = 20.0, **more: object) -> Checked:
    """A clean black and white picture, checked."""
    grey = np.where(mask, 0, 255).astype(np.uint8)
    return check(from_mask(mask, pitch_um), tones_of(grey), **more)  # type: ignore[arg-type]


def found(of: Checked, kind: str) -> Finding | None:
    """The finding of a kind."""
    return next((one for one in of.findings if one.kind == kind), None)


@pytest.mark.parametrize("connected", [FOUR, EIGHT])
@pytest.mark.parametrize("rows", [1, 3, 16, 64])
def test_pieces_are_those_of_a_foreign_library_however_the_sheet_is_cut(connected: int, rows: int) -> None:
    """scikit-image labels the whole picture; ours comes in strips: same pieces, areas, boxes and edges."""
    mask = np.random.default_rng(7).random((64, 90)) < 0.45
    theirs = measure.label(mask, connectivity=1 if connected == FOUR else 2)
    props = measure.regionprops(theirs)

    def parts() -> list[Mask]:
        return [mask[first : first + rows] for first in range(0, 64, rows)]

    ours = regions(parts, connected)
    boxes = zip(ours.top, ours.left, ours.bottom, ours.right, ours.area_px, strict=True)
    assert sorted(tuple(map(int, one)) for one in boxes) == sorted((*one.bbox, int(one.area)) for one in props)
    edge = np.concatenate((theirs[0], theirs[-1], theirs[:, 0], theirs[:, -1]))
    assert sorted(ours.edge_px[ours.edge_px > 0]) == sorted(np.bincount(edge)[1:][np.bincount(edge)[1:] > 0])
    numbers = np.concatenate(list(pieces_by_row(parts, connected, ours)))
    pairs = {(int(one), int(other)) for one, other in zip(numbers.ravel(), theirs.ravel(), strict=True)}
    assert len(pairs) == len(props) + 1
    assert (-1, 0) in pairs


@pytest.mark.parametrize("width", [3.0, 5.0, 9.0, 10.0, 24.0])
@pytest.mark.parametrize("degrees", [0.0, 10.0, 22.5, 45.0, 60.0, 90.0, 135.0])
def test_the_width_of_a_line_at_any_angle(width: float, degrees: float) -> None:
    """Of its drawn width: at most 1/cos 22.5° too large, and a pixel's digits either way."""
    sheet = from_mask(stripe(160, width, degrees), 20.0)
    for of_open, mask in ((True, sheet), (False, Sheet(~sheet.packed, 160, 20.0))):
        least = widths(mask, of_open, 40).width_px.min()
        assert width - 1.5 <= least <= width * 1.083 + 1.0


@pytest.mark.parametrize("radius", [3.0, 6.5, 15.0, 60.0])
def test_a_disc_is_as_wide_as_its_diameter(radius: float) -> None:
    """At its top runs are short, and mean nothing."""
    least = widths(from_mask(disc(160, radius), 20.0), True, 150).width_px.min()
    assert 2 * radius * 0.93 - 1.5 <= least <= 2 * radius + 1.0


def test_widths_do_not_depend_on_how_the_sheet_is_cut(monkeypatch: pytest.MonkeyPatch) -> None:
    """In strips of 16 rows and whole."""
    mask = stripe(200, 7, 30) | disc(200, 20) | box(200, 10, 150, 60, 158)
    whole = widths(from_mask(mask, 20.0), True, 30)
    monkeypatch.setattr("sumlight.artwork.picture.STRIP_PIXELS", 200 * 16)
    cut = widths(from_mask(mask, 20.0), True, 30)
    assert sorted(zip(*vars(whole).values(), strict=True)) == sorted(zip(*vars(cut).values(), strict=True))


def test_the_smallest_places_are_found_where_they_are() -> None:
    """A gap of 6 px at x 100.5, a line of 8 px at y 40, a hole of 12 px square: at 20 µm a pixel."""
    mask = box(300, 0, 0, 0, 0) | box(300, 97, 100, 103, 280) | box(300, 150, 10, 280, 36) | box(300, 150, 44, 280, 80)
    mask |= box(300, 20, 20, 32, 32)
    of = checked(mask)
    assert of.smallest_gap is not None
    assert (of.smallest_gap.size_um, of.smallest_gap.x_mm) == (120, pytest.approx(2.0, abs=0.02))
    assert of.smallest_line is not None
    assert (of.smallest_line.size_um, of.smallest_line.y_mm) == (160, pytest.approx(0.8, abs=0.02))
    assert of.smallest_hole is not None
    assert of.smallest_hole.size_um == pytest.approx(20 * np.sqrt(4 * 144 / np.pi))
    assert (of.smallest_hole.x_mm, of.smallest_hole.y_mm) == pytest.approx((0.52, 0.52))


def test_specks_and_pinholes_have_their_places_and_a_remedy() -> None:
    """Three specks of 3 px and one pinhole of 2 px, at 20 µm; a hole of 200 µm is none."""
    mask = box(200, 100, 100, 180, 180)
    for at in (10, 40, 70):
        mask |= box(200, at, 20, at + 3, 23)
    mask &= ~box(200, 140, 140, 142, 142)
    mask |= box(200, 20, 150, 30, 160)
    of = checked(mask)
    dust, island = found(of, "speck"), found(of, "island")
    assert dust is not None
    assert island is not None
    assert (dust.count, island.count) == (3, 1)
    assert [place.x_mm for place in dust.places] == pytest.approx([0.23, 0.83, 1.43])
    assert [place.y_mm for place in dust.places] == pytest.approx([0.43] * 3)
    assert "Clean" in dust.remedy


def frame_with_tab(tab_px: int) -> Mask:
    """A disc of metal in a round opening, held by one tab; 10 µm a pixel."""
    half = 150
    ring = drawn(300, 300, lambda x, y: (x - half) ** 2 + (y - half) ** 2 <= 100**2)
    ring &= ~drawn(300, 300, lambda x, y: (x - half) ** 2 + (y - half) ** 2 <= 60**2)
    return ring & ~box(300, 150, half - tab_px // 2, 300, half + tab_px // 2)


@pytest.mark.parametrize(("tab_px", "falls"), [(6, True), (30, False)])
def test_a_tab_that_undercut_eats_holds_nothing(tab_px: int, falls: bool) -> None:
    """T 100, k 1.2, F 1: reach 60, waist sqrt(60² - 50²) = 33 µm an edge. 60 µm are eaten, 300 µm stay."""
    sheet = from_mask(frame_with_tab(tab_px), 10.0)
    assert not loose(metal_of(sheet)).any()  # as drawn it is held: only the grown openings tell
    made = front.build("sheet", 100.0)
    of = checked(frame_with_tab(tab_px), 10.0, made=made, factors=prior.factor_band(None))
    apart = found(of, "falls_apart")
    assert (apart is not None) == falls
    if apart is not None:
        assert apart.count == 1
        assert (apart.places[0].x_mm, apart.places[0].y_mm) == pytest.approx((1.5, 1.5), abs=0.2)
        assert "tabs" in apart.remedy


def test_metal_that_only_touches_at_a_corner_is_loose() -> None:
    """Two squares corner to corner hold nothing (craft reference A11, duality)."""
    metal = box(40, 0, 0, 20, 20) | box(40, 20, 20, 40, 40)
    assert int(loose(metal_of(from_mask(~metal, 10.0))).sum()) == 1


def test_too_small_for_the_thickness_names_the_rule() -> None:
    """A hole needs 1.1 T, a line 0.8 T in brass (rules as makers publish them): 300 µm brass, both of 200 µm."""
    mask = box(200, 20, 20, 30, 30) | box(200, 100, 20, 140, 180) | box(200, 150, 20, 190, 180)
    of = checked(mask, made=front.build("sheet", 300.0), factors=prior.factor_band(1.5))
    hole, line = found(of, "small_hole"), found(of, "small_line")
    assert hole is not None
    assert line is not None
    assert hole.remedy.startswith("330 µm at least: hole at least 1.1 T")
    assert line.remedy.startswith("240 µm at least: line at least 0.8 T")
    small = checked(mask, made=front.build("sheet", 100.0), factors=prior.factor_band(1.5))
    assert found(small, "small_hole") is None
    assert found(small, "small_line") is None


def gradient() -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    """From black to white."""
    return np.tile(np.linspace(0, 255, 400), (300, 1)).astype(np.uint8)


def screened(size: int) -> Mask:
    """Dots on a grid that grow with the tone, as a printer's screen makes them."""
    y, x = np.mgrid[0:300, 0:400]
    grey = gradient()
    middle = ((x % size) - size / 2) ** 2 + ((y % size) - size / 2) ** 2
    return np.asarray(middle < (1 - grey / 255.0) * size**2 / np.pi)


def test_halftones_are_no_line_art() -> None:
    """A photograph, Pillow's own dither, a screen; and nothing else is said of them."""
    grey = gradient()
    photo = check(from_mask(grey < 128, 20.0), tones_of(grey))
    dithered = np.asarray(Image.fromarray(grey).convert("1")) == 0
    for of in (photo, checked(dithered), checked(screened(12))):
        assert [one.kind for one in of.findings] == ["not_line_art"]


def test_a_dither_is_told_before_its_pieces_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    """A sheet of A4 has tens of millions of them, more than a small computer's memory holds."""
    monkeypatch.setattr("sumlight.artwork.check.openings_of", None)
    dithered = np.asarray(Image.fromarray(gradient()).convert("1")) == 0
    assert [one.kind for one in checked(dithered).findings] == ["not_line_art"]


def test_a_mesh_and_fine_lines_are_line_art() -> None:
    """Equal holes, however many, dust among them or of two sizes; lines of 5 px."""
    y, x = np.mgrid[0:400, 0:400]
    mesh = ((x % 12) < 7) & ((y % 12) < 7)
    fine = (x % 10) < 5
    dusty = mesh | (np.random.default_rng(2).random((400, 400)) < 0.01)
    two = ((x % 20) < 9) & ((y % 20) < np.where(x < 200, 9, 15))
    chance = np.random.default_rng(4)
    some = np.where(chance.random((40, 40)) < 0.75, 6, chance.integers(3, 10, (40, 40)))[y // 12 % 40, x // 12 % 40]
    many = ((x % 12) < some) & ((y % 12) < some)  # three quarters of the holes are equal
    for mask in (mesh, fine, dusty, two, many, frame_with_tab(30)):
        assert found(checked(mask), "not_line_art") is None


def test_grey_edges_are_told_with_the_threshold() -> None:
    """A tenth of the pixels in the middle of the scale."""
    mask = box(100, 20, 20, 80, 80)
    grey = np.where(mask, 0, 255).astype(np.uint8)
    grey[:10] = 127
    of = check(from_mask(mask, 20.0), tones_of(grey))
    assert of.fringe_share == pytest.approx(0.1)
    told = found(of, "grey")
    assert told is not None
    assert "10.0%" in told.words
