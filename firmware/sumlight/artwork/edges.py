"""Where edges of the reference lie, to a fraction of a pixel, and how far off them the scan's edges are.

Both are read by the same means, a slight blur and the crossing of half way between black and white along the edge's
normal, so that what this does to a staircase of pixels it does to both.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sumlight.artwork.picture import strip_rows
from sumlight.artwork.scan import AnyScan
from sumlight.artwork.sheet import Mask, Sheet, Strip
from sumlight.artwork.warp import Floats, Warp
from sumlight.text.message import say

BLUR_PX, HALO_PX = 1.2, 12
MOST, TILES, CLASSES = 16_000, 24, 4
"""Edges that are measured, spread evenly over so many tiles across and down and so many directions."""
DRAWN = 200_000
"""Of all pixels on edges so many are drawn by lot, and no more stand in memory."""
AT_ONCE = 10_000
STRAIGHT = 0.9
"""Of the steepest slopes: less steep are corners, whose blur is not the edge's."""
DEEP_PX, LEVELS, LEAST_LEVELS, PARTS = 4, 20_000, 30, 2
"""Black and white are read so far from any edge, or less far in those of so many parts across and down that have fewer
places than the least; at most at so many places."""
SMALL_PX, ONE_IN = 400_000, 16
"""On a larger sheet one pixel in so many is asked how deep it lies."""
STEP_PX = 0.5
LEAST_CONTRAST = 20.0


Lots = NDArray[np.uint64]


@dataclass(frozen=True)
class Edges:
    """Places on edges of the reference, normals from metal into openings; and places deep inside both."""

    points: Floats
    normals: Floats
    open_places: Floats
    metal_places: Floats

    def every(self, count: int) -> "Edges":
        """One edge in so many, where enough are left."""
        step = count if len(self.points) > 1000 * count else 1
        return Edges(self.points[::step], self.normals[::step], self.open_places, self.metal_places)


def edges_of(reference: Sheet) -> Edges:
    """Straight edges of a reference, chosen evenly by a lot that hangs on a pixel's place alone: however the sheet is
    cut into strips, the choice is the same."""
    edges = _Lots(DRAWN, 5)
    deep = {(open_, depth): _Lots(LEVELS, 2) for open_ in (True, False) for depth in range(1, DEEP_PX + 1)}
    for strip in reference.strips(HALO_PX):
        _put_edges(edges, strip, reference)
        for open_ in (True, False):
            mask = strip.rows if open_ else ~strip.rows
            for depth, places in _deep(mask, strip, reference):
                kept, lots = deep[open_, depth], _lot(places[:, 0], places[:, 1], reference.width_px)
                drawn = kept.drawn(lots)
                kept.put(places[drawn].astype(np.float64), lots[drawn])
    place, normal, steep = np.split(edges.found(), (2, 4), axis=1)
    if len(place):
        straight = steep[:, 0] >= STRAIGHT * np.percentile(steep, 95)
        place, normal = place[straight], normal[straight]
        chosen = _spread(place, normal, reference)
        place, normal = place[chosen], normal[chosen]
    opened, metal = (
        _deepest([deep[open_, depth].found() for depth in range(1, DEEP_PX + 1)], reference) for open_ in (True, False)
    )
    return Edges(place, normal, opened, metal)


class _Lots:
    """Rows that belong to pixels; of all that are put in, those whose pixels have the lowest lots stay."""

    def __init__(self, most: int, columns: int) -> None:
        self._most = most
        self._rows: list[Floats] = [np.zeros((0, columns))]
        self._lots: list[Lots] = [np.zeros(0, np.uint64)]
        self._bound = np.uint64(np.iinfo(np.uint64).max)

    def drawn(self, lots: Lots) -> NDArray[np.bool_]:
        """Which of these could stay."""
        return np.asarray(lots <= self._bound)

    def put(self, rows: Floats, lots: Lots) -> None:
        """Add rows."""
        self._rows.append(rows)
        self._lots.append(lots)
        if sum(map(len, self._lots)) > 2 * self._most:
            self._settle()

    def _settle(self) -> None:
        rows, lots = np.concatenate(self._rows), np.concatenate(self._lots)
        order = np.argsort(lots)[: self._most]
        self._rows, self._lots = [rows[order]], [lots[order]]
        if len(order) == self._most:
            self._bound = self._lots[0][-1]

    def found(self) -> Floats:
        """What stayed, by its lot."""
        self._settle()
        return self._rows[0]


def _lot(x: NDArray[np.int64], y: NDArray[np.int64], width_px: int) -> Lots:
    """A number for each place, no two alike, in no order (the last mixing of splitmix64, Steele and others 2014)."""
    found = (y * width_px + x).astype(np.uint64) + np.uint64(0x9E3779B97F4A7C15)
    for shift, factor in ((30, 0xBF58476D1CE4E5B9), (27, 0x94D049BB133111EB)):
        found = (found ^ (found >> np.uint64(shift))) * np.uint64(factor)
    return np.asarray(found ^ (found >> np.uint64(31)), np.uint64)


