"""Tabs: bridges of metal that hold what would fall out, where the way to held metal is shortest, spread around it."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sumlight.artwork.check import loose_pieces
from sumlight.artwork.front import Build
from sumlight.artwork.regions import FOUR, pieces_by_row
from sumlight.artwork.sheet import Mask, Sheet, from_rows
from sumlight.craft.checks import between
from sumlight.craft.etching.limits import MOST_TABS

LONGEST_PX = 1500
LEAST_MM2 = 0.5
"""Smaller pieces are let go: no tab could be broken off them cleanly (common practice, no source)."""
MOST_PIECES = 200
FURTHER = 2.0
"""A tab may be so much longer than the piece's shortest one."""


@dataclass(frozen=True)
class Tab:
    """A bridge in pixels of the drawing, from the piece to what holds it."""

    x_px: float
    y_px: float
    to_x_px: float
    to_y_px: float


@dataclass(frozen=True)
class Tabbed:
    """The drawing with its tabs, how many there are, and how wide each is where it is narrowest after etching.

    `back` is the back's drawing with the same ones, None where it is the front's.
    """

    sheet: Sheet
    count: int
    width_um: float
    back: Sheet | None = None


def with_tabs(drawing: Sheet, made: Build, factor_low: float, each: int, back: Sheet | None = None) -> Tabbed:
    """Give every piece that would fall out up to `each` tabs, which keep the thickness as their width, on both sides.

    `factor_low` is the etch factor that eats furthest. Raises ValueError for less than 0 or more than 12 a piece.
    """
    between("tabs", each, 0, MOST_TABS)
    found = _bridges(drawing, back, made, factor_low, each) if each else []
    eaten_um = max(made.front_reach_um, made.back_reach_um) / factor_low
    if not found:
        return Tabbed(drawing, 0, made.thickness_um, back)
    wide_px = max(2, math.ceil((made.thickness_um + 2 * eaten_um) / drawing.pitch_um))
    # Into the metal at both ends, as far as the bath eats it back, and for what was found on a coarser picture.
    longer_px = eaten_um / drawing.pitch_um + 2 * _step(drawing)

    def parts(side: Sheet) -> Iterator[Mask]:
        for strip in side.strips():
            bridge = np.zeros(strip.rows.shape, np.uint8)
            for tab in found:
                _draw(bridge, tab, longer_px, wide_px, strip.first)
            yield strip.rows & (bridge == 0)

    def bridged(side: Sheet) -> Sheet:
        return from_rows(parts(side), side.height_px, side.width_px, side.pitch_um)

    return Tabbed(bridged(drawing), len(found), made.thickness_um, None if back is None else bridged(back))


def _draw(bridge: NDArray[np.uint8], tab: Tab, longer_px: float, wide_px: int, first: int) -> None:
    """A straight bar with square ends."""
    long = max(1e-6, math.hypot(tab.to_x_px - tab.x_px, tab.to_y_px - tab.y_px))
    along = (tab.to_x_px - tab.x_px) / long, (tab.to_y_px - tab.y_px) / long
    beside = -along[1] * wide_px / 2, along[0] * wide_px / 2
    ends = (
        (tab.x_px - along[0] * longer_px, tab.y_px - along[1] * longer_px - first),
        (tab.to_x_px + along[0] * longer_px, tab.to_y_px + along[1] * longer_px - first),
    )
    corners = [
        (ends[0][0] + beside[0], ends[0][1] + beside[1]),
        (ends[1][0] + beside[0], ends[1][1] + beside[1]),
        (ends[1][0] - beside[0], ends[1][1] - beside[1]),
        (ends[0][0] - beside[0], ends[0][1] - beside[1]),
    ]
    cv2.fillConvexPoly(bridge, np.rint(np.array(corners) * 16).astype(np.int32), 1, shift=4)


def _step(sheet: Sheet) -> int:
    return math.ceil(max(sheet.width_px, sheet.height_px) / LONGEST_PX)


def _bridges(drawing: Sheet, back: Sheet | None, made: Build, factor_low: float, each: int) -> list[Tab]:
    """Tabs of all loose pieces, the nearest first: a piece that is held holds the next."""
    through, metal, which = loose_pieces(drawing, back, made, factor_low)
    step = _step(drawing)
    rows = []
    parts = pieces_by_row(lambda: (~strip.rows for strip in through.strips()), FOUR, metal)
    for strip, numbers in zip(through.strips(), parts, strict=True):
        rows.append(numbers[-strip.first % step :: step, ::step])
    small = np.concatenate(rows)
    large = which & (metal.area_px * drawing.pixel_mm2 >= LEAST_MM2)
    held = np.append(~which, False)[small]
    left = [int(one) for one in np.flatnonzero(large)[:MOST_PIECES]]
    found: list[Tab] = []
    while left and held.any():
        away, nearest = cv2.distanceTransformWithLabels(
            (~held).view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL
        )
        shortest = np.full(len(which) + 1, np.inf)
        np.minimum.at(shortest, small.ravel(), away.ravel())
        piece = min(left, key=lambda one: float(shortest[one]))
        left.remove(piece)
        if not math.isfinite(shortest[piece]):
            continue  # too thin to be seen at this size
        here = small == piece
        found += _around(here, np.asarray(away), np.asarray(nearest), held, each, step)
        held = held | here
    return found


def _around(
    here: Mask, away: NDArray[np.float32], nearest: NDArray[np.int32], held: Mask, each: int, step: int
) -> Iterator[Tab]:
    """The shortest ways out of a piece, one in each of equal angles around its middle."""
    y, x = np.nonzero(here)
    far = away[y, x]
    best = int(far.argmin())
    around = np.arctan2(y - y.mean(), x - x.mean())
    part = np.floor((around - around[best] + math.pi / each) % (2 * math.pi) / (2 * math.pi) * each).astype(np.int64)
    place = np.zeros((int(nearest.max()) + 1, 2))
    held_y, held_x = np.nonzero(held)
    place[nearest[held_y, held_x]] = np.stack((held_x, held_y), axis=1)
    for one in range(each):
        inside = np.flatnonzero(part == one)
        if not len(inside):
            continue
        at = inside[far[inside].argmin()]
        if far[at] <= FURTHER * far[best] + 2:
            to_x, to_y = place[nearest[y[at], x[at]]]
            yield Tab(*(float(value) * step for value in (x[at], y[at], to_x, to_y)))
