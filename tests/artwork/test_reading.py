"""Files are read at true scale, and by their headers first. Files are made by Pillow or by hand, byte by byte."""

import struct
import tracemalloc
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sumlight.artwork.header import NotReadableError
from sumlight.artwork.picture import Picture
from sumlight.artwork.reading import Known, ScaleNeededError, open_picture
from sumlight.artwork.sheet import Tones, sheet_of, tones
from tests.artwork.shapes import disc

# A circle of 5 mm radius and a square of 5 mm on 20 mm: its share of black is exact.
SVG = """<svg xmlns="http://www.w3.org/2000/svg" width="{size}" height="{size}" viewBox="0 0 20 20">
<rect width="20" height="20" fill="white"/><circle cx="7" cy="7" r="5"/><rect x="13" y="13" width="5" height="5"/>
</svg>"""
SHARE = (np.pi * 25 + 25) / 400


def image(mode: str = "L") -> Image.Image:
    """A black disc of 30 px on white, 100 × 80."""
    grey = np.full((80, 100), 255, np.uint8)
    grey[:, :80][disc(80, 30)] = 0
    return Image.fromarray(grey).convert(mode)


def share_of(found: Picture) -> float:
    """Share of black."""
    return tones(found.strips()).black_share


@pytest.mark.parametrize(
    ("suffix", "mode", "more"),
    [
        ("png", "1", {}),
        ("png", "L", {}),
        ("png", "P", {}),
        ("png", "RGB", {}),
        ("png", "RGBA", {}),
        ("bmp", "L", {}),
        ("bmp", "RGB", {}),
        ("jpg", "L", {"quality": 95}),
        ("jpg", "CMYK", {"quality": 95}),
        ("tif", "1", {"compression": "group4"}),
        ("tif", "L", {"compression": "tiff_lzw"}),
        ("tif", "RGB", {}),
    ],
)
def test_size_and_share_of_every_kind(tmp_path: Path, suffix: str, mode: str, more: dict[str, object]) -> None:
    """600 dpi is 42.333 µm; a disc of 30 px covers π 30² of 8000 pixels."""
    path = tmp_path / f"a.{suffix}"
    image(mode).save(path, dpi=(600, 600), **more)
    found = open_picture(path)
    assert (found.header.width_px, found.header.height_px) == (100, 80)
    assert found.pitch_um == pytest.approx(25_400 / 600, rel=1e-4)
    assert share_of(found) == pytest.approx(np.pi * 900 / 8000, abs=0.003)


@pytest.mark.parametrize(("suffix", "more"), [("png", {}), ("jpg", {}), ("tif", {}), ("bmp", {"dpi": (0, 0)})])
def test_a_file_without_scale_asks_for_one_known_length(tmp_path: Path, suffix: str, more: dict[str, object]) -> None:
    """It never takes 72 dpi for granted; with the length it is read."""
    path = tmp_path / f"a.{suffix}"
    image().save(path, **more)
    with pytest.raises(ScaleNeededError, match="Measure one length"):
        open_picture(path)
    assert open_picture(path, known=Known(50, 1000)).pitch_um == 20
    with pytest.raises(ValueError, match="does not lie on a picture of 100 × 80"):
        open_picture(path, known=Known(400, 1000))


@pytest.mark.parametrize("suffix", ["png", "pdf"])
@pytest.mark.parametrize("known", [Known(50, 0.0), Known(0.0, 1000)])
def test_a_known_length_of_nothing_is_no_scale(tmp_path: Path, suffix: str, known: Known) -> None:
    """Whether the file has pixels of its own or is drawn at the scale."""
    path = tmp_path / f"a.{suffix}"
    image().save(path)
    with pytest.raises(ValueError, match=r"must lie between|does not lie|would make a pixel"):
        open_picture(path, known=known)


def test_a_ratio_is_no_scale_and_a_screen_s_is_doubted(tmp_path: Path) -> None:
    """TIFF's ResolutionUnit 1 is a ratio; 72 and 96 are what programs write that know no size."""
    path = tmp_path / "a.tif"
    image().save(path, tiffinfo={282: 600.0, 283: 600.0, 296: 1})
    with pytest.raises(ScaleNeededError):
        open_picture(path)
    image().save(tmp_path / "a.png", dpi=(96, 96))
    doubt = open_picture(tmp_path / "a.png").doubt
    assert doubt is not None
    assert "26.5 mm wide" in doubt  # 100 px of 25.4/96 mm
    image().save(tmp_path / "b.png", dpi=(600, 1200))
    with pytest.raises(NotReadableError, match="600 dpi across and 1200 dpi down"):
        open_picture(tmp_path / "b.png")