def _deep(mask: Mask, strip: Strip, reference: Sheet) -> Iterator[tuple[int, NDArray[np.int64]]]:
    """Places by how far they are from any edge, in whole pixels up to the depth that is enough."""
    every = ONE_IN if reference.width_px * reference.height_px > SMALL_PX else 1
    inside = mask.view(np.uint8)
    kernel = np.ones((3, 3), np.uint8)
    depths = np.zeros((strip.last - strip.first, mask.shape[1]), np.uint8)
    for _ in range(DEEP_PX):
        inside = cv2.erode(inside, kernel, borderType=cv2.BORDER_CONSTANT, borderValue=0)
        depths += inside[strip.core]
    if every > 1:
        y, x = (np.arange(count) for count in depths.shape)
        # Askew, so that no grid of the drawing's is met at the same place again and again.
        depths *= (x[None, :] + 7 * (y[:, None] + strip.first)) % every == 0
    for depth in range(1, DEEP_PX + 1):
        y, x = np.nonzero(depths == depth)
        if len(x):
            yield depth, np.column_stack((x, y + strip.first))


def _deepest(by_depth: list[Floats], reference: Sheet) -> Floats:
    """Of each part of the sheet the places that lie deepest; where nothing is wide, the middles of what is."""
    places = np.concatenate(by_depth)
    part = _tile(places, reference, PARTS)
    kept = np.zeros(len(places), np.bool_)
    done = np.zeros(int(part.max(initial=0)) + 1, np.bool_)
    for depth in range(len(by_depth), 0, -1):
        first = sum(map(len, by_depth[: depth - 1]))
        enough = ~done & (np.bincount(part[first:], minlength=len(done)) >= LEAST_LEVELS)
        kept[first:] |= enough[part[first:]]
        done |= enough
    return np.asarray(places[kept] if kept.any() else places)


