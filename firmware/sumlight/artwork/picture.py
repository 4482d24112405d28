"""A picture at true scale, whose grey values come in strips of rows, so that a whole sheet never stands in memory."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from sumlight.artwork.header import Header
from sumlight.text.message import Message

Grey = NDArray[np.uint8]
"""Rows of pixels from 0, black, to 255, white."""
STRIP_PIXELS, LEAST_ROWS = 2_000_000, 16


@dataclass(frozen=True)
class Picture:
    """A picture of `header`'s size. `strips()` gives its rows from the top each time it is called."""

    header: Header
    pitch_um: float
    strips: Callable[[], Iterator[Grey]]
    doubt: Message | None = None

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height."""
        return self.header.width_px * self.pitch_um / 1000, self.header.height_px * self.pitch_um / 1000


def strip_rows(width_px: int) -> int:
    """How many rows a strip has."""
    return max(LEAST_ROWS, STRIP_PIXELS // width_px)


def image_strips(image: Image.Image) -> Iterator[Grey]:
    """Grey rows of an image; what is transparent is white, as paper is."""
    rows = strip_rows(image.width)
    for first in range(0, image.height, rows):
        part = image.crop((0, first, image.width, min(first + rows, image.height)))
        yield _grey(part)


def _grey(part: Image.Image) -> Grey:
    if part.mode.startswith("I;16"):
        return (np.asarray(part) >> 8).astype(np.uint8)
    if part.mode in ("RGBA", "LA", "PA") or "transparency" in part.info:
        clear = part.convert("RGBA")
        paper = Image.new("RGBA", clear.size, "white")
        part = Image.alpha_composite(paper, clear)
    return np.asarray(part.convert("L"), dtype=np.uint8)
