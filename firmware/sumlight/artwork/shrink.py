"""Openings drawn smaller, so that the bath brings their outline back to within a pixel of the wanted one.

A drawn pixel is a square, and the part is what lies within the way that edges move of such squares. Two rules:

- A pixel is drawn if its middle is not nearer to metal than that way. So no metal pixel's middle is etched, and the
  part never reaches further beyond the wanted outline than a middle is from its pixel's corner, 0.71 pixels.
- Where the part would stay more than a pixel behind, mostly at corners of openings, single pixels are added that reach
  there, as far from metal as there are. They may etch metal up to a pixel deep, but no metal that stands behind that
  depth, and no middle where none does: tips and lines of metal of one pixel stay.

Places of an outline are corners of pixels and, where it is in doubt between them, each eighth of a pixel.
"""

import math
from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from sumlight.artwork.sheet import Mask

TOLERANCE_PX = 1.0
"""An outline that comes nearer than that to the wanted one is met."""
IN_HAND_PX = 0.06
"""Of the tolerance, for what lies between the places that are looked at: half of their distance."""
PARTS = 8
AT_ONCE = 400_000
Whole = NDArray[np.intp]
Pixels = NDArray[np.float32]


def halo_px(by_px: float) -> int:
    """How far away what is wanted matters to what is drawn."""
    return 4 * math.ceil(by_px) + 8


