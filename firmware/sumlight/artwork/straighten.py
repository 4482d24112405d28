"""Straightens a crooked scan: finds by how much its straight edges lean, and turns the grey picture, strip by strip."""

import math
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from sumlight.artwork.header import NotReadableError
from sumlight.artwork.picture import Grey, Picture, strip_rows
from sumlight.artwork.preview import Shrinker
from sumlight.text.message import say

MOST_DEGREES = 10.0
"""Further nobody lays a sheet askew; beyond it, slanted lines of the drawing would be taken for its edges."""
LONGEST_PX = 2000
CLEAR_SHARE = 0.2
"""So much of all edges leans by the same angle, or nothing is straight; of small discs 0.15 does, by their pixels."""
BLUR_PX = 1.5
STEEP = 0.3
"""Edges are where the grey changes by more than this share of its steepest change."""
STILL_DEGREES = 0.02
"""Less is left alone: turning blurs, too."""
MOST_SIDE_PX = 32_000
"""The library's turning counts pixels in 16 bits."""
Reals = NDArray[np.float64]


def tilt_of(picture: Picture) -> float | None:
    """Degrees by which a picture leans, positive if its top edge falls to the right; None if nothing is straight."""
    shrinker = Shrinker(picture.header.width_px, picture.header.height_px, LONGEST_PX)
    for part in picture.strips():
        shrinker.put(part)
    grey = shrinker.tone.astype(np.float32)
    steep = np.hypot(*_slopes(grey))
    # Which way an edge runs is asked of a softer picture, in which steps of pixels are no edges.
    across, down = _slopes(cv2.GaussianBlur(grey, (0, 0), BLUR_PX))
    y, x = np.nonzero(steep > STEEP * max(float(steep.max()), 1.0))
    if not len(x):
        return None
    weight = steep[y, x].astype(np.float64)
    leans = np.degrees(np.arctan2(down[y, x], across[y, x])).astype(np.float64)
    off = (leans + 45) % 90 - 45
    coarse = _commonest(off, weight)
    if coarse is None:
        return None
    along = np.abs(off - coarse) < 3
    upright = np.abs((leans[along] - coarse + 90) % 180 - 90) < 45
    return _sharpest(x[along].astype(np.float64), y[along].astype(np.float64), upright, weight[along], coarse)


def _slopes(grey: NDArray[np.float32]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    return (
        np.asarray(cv2.Sobel(grey, cv2.CV_32F, 1, 0), np.float32),
        np.asarray(cv2.Sobel(grey, cv2.CV_32F, 0, 1), np.float32),
    )


def _commonest(off: Reals, weight: Reals) -> float | None:
    """The angle by which most edges lean, to a degree or so."""
    bins = np.arange(-45, 45.25, 0.5)
    counts, _edges = np.histogram(off, bins, weights=weight)
    near = counts + np.roll(counts, 1) + np.roll(counts, -1)
    middles = bins[:-1] + 0.25
    near[np.abs(middles) > MOST_DEGREES + 1] = 0
    at = int(near.argmax())
    return None if near[at] < CLEAR_SHARE * weight.sum() else float(middles[at])


def _sharpest(x: Reals, y: Reals, upright: NDArray[np.bool_], weight: Reals, coarse: float) -> float:
    """The angle at which edges, looked at along themselves, fall onto the fewest rows and columns."""

    def score(degrees: float) -> float:
        angle = math.radians(degrees)
        cos, sin = math.cos(angle), math.sin(angle)
        place = np.where(upright, x * cos + y * sin, y * cos - x * sin)
        total = 0.0
        for which in (upright, ~upright):
            if which.any():
                found = np.bincount((place[which] - place[which].min()).astype(np.int64), weights=weight[which])
                total += float(found @ found)
        return total

    best = coarse
    for reach, step in ((1.5, 0.1), (0.15, 0.02), (0.03, 0.005)):
        asked = best + np.arange(-reach, reach + step / 2, step)
        scores = np.array([score(float(one)) for one in asked])
        # Several angles may do equally well for short edges: the middle of them.
        best = float(asked[scores >= scores.max() * (1 - 1e-9)].mean())
    return best


def straightened(picture: Picture, degrees: float, folder: Path) -> Picture:
    """Turn a picture back by the degrees that it leans; what comes in at the corners is white.

    Its pixels are laid down in a file in `folder`, which is needed as long as the picture is. Raises NotReadableError
    for what is too large to be turned, OSError without room.
    """
    width, height = picture.header.width_px, picture.header.height_px
    angle = math.radians(degrees)
    cos, sin = math.cos(angle), math.sin(angle)
    new_width = math.ceil(width * abs(cos) + height * abs(sin))
    new_height = math.ceil(width * abs(sin) + height * abs(cos))
    if max(width, height, new_width, new_height) > MOST_SIDE_PX:
        raise NotReadableError(say("art_too_long_to_turn", most=MOST_SIDE_PX))
    path = folder / "grey.raw"
    with path.open("wb") as file:
        for part in picture.strips():
            file.write(np.ascontiguousarray(part).tobytes())
    # From a pixel of the new picture to where it was: turned about the middle of both.
    back = np.array(
        [
            [cos, -sin, width / 2 - 0.5 - cos * (new_width / 2 - 0.5) + sin * (new_height / 2 - 0.5)],
            [sin, cos, height / 2 - 0.5 - sin * (new_width / 2 - 0.5) - cos * (new_height / 2 - 0.5)],
        ]
    )

    def strips() -> Iterator[Grey]:
        rows = strip_rows(new_width)
        for first in range(0, new_height, rows):
            yield _turned(path, (width, height), back, new_width, first, min(first + rows, new_height))

    header = replace(picture.header, width_px=new_width, height_px=new_height)
    return Picture(header, picture.pitch_um, strips, picture.doubt)


def _turned(path: Path, size: tuple[int, int], back: Reals, new_width: int, first: int, last: int) -> Grey:
    """Rows of the new picture, from those rows of the old one that they need."""
    width, height = size
    corners = back @ np.array([[0, new_width, 0, new_width], [first, first, last, last], [1, 1, 1, 1]], np.float64)
    top = min(max(0, math.floor(corners[1].min()) - 2), height)
    bottom = max(min(height, math.ceil(corners[1].max()) + 3), top)
    wanted = (new_width, last - first)
    if bottom <= top:
        return np.full(wanted[::-1], 255, np.uint8)
    there = np.fromfile(path, np.uint8, (bottom - top) * width, offset=top * width).reshape(bottom - top, width)
    shifted = back.copy()
    shifted[:, 2] += back[:, 1] * first
    shifted[1, 2] -= top
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    turned = cv2.warpAffine(there, shifted, wanted, flags=how, borderMode=cv2.BORDER_CONSTANT, borderValue=255)
    return np.asarray(turned, dtype=np.uint8)
