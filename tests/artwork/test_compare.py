"""Comparisons: against scans in closed form, and kinds of differences drawn by hand."""

from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image
from skimage.measure import label

from sumlight.artwork import differences, scanner
from sumlight.artwork.align import NotAlikeError, align
from sumlight.artwork.compare import Comparison, compare, laid_on
from sumlight.artwork.edges import edges_of
from sumlight.artwork.fit import Fit, fit
from sumlight.artwork.reading import Known, open_picture
from sumlight.artwork.scan import AnyScan, Scan, laid_down, small_of_scan
from sumlight.artwork.sheet import Mask, from_mask
from sumlight.artwork.warp import taken_apart, unbent
from tests.artwork.known_scans import PITCH_UM, Floats, Lying, Shape, bench_part, scanned, sheet_of
from tests.artwork.test_clean import pixels

WIDTH, HEIGHT = 420, 560
TRUE = Lying(2.4, 1.006, 0.993, (7.3, -4.6), growth_px=0.6, noise=5.0, dust=6)
EXTRA = Shape(330.0, 90.0, 7, 7, disc=True)
"""An opening that is only on the scan."""


@pytest.fixture(scope="module")
def part() -> list[Shape]:
    """The sheet's openings, away from the extra one."""
    return [
        one for one in bench_part(WIDTH, HEIGHT) if np.hypot(one.x - EXTRA.x, one.y - EXTRA.y) > 60 or one.half_x > 90
    ]


@pytest.fixture(scope="module")
def compared(part: list[Shape]) -> tuple[Comparison, Floats]:
    """A crooked, stretched, shaded, dusty scan with one opening more, against its sheet."""
    scan, offset = scanned([*part, EXTRA], WIDTH, HEIGHT, TRUE)
    return compare(scan, sheet_of(part, WIDTH, HEIGHT)), offset


def test_size_turn_and_place_come_out_as_they_were_put_in(compared: tuple[Comparison, Floats]) -> None:
    """Closed form: 50 ppm of 560 pixels are 0.03 of a pixel; 1 µm is 0.05."""
    done, offset = compared
    assert done.affine.scale_x == pytest.approx(TRUE.scale_x, abs=1e-4)
    assert done.affine.scale_y == pytest.approx(TRUE.scale_y, abs=1e-4)
    assert done.affine.rotation_deg == pytest.approx(TRUE.turn_deg, abs=0.005)
    assert done.affine.shear == pytest.approx(0, abs=1e-4)
    assert (done.affine.mirrored, done.inverted, done.repeats) == (False, False, False)
    middle = TRUE.matrix @ np.array([(WIDTH - 1) / 2, (HEIGHT - 1) / 2]) + offset
    size = np.array(done.seen.packed.shape)  # only to be sure that it is on the reference's pixels
    assert size[0] == HEIGHT
    corners = np.array([(x, y) for x in (0, WIDTH - 1) for y in (0, HEIGHT - 1)]) @ TRUE.matrix.T
    scan_size = np.ceil(corners.max(axis=0) - corners.min(axis=0)).astype(int) + 120
    shift = (middle - (scan_size - 1) / 2) * PITCH_UM
    assert (done.shift_x_um, done.shift_y_um) == pytest.approx(tuple(shift), abs=1.0)


def test_the_map_is_what_stretching_leaves(compared: tuple[Comparison, Floats]) -> None:
    """Laid on each other at best, a place at (x, y) from the middle is off by ±0.65 % of x and of y, less the mean."""
    done, _offset = compared
    matrix = np.diag([TRUE.scale_x, TRUE.scale_y])
    for place in done.places:
        from_middle = np.array([place.x_mm * 1000 - WIDTH / 2 * PITCH_UM, place.y_mm * 1000 - HEIGHT / 2 * PITCH_UM])
        off = matrix @ from_middle - from_middle
        assert (place.off_x_um, place.off_y_um) == pytest.approx(tuple(off), abs=3.0)
    assert done.worst.off_y_um**2 + done.worst.off_x_um**2 >= done.off_um**2


