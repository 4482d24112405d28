"""A sheet in black and white, eight pixels to a byte, worked on in strips of rows with a halo.

True is *open*: where the resist leaves the metal to the bath.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sumlight.artwork.picture import Grey, Picture, strip_rows
from sumlight.text.message import say

Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Strip:
    """Rows `first` to `last` of a sheet, with rows of the halo above (`above`) and below them in `rows`."""

    first: int
    last: int
    above: int
    rows: Mask

    @property
    def core(self) -> slice:
        """Where in `rows` the strip's own rows lie."""
        return slice(self.above, self.above + self.last - self.first)


@dataclass(frozen=True)
class Sheet:
    """Black and white at a pitch."""

    packed: NDArray[np.uint8]
    width_px: int
    pitch_um: float

    @property
    def height_px(self) -> int:
        """Number of rows."""
        return int(self.packed.shape[0])

    def rows(self, first: int, last: int) -> Mask:
        """Rows as an array, True where open."""
        return np.unpackbits(self.packed[first:last], axis=1, count=self.width_px).view(np.bool_)

    def strips(self, halo_px: int = 0) -> Iterator[Strip]:
        """The whole sheet from its top, each strip with as much of a halo as there is."""
        step = strip_rows(self.width_px)
        for first in range(0, self.height_px, step):
            last = min(first + step, self.height_px)
            top = max(0, first - halo_px)
            yield Strip(first, last, first - top, self.rows(top, min(self.height_px, last + halo_px)))

    @property
    def open_share(self) -> float:
        """Share of the sheet that is open."""
        return open_px(self) / (self.width_px * self.height_px)

    @property
    def pixel_mm2(self) -> float:
        """Area of a pixel."""
        return (self.pitch_um / 1000) ** 2


def check_one_size(front: Sheet, back: Sheet) -> None:
    """Raise ValueError if front and back have not as many pixels across and down."""
    if (front.width_px, front.height_px) != (back.width_px, back.height_px):
        told = say(
            "art_two_sizes",
            front_width=front.width_px,
            front_height=front.height_px,
            back_width=back.width_px,
            back_height=back.height_px,
        )
        raise ValueError(told)


def open_px(sheet: Sheet) -> int:
    """How many pixels are open."""
    return sum(int(np.count_nonzero(strip.rows)) for strip in sheet.strips())


def from_mask(mask: Mask, pitch_um: float) -> Sheet:
    """A sheet of an array."""
    return Sheet(np.packbits(mask, axis=1), int(mask.shape[1]), pitch_um)


def from_rows(parts: Iterable[Mask], height_px: int, width_px: int, pitch_um: float) -> Sheet:
    """A sheet of arrays that follow each other from the top."""
    packed = np.empty((height_px, (width_px + 7) // 8), np.uint8)
    row = 0
    for part in parts:
        packed[row : row + len(part)] = np.packbits(part, axis=1)
        row += len(part)
    return Sheet(packed, width_px, pitch_um)


@dataclass(frozen=True)
class Tones:
    """The grey values of a picture: how many pixels have each of 256, and what follows from it."""

    counts: NDArray[np.int64]

    @property
    def black_share(self) -> float:
        """Area of black by the mean of grey, which soft edges do not shift (craft reference A11)."""
        return float(1 - (self.counts @ np.arange(256)) / (255 * self.counts.sum()))

    @property
    def levels(self) -> tuple[float, float]:
        """Mean black and mean white, parted where the spread within both is least (Otsu 1979)."""
        values = np.arange(256)
        below = np.cumsum(self.counts)
        total, weighted = below[-1], np.cumsum(self.counts * values)
        with np.errstate(divide="ignore", invalid="ignore"):
            low, high = weighted / below, (weighted[-1] - weighted) / (total - below)
            between = np.nan_to_num(below * (total - below) * (high - low) ** 2.0)
        if between.max() <= 0:
            return 0.0, 255.0  # one tone only
        at = int(between.argmax())
        return float(low[at]), float(high[at])

    @property
    def threshold(self) -> float:
        """Midway between black and white: there a blurred edge lies where the sharp one was."""
        low, high = self.levels
        return (low + high) / 2

    @property
    def spread(self) -> float:
        """How far tones lie from their level, black or white: root mean square over what parts the two levels."""
        low, high = self.levels
        values = np.arange(256)
        off = np.where(values < self.threshold, values - low, values - high)
        return float(np.sqrt((self.counts @ off**2) / self.counts.sum()) / max(high - low, 1.0))

    @property
    def fringe_share(self) -> float:
        """Share of pixels that are neither: in the middle half between black and white."""
        low, high = self.levels
        quarter = (high - low) / 4
        values = np.arange(256)
        grey = (values > low + quarter) & (values < high - quarter)
        return float(self.counts[grey].sum() / self.counts.sum())


def tones(parts: Iterable[Grey]) -> Tones:
    """Count grey values."""
    counts = np.zeros(256, np.int64)
    for part in parts:
        counts += np.bincount(part.ravel(), minlength=256)
    return Tones(counts)


def sheet_of(picture: Picture, threshold: float, black: str = "open") -> Sheet:
    """Part a picture at a grey value; `black` says whether black is open or metal."""
    dark_is_open = black == "open"
    parts = ((part < threshold) == dark_is_open for part in picture.strips())
    return from_rows(parts, picture.header.height_px, picture.header.width_px, picture.pitch_um)
