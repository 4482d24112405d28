"""Where edges of the reference lie, to a fraction of a pixel, and how far off them the scan's edges are.

Both are read by the same means, a slight blur and the crossing of half way between black and white along the edge's
normal, so that what this does to a staircase of pixels it does to both.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sumlight.artwork.picture import strip_rows
from sumlight.artwork.scan import Scan
from sumlight.artwork.sheet import Mask, Sheet
from sumlight.artwork.warp import Floats, Warp
from sumlight.text.message import say

BLUR_PX, HALO_PX = 1.2, 12
MOST, TILES, CLASSES = 16_000, 24, 4
"""Edges that are measured, spread evenly over so many tiles across and down and so many directions."""
STRIP_MOST = 20_000
STRAIGHT = 0.9
"""Of the steepest slopes: less steep are corners, whose blur is not the edge's."""
DEEP_PX, LEVELS, LEVELS_ALL, LEAST_LEVELS = 4, 4000, 20_000, 30
"""Black and white are read so far from any edge; at most so many places a strip."""
STEP_PX = 0.5
LEAST_CONTRAST = 20.0


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
    """Straight edges of a reference, chosen evenly; the choice is the same each time."""
    chance = np.random.default_rng(7)
    points: list[Floats] = []
    normals: list[Floats] = []
    deep: tuple[list[Floats], list[Floats]] = ([], [])
    for strip in reference.strips(HALO_PX):
        rows, top = strip.rows, strip.first - strip.above
        place, normal = _edges(rows, strip.core, chance)
        points.append(place + np.array([0, top]))
        normals.append(normal)
        for mask, kept in zip((rows, ~rows), deep, strict=True):
            kept.append(_deep(mask, strip.core, chance) + np.array([0, strip.first]))
    place, normal = np.concatenate(points), np.concatenate(normals)
    chosen = _spread(place, normal, reference, chance)
    return Edges(place[chosen], normal[chosen], *(np.concatenate(one) for one in deep))


def _deep(mask: Mask, core: slice, chance: np.random.Generator) -> Floats:
    """Places far from any edge; where nothing is so wide, the middles of what is."""
    for off in range(DEEP_PX, 0, -1):
        kernel = np.ones((2 * off + 1, 2 * off + 1), np.uint8)
        inside = cv2.erode(mask.view(np.uint8), kernel, borderType=cv2.BORDER_CONSTANT, borderValue=0)[core]
        flat = np.flatnonzero(inside)
        if len(flat) >= LEAST_LEVELS:
            break
    flat = flat if len(flat) <= LEVELS else chance.choice(flat, LEVELS, replace=False)
    y, x = np.divmod(flat, mask.shape[1])
    return np.column_stack((x, y)).astype(np.float64)


def _edges(rows: Mask, core: slice, chance: np.random.Generator) -> tuple[Floats, Floats]:
    soft = cv2.GaussianBlur(rows.astype(np.float32), (0, 0), BLUR_PX, borderType=cv2.BORDER_REPLICATE)
    across, down = (cv2.Sobel(soft, cv2.CV_32F, *way, ksize=3, scale=1 / 8) for way in ((1, 0), (0, 1)))
    slope = np.hypot(across, down)
    near = np.abs(soft - 0.5) < 0.25
    near[: core.start], near[core.stop :] = False, False
    near[:HALO_PX], near[-HALO_PX:], near[:, :HALO_PX], near[:, -HALO_PX:] = False, False, False, False
    flat = np.flatnonzero(near)
    if not len(flat):
        return np.zeros((0, 2)), np.zeros((0, 2))
    steep = slope.ravel()[flat]
    flat = flat[steep >= STRAIGHT * np.percentile(steep, 95)]
    flat = flat if len(flat) <= STRIP_MOST else chance.choice(flat, STRIP_MOST, replace=False)
    y, x = np.divmod(flat, rows.shape[1])
    normals = np.column_stack((across[y, x], down[y, x])).astype(np.float64)
    normals /= np.hypot(*normals.T)[:, None]
    places = np.column_stack((x, y)).astype(np.float64)
    way = crossing(_profiles(soft, places, normals, 2.0) - 0.5, 2.0)
    good = np.isfinite(way)
    return places[good] + way[good, None] * normals[good], normals[good]


def _spread(places: Floats, normals: Floats, reference: Sheet, chance: np.random.Generator) -> NDArray[np.int64]:
    """Which to keep: as many of each tile and direction as there is room for."""
    if len(places) <= MOST:
        return np.arange(len(places))
    size = max(reference.width_px, reference.height_px) / TILES
    tile = (places // size).astype(np.int64)
    angle = np.arctan2(normals[:, 1], normals[:, 0]) % np.pi
    way = (angle / np.pi * CLASSES + 0.5).astype(np.int64) % CLASSES
    group = (tile[:, 1] * (TILES + 1) + tile[:, 0]) * CLASSES + way
    order = chance.permutation(len(group))
    order = order[np.argsort(group[order], kind="stable")]
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


def sampled(scan: Scan, x: Floats, y: Floats) -> Floats:
    """Grey values of a scan, slightly blurred, between pixels; not a number beyond it. Read in bands of rows."""
    found = np.full(x.shape, np.nan)
    flat_x, flat_y, flat = x.ravel(), y.ravel(), found.reshape(-1)
    height, width = scan.grey.shape
    step = strip_rows(width)
    band = np.floor_divide(flat_y, step)
    for first in range(0, height, step):
        here = np.flatnonzero(band == first // step)
        if not len(here):
            continue
        top, bottom = max(0, first - HALO_PX), min(height, first + step + HALO_PX)
        part = scan.grey[top:bottom].astype(np.float32)
        soft = cv2.GaussianBlur(part, (0, 0), BLUR_PX, borderType=cv2.BORDER_REPLICATE)
        flat[here] = _at(soft, flat_x[here], flat_y[here] - top)
    return found


class Tones:
    """Black and white over a scan as smooth surfaces, read where the reference has neither edge nor doubt."""

    def __init__(self, scan: Scan, warp: Warp, edges: Edges) -> None:
        self._warp = warp
        self._open = self._surface(scan, edges.open_places)
        self._metal = self._surface(scan, edges.metal_places)

    def _surface(self, scan: Scan, places: Floats) -> Floats:
        places = places[:: max(1, len(places) // LEVELS_ALL)]
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