def test_the_bias_of_edges_is_told_from_shift_and_size(compared: tuple[Comparison, Floats]) -> None:
    """0.6 of a pixel at every edge; the goal is 3 µm."""
    done, _offset = compared
    for found in (done.bias.mean_um, done.bias.across_um, done.bias.down_um):
        assert found == pytest.approx(TRUE.growth_px * PITCH_UM, abs=1.5)


def test_dust_and_an_opening_too_many_are_named_with_their_place(compared: tuple[Comparison, Floats]) -> None:
    """A disc of 14 pixels in whole metal is a pinhole; six grains of dust are all that may come beside it."""
    done, _offset = compared
    assert done.difference_count == len(done.differences) <= 7
    extra = max(done.differences, key=lambda one: one.area_um2)
    assert extra.kind == "pinhole"
    assert (extra.x_mm, extra.y_mm) == pytest.approx(
        ((EXTRA.x + 0.5) * PITCH_UM / 1000, (EXTRA.y + 0.5) * PITCH_UM / 1000), abs=0.02
    )
    assert extra.size_um == pytest.approx((2 * EXTRA.half_x + 2 * TRUE.growth_px) * PITCH_UM, abs=30)


def test_a_back_is_seen_to_be_mirrored_turned_and_inverted(part: list[Shape]) -> None:
    """The determinant is below 0 (craft reference A12); black on it is white."""
    lying = Lying(-91.0, 1.0, 1.004, mirrored=True, inverted=True)
    scan, _offset = scanned(part, WIDTH, HEIGHT, lying)
    done = compare(scan, sheet_of(part, WIDTH, HEIGHT))
    assert (done.affine.mirrored, done.inverted) == (True, True)
    assert np.array(done.matrix) == pytest.approx(lying.matrix, abs=1e-4)
    assert done.differences == ()


def test_a_pattern_that_repeats_is_said_to(part: list[Shape]) -> None:
    """Holes from edge to edge in a grid fit one pitch further as well; with a frame and a mark they do not."""
    grid = [Shape(20 + 40 * i, 20 + 40 * j, 9, 9, disc=True) for i in range(11) for j in range(11)]
    bare, _offset = scanned(grid, 420, 420, Lying(0.5), margin=-60)
    assert align(bare, sheet_of(grid, 420, 420), open_is_black=True).repeats
    whole, _place = scanned(grid, 420, 420, Lying(0.5), margin=4)
    assert not align(whole, sheet_of(grid, 420, 420), open_is_black=True).repeats  # elsewhere a row would lie off it
    marked = [*grid, *part[:4]]
    whole, place = scanned(marked, 420, 560, Lying(0.5))
    done = align(whole, sheet_of(marked, 420, 560), open_is_black=True)
    assert not done.repeats
    assert done.warp.offset == pytest.approx(place + Lying(0.5).matrix @ np.array([209.5, 279.5]), abs=1.0)