def shrunk(wanted: Mask, by_px: float) -> tuple[Mask, Mask]:
    """What to draw for openings whose edges move by `by_px`, and what of them cannot be met: pixels whose outline is
    more than a pixel from the part. Beyond the picture there is no metal."""
    metal = ~wanted
    drawn = wanted & ~_near(metal, 0.5, by_px + IN_HAND_PX)
    reach = by_px + TOLERANCE_PX - IN_HAND_PX
    behind = _behind(wanted, drawn, reach)
    if not len(behind):
        return drawn, np.zeros_like(drawn)
    _add(drawn, wanted & ~drawn & _may_be_drawn(metal, by_px), behind, metal, reach)
    off = _off_corners(drawn) > by_px + TOLERANCE_PX
    missed = off[:-1, :-1] | off[1:, :-1] | off[:-1, 1:] | off[1:, 1:]
    between = behind[(behind % PARTS != 0).any(axis=1)]
    for down, across in between[~_reached(drawn, between, reach)]:
        rows, columns = (slice(max(0, (one - 1) // PARTS), one // PARTS + 1) for one in (down, across))
        missed[rows, columns] = True
    return drawn, missed & wanted


def _off_corners(drawn: Mask) -> Pixels:
    """How far each corner of the picture's pixels, one row and column more than those, is from the drawn ones.

    Exact, as what is nearest to a corner is a corner. In pixels; infinite where nothing is drawn.
    """
    touched = np.zeros((drawn.shape[0] + 1, drawn.shape[1] + 1), np.bool_)
    for down in (slice(None, -1), slice(1, None)):
        for across in (slice(None, -1), slice(1, None)):
            touched[down, across] |= drawn
    if not drawn.any():
        return np.full(touched.shape, np.inf, np.float32)
    found = cv2.distanceTransform((~touched).view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return np.asarray(found, np.float32)


def _behind(wanted: Mask, drawn: Mask, reach_px: float) -> Whole:
    """Places on the wanted outline further than that from what is drawn, in parts of a pixel down and across."""
    off = _off_corners(drawn)
    padded = np.pad(wanted, 1, mode="edge")
    across, down = padded[1:-1, 1:] != padded[1:-1, :-1], padded[1:, 1:-1] != padded[:-1, 1:-1]
    on = np.zeros(off.shape, np.bool_)
    on[:-1] |= across
    on[1:] |= across
    on[:, :-1] |= down
    on[:, 1:] |= down
    corners = np.argwhere(on & (off > reach_px)) * PARTS
    # Between two corners it is at most half a pixel more than at both; not if a drawn pixel lies straight before it.
    down = down & (off[:, :-1] + off[:, 1:] + 1 > 2 * reach_px) & ~_straight_before(drawn, reach_px)
    across = across & (off[:-1] + off[1:] + 1 > 2 * reach_px) & ~_straight_before(drawn.T, reach_px).T
    steps = np.arange(1, PARTS)[:, None]
    level = np.argwhere(down)[:, None] * PARTS + steps * (0, 1)
    upright = np.argwhere(across)[:, None] * PARTS + steps * (1, 0)
    between = np.concatenate((level.reshape(-1, 2), upright.reshape(-1, 2)))
    return np.concatenate((corners, between[~_reached(drawn, between, reach_px)]))


def _straight_before(drawn: Mask, reach_px: float) -> Mask:
    """Which edges between rows, the picture's own included, have a drawn pixel of their column so near."""
    tall = np.ones((2 * math.floor(reach_px) + 1, 1), np.uint8)
    found = np.pad(_spread(drawn, tall), ((1, 1), (0, 0)))
    return np.asarray(found[:-1] | found[1:])


def _may_be_drawn(metal: Mask, by_px: float) -> Mask:
    """Pixels that leave something of all metal, within a pixel of its outline."""
    padded = np.pad(metal, 1, mode="edge")
    up, down, left, right = padded[:-2, 1:-1], padded[2:, 1:-1], padded[1:-1, :-2], padded[1:-1, 2:]
    inner = metal & up & down & left & right
    wide = np.pad(inner, 1, mode="edge")
    backed = (
        (~up & left & right & wide[2:, 1:-1])
        | (~down & left & right & wide[:-2, 1:-1])
        | (~left & up & down & wide[1:-1, 2:])
        | (~right & up & down & wide[1:-1, :-2])
    )
    alone = metal & ~inner & ~backed
    return ~(_near(inner, 1.0, by_px + IN_HAND_PX) | _near(alone, 0.5, by_px + IN_HAND_PX))


def _near(goal: Mask, half_px: float, by_px: float) -> Mask:
    """Pixels nearer than that to one that is True: from square to square, or (`half_px` 0.5) to its middle."""
    found = np.zeros(goal.shape, np.bool_)
    for rows in range(min(len(goal), math.ceil(by_px + half_px))):
        up = max(0.0, rows - half_px)
        columns = math.ceil(math.sqrt(by_px**2 - up**2) + half_px) - 1
        wide = _spread(goal, np.ones((1, 2 * columns + 1), np.uint8))
        found[: len(goal) - rows] |= wide[rows:]
        found[rows:] |= wide[: len(goal) - rows]
    return found


def _spread(goal: Mask, kernel: NDArray[np.uint8]) -> Mask:
    found = cv2.dilate(goal.view(np.uint8), kernel, borderType=cv2.BORDER_CONSTANT, borderValue=0)
    return np.asarray(found, np.uint8).view(np.bool_)


def _windows(places: Whole, reach_px: float) -> Iterator[tuple[Whole, Whole, Whole]]:
    """Which places, and rows and columns, from `_wide` beyond the picture, of all pixels that are so near to each."""
    wide = _wide(reach_px)
    around = np.arange(-wide, wide + 1)
    for kind in (*((0, part) for part in range(PARTS)), *((part, 0) for part in range(1, PARTS))):
        these = np.flatnonzero((places % PARTS == kind).all(axis=1))
        gap = [np.maximum(np.maximum(around - part / PARTS, part / PARTS - 1 - around), 0) for part in kind]
        down, across = np.nonzero(np.hypot(gap[0][:, None], gap[1][None, :]) <= reach_px)
        step = max(1, AT_ONCE // len(down))
        for first in range(0, len(these), step):
            some = these[first : first + step]
            pixel = places[some] // PARTS
            yield some, pixel[:, :1] + down, pixel[:, 1:] + across


def _wide(reach_px: float) -> int:
    return math.ceil(reach_px) + 1


def _reached(drawn: Mask, places: Whole, reach_px: float) -> NDArray[np.bool_]:
    """Which places have a drawn pixel so near."""
    found = np.zeros(len(places), np.bool_)
    if len(places):
        around = np.pad(drawn, _wide(reach_px))
        for some, rows, columns in _windows(places, reach_px):
            found[some] = around[rows, columns].any(axis=1)
    return found


def _add(drawn: Mask, may: Mask, behind: Whole, metal: Mask, reach_px: float) -> None:
    """For each place that the part does not reach, draw the pixel furthest from metal that reaches there."""
    wide = _wide(reach_px)
    close = np.pad(_spread(may, np.ones((2 * wide + 1, 2 * wide + 1), np.uint8)), ((0, 1), (0, 1)))
    behind = behind[close[*(behind // PARTS).T]]
    if not len(behind):
        return
    away = cv2.distanceTransform((~metal).view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    np.minimum(away, reach_px + 1, out=away)  # what lies further must not matter, as strips do not show it
    away[~may] = -1
    away = np.pad(away, wide, constant_values=-1)
    corner, middle = ((behind % part == 0).all(axis=1) for part in (PARTS, PARTS // 2))
    added = np.zeros_like(drawn)
    for some in (corner, middle & ~corner, ~middle):  # what serves a corner often serves what lies beside it
        places = behind[some]
        chosen = np.zeros_like(away, np.bool_)
        for _which, rows, columns in _windows(places[~_reached(added, places, reach_px)], reach_px):
            score = away[rows, columns]
            each, best = np.arange(len(score)), score.argmax(axis=1)
            good = score[each, best] > 0
            chosen[rows[each, best][good], columns[each, best][good]] = True
        added |= chosen[wide:-wide, wide:-wide]
    drawn |= added
