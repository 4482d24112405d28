"""Compares a scan with its reference: how it lies, how large and how square it is, how its edges moved, what differs.

One comparison for four uses: printed film against artwork, front against back, developed panel against film, finished
part against the part wanted.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sumlight.artwork.align import align
from sumlight.artwork.differences import Difference, differences, tolerance
from sumlight.artwork.edges import edges_of
from sumlight.artwork.fit import Fit, fit
from sumlight.artwork.scan import AnyScan
from sumlight.artwork.sheet import Mask, Sheet, from_rows
from sumlight.artwork.warp import Affine, Floats, Warp, taken_apart

GRID = (5, 7)
"""Places of the map across and down a sheet that stands upright."""
EVERY_PX = 16
"""A warp is worked out at every so many pixels, and is straight between them."""
TILE_PX = 1024
Grid = NDArray[np.float32]


@dataclass(frozen=True)
class Bias:
    """How much further into the metal openings reach than on the reference, in µm at each edge; less than 0: narrower.

    Of all edges, of upright ones (`across`: widths) and of level ones (`down`: heights), and how far single edges
    lie off after all this.
    """

    mean_um: float
    across_um: float
    down_um: float
    spread_um: float


@dataclass(frozen=True)
class MapPlace:
    """A place of the reference in mm, and in µm how far the scan's is off when both are laid on each other at best."""

    x_mm: float
    y_mm: float
    off_x_um: float
    off_y_um: float

    @property
    def off_um(self) -> float:
        """How far it is off."""
        return math.hypot(self.off_x_um, self.off_y_um)


@dataclass(frozen=True)
class Comparison:
    """What `compare` found.

    Scales are the scan's lengths over the reference's; shear is how far y is off square; the shift is where the middle
    of the reference lies from the middle of the scan. `repeats`: other places fit as well, since the pattern repeats.
    `bends_um` is the furthest that a place lies off the affine. `seen` is the scan in black and white on the
    reference's pixels; `matrix` the affine itself, from µm to µm, row by row.
    """

    affine: Affine
    shift_x_um: float
    shift_y_um: float
    inverted: bool
    repeats: bool
    bias: Bias
    bends_um: float
    places: tuple[MapPlace, ...]
    edges: int
    differences: tuple[Difference, ...]
    difference_count: int
    seen: Sheet
    matrix: tuple[tuple[float, float], tuple[float, float]]

    @property
    def worst(self) -> MapPlace:
        """The place that is furthest off."""
        return max(self.places, key=lambda one: one.off_um)

    @property
    def off_um(self) -> float:
        """How far places are off, root mean square over the map."""
        return math.sqrt(sum(one.off_um**2 for one in self.places) / len(self.places))


def compare(image: AnyScan, reference: Sheet, *, open_is_black: bool = True) -> Comparison:
    """Compare a scan with a reference; `open_is_black` says what black is on the scan, where it is not inverted.

    Raises NotAlikeError for a scan of something else, ValueError for too few edges or too little contrast.
    """
    lying = align(image, reference, open_is_black=open_is_black)
    found = fit(image, edges_of(reference), lying.warp)
    seen = laid_on(image, reference, found)
    growth = found.growth
    told, count = differences(reference, seen, growth_px=growth.mean_px, tolerance_px=tolerance(growth.spread_px))
    ratio = image.pitch_um / reference.pitch_um
    matrix = found.affine.matrix * ratio
    middle = np.array([(image.width_px - 1) / 2, (image.height_px - 1) / 2])
    shift = (found.affine.offset - middle) * image.pitch_um
    pitch = reference.pitch_um
    bias = Bias(growth.mean_px * pitch, growth.along(0) * pitch, growth.along(90) * pitch, growth.spread_px * pitch)
    places = registration(found.warp, image.pitch_um, reference)
    return Comparison(
        taken_apart(matrix),
        float(shift[0]),
        float(shift[1]),
        lying.inverted,
        lying.repeats,
        bias,
        _bends_um(found, reference),
        places,
        found.edges,
        tuple(told),
        count,
        seen,
        ((float(matrix[0, 0]), float(matrix[0, 1])), (float(matrix[1, 0]), float(matrix[1, 1]))),
    )