def _tile(places: Floats, reference: Sheet, across: int) -> NDArray[np.int64]:
    size = max(reference.width_px, reference.height_px) / across
    tile = np.maximum(places // size, 0).astype(np.int64)
    return np.asarray(tile[:, 1] * (across + 1) + tile[:, 0])


def _put_edges(kept: _Lots, strip: Strip, reference: Sheet) -> None:
    """Places where the blurred sheet is half open, their normals, and how steep it is there."""
    rows, core, top = strip.rows, strip.core, strip.first - strip.above
    soft = cv2.GaussianBlur(rows.astype(np.float32), (0, 0), BLUR_PX, borderType=cv2.BORDER_REPLICATE)
    near = np.abs(soft - 0.5) < 0.25
    near[: core.start], near[core.stop :] = False, False
    near[:, :HALO_PX], near[:, -HALO_PX:] = False, False
    for beyond in (slice(0, max(0, HALO_PX - top)), slice(max(0, reference.height_px - HALO_PX - top), None)):
        near[beyond] = False
    y, x = np.nonzero(near)
    lots = _lot(x, y + top, reference.width_px)
    drawn = kept.drawn(lots)
    x, y, lots = x[drawn], y[drawn], lots[drawn]
    across, down = (
        np.asarray(cv2.Sobel(soft, cv2.CV_32F, *way, ksize=3, scale=1 / 8)[y, x], np.float64)
        for way in ((1, 0), (0, 1))
    )
    steep = np.hypot(across, down)
    for first in range(0, len(x), AT_ONCE):
        some = slice(first, first + AT_ONCE)
        places = np.column_stack((x[some], y[some])).astype(np.float64)
        with np.errstate(invalid="ignore", divide="ignore"):
            normals = np.column_stack((across[some], down[some])) / steep[some, None]
        way = crossing(_profiles(soft, places, normals, 2.0) - 0.5, 2.0)
        good = np.isfinite(way)
        places += way[:, None] * normals + (0, top)
        kept.put(np.column_stack((places, normals, steep[some]))[good], lots[some][good])


def _spread(places: Floats, normals: Floats, reference: Sheet) -> NDArray[np.int64]:
    """Which to keep, the first of each first: as many of each tile and direction as there is room for."""
    if len(places) <= MOST:
        return np.arange(len(places))
    angle = np.arctan2(normals[:, 1], normals[:, 0]) % np.pi
    way = (angle / np.pi * CLASSES + 0.5).astype(np.int64) % CLASSES
    group = _tile(places, reference, TILES) * CLASSES + way
    order = np.argsort(group, kind="stable")
    sorted_ = group[order]
    rank = np.arange(len(order)) - np.searchsorted(sorted_, sorted_)
    counts = np.bincount(group)
    most = np.sort(counts[counts > 0])
    low, high = 1, int(most.max())
    while low < high:  # the most of a group with which all fit
        middle = (low + high + 1) // 2
        low, high = (middle, high) if int(np.minimum(most, middle).sum()) <= MOST else (low, middle - 1)
    return np.sort(order[rank < low])


def _profiles(soft: NDArray[np.float32], places: Floats, normals: Floats, reach_px: float) -> Floats:
    """Values along normals, from `-reach_px` to `reach_px`, one row a place."""
    steps = np.arange(-reach_px, reach_px + STEP_PX / 2, STEP_PX)
    x = places[:, :1] + steps * normals[:, :1]
    y = places[:, 1:] + steps * normals[:, 1:]
    return _at(soft, x, y)


def _at(soft: NDArray[np.float32], x: Floats, y: Floats) -> Floats:
    """Values between pixels, linearly; not a number beyond the picture."""
    last = np.array(soft.shape) - 1
    inside = (x >= 0) & (y >= 0) & (x <= last[1]) & (y <= last[0])
    x, y = np.clip(x, 0, last[1] - 1e-6), np.clip(y, 0, last[0] - 1e-6)
    left, top = x.astype(np.int64), y.astype(np.int64)
    right, below = np.minimum(left + 1, last[1]), np.minimum(top + 1, last[0])
    x, y = x - left, y - top
    found = (1 - y) * ((1 - x) * soft[top, left] + x * soft[top, right])
    found += y * ((1 - x) * soft[below, left] + x * soft[below, right])
    return np.where(inside, found, np.nan)


def crossing(profiles: Floats, reach_px: float) -> Floats:
    """Where rows of values rise through 0 nearest to their middle; not a number where they do not."""
    below, above = profiles[:, :-1], profiles[:, 1:]
    with np.errstate(invalid="ignore", divide="ignore"):
        rising = (below < 0) & (above >= 0)
        steps = np.arange(below.shape[1]) * STEP_PX - reach_px
        way = np.where(rising, steps + STEP_PX * below / (below - above), np.inf)
    nearest = np.abs(way).argmin(axis=1)
    found = way[np.arange(len(way)), nearest]
    return np.where(np.isfinite(found), found, np.nan)


def sampled(scan: AnyScan, x: Floats, y: Floats) -> Floats:
    """Grey values of a scan, slightly blurred, between pixels; not a number beyond it. Read in bands of rows."""
    found = np.full(x.shape, np.nan)
    flat_x, flat_y, flat = x.ravel(), y.ravel(), found.reshape(-1)
    height = scan.height_px
    step = strip_rows(scan.width_px)
    band = np.floor_divide(flat_y, step)
    for first in range(0, height, step):
        here = np.flatnonzero(band == first // step)
        if not len(here):
            continue
        top, bottom = max(0, first - HALO_PX), min(height, first + step + HALO_PX)
        part = scan.rows(top, bottom).astype(np.float32)
        soft = cv2.GaussianBlur(part, (0, 0), BLUR_PX, borderType=cv2.BORDER_REPLICATE)
        flat[here] = _at(soft, flat_x[here], flat_y[here] - top)
    return found


class Tones:
    """Black and white over a scan as smooth surfaces, read where the reference has neither edge nor doubt."""

    def __init__(self, scan: AnyScan, warp: Warp, edges: Edges) -> None:
        self._warp = warp
        self._open = self._surface(scan, edges.open_places)
        self._metal = self._surface(scan, edges.metal_places)

    def _surface(self, scan: AnyScan, places: Floats) -> Floats:
        places = places[:: max(1, len(places) // LEVELS)]
        grey = sampled(scan, *self._warp(places).T)
        good = np.isfinite(grey)
        basis, grey = self._terms(places[good]), grey[good]
        if len(grey) < LEAST_LEVELS:
            raise ValueError(say("art_no_level"))
        weight = np.ones(len(grey))
        for _ in range(6):
            weighted = (basis * weight[:, None]).T
            surface = np.linalg.solve(weighted @ basis + 1e-3 * np.eye(basis.shape[1]), weighted @ grey)
            off = grey - basis @ surface
            weight = 1 / (1 + (off / max(2.0, 3 * float(np.median(np.abs(off))))) ** 2) ** 2
        return np.asarray(surface)

    def _terms(self, places: Floats) -> Floats:
        x, y = ((places - self._warp.centre) / self._warp.half_px).T
        return np.stack((np.ones_like(x), x, y, x * x, x * y, y * y), axis=1)

    def levels(self, places: Floats) -> tuple[Floats, Floats]:
        """Grey values of metal and of openings at places of the reference."""
        return self._terms(places) @ self._metal, self._terms(places) @ self._open

    def share_open(self, grey: Floats, places: Floats) -> Floats:
        """Grey values at places of the reference (one row each) as shares from metal, 0, to open, 1."""
        metal, opened = self.levels(places)
        return np.asarray((grey - metal[:, None]) / (opened - metal)[:, None])

    @property
    def contrast(self) -> float:
        """White less black in the middle of the sheet, in grey values."""
        return float(abs(self._open[0] - self._metal[0]))
