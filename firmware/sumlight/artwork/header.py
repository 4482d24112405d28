"""What a file says of itself before a pixel is unpacked: its kind, size and density. Bombs and liars end here."""

import re
import struct
import warnings
from dataclasses import dataclass
from pathlib import Path

from PIL import Image

from sumlight.text.message import say

LARGEST_FILE_BYTES = 512_000_000
LARGEST_PIXELS = 150_000_000
"""An A4 sheet at 1200 dpi has 139 million."""
LARGEST_UNPACKED_BYTES = 160_000_000
"""In memory: one byte for a pixel that is grey or black and white, four for one in colour."""
DEFLATE_AT_MOST = 1032
"""To 1: the most that deflate can pack (zlib's own technical notes)."""
DPI = (50.0, 20_000.0)
_BEGIN = {b"\x89PNG\r\n\x1a\n": "PNG", b"II*\0": "TIFF", b"MM\0*": "TIFF", b"\xff\xd8\xff": "JPEG", b"BM": "BMP"}
_GERBER = re.compile(rb"^\s*(?=G0?4|%).*?%FS[LTDAI]*X\d\dY\d\d\*%", re.DOTALL)
"""Begins with a comment or an extended command, and states the format of its coordinates (RS-274X, FS)."""
_CM_PER_INCH = 2.54
_X_DENSITY, _Y_DENSITY, _DENSITY_UNIT = 282, 283, 296
_STRIP_BYTES, _TILE_BYTES = 279, 325


class NotReadableError(ValueError):
    """The file is none that can be read here, or none that should be."""


@dataclass(frozen=True)
class Header:
    """Size in pixels, and pixels per inch along both axes; None where the file does not say."""

    kind: str
    width_px: int
    height_px: int
    dpi: tuple[float, float] | None


def kind_of(path: Path) -> str:
    """Tell PNG, TIFF, JPEG, BMP, PDF, SVG and Gerber by how a file begins, whatever it is called.

    Raises NotReadableError for anything else and for files above 512 MB, OSError for what cannot be opened.
    """
    size = path.stat().st_size
    if size > LARGEST_FILE_BYTES:
        raise NotReadableError(say("art_file_large", mb=size / 1e6, most=LARGEST_FILE_BYTES / 1e6))
    with path.open("rb") as file:
        begin = file.read(65536)
    for mark, kind in _BEGIN.items():
        if begin.startswith(mark):
            return kind
    if b"%PDF-" in begin[:1024]:
        return "PDF"
    if b"<svg" in begin[:4096]:
        return "SVG"
    if _GERBER.search(begin):
        return "GERBER"
    raise NotReadableError(say("art_kind_unknown", name=path.name))


def check_size(width_px: float, height_px: float, bytes_per_pixel: int = 1) -> None:
    """Refuse what is too large to unpack. Raises NotReadableError."""
    if width_px < 1 or height_px < 1:
        raise NotReadableError(say("art_empty"))
    pixels = width_px * height_px
    if pixels > LARGEST_PIXELS:
        raise NotReadableError(say("art_pixels", pixels=pixels / 1e6, most=LARGEST_PIXELS / 1e6))
    if pixels * bytes_per_pixel > LARGEST_UNPACKED_BYTES:
        most = LARGEST_UNPACKED_BYTES / bytes_per_pixel / 1e6
        raise NotReadableError(say("art_pixels_in_colour", pixels=pixels / 1e6, most=most))


def header_of(path: Path, kind: str) -> Header:
    """Read the header of a PNG, TIFF, JPEG or BMP. Raises NotReadableError."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # its first limit is below ours; its second one stays
            with Image.open(path, formats=[kind]) as image:
                width, height = image.size
                check_size(width, height, unpacked_bytes(image.mode))
                _refuse_liar(path, kind, image)
                return Header(kind, width, height, _dpi(kind, image))
    except Image.DecompressionBombError:
        raise NotReadableError(say("art_bomb", most=LARGEST_PIXELS / 1e6)) from None
    except NotReadableError:
        raise
    except (OSError, ValueError, SyntaxError, struct.error, KeyError, TypeError) as error:
        raise NotReadableError(say("art_broken", name=path.name, why=str(error))) from None


def unpacked_bytes(mode: str) -> int:
    """What a pixel takes in memory, by the library's name of its mode."""
    return 1 if mode in ("1", "L", "P") else 2 if mode.startswith("I;16") else 4


def _refuse_liar(path: Path, kind: str, image: Image.Image) -> None:
    """Refuse a size that the file is too short to hold."""
    size = path.stat().st_size
    least = 0.0
    if kind == "PNG":
        with path.open("rb") as file:
            start = file.read(26)
        width, height, depth, colour = struct.unpack(">IIBB", start[16:26])
        channels = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}.get(colour, 1)
        least = height * (1 + width * depth * channels / 8) / DEFLATE_AT_MOST
    elif kind == "BMP":
        with path.open("rb") as file:
            start = file.read(34)
        bits, packing = struct.unpack("<HI", start[28:34])
        least = (image.width * bits + 31) // 32 * 4 * image.height if packing in (0, 3) else 0
    elif kind == "TIFF":
        tags = image.tag_v2
        counts = tags.get(_STRIP_BYTES) or tags.get(_TILE_BYTES) or ()
        least = sum(counts if isinstance(counts, tuple) else (counts,))
    if size < least:
        told = say("art_liar", name=path.name, width=image.width, height=image.height, size=size, least=least)
        raise NotReadableError(told)


def _dpi(kind: str, image: Image.Image) -> tuple[float, float] | None:
    """Pixels per inch where a physical unit is stated; a mere ratio says nothing, and 72 is never assumed."""
    info = image.info
    found: tuple[float, float] | None = None
    if kind in ("PNG", "BMP"):
        found = info.get("dpi")
    elif kind == "JPEG" and info.get("jfif_unit") in (1, 2):
        x, y = info["jfif_density"]
        found = (x, y) if info["jfif_unit"] == 1 else (x * _CM_PER_INCH, y * _CM_PER_INCH)
    else:
        tags = image.tag_v2 if kind == "TIFF" else image.getexif()
        unit = tags.get(_DENSITY_UNIT, 2)
        if _X_DENSITY in tags and _Y_DENSITY in tags and unit in (2, 3):
            x, y = float(tags[_X_DENSITY]), float(tags[_Y_DENSITY])
            found = (x, y) if unit == 2 else (x * _CM_PER_INCH, y * _CM_PER_INCH)
    if found is None or not all(DPI[0] <= one <= DPI[1] for one in found):
        return None
    return float(found[0]), float(found[1])