def laid_on(image: AnyScan, reference: Sheet, found: Fit) -> Sheet:
    """The scan in black and white on the reference's pixels; what lies beyond the scan is as on the reference."""

    height, width = image.height_px, image.width_px

    def parts() -> Iterator[Mask]:
        for first in range(0, reference.height_px, TILE_PX):
            rows = reference.rows(first, min(first + TILE_PX, reference.height_px))
            for left in range(0, reference.width_px, TILE_PX):
                part = rows[:, left : left + TILE_PX]
                x, y, low, high = _grids(found, left, first, part.shape)
                top = max(0, int(np.floor(y.min())) - 2)
                bottom = min(height, int(np.ceil(y.max())) + 3)
                if bottom - top < 2:
                    continue
                begin = max(0, int(np.floor(x.min())) - 2)
                # Read anew: the tiles of a sheet that lies turned by a quarter need few columns of many rows.
                there = np.ascontiguousarray(image.rows(top, bottom)[:, begin : max(begin, int(np.ceil(x.max())) + 3)])
                if there.shape[1] < 2:
                    continue
                x, y = x - np.float32(begin), y - np.float32(top)
                grey = cv2.remap(there, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
                opened = (grey >= (low + high) / 2) ^ (high < low)
                beyond = (x < -begin) | (y < -top) | (x > width - 1 - begin) | (y > height - 1 - top)
                np.copyto(part, opened, where=~beyond)
            yield rows

    return from_rows(parts(), reference.height_px, reference.width_px, reference.pitch_um)


def _grids(found: Fit, left: int, top: int, size: tuple[int, ...]) -> tuple[Grid, Grid, Grid, Grid]:
    """For each pixel of a tile: its place on the scan, and the levels of metal and opening there."""
    rows, width = size
    # Counted from the sheet's corner, so that a tile's pixels get the same wherever it begins.
    in_x, in_y = left % EVERY_PX, top % EVERY_PX
    xs = np.arange(left - in_x, left + width + EVERY_PX, EVERY_PX, dtype=np.float64)
    ys = np.arange(top - in_y, top + rows + EVERY_PX, EVERY_PX, dtype=np.float64)
    coarse = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)

    def full(values: Floats) -> Grid:
        small = values.reshape(len(ys), len(xs)).astype(np.float32)
        # Pixels of the small picture lie at every 16th of the large one: an affine of pictures says so exactly.
        into = np.array([[1 / EVERY_PX, 0, in_x / EVERY_PX], [0, 1 / EVERY_PX, in_y / EVERY_PX]], np.float64)
        return np.asarray(
            cv2.warpAffine(
                small,
                into,
                (width, rows),
                flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
                borderMode=cv2.BORDER_REPLICATE,
            )
        )

    on_scan = found.warp(coarse)
    metal, opened = found.tones.levels(coarse)
    return full(on_scan[:, 0]), full(on_scan[:, 1]), full(metal), full(opened)


def registration(warp: Warp, scan_pitch_um: float, reference: Sheet) -> tuple[MapPlace, ...]:
    """How far places are off when both sheets are laid on each other at best, turned and moved but not stretched."""
    across, down = GRID if reference.height_px >= reference.width_px else GRID[::-1]
    pitch = reference.pitch_um
    xs = (np.arange(across) + 0.5) / across * reference.width_px - 0.5
    ys = (np.arange(down) + 0.5) / down * reference.height_px - 0.5
    places = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    there = warp(places) * scan_pitch_um
    here = places * pitch
    if np.linalg.det(warp.matrix) < 0:
        there = there * (-1, 1)
    laid = _rigid(there, here)
    return tuple(
        MapPlace(float((x + 0.5) * pitch / 1000), float((y + 0.5) * pitch / 1000), float(dx), float(dy))
        for (x, y), (dx, dy) in zip(places, laid - here, strict=True)
    )


def _rigid(moving: Floats, fixed: Floats) -> Floats:
    """Places turned and moved onto others at best (Kabsch 1976)."""
    about, onto = moving.mean(axis=0), fixed.mean(axis=0)
    left, _sizes, right = np.linalg.svd((moving - about).T @ (fixed - onto))
    sign = np.diag([1.0, np.sign(np.linalg.det(left @ right))])
    return np.asarray((moving - about) @ (left @ sign @ right) + onto)


def _bends_um(found: Fit, reference: Sheet) -> float:
    """The furthest that a place lies off the affine, over the sheet."""
    xs, ys = np.linspace(0, reference.width_px - 1, 9), np.linspace(0, reference.height_px - 1, 9)
    places = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    off = (found.warp(places) - found.affine(places)) @ np.linalg.inv(found.affine.matrix).T
    return float(np.hypot(*off.T).max() * reference.pitch_um)
