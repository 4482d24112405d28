"""Cleaning closes what is small, and nothing else; scikit-image's own removal of small objects is the judge."""

from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image
from skimage import measure

from sumlight.artwork import clean, pdffile, pngfile
from sumlight.artwork.sheet import Mask, Sheet, from_mask
from tests.artwork.shapes import box, disc


def pixels(sheet: Sheet) -> Mask:
    """The whole of it."""
    return sheet.rows(0, sheet.height_px)


def without_small(mask: Mask, below: float, connectivity: int) -> Mask:
    """By a foreign library's labels."""
    labels = measure.label(mask, connectivity=connectivity)
    made = mask.copy()
    for one in measure.regionprops(labels):
        top, left, bottom, right = one.bbox
        on_edge = top == 0 or left == 0 or bottom == mask.shape[0] or right == mask.shape[1]
        if max(bottom - top, right - left) < below and not on_edge:
            made[labels == one.label] = False
    return made


def dusty() -> Mask:
    """A disc with dust on it and around it."""
    dust = np.random.default_rng(3).random((120, 150)) < 0.03
    mask = np.zeros((120, 150), np.bool_)
    mask[:, :120] = disc(120, 40)
    return mask ^ dust


@pytest.mark.parametrize("rows", [7, 1000])
def test_what_is_small_goes_and_the_rest_stays(monkeypatch: pytest.MonkeyPatch, rows: int) -> None:
    """Openings first (they meet at corners), then islands (they do not); in strips or whole."""
    monkeypatch.setattr("sumlight.artwork.picture.STRIP_PIXELS", 150 * rows)
    mask = dusty()
    done = clean.clean(from_mask(mask, 20.0), 100.0)
    closed = without_small(mask, 5, 2)
    wanted = ~without_small(~closed, 5, 1)
    assert np.array_equal(pixels(done.sheet), wanted)
    assert done.changed_px == np.count_nonzero(wanted != mask)
    assert done.speck_count > 50
    assert done.pinhole_count > 50


def test_an_island_in_a_speck_goes_with_it() -> None:
    """A ring of 7 px around one of metal: closed, it is all metal. A larger one elsewhere stays."""
    large = box(60, 20, 30, 50, 50) & ~box(60, 25, 35, 40, 47)
    mask = (box(60, 10, 10, 17, 17) & ~box(60, 13, 13, 14, 14)) | large
    assert np.array_equal(pixels(clean.clean(from_mask(mask, 20.0), 200.0).sheet), large)


def test_invert_mirror_crop_and_difference() -> None:
    """By numpy's own."""
    mask = dusty()
    sheet = from_mask(mask, 20.0)
    assert np.array_equal(pixels(clean.invert(sheet)), ~mask)
    assert np.array_equal(pixels(clean.mirror(sheet)), mask[:, ::-1])
    assert np.array_equal(pixels(clean.crop(sheet, (0.2, 0.4, 1.0, 2.0))), mask[20:100, 10:50])
    other = from_mask(mask ^ box(150, 3, 3, 9, 9)[:120], 20.0)
    assert clean.differing_px(sheet, other) == 36
    with pytest.raises(ValueError, match=r"the sheet is 3\.00 × 2\.40 mm"):
        clean.crop(sheet, (0.2, 0.4, 3.2, 2.0))


@pytest.mark.parametrize("black", ["open", "metal"])
def test_a_png_is_read_by_a_foreign_library_as_it_was_written(tmp_path: Path, black: str) -> None:
    """Pixels by Pillow; 1200 dpi reads 1199.9976, as the density is stored in pixels per metre."""
    mask = dusty()
    path = tmp_path / "a.png"
    pngfile.write_sheet(path, from_mask(mask, 25_400 / 1200), black)
    with Image.open(path) as image:
        assert image.mode == "1"
        assert image.info["dpi"] == pytest.approx((1199.9976, 1199.9976), abs=1e-3)
        assert np.array_equal(np.asarray(image), mask if black == "metal" else ~mask)
    with pytest.raises(FileExistsError):
        pngfile.write_sheet(path, from_mask(mask, 25_400 / 1200), black)


def test_a_pdf_has_its_true_size(tmp_path: Path) -> None:
    """By PDFium: a page of 150 × 120 pixels at 1200 dpi, 72 points to the inch, and the same pixels."""
    mask = dusty()
    path = tmp_path / "a.pdf"
    pdffile.write_pdf(path, from_mask(mask, 25_400 / 1200), "open")
    with pypdfium2.PdfDocument(path) as document:
        page = document[0]
        assert page.get_size() == pytest.approx((9.0, 7.2), abs=1e-4)
        (shown,) = page.get_objects()
        assert shown.get_bounds() == pytest.approx((0, 0, 9.0, 7.2), abs=1e-4)
        drawn = shown.get_bitmap(render=False).to_numpy().reshape(120, -1)[:, :150]
    assert np.array_equal(drawn < 128, mask)


def test_a_file_that_failed_half_way_is_removed(tmp_path: Path) -> None:
    """Nobody finds half a film."""
    path = tmp_path / "a.png"

    def stopped() -> None:
        with pngfile.PngFile(path, pngfile.Format(10, 10, 20.0)):
            raise OSError("no space left")

    with pytest.raises(OSError, match="no space"):
        stopped()
    assert not path.exists()