def png(width: int, height: int, rows: bytes = b"") -> bytes:
    """A PNG by hand (ISO/IEC 15948), 1 bit grey."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    header = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    density = struct.pack(">IIB", 23622, 23622, 1)
    ends = chunk(b"pHYs", density) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + ends


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (png(30_000, 30_000), "million pixels"),
        (png(12_000, 12_400), "bytes cannot hold them"),
        (png(12_500, 12_400) + bytes(20_000), "155 million pixels; 150 is the most"),
        (png(0, 5), "cannot be read"),
        (
            b"BM" + struct.pack("<IHHIIiiHHIIiiII", 54, 0, 0, 54, 40, 5000, 5000, 1, 24, 0, 0, 23622, 23622, 0, 0),
            "hold",
        ),
        (b"", "is neither PNG"),
        (b"GIF89a" + bytes(40), "is neither PNG"),
        (b"\x89PNG\r\n\x1a\n" + bytes(40), "cannot be read"),
        (b"%PDF-1.4\nnothing", "cannot be read"),
        (b"<svg", "cannot be read"),
    ],
)
def test_bombs_and_liars_are_refused_before_a_pixel_is_unpacked(tmp_path: Path, data: bytes, words: str) -> None:
    """Within two megabytes of memory, where unpacking the second would take 149."""
    path = tmp_path / "a"
    path.write_bytes(data)
    tracemalloc.start()
    try:
        with pytest.raises(NotReadableError, match=words):
            open_picture(path)
        assert tracemalloc.get_traced_memory()[1] < 2_000_000
    finally:
        tracemalloc.stop()


def test_colour_that_does_not_fit_is_refused_and_the_same_in_grey_is_not(tmp_path: Path) -> None:
    """Four bytes a pixel in memory: 41 million are 164 MB."""
    for mode, fits in (("RGB", False), ("L", True)):
        path = tmp_path / f"{mode}.png"
        path.write_bytes(big_png(6500, 6400, {"RGB": 2, "L": 0}[mode]))
        if fits:
            assert open_picture(path).header.width_px == 6500
        else:
            with pytest.raises(NotReadableError, match="in colour do not fit"):
                open_picture(path)


def big_png(width: int, height: int, colour: int) -> bytes:
    """As `png`, 8 bits, with as many bytes as its size could take."""
    made = bytearray(png(width, height, b""))
    made[24:26] = bytes((8, colour))
    made[29:33] = struct.pack(">I", zlib.crc32(bytes(made[12:29])))
    return bytes(made) + bytes(width * height * 3 // 1000)


def test_what_is_broken_inside_says_so(tmp_path: Path) -> None:
    """Its header was right."""
    path = tmp_path / "a.png"
    image().save(path, dpi=(600, 600))
    path.write_bytes(path.read_bytes()[:150])
    found = open_picture(path)
    with pytest.raises(NotReadableError, match=r"a\.png cannot be read"):
        list(found.strips())


def test_svg_and_pdf_are_drawn_at_true_size(tmp_path: Path) -> None:
    """20 mm at 1200 dpi are 945 pixels; the share of black is exact geometry (within 0.1 %, craft reference B3)."""
    path = tmp_path / "a.svg"
    path.write_text(SVG.format(size="20mm"), encoding="utf-8")
    found = open_picture(path)
    assert (found.header.width_px, found.header.height_px) == (945, 945)
    assert share_of(found) == pytest.approx(SHARE, abs=1e-3)
    sheet = sheet_of(found, 128)
    assert sheet.open_share == pytest.approx(SHARE, abs=1e-3)
    for size in ("20px", "20", "100%"):
        path.write_text(SVG.format(size=size), encoding="utf-8")
        with pytest.raises(NotReadableError, match="has no size"):
            open_picture(path)


def test_a_pdf_is_drawn_in_strips_that_meet(tmp_path: Path) -> None:
    """Made by Pillow; a strip more or less must not shift a row."""
    path = tmp_path / "a.pdf"
    grey = np.full((1200, 1800), 255, np.uint8)
    grey[np.add.outer(np.arange(1200) // 100, np.arange(1800) // 100) % 2 == 0] = 0
    Image.fromarray(grey).save(path, resolution=1200, quality=95)
    found = open_picture(path)
    assert found.size_mm == pytest.approx((1800 * 25.4 / 1200, 1200 * 25.4 / 1200), rel=1e-3)
    parts = list(found.strips())
    assert len(parts) > 1
    drawn = np.concatenate(parts) < 128
    assert drawn.shape == (1200, 1800)
    assert np.count_nonzero(drawn != (grey < 128)) < 0.002 * grey.size


def test_a_pdf_that_is_too_large_is_refused(tmp_path: Path) -> None:
    """By the size of its page."""
    path = tmp_path / "a.pdf"
    image().save(path, resolution=10)
    with pytest.raises(NotReadableError, match="million pixels"):
        open_picture(path, known=Known(2400, 25_400))


def test_the_threshold_lies_midway_between_the_tones() -> None:
    """Black at 40 and white at 200, blurred between: 120, and half of the fringe is grey (uniform by construction)."""
    counts = np.zeros(256, np.int64)
    counts[40], counts[200] = 4000, 4000
    counts[41:200] += 10
    assert Tones(counts).threshold == pytest.approx(120, abs=1)
    assert Tones(counts).fringe_share == pytest.approx(0.5 * 1590 / 9590, abs=0.01)
