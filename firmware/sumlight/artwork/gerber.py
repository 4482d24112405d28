"""Gerber files, RS-274X and X2 (an open standard): drawn by libraries, never taken by their outlines, at true size.

`gerbonara` makes an SVG of objects in their order, clear ones white over dark ones, and `resvg` its pixels. In its
version 1.5.0 arcs lacked their round ends; another renderer judges in the tests what comes out.
"""

import io
import warnings
from collections.abc import Iterator
from pathlib import Path

import resvg_py
from PIL import Image

from sumlight.artwork.choices import UM_PER_INCH
from sumlight.artwork.header import Header, NotReadableError, check_size
from sumlight.artwork.picture import Grey, Picture, image_strips
from sumlight.text.message import say

LARGEST_BYTES = 32_000_000
MARGIN_MM = 1.0
"""White around what is drawn, so that nothing runs off the picture."""
_WRONG = (ValueError, SyntaxError, LookupError, TypeError, AttributeError, ArithmeticError, RecursionError, OSError)


def open_gerber(path: Path, dpi: float) -> Picture:
    """Open a Gerber file. Raises NotReadableError, also without the library, which is an extra of its own."""
    if path.stat().st_size > LARGEST_BYTES:
        raise NotReadableError(say("art_file_large", mb=path.stat().st_size / 1e6, most=LARGEST_BYTES / 1e6))
    try:
        from gerbonara import GerberFile
        from gerbonara.utils import MM
    except ImportError:
        raise NotReadableError(say("art_gerber_extra")) from None
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        try:
            drawn = GerberFile.open(path)
            if not drawn.objects:
                raise NotReadableError(say("art_empty"))
            (left, bottom), (right, top) = drawn.bounding_box(MM)
            bounds = ((left - MARGIN_MM, bottom - MARGIN_MM), (right + MARGIN_MM, top + MARGIN_MM))
            wide_mm, high_mm = right - left + 2 * MARGIN_MM, top - bottom + 2 * MARGIN_MM
            width, height = (max(1, round(1000 * mm / UM_PER_INCH * dpi)) for mm in (wide_mm, high_mm))
            check_size(width, height, 4)
            svg = str(drawn.to_svg(force_bounds=bounds, arg_unit=MM, svg_unit=MM))
        except NotReadableError:
            raise
        except _WRONG as error:
            raise NotReadableError(say("art_broken", name=path.name, why=str(error) or type(error).__name__)) from None
    # Round ends are a round aperture's everywhere; parts inherit it.
    svg = svg.replace("<g transform", '<g stroke-linecap="round" stroke-linejoin="round" transform', 1)

    def strips() -> Iterator[Grey]:
        found = resvg_py.svg_to_bytes(svg_string=svg, dpi=round(dpi))
        with Image.open(io.BytesIO(bytes(found)), formats=["PNG"]) as image:
            if abs(image.width - width) > 1 or abs(image.height - height) > 1:
                raise NotReadableError(
                    say("art_svg_size", width=width, height=height, got_width=image.width, got_height=image.height)
                )
            whole = Image.new("RGB", (width, height), "white")
            whole.paste(image.convert("RGB"), (0, 0))
        yield from image_strips(whole)

    doubt = say("art_gerber_doubt", why=str(told[0].message)[:200]) if told else None
    return Picture(Header("GERBER", width, height, (dpi, dpi)), UM_PER_INCH / dpi, strips, doubt)
