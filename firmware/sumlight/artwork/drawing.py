"""Drawings with lines instead of pixels, PDF and SVG, drawn at true size. A PDF is drawn in strips."""

import io
import math
import re
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pypdfium2
import resvg_py
from PIL import Image

from sumlight.artwork.choices import UM_PER_INCH
from sumlight.artwork.header import Header, NotReadableError, check_size
from sumlight.artwork.picture import Grey, Picture, image_strips, strip_rows
from sumlight.text.message import say

POINTS_PER_INCH = 72.0
WHOLE = 1 - 1e-6
"""A page of 108 points is 1800 pixels at 1200 dpi, not one more for what a float adds."""
INCHES = {"mm": 1 / 25.4, "cm": 1 / 2.54, "in": 1.0, "pt": 1 / 72, "pc": 1 / 6}
"""Units of SVG that have a size; `px` has none: 96, 90 and 72 to the inch are about."""
LARGEST_SVG_BYTES = 32_000_000
_LENGTH = re.compile(r"\s*(\d+(?:\.\d*)?|\.\d+)\s*(mm|cm|in|pt|pc)\s*")


def open_drawing(path: Path, kind: str, dpi: float) -> Picture:
    """Open a drawing at `dpi`. Raises NotReadableError."""
    return _open_pdf(path, dpi) if kind == "PDF" else _open_svg(path, dpi)


def _open_pdf(path: Path, dpi: float) -> Picture:
    scale = dpi / POINTS_PER_INCH * WHOLE
    try:
        with pypdfium2.PdfDocument(path) as document:
            pages = len(document)
            page = document[0]
            width_pt, height_pt = page.get_size()
    except (pypdfium2.PdfiumError, IndexError, ValueError) as error:
        raise NotReadableError(say("art_broken", name=path.name, why=str(error))) from None
    width, height = math.ceil(width_pt * scale), math.ceil(height_pt * scale)
    check_size(width, height)
    um_per_pt = UM_PER_INCH / POINTS_PER_INCH
    pitch = math.sqrt(width_pt * um_per_pt / width * (height_pt * um_per_pt / height))

    def strips() -> Iterator[Grey]:
        rows = strip_rows(width)
        with pypdfium2.PdfDocument(path) as document:
            page = document[0]
            for first in range(0, height, rows):
                last = min(first + rows, height)
                top, bottom = (max(0.0, cut - 0.5) / scale for cut in (first, height - last))  # it rounds up
                bitmap = page.render(scale=scale, crop=(0, bottom, 0, top), grayscale=True)
                yield np.ascontiguousarray(bitmap.to_numpy().reshape(last - first, width))
                bitmap.close()

    doubt = say("art_first_page", pages=pages) if pages > 1 else None
    return Picture(Header("PDF", width, height, (dpi, dpi)), pitch, strips, doubt)


def _open_svg(path: Path, dpi: float) -> Picture:
    if path.stat().st_size > LARGEST_SVG_BYTES:
        raise NotReadableError(say("art_file_large", mb=path.stat().st_size / 1e6, most=LARGEST_SVG_BYTES / 1e6))
    try:
        text = path.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise NotReadableError(say("art_broken", name=path.name, why=str(error))) from None
    if "<!ENTITY" in text:
        raise NotReadableError(say("art_svg_entities"))
    inches = _svg_inches(path, text)
    width, height = (max(1, round(one * dpi)) for one in inches)
    check_size(width, height, 4)

    def strips() -> Iterator[Grey]:
        try:
            drawn = resvg_py.svg_to_bytes(svg_string=text, dpi=round(dpi))
        except ValueError as error:
            raise NotReadableError(say("art_broken", name=path.name, why=str(error))) from None
        with Image.open(io.BytesIO(bytes(drawn)), formats=["PNG"]) as image:
            if image.size != (width, height):
                told = say("art_svg_size", width=width, height=height, got_width=image.width, got_height=image.height)
                raise NotReadableError(told)
            yield from image_strips(image)

    doubt = say("art_svg_text") if re.search(r"<text\b", text) else None
    return Picture(Header("SVG", width, height, (dpi, dpi)), UM_PER_INCH / dpi, strips, doubt)


def _svg_inches(path: Path, text: str) -> tuple[float, float]:
    """Width and height of the root; only units that have a size count."""
    try:
        # Entities were refused above, and expat bounds what is left.
        _event, root = next(iter(ElementTree.iterparse(io.BytesIO(text.encode()), events=("start",))))  # noqa: S314
    except (ElementTree.ParseError, StopIteration) as error:
        raise NotReadableError(say("art_broken", name=path.name, why=str(error))) from None
    found = []
    for name in ("width", "height"):
        match = _LENGTH.fullmatch(root.get(name, ""))
        if match is None:
            raise NotReadableError(say("art_svg_unit", name=name, value=root.get(name, "nothing")))
        found.append(float(match[1]) * INCHES[match[2]])
    return found[0], found[1]