def test_what_is_not_alike_or_too_little_is_refused(part: list[Shape]) -> None:
    """With what to do."""
    sheet = sheet_of(part, WIDTH, HEIGHT)
    noise = np.random.default_rng(1).integers(0, 255, (HEIGHT, WIDTH)).astype(np.uint8)
    with pytest.raises(NotAlikeError, match="whole sheet with its frame"):
        compare(Scan(noise, PITCH_UM), sheet)
    stripes = from_mask(np.tile((np.arange(300) // 20 % 5 < 2)[:, None], (1, 300)), PITCH_UM)
    with pytest.raises(ValueError, match=r"same artwork|one way"):
        compare(Scan(np.where(pixels(stripes), 0, 255).astype(np.uint8), PITCH_UM), stripes)


def drawn(*boxes: tuple[int, int, int, int]) -> Mask:
    """Openings around bars of metal: left, top, right, bottom."""
    made = np.ones((120, 160), np.bool_)
    for left, top, right, bottom in boxes:
        made[top:bottom, left:right] = False
    return made


BARS = ((10, 20, 150, 40), (10, 60, 150, 80))
BOXES = {
    "open": (70, 15, 80, 45),
    "nick": (70, 15, 80, 30),
    "pinhole": (70, 26, 80, 34),
    "short": (70, 35, 80, 65),
    "spur": (70, 35, 80, 50),
    "island": (70, 95, 80, 105),
}
SWAPPED = {"open": "short", "nick": "spur", "pinhole": "island", "short": "open", "spur": "nick", "island": "pinhole"}


@pytest.mark.parametrize("kind", differences.KINDS)
@pytest.mark.parametrize("swapped", [False, True])
def test_each_kind_is_told_by_what_it_does_to_metal(kind: str, swapped: bool) -> None:
    """Terms of acceptability of boards, drawn by hand; black and white swapped gives the counterpart."""
    wanted, made = drawn(*BARS), drawn(*BARS)
    left, top, right, bottom = BOXES[kind]
    made[top:bottom, left:right] = kind in ("open", "nick", "pinhole")
    name = SWAPPED[kind] if swapped else kind
    found, count = differences.differences(from_mask(wanted ^ swapped, 10.0), from_mask(made ^ swapped, 10.0))
    assert [one.kind for one in found] == [name]
    assert count == 1
    changed = label(wanted != made)
    y, x = np.nonzero(changed)
    assert changed.max() == 1
    assert (found[0].x_mm, found[0].y_mm) == pytest.approx(
        ((x.min() + x.max() + 1) / 200, (y.min() + y.max() + 1) / 200), abs=0.02
    )
    told = differences.findings_of(found)
    assert (told[0].kind, told[0].count, told[0].places[0].size_um) == (name, 1, found[0].size_um)


@pytest.mark.parametrize("rows", [7, 31])
def test_strips_and_the_whole_find_the_same(monkeypatch: pytest.MonkeyPatch, rows: int) -> None:
    """With their halo, and joined across the seams."""
    wanted, made = drawn(*BARS), drawn(*BARS)
    for number, (left, top, right, bottom) in enumerate(BOXES.values()):
        made[top:bottom, left - 60 + 22 * number : right - 60 + 22 * number] ^= True
    whole = differences.differences(from_mask(wanted, 10.0), from_mask(made, 10.0))
    monkeypatch.setattr("sumlight.artwork.picture.LEAST_ROWS", rows)
    monkeypatch.setattr("sumlight.artwork.picture.STRIP_PIXELS", 160 * rows)
    assert differences.differences(from_mask(wanted, 10.0), from_mask(made, 10.0)) == whole
    assert whole[1] >= 6


def test_a_scan_in_odd_strips_from_a_file_compares_as_the_whole_does(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """No figure but rounding's may hang on where the cuts lie: a sheet of A4 is never compared whole."""
    shapes = bench_part(300, 340, wanted=12)
    lying = Lying(88.5, 1.004, 0.997, growth_px=0.5, dust=5)
    image, offset = scanned(shapes, 300, 340, lying)
    sheet = sheet_of(shapes, 300, 340)
    # Fewer than the sheet has, and one pixel in sixteen: the lots decide.
    monkeypatch.setattr("sumlight.artwork.edges.DRAWN", 2500)
    monkeypatch.setattr("sumlight.artwork.edges.LEVELS", 900)
    monkeypatch.setattr("sumlight.artwork.edges.SMALL_PX", 0)
    start = unbent(lying.matrix, lying.matrix @ (149.5, 169.5) + offset + (0.8, -0.6), 300, 340)

    def answers(image: AnyScan) -> tuple[Fit, Mask, Floats]:
        found = fit(image, edges_of(sheet), start)
        return found, pixels(laid_on(image, sheet, found)), np.asarray(small_of_scan(image, 61.0), np.float64)

    whole, seen, small = answers(image)
    exact = cv2.resize(image.grey.astype(np.float64), small.shape[::-1], interpolation=cv2.INTER_AREA)
    assert small * 255 == pytest.approx(exact, abs=0.01)
    monkeypatch.setattr("sumlight.artwork.picture.LEAST_ROWS", 23)
    monkeypatch.setattr("sumlight.artwork.picture.STRIP_PIXELS", 23 * 300)
    monkeypatch.setattr("sumlight.artwork.compare.TILE_PX", 37)
    path = tmp_path / "scan.png"
    Image.fromarray(image.grey).save(path)
    with laid_down(open_picture(path, known=Known(1, PITCH_UM)), tmp_path) as rows:
        assert list(tmp_path.iterdir()) == [path]  # a killed process leaves nothing
        cut, cut_seen, cut_small = answers(rows)
    assert cut.edges == whole.edges > 1000
    assert cut.affine.matrix == pytest.approx(whole.affine.matrix, abs=1e-7)
    assert cut.affine.offset == pytest.approx(whole.affine.offset, abs=1e-5)
    assert cut.growth.mean_px == pytest.approx(whole.growth.mean_px, abs=1e-5)
    assert np.count_nonzero(cut_seen != seen) <= 3  # where a tone lies on the threshold but for rounding
    assert cut_small == pytest.approx(small, abs=1e-5)


def test_edges_that_all_grew_are_no_difference_but_their_growth_has_two_sides() -> None:
    """Openings three pixels wider all around differ everywhere, unless all edges are known to have grown."""
    wanted = drawn(*BARS)
    made = cv2.dilate(wanted.view(np.uint8), np.ones((7, 7), np.uint8)).view(np.bool_)
    args = from_mask(wanted, 10.0), from_mask(made, 10.0)
    assert differences.differences(*args)[1] > 0
    assert differences.differences(*args, growth_px=3.0)[1] == 0
    assert differences.differences(*args, growth_px=-3.0)[1] > 0
    assert (differences.tolerance(0.0), differences.tolerance(0.5)) == (1.5, 2.7)


def test_a_scanner_is_found_from_two_scans_without_knowing_the_sheet() -> None:
    """Closed form: any sheet, stretched and sheared, under a scanner that draws x 0.2 % longer and leans."""
    own = np.array([[1.002, 0.0007], [0.0, 1.0]])
    sheet = np.array([[1.004, 0.003], [0.001, 0.995]])
    scans = [own @ turned(angle) @ sheet for angle in (1.3, 92.1)]
    found = scanner.scanner_of(rows(scans[1] @ np.linalg.inv(scans[0])))
    assert found.x_over_y == pytest.approx(1.002, abs=1e-9)
    assert found.skew == pytest.approx(np.arctan(0.0007), abs=1e-9)
    assert found.scale is None
    left, true = found.corrected(rows(scans[0])), taken_apart(sheet)
    assert left.scale_x / left.scale_y == pytest.approx(true.scale_x / true.scale_y, abs=1e-9)
    assert left.shear == pytest.approx(true.shear, abs=1e-9)
    with pytest.raises(ValueError, match=r"turned by only 10.0°"):
        scanner.scanner_of(rows(turned(10)))
    with pytest.raises(ValueError, match="mirrored"):
        scanner.scanner_of(((1.0, 0.0), (0.0, -1.0)))
    with pytest.raises(ValueError, match="x_over_y"):
        scanner.Scanner(2.0, 0.0)


def rows(matrix: Floats) -> scanner.Matrix:
    """A matrix as a comparison gives it."""
    (a, b), (c, d) = matrix.tolist()
    return (a, b), (c, d)


def turned(degrees: float) -> Floats:
    """A turn."""
    angle = np.radians(degrees)
    return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])


def test_an_affine_is_taken_apart_as_it_was_put_together() -> None:
    """Mirror, stretch, shear, turn (QR)."""
    made = turned(33) @ np.array([[1.01, 0.99 * np.tan(0.004)], [0, 0.99]]) @ np.diag([-1.0, 1.0])
    found = taken_apart(made)
    assert (found.scale_x, found.scale_y, found.rotation_deg) == pytest.approx((1.01, 0.99, 33))
    assert found.shear == pytest.approx(0.004, abs=1e-6)
    assert found.mirrored


def test_both_are_drawn_on_each_other(tmp_path: Path) -> None:
    """Each pixel has the level of what it is."""
    wanted, made = drawn(*BARS), drawn(*BARS, (70, 95, 80, 105))
    made[20:30, 70:80] = True
    path = tmp_path / "both.png"
    differences.draw(path, from_mask(wanted, 10.0), from_mask(made, 10.0), differences.DAYLIGHT)
    with Image.open(path) as image:
        shown = np.asarray(image.convert("RGB"))
    for place, level in (((5, 5), 1), ((25, 20), 0), ((25, 75), 2), ((100, 75), 3)):
        assert tuple(shown[place]) == differences.DAYLIGHT[level]
