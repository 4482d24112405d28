"""Small pictures with known geometry. True is open."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]
Points = NDArray[np.float64]


def drawn(height_px: int, width_px: int, inside: Callable[[Points, Points], Mask]) -> Mask:
    """A picture of what lies inside a shape, by the middles of the pixels."""
    y, x = np.mgrid[0:height_px, 0:width_px] + 0.5
    return inside(x, y)


def disc(size_px: int, radius_px: float) -> Mask:
    """A disc in the middle."""
    half = size_px / 2
    return drawn(size_px, size_px, lambda x, y: (x - half) ** 2 + (y - half) ** 2 <= radius_px**2)


def stripe(size_px: int, width_px: float, degrees: float) -> Mask:
    """A straight line through the middle, turned."""
    angle, half = np.radians(degrees), size_px / 2
    return drawn(
        size_px,
        size_px,
        lambda x, y: np.abs((x - half) * np.cos(angle) + (y - half) * np.sin(angle)) <= width_px / 2,
    )


def box(size_px: int, left: int, top: int, right: int, bottom: int) -> Mask:
    """A rectangle."""
    made = np.zeros((size_px, size_px), np.bool_)
    made[top:bottom, left:right] = True
    return made
