"""Fold lines in the drawings of a pair: where they lie, how wide they become, and on which film, by closed form."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sumlight.artwork import pair, predict
from sumlight.artwork.folds import grooves, told_of, with_folds
from sumlight.artwork.front import build, near
from sumlight.artwork.layout import lay_out
from sumlight.artwork.prior import factor_band
from sumlight.artwork.sheet import Mask, Sheet, from_mask
from sumlight.craft.etching.fold import Fold

PITCH_UM = 10.0
BARE = from_mask(np.zeros((700, 900), np.bool_), PITCH_UM)
SLANTED = Fold("front", 1.5, 1.5, 7.5, 5.0)
BACK = Fold("back", 2.0, 6.0, 8.0, 6.0, 60.0)


def rows(sheet: Sheet) -> Mask:
    """All of it."""
    return sheet.rows(0, sheet.height_px)


def bar(fold: Fold, wide_um: float) -> Mask:
    """Middles of pixels within half the width of the segment, worked out for all pixels at once."""
    y, x = (np.mgrid[:700, :900] + 0.5) * PITCH_UM / 1000
    begin, end = np.array([fold.x_mm, fold.y_mm]), np.array([fold.to_x_mm, fold.to_y_mm])
    along = (end - begin) / np.hypot(*(end - begin))
    forth = (x - begin[0]) * along[0] + (y - begin[1]) * along[1]
    aside = (y - begin[1]) * along[0] - (x - begin[0]) * along[1]
    return np.asarray((forth >= 0) & (forth <= np.hypot(*(end - begin))) & (np.abs(aside) <= wide_um / 2000))


def test_a_line_is_open_on_its_own_side_alone() -> None:
    """Each pixel as its distance from the line says; edges of level lines may go either way."""
    front, back = with_folds(BARE, BARE, [SLANTED, BACK], [95.0, 95.0])
    assert np.array_equal(rows(front), bar(SLANTED, 95.0))
    assert np.array_equal(rows(back), bar(BACK, 95.0))


@pytest.mark.parametrize("factor", [1.5, 3.0])
def test_the_etched_groove_is_as_wide_and_deep_as_its_angle_needs(factor: float) -> None:
    """Surface 2·R·tan(θ/2) wide over the middle half of its length, R deep, the other side whole."""
    made, factors = build("sheet", 150.0), factor_band(factor)
    (found,) = grooves([SLANTED], 150.0, factors, over_etch=1.2, bias_um=0.0, smallest_printed_um=10.0)
    front, back = with_folds(BARE, BARE, [SLANTED], [found.drawn_um])
    halo = made.halo_px(factor, PITCH_UM)
    depth = np.concatenate([one.depths(made, factor)[0] for one in near(front, back, halo)])
    behind = np.concatenate([one.depths(made, factor)[1] for one in near(front, back, halo)])
    assert not behind.any()
    assert depth.max() == pytest.approx(90.0)
    part = Fold("front", 3.0, 2.375, 6.0, 4.125)  # the middle half of the line
    surface = (depth > 0) & bar(part, 1000.0)
    wide_um = np.count_nonzero(surface) * PITCH_UM**2 / (part.length_mm * 1000)
    assert wide_um == pytest.approx(2 * 90.0, abs=PITCH_UM)
    part_made = predict.predict(front, back, made, factors)
    assert part_made.left_um == pytest.approx(60.0)
    assert [one.through_mm2 for one in part_made.outlines] == [0.0]


def test_a_guessed_factor_is_folded_by_where_the_bath_eats_least() -> None:
    """Then the groove is wide enough in any case."""
    band = factor_band(None)
    (found,) = grooves([SLANTED], 150.0, band, over_etch=1.2, bias_um=0.0, smallest_printed_um=10.0)
    assert found.drawn_um == pytest.approx(180 - 2 * 90 / band.high)
    told = told_of([SLANTED, BACK], [found, found])
    assert ["towards the front" in told[0], "towards the back, bent by 60°" in told[1]] == [True, True]


def test_the_line_stands_on_the_film_of_its_side() -> None:
    """The film of the front is printed mirrored, ink down; the back's film has nothing of it."""
    front, back = with_folds(BARE, BARE, [SLANTED], [95.0])
    films = lay_out(front, back, "open", border_mm=5.0, names=("", ""), control_marks=False)
    inner = slice(1700, -1700)
    assert np.array_equal(rows(films.front())[inner, inner][:, ::-1], bar(SLANTED, 95.0))
    assert not rows(films.back())[inner, inner].any()


def test_lines_that_cannot_be_are_refused(tmp_path: Path) -> None:
    """Off the part, on foil, or through it: each before anything is written beside the pictures of the work."""
    with pytest.raises(ValueError, match=r"Fold line 2 leaves the part, which is 9\.0 × 7\.0 mm"):
        with_folds(BARE, BARE, [SLANTED, Fold("front", 1, 1, 9.6, 1)], [95.0, 95.0])
    for asked, told in (
        (pair.Asked(150.0, factor=2.0, build="foil", folds=(SLANTED,)), "etched from both sides"),
        (pair.Asked(150.0, factor=2.0, over_etch=2.5, folds=(SLANTED,)), "go through"),
        (pair.Asked(150.0, factor=2.0, folds=(SLANTED,) * 51), "fold lines must lie between 0 and 50"),
    ):
        with pytest.raises(ValueError, match=told):
            pair.make(tmp_path / "none.png", None, asked, tmp_path, lambda _stage: None)


def test_a_pair_with_a_fold_line_has_it_on_one_film_and_in_the_part(tmp_path: Path) -> None:
    """From a file to films: they differ by the line alone, whose drawn area is its length by its width."""
    grey = np.full((600, 800), 255, np.uint8)
    grey[100:200, 100:300] = 0
    scan = tmp_path / "scan.png"
    Image.fromarray(grey).save(scan, dpi=(1270, 1270))  # 20 µm a pixel
    fold = Fold("back", 2.0, 6.0, 14.0, 6.0)
    asked = pair.Asked(150.0, factor=3.0, crop="no", folds=(fold,), control_marks=False)
    made = pair.make(scan, None, asked, tmp_path, lambda _stage: None)
    with Image.open(tmp_path / "front.png") as one, Image.open(tmp_path / "back.png") as other:
        front, back = (~np.asarray(film)[:-700] for film in (one, other))  # without the names below
    more = back & ~front[:, ::-1]
    assert more.sum() * 0.02**2 == pytest.approx(12.0 * 0.12, rel=0.03)  # 180 wide, 60 of them by the bath
    (told,) = made.folded
    assert "1 fold lines towards the back, bent by 90°: drawn 120 µm wide on that side's film alone" in told
    assert made.part.left_um == pytest.approx(60.0)
