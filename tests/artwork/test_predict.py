"""The part that artwork gives, against closed forms (Steiner, slot, circle, corner), scipy and shapely."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import shapely
from PIL import Image
from scipy import ndimage

from sumlight.artwork import predict, prior
from sumlight.artwork.check import etched_through
from sumlight.artwork.front import build, distance_um
from sumlight.artwork.sheet import Mask, Sheet, from_mask
from tests.artwork.shapes import Points, box, disc, stripe
from tests.artwork.test_clean import pixels

PITCH = 10.0


def beyond_disc(x: Points, y: Points) -> Points:
    """Distance from a disc of 20 px around 80, 80."""
    return np.asarray(np.hypot(x - 80, y - 80) - 20)


def beyond_box(x: Points, y: Points) -> Points:
    """Distance from the square 60 … 100."""
    across, down = np.abs(x - 80) - 20, np.abs(y - 80) - 20
    return np.asarray(np.hypot(np.maximum(across, 0), np.maximum(down, 0)) + np.minimum(np.maximum(across, down), 0))


def beyond_slot(x: Points, _y: Points) -> Points:
    """Distance from a straight slot of 12 px."""
    return np.asarray(np.abs(x - 80) - 6)


def beyond_slant(x: Points, y: Points) -> Points:
    """The same, turned by 30°."""
    angle = np.radians(30)
    return np.asarray(np.abs((x - 80) * np.cos(angle) + (y - 80) * np.sin(angle)) - 6)


SHAPES: dict[str, tuple[Mask, Callable[[Points, Points], Points]]] = {
    "disc": (disc(160, 20), beyond_disc),
    "corner": (box(160, 60, 60, 100, 100), beyond_box),
    "slot": (box(160, 74, 0, 86, 160), beyond_slot),
    "slant": (stripe(160, 12, 30), beyond_slant),
}


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("factor", [1.0, 1.5, 3.0])
@pytest.mark.parametrize("over_etch", [1.2, 1.5])
def test_outlines_lie_within_half_a_pixel_of_closed_form(shape: str, factor: float, over_etch: float) -> None:
    """T 300: reach k·150; the surface moves by R/F, the waist by sqrt(R² - 150²)/F."""
    mask, beyond = SHAPES[shape]
    y, x = np.mgrid[0:160, 0:160] + 0.5
    reach = over_etch * 150
    exact = beyond(x, y) * PITCH - np.sqrt(reach**2 - 150**2) / factor
    through = pixels(etched_through(from_mask(mask, PITCH), None, build("sheet", 300, over_etch=over_etch), factor))
    inside = slice(30, 130)  # the edge of the sheet cuts a slanted line off
    wrong = (through != (exact <= 0))[inside, inside]
    assert np.abs(exact[inside, inside][wrong]).max(initial=0) <= PITCH / 2
    surface = distance_um(mask, PITCH) <= reach / factor
    exact = beyond(x, y) * PITCH - reach / factor
    wrong = (surface != (exact <= 0))[inside, inside]
    assert np.abs(exact[inside, inside][wrong]).max(initial=0) <= PITCH / 2


def test_distances_are_those_of_a_foreign_library() -> None:
    """scipy measures from middle to middle; the edge lies half a pixel nearer."""
    mask = np.random.default_rng(5).random((70, 90)) < 0.01
    theirs = np.maximum(ndimage.distance_transform_edt(~mask) - 0.5, 0) * PITCH
    assert np.abs(distance_um(mask, PITCH) - theirs).max() < 1e-3
    assert np.isinf(distance_um(np.zeros((5, 5), np.bool_), PITCH)).all()


def test_an_l_grows_as_a_foreign_library_s_offset() -> None:
    """shapely's buffer with 64 segments a quarter (short by 0.01 %): its outline within half a pixel of ours."""
    shape = shapely.Polygon([(50, 50), (110, 50), (110, 70), (75, 70), (75, 115), (50, 115)])
    mask = box(160, 50, 50, 110, 70) | box(160, 50, 50, 75, 115)
    reach, factor = 1.3 * 150, 1.2
    moved = np.sqrt(reach**2 - 150**2) / factor / PITCH
    grown = shape.buffer(moved, quad_segs=64)
    part = predict.predict(from_mask(mask, PITCH), None, build("sheet", 300, over_etch=1.3), prior.factor_band(factor))
    through = part.outlines[0].through_mm2 / (PITCH / 1000) ** 2
    assert through == pytest.approx(grown.area, abs=0.5 * grown.length)


