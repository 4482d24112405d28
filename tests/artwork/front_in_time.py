"""A judge of etched outlines that shares no code with the program: the front itself, on a grid finer than the picture.

The metal is a block of cells. By Huygens's circles around every open cell the front comes to the start, a cell and a
half away (from a sharp edge a grid would start late); from there it is marched in order of time by scikit-fmm
(second-order fast marching): down at one speed, sideways F times slower. No distance transform and no formula of an
outline is in it. For F 1 an outline is known exactly, too: each open pixel, a square, grown by a circle (shapely).

Outlines are lines between the cells, not cells. How far those of the march are off exact ones is measured in
`test_the_front_in_time_comes_where_geometry_says`.
"""

import math

import numpy as np
import shapely
import skfmm
from numpy.typing import NDArray
from scipy import ndimage
from skimage.measure import find_contours

Mask = NDArray[np.bool_]
Points = NDArray[np.float64]
FINER, LAYERS = 6, 10
"""Cells to a pixel, and to the depth."""
START_CELLS = 1.5
OFF_PX = 0.06
"""The march's outlines are not further off exact ones than that."""
PLACES = 6
"""To each edge of a pixel: so many places of the wanted outline are judged, and its ends."""


def part(opening: Mask, pitch_um: float, thickness_um: float, factor: float, over_etch: float) -> list[Points]:
    """Outlines in the middle of a sheet that is etched from both sides: exact for F 1, else those of the march."""
    half = thickness_um / 2
    if factor == 1:  # spheres of the reach around every open point, cut half way down
        return grown(opening, math.sqrt((over_etch * half) ** 2 - half**2) / pitch_um)
    return etched(opening, pitch_um, half, over_etch * half, factor) if opening.any() else []


def etched(opening: Mask, pitch_um: float, depth_um: float, reach_um: float, factor: float) -> list[Points]:
    """Outlines at a depth when the front has gone `reach_um` straight down; x and y in pixels of the picture."""
    pixels = np.ones((FINER, FINER), np.bool_)
    near = ndimage.binary_dilation(opening, np.ones((3, 3)), iterations=int(reach_um / factor / pitch_um) + 3)
    deep = ndimage.binary_erosion(opening, np.ones((3, 3)), iterations=3, border_value=1)
    fine, apart = np.kron(opening, pixels), np.kron(~near | deep, pixels)  # where no outline will be
    side, down = factor * pitch_um / FINER, depth_um / LAYERS
    start = START_CELLS * max(side, down)
    beside = _to_open_cells(fine, int(start / side) + 3) * side
    front = np.hypot(beside, np.arange(LAYERS + 1)[:, None, None] * down) - start
    block = np.ma.MaskedArray(front, np.broadcast_to(apart, front.shape) | (front < -1.9 * max(side, down)))
    times = np.ma.filled(skfmm.travel_time(block, np.ones_like(front), dx=[down, side, side], order=2)[-1], np.inf)
    times = np.where(np.isfinite(times), times + start, 2 * reach_um)
    times[apart & fine] = depth_um
    return [(line[:, ::-1] + 0.5) / FINER for line in find_contours(times, reach_um)]


def _to_open_cells(fine: Mask, most: int) -> NDArray[np.float64]:
    """From each cell's middle to the nearest open cell, in cells; no more than `most`."""
    found = np.full(fine.shape, float(most))
    padded = np.pad(fine, most)
    for y in range(-most, most + 1):
        for x in range(-most, most + 1):
            there = padded[most + y : most + y + fine.shape[0], most + x : most + x + fine.shape[1]]
            found[there] = np.minimum(found[there], np.hypot(max(abs(y) - 0.5, 0), max(abs(x) - 0.5, 0)))
    return found


def grown(opening: Mask, by_px: float) -> list[Points]:
    """The exact outline of open pixels grown by so much; its circles are polygons, short by 0.01 % of it."""
    y, x = np.nonzero(opening)
    part = shapely.union_all(shapely.box(x, y, x + 1, y + 1)).buffer(by_px, quad_segs=64)
    return [shapely.get_coordinates(line) for line in shapely.get_parts(part.boundary)]


def outline(mask: Mask) -> tuple[Points, NDArray[np.intp]]:
    """Places on the outline of what is True, x and y, and the pixel inside of each, row and column.

    The picture's own edge is no outline.
    """
    padded = np.pad(mask, 1, mode="edge")
    points, pixels = [], []
    for down, across in ((0, 1), (0, -1), (1, 0), (-1, 0)):
        beyond = padded[1 + down : padded.shape[0] - 1 + down, 1 + across : padded.shape[1] - 1 + across]
        y, x = np.nonzero(mask & ~beyond)
        for share in np.arange(PLACES + 1) / PLACES:
            way = (max(across, 0), share) if across else (share, max(down, 0))
            points.append(np.column_stack((x + way[0], y + way[1])))
            pixels.append(np.column_stack((y, x)))
    return np.concatenate(points).astype(np.float64), np.concatenate(pixels)


def off_px(points: Points, lines: list[Points]) -> NDArray[np.float64]:
    """How many pixels the nearest of these lines is from each place."""
    if not lines:
        return np.full(len(points), np.inf)
    pieces = np.concatenate([np.stack((line[:-1], line[1:]), axis=1) for line in lines])
    tree = shapely.STRtree(shapely.linestrings(pieces))
    (which, _piece), away = tree.query_nearest(shapely.points(points), return_distance=True, all_matches=False)
    found = np.empty(len(points))
    found[which] = away
    return found
