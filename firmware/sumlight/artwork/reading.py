"""Opens artwork of any kind at true scale: by its header first, and by one known length where it does not say."""

import warnings
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from PIL import Image

from sumlight.artwork.choices import UM_PER_INCH
from sumlight.artwork.drawing import open_drawing
from sumlight.artwork.gerber import open_gerber
from sumlight.artwork.header import DPI, Header, NotReadableError, header_of, kind_of
from sumlight.artwork.picture import Grey, Picture, image_strips
from sumlight.craft.checks import between
from sumlight.text.message import Message, say

SCREEN_DPI = (72.0, 96.0)
"""What programs write that know no size."""
DRAWN_DPI = 1200.0
SQUARE_WITHIN = 0.001
"""So far may the scales along both axes differ."""


class ScaleNeededError(ValueError):
    """The file does not say how large it is: one known length is asked for."""


@dataclass(frozen=True)
class Known:
    """One known length of a picture: so many pixels are so many µm."""

    pixels: float
    length_um: float


def open_picture(path: Path, *, known: Known | None = None) -> Picture:
    """Open a file by its header. `known` gives or replaces its scale; PDF and SVG are drawn at it (or at 1200 dpi).

    Raises NotReadableError for what cannot or must not be read, ScaleNeededError for a file that does not say its
    scale, ValueError for an impossible `known`, OSError for what cannot be opened.
    """
    kind = kind_of(path)
    if kind in ("PDF", "SVG", "GERBER"):
        dpi = DRAWN_DPI if known is None else UM_PER_INCH * known.pixels / max(known.length_um, 1e-9)
        between("dpi", dpi, *DPI)
        return open_gerber(path, dpi) if kind == "GERBER" else open_drawing(path, kind, dpi)
    header = header_of(path, kind)
    pitch, doubt = scale_of(header, known)
    return Picture(header, pitch, lambda: _strips(path, kind), doubt)


def scale_of(header: Header, known: Known | None) -> tuple[float, Message | None]:
    """µm of a pixel, and what speaks against it. Raises as `open_picture` does."""
    if known is not None:
        if not 0 < known.pixels <= 1.5 * max(header.width_px, header.height_px):
            raise ValueError(
                say("art_known_pixels", pixels=known.pixels, width=header.width_px, height=header.height_px)
            )
        pitch = known.length_um / known.pixels
        if not DPI[0] <= UM_PER_INCH / max(pitch, 1e-9) <= DPI[1]:
            widest, narrowest = (UM_PER_INCH / dpi for dpi in DPI)
            raise ValueError(say("art_known_scale", pitch=pitch, low=narrowest, high=widest))
        return pitch, None
    if header.dpi is None:
        raise ScaleNeededError(say("art_scale_asked", width=header.width_px, height=header.height_px))
    across, down = header.dpi
    if abs(across / down - 1) > SQUARE_WITHIN:
        raise NotReadableError(say("art_not_square", across=across, down=down))
    doubt = None
    if round(across) in SCREEN_DPI:
        wide = header.width_px * UM_PER_INCH / across / 1000
        doubt = say("art_screen_dpi", dpi=across, wide=wide)
    return UM_PER_INCH / ((across + down) / 2), doubt


def _strips(path: Path, kind: str) -> Iterator[Grey]:
    """Unpack a file that has passed by its header. Raises NotReadableError for what is broken inside."""
    with ExitStack() as stack:
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                image = stack.enter_context(Image.open(path, formats=[kind]))
                image.load()
        except (OSError, ValueError, SyntaxError, EOFError, MemoryError, Image.DecompressionBombError) as error:
            raise NotReadableError(say("art_broken", name=path.name, why=str(error))) from None
        yield from image_strips(image)
