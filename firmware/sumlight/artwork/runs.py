"""Widths by run lengths in four directions: of lines (kept metal) and of gaps (openings), where edges run alongside.

A run across a line is its width only where both its ends stand still from row to row: at the top of a disc they race
apart, and the run there says nothing. Directions are 45° apart, so that no line lies further than 22.5° from being
crossed at right angles: widths come out at most 1/cos 22.5° = 1.082 times too large, and by a pixel's digits.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sumlight.artwork.sheet import Mask, Sheet

SLOPE = 0.5
"""Ends may move by so many pixels a row: tan 22.5° is 0.414."""
NARROWS = 0.15
"""And a run may become so much shorter there: a quarter of its diameter from the middle a disc has lost 0.134 of it."""
DIRECTIONS = ("across", "down", "falling", "rising")
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Widths:
    """Places with their widths, in pixels; x and y of the middle of each run."""

    x_px: NDArray[np.float64]
    y_px: NDArray[np.float64]
    width_px: NDArray[np.float64]

    def smallest(self, apart_px: float, count: int) -> list[tuple[float, float, float]]:
        """The smallest widths as (x, y, width), no two nearer than `apart_px`."""
        found: list[tuple[float, float, float]] = []
        for at in np.lexsort((self.x_px, self.y_px, self.width_px))[: 200 * count]:
            x, y, width = float(self.x_px[at]), float(self.y_px[at]), float(self.width_px[at])
            if all(math.hypot(x - one[0], y - one[1]) >= apart_px for one in found):
                found.append((x, y, width))
                if len(found) == count:
                    break
        return found


def widths(sheet: Sheet, of_open: bool, longest_px: int) -> Widths:
    """All widths up to `longest_px`, of openings or of metal. What the sheet's edge cuts is not measured."""
    found: list[tuple[NDArray[np.float64], ...]] = []
    for strip in sheet.strips(halo_px=2 * longest_px + 2):
        mask = strip.rows if of_open else ~strip.rows
        core = strip.core
        top = strip.first - strip.above
        for direction in DIRECTIONS:
            x, y, width = _measured(mask, direction, longest_px)
            inside = (y >= core.start) & (y < core.stop)
            found.append((x[inside], y[inside] + top, width[inside]))
    columns = [np.concatenate([one[i] for one in found]) if found else np.zeros(0) for i in range(3)]
    return Widths(*(column.astype(np.float64) for column in columns))


def run_share(sheet: Sheet, shorter_px: int) -> Iterator[float]:
    """For black and for white: the share of its area that lies in runs shorter than that both across and down."""
    for of_open in (True, False):
        short = whole = 0
        for strip in sheet.strips():
            mask = strip.rows if of_open else ~strip.rows
            both = _in_short_runs(mask, shorter_px) & _in_short_runs(mask.T, shorter_px).T
            short += int(np.count_nonzero(both))
            whole += int(np.count_nonzero(mask))
        yield short / whole if whole else 0.0


def _in_short_runs(mask: Mask, shorter_px: int) -> Mask:
    starts, ends, width = _runs(mask)
    marked = np.zeros(mask.shape[0] * width + 1, np.int8)
    short = ends - starts < shorter_px
    marked[starts[short]] += 1
    marked[ends[short]] -= 1
    inside = np.cumsum(marked[:-1], dtype=np.int8).reshape(mask.shape[0], width)
    return inside[:, : mask.shape[1]].astype(np.bool_)


def _measured(
    mask: Mask, direction: str, longest_px: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Middles and widths in the coordinates of `mask`."""
    if direction == "across":
        row, middle, length = _steady(mask, longest_px, slanted=False)
        return middle, row, length
    if direction == "down":
        row, middle, length = _steady(np.ascontiguousarray(mask.T), longest_px, slanted=False)
        return row, middle, length
    width = mask.shape[1]
    turned = mask[:, ::-1] if direction == "falling" else mask
    diagonal, y, length = _steady(_sheared(turned), math.ceil(longest_px / math.sqrt(2)), slanted=True)
    x = diagonal - y
    reach = length / 2 + 1  # a run that comes to the left or right end of the picture is cut there
    keep = (x - reach >= 0) & (x + reach <= width - 1)
    x = width - 1 - x if direction == "falling" else x
    return x[keep], y[keep], length[keep] * math.sqrt(2)


def _sheared(mask: Mask) -> Mask:
    """Diagonals as rows: element [x + y, y] is mask[y, x]; what lies outside is False."""
    height, width = mask.shape
    padded = np.zeros((height, width + height), np.bool_)
    padded[:, :width] = mask
    slanted = padded.ravel()[: height * (width + height - 1)].reshape(height, width + height - 1)
    return np.ascontiguousarray(slanted.T)


def _runs(mask: Mask) -> tuple[Ints, Ints, int]:
    """Starts and ends of all runs as row × width + column, `width` having one column more, which parts the rows."""
    height, width = mask.shape
    padded = np.zeros((height, width + 1), np.int8)
    padded[:, :width] = mask
    change = np.diff(padded.ravel(), prepend=np.int8(0))
    return np.flatnonzero(change == 1), np.flatnonzero(change == -1), width + 1


def _steady(
    mask: Mask, longest_px: int, *, slanted: bool
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Rows, middles and lengths of runs whose ends stand still an eighth and a quarter of their length away.

    `slanted` rows are diagonals: straight on is then two rows with one step along, and a pixel of the picture lies on
    every other of them, so that the length is the mean of two neighbours'.
    """
    starts, ends, width = _runs(mask)
    length = ends - starts
    column = starts % width
    asked = np.flatnonzero((length <= longest_px) & (column > 0) & (column + length < width - 1))
    for sign in (-1, 1):
        for share in (2, 4) if slanted else (4, 8):
            away = sign * np.maximum(2 if slanted else 1, length[asked] // share)
            asked = asked[_alike(starts, ends, width, asked, away, slanted)]
    measured = length[asked].astype(np.float64)
    if slanted:
        beside = _met(starts, ends, width, asked, np.ones_like(asked), slanted)
        measured = np.where(beside >= 0, (measured + length[beside]) / 2, measured)
    return (starts[asked] // width).astype(np.float64), column[asked] + (length[asked] - 1) / 2, measured


def _met(starts: Ints, ends: Ints, width: int, asked: Ints, away: Ints, slanted: bool) -> Ints:
    """Which run lies straight on, so many rows away; -1 for none."""
    along = away // 2 if slanted else 0
    target = (starts[asked] + ends[asked] - 1) // 2 + away * width + along
    at = np.searchsorted(starts, target, side="right") - 1
    return np.where((at >= 0) & (ends[np.maximum(at, 0)] > target), at, -1)


def _alike(starts: Ints, ends: Ints, width: int, asked: Ints, away: Ints, slanted: bool) -> Mask:
    """Whether the run straight on has its ends about where this one has them."""
    met = _met(starts, ends, width, asked, away, slanted)
    straight = away * width + (away // 2 if slanted else 0)
    moved = np.abs(away) * (SLOPE / 2 if slanted else SLOPE) + 1
    at_start = starts[met] - starts[asked] - straight
    at_end = ends[met] - ends[asked] - straight
    steady = np.abs(at_end - at_start) <= NARROWS * (ends[asked] - starts[asked]) + 1
    return np.asarray((met >= 0) & (np.abs(at_start) <= moved) & (np.abs(at_end) <= moved) & steady)