@pytest.mark.parametrize("rows", [9, 37])
def test_tiles_and_the_whole_give_the_same_answer(monkeypatch: pytest.MonkeyPatch, rows: int) -> None:
    """Strips of odd sizes with their halo: outlines, areas, pieces, mass."""
    front, back = from_mask(disc(160, 20) | stripe(160, 5, 20), PITCH), from_mask(disc(160, 25), PITCH)
    made, factors = build("sheet", 300.0, back_share=0.8), prior.factor_band(None)
    whole = predict.predict(front, back, made, factors)
    sheet = pixels(etched_through(front, back, made, 1.0))
    monkeypatch.setattr("sumlight.artwork.picture.LEAST_ROWS", rows)
    monkeypatch.setattr("sumlight.artwork.picture.STRIP_PIXELS", 160 * rows)
    assert len(list(front.strips())) == -(-160 // rows)
    assert predict.predict(front, back, made, factors).findings == whole.findings
    assert np.array_equal(pixels(etched_through(front, back, made, 1.0)), sheet)
    for one, other in zip(predict.predict(front, back, made, factors).outlines, whole.outlines, strict=True):
        assert vars(one) == pytest.approx(vars(other), rel=1e-6)


def slot_px(width_px: int) -> Sheet:
    """A slot from edge to edge of a sheet of 200 × 100 px."""
    mask = np.zeros((100, 200), np.bool_)
    mask[:, 100 - width_px // 2 : 100 + width_px // 2] = True
    return from_mask(mask, PITCH)


@pytest.mark.parametrize("factor", [1.0, 2.0])
def test_the_metal_dissolved_in_a_half_etched_slot_is_a_box_and_two_quarter_ellipses(factor: float) -> None:
    """Depth R, undercut R/F: L·(w·R + π/2·R²/F), exactly; metal left T - R."""
    width, depth, length = 0.2, 0.12, 1.0
    part = predict.predict(slot_px(20), None, build("masked", 150, depth_um=120), prior.factor_band(factor))
    exact = length * (width * depth + np.pi / 2 * depth**2 / factor)
    assert part.outlines[0].metal_mm3 == pytest.approx(exact, rel=0.01)
    assert part.left_um == pytest.approx(30)
    assert [one.kind for one in part.findings] == ["weak"]  # 20 % of the sheet are left
    assert part.first_share is None
    deep = predict.predict(slot_px(20), None, build("masked", 150, depth_um=60), prior.factor_band(factor))
    assert (deep.left_um, deep.findings) == (pytest.approx(90), ())


def test_foil_on_a_carrier_has_a_wide_top_and_a_narrow_foot() -> None:
    """35 µm, k 2: R 70, top 70/F, foot sqrt(70² - 35²)/F; depth ends at the foil."""
    part = predict.predict(slot_px(20), None, build("foil", 35, over_etch=2), prior.factor_band(1.0))
    one = part.outlines[0]
    assert one.front_mm2 == pytest.approx(0.2 + 2 * 0.070, abs=0.02)
    assert one.through_mm2 == pytest.approx(0.2 + 2 * np.sqrt(70**2 - 35**2) / 1000, abs=0.02)
    assert one.back_mm2 == one.through_mm2
    assert one.metal_mm3 < one.front_mm2 * 0.035
    assert part.first_share == part.last_share == pytest.approx(0.5)
    assert part.findings == ()  # the carrier holds what a free sheet would lose


def test_without_a_coupon_every_outline_is_a_band() -> None:
    """F 1 to 2: the surface moves by R to R/2, 60 µm at T 100 and k 1.2 against 30 (two edges, 1 mm long)."""
    made = build("sheet", 100)
    part = predict.predict(slot_px(20), None, made, prior.factor_band(None))
    assert [one.factor for one in part.outlines] == pytest.approx([2, 2**0.5, 1])
    front = [one.front_mm2 for one in part.outlines]
    assert front == pytest.approx([0.26, 0.2 + 2 * 0.06 / 2**0.5, 0.32], abs=0.011)
    assert len(predict.predict(slot_px(20), None, made, prior.factor_band(1.6)).outlines) == 1


def test_sides_that_do_not_meet_head_on_break_through_later() -> None:
    """A gap of 60 µm between front and back opening: R = sqrt((T/2)² + (F·30)²) is needed, T/2 where both are open."""
    front, back = np.zeros((60, 200), np.bool_), np.zeros((60, 200), np.bool_)
    front[:, 20:40], back[:, 20:40] = True, True
    front[:, 120:140], back[:, 146:166] = True, True
    made = build("sheet", 200, over_etch=1.5)
    part = predict.predict(from_mask(front, PITCH), from_mask(back, PITCH), made, prior.factor_band(1.0))
    assert part.first_share == pytest.approx(1 / 1.5)
    assert part.last_share == pytest.approx(np.sqrt(100**2 + 30**2) / 150, rel=0.02)
    with pytest.raises(ValueError, match="both must be one size"):
        predict.predict(from_mask(front, PITCH), from_mask(back[:50], PITCH), made, prior.factor_band(1.0))


def test_a_slower_back_moves_the_plane_and_not_the_time_through() -> None:
    """Rates 20 and 15, T 200: the plane lies at T·20/35 = 114.3 µm from the front (craft reference A9)."""
    made = build("sheet", 200, over_etch=1.0, back_share=0.75)
    assert made.front_reach_um == pytest.approx(114.3, abs=0.05)
    assert made.front_reach_um + made.back_reach_um == pytest.approx(200)


@pytest.mark.parametrize("colours", [predict.AMBER, predict.DAYLIGHT])
def test_the_picture_shows_band_within_band(tmp_path: Path, colours: tuple[tuple[int, int, int], ...]) -> None:
    """Read by Pillow; beside open resist blue is at most 5 % and green at most 55 % (the page's own rule)."""
    ring = disc(160, 60) & ~disc(160, 30)
    path = tmp_path / "part.png"
    front, made = from_mask(ring, PITCH), build("sheet", 100, over_etch=1.05)
    predict.draw(path, front, None, made, prior.factor_band(None), colours)
    with Image.open(path) as image:
        shown = np.asarray(image.convert("RGB")).astype(int)
        levels = np.asarray(image)
    assert set(np.unique(levels)) == set(range(6))
    assert (levels[ring] == predict.THROUGH).all()
    assert levels[80, 80] == predict.FALLS_OUT
    assert levels[2, 2] == predict.METAL
    away = np.maximum(distance_um(ring, PITCH), 0)
    outside = np.hypot(*(np.mgrid[0:160, 0:160] - 79.5)) > 61
    assert (levels[outside & (away < 26)] >= predict.EATEN).all()  # R/F, 52.5/2 at least
    assert (levels[outside & (away > 53)] == predict.METAL).all()  # 52.5/1 at most
    if colours is predict.AMBER:
        assert shown[..., 2].max() <= 0.05 * 255
        assert shown[..., 1].max() <= 0.55 * 255


def test_the_picture_shows_what_the_figures_say_with_a_slower_back(tmp_path: Path) -> None:
    """One artwork on both sides and a back at half the rate: as many pixels are drawn through as are counted."""
    path = tmp_path / "part.png"
    front, made, factors = from_mask(disc(160, 30), PITCH), build("sheet", 300, back_share=0.5), prior.factor_band(1.0)
    (one,) = predict.predict(front, None, made, factors).outlines
    predict.draw(path, front, None, made, factors, predict.DAYLIGHT)
    with Image.open(path) as image:
        levels = np.asarray(image)
    assert np.count_nonzero(levels == predict.THROUGH) * front.pixel_mm2 == pytest.approx(one.through_mm2)


def test_a_depth_needs_a_masked_side() -> None:
    """Open on both, it goes through."""
    with pytest.raises(ValueError, match="one side masked"):
        build("sheet", 100, depth_um=40)


@pytest.mark.parametrize("back_share", [1.0, 0.5])
def test_the_map_of_depths_is_that_of_a_slot_in_closed_form(back_share: float) -> None:
    """Over a slot all is through; d µm beside it each front is sqrt(R² - (F·d)²) deep, with its own side's R."""
    made = build("sheet", 300, over_etch=1.2, back_share=back_share)
    slot = from_mask(SHAPES["slot"][0], PITCH)
    steps = np.concatenate(list(predict.depths_of(slot, None, made, 1.5)))
    beside_um = np.maximum(SHAPES["slot"][1](*np.mgrid[0:160, 0:160][::-1] + 0.5) * PITCH, 0)
    gone = np.zeros((160, 160))
    for reach in (made.front_reach_um, made.back_reach_um):
        gone += np.sqrt(np.maximum(reach**2 - (1.5 * beside_um) ** 2, 0)) / 300
    assert set(np.unique(steps)) >= {0, predict.DEPTHS}
    assert np.array_equal(steps == predict.DEPTHS, gone >= 1)
    begun = np.clip(np.ceil(gone * 10 - 1e-4), 0, 9)
    assert np.array_equal(steps[gone < 1], begun[gone < 1])


def test_a_half_etch_is_nowhere_through_on_the_map(tmp_path: Path) -> None:
    """100 of 300 µm: four tenths have begun at the most, and the file shows that tone."""
    made = build("masked", 300, depth_um=100)
    slot = from_mask(SHAPES["slot"][0], PITCH)
    path = tmp_path / "depths.png"
    predict.draw_depths(path, slot, None, made, 2.0, predict.AMBER_DEPTHS)
    with Image.open(path) as image:
        seen = {colour for _, colour in image.convert("RGB").getcolors() or ()}
    assert max(seen) == predict.AMBER_DEPTHS[4]
    assert min(seen) == (0, 0, 0)
    assert all(red >= 2 * green - 1 and blue == 0 for red, green, blue in predict.AMBER_DEPTHS)
