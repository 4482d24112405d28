"""Films at true size in three kinds of file, and what makes up for a printer: judged by Pillow, PDFium and resvg."""

from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image
from scipy import ndimage

from sumlight.artwork import pair, pdffile, pngfile, svgfile
from sumlight.artwork.reading import Known, open_picture
from sumlight.artwork.sheet import from_mask, sheet_of
from tests.artwork.scans import crooked_scan
from tests.artwork.test_behind import HOLE, drawn
from tests.artwork.test_clean import pixels

PITCH_UM = 50.0
MASK = np.random.default_rng(3).random((90, 130)) < 0.4


@pytest.mark.parametrize("printed", [(1.0, 1.0), (1.01, 0.995)])
def test_a_film_is_as_much_smaller_as_its_printer_makes_it_larger(tmp_path: Path, printed: tuple[float, float]) -> None:
    """Closed form: 6.5 × 4.5 mm over what the printer makes of a unit; PNG keeps whole pixels a metre."""
    sheet = from_mask(MASK, PITCH_UM)
    for write, name in ((pngfile.write_sheet, "a.png"), (pdffile.write_pdf, "a.pdf"), (svgfile.write_svg, "a.svg")):
        write(tmp_path / name, sheet, "open", printed)
    wanted = 6.5 / printed[0], 4.5 / printed[1]
    with Image.open(tmp_path / "a.png") as image:
        size = tuple(count / dpi * 25.4 for count, dpi in zip(image.size, image.info["dpi"], strict=True))
    assert size == pytest.approx(wanted, rel=5e-5)
    with pypdfium2.PdfDocument(tmp_path / "a.pdf") as document:
        assert [one / 72 * 25.4 for one in document[0].get_size()] == pytest.approx(wanted, rel=1e-5)
    root = (tmp_path / "a.svg").read_text().partition(">")[0]
    assert f'width="{wanted[0]:.5f}mm" height="{wanted[1]:.5f}mm"' in root
    assert sorted(one.name for one in tmp_path.iterdir()) == ["a.pdf", "a.png", "a.svg"]
    with pytest.raises(FileExistsError):
        svgfile.write_svg(tmp_path / "a.svg", sheet, "open")


def test_an_svg_shows_the_very_pixels(tmp_path: Path) -> None:
    """Drawn by resvg at the sheet's own pitch."""
    path = tmp_path / "a.svg"
    svgfile.write_svg(path, from_mask(MASK, PITCH_UM), "open")
    picture = open_picture(path, known=Known(1.0, PITCH_UM))
    assert picture.size_mm == pytest.approx((6.5, 4.5))
    assert np.array_equal(pixels(sheet_of(picture, 127.5)), MASK)


def test_a_corrected_film_is_compared_with_what_was_meant(tmp_path: Path) -> None:
    """A printer that makes 1 % more across gets 1 % less, and its print comes out at the size that was drawn."""
    path = drawn(tmp_path / "plate.png", HOLE, (11.0, 4.0, 14.0, 12.0))
    asked = pair.Asked(150.0, factor=2.0, straighten=False, printed_x=1.01, printed_y=0.995, name="a")
    pair.make(path, None, asked, tmp_path, lambda _stage: None)
    with Image.open(tmp_path / "front.png") as image:
        assert image.info["dpi"] == pytest.approx((303.0, 298.5), rel=1e-3)
        image.convert("L").save(tmp_path / "print.png", dpi=(300, 300))
    (tmp_path / "compare").mkdir()
    done = pair.meet(tmp_path / "print.png", tmp_path / "front.png", tmp_path / "compare")
    assert (done.scale_x, done.scale_y) == pytest.approx((1.0, 1.0), abs=5e-4)
    with pytest.raises(ValueError, match="printed_x"):
        pair.make(path, None, pair.Asked(150.0, printed_x=1.1), tmp_path, lambda _stage: None)


@pytest.mark.parametrize("bright", [False, True])
def test_a_developed_panel_is_compared_with_the_openings_as_drawn(tmp_path: Path, bright: bool) -> None:
    """Bare metal dark or bright; every opening is 40 µm wider, by a disc of two pixels (scipy) on a scan that leans."""
    pair.make(crooked_scan(tmp_path / "scan.png"), None, pair.Asked(150.0, factor=2.0), tmp_path, lambda _stage: None)
    with Image.open(tmp_path / "drawn.png") as image:
        opened = ~np.asarray(image)
    opened = np.pad(np.kron(opened, np.ones((2, 2), np.bool_)), 300)  # twice as fine, on a panel with a border
    y, x = np.mgrid[-2:3, -2:3]
    opened = ndimage.binary_dilation(opened, x**2 + y**2 <= 4)
    grey = np.where(opened ^ bright, 60, 200).astype(np.uint8)
    turned = Image.fromarray(grey).rotate(1.3, resample=Image.Resampling.BICUBIC, fillcolor=int(grey[0, 0]))
    turned.save(tmp_path / "panel.png", dpi=(1200, 1200))
    (tmp_path / "compare").mkdir()
    done = pair.meet(tmp_path / "panel.png", tmp_path / "drawn.png", tmp_path / "compare")
    assert done.growth_um == pytest.approx(2 * 25_400 / 1200, abs=6.0)
    assert len(done.places) == 35
    assert max(np.hypot(one.off_x_um, one.off_y_um) for one in done.places) < 15.0
