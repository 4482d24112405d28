"""From a place on the reference to the same place on a scan: an affine, and a smooth residual on top of it.

Places are in pixels, and the middle of a pixel is a whole number.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
DEGREE = 3
"""Of the residual: a sheet that was pulled or lay crooked bends no faster (common practice, no source)."""
POWERS = [(i, total - i) for total in range(DEGREE + 1) for i in range(total, -1, -1)]
"""Degrees across and down of each term: constant, two linear ones, and the bends."""
LINEAR = 3


def terms(points: Floats, centre: Floats, half_px: float) -> Floats:
    """Products of Legendre polynomials at places (rows of x and y), which keep sums well conditioned."""
    x, y = ((points - centre) / half_px).T
    across, down = ([np.ones_like(one), one, (3 * one**2 - 1) / 2, (5 * one**3 - 3 * one) / 2] for one in (x, y))
    return np.stack([across[i] * down[j] for i, j in POWERS], axis=1)


@dataclass(frozen=True)
class Affine:
    """What an affine does: scales along the reference's axes, shear, turn, and whether it mirrors."""

    scale_x: float
    scale_y: float
    shear: float
    rotation_deg: float
    mirrored: bool


def taken_apart(matrix: Floats) -> Affine:
    """Take a matrix apart: first mirror left and right, then stretch and shear, then turn (QR).

    `scale_x` is how long a unit along x becomes, `scale_y` how far apart two lines of one unit's distance come to
    lie that were parallel to x, `shear` the radians by which y is off square.
    """
    flip = np.diag([-1.0, 1.0]) if np.linalg.det(matrix) < 0 else np.eye(2)
    (a, b), (c, d) = (matrix @ flip).tolist()
    scale_x = math.hypot(a, c)
    scale_y = (a * d - b * c) / scale_x
    return Affine(
        scale_x,
        scale_y,
        math.atan2(a * b + c * d, scale_x * scale_y),
        math.degrees(math.atan2(c, a)),
        bool(flip[0, 0] < 0),
    )


@dataclass(frozen=True)
class Warp:
    """Place on scan = matrix · (place - centre + bends(place)) + offset.

    `bends` are 2 × terms, in the reference's pixels.
    """

    matrix: Floats
    offset: Floats
    centre: Floats
    half_px: float
    bends: Floats

    def __call__(self, points: Floats) -> Floats:
        """Places on the scan for places on the reference (rows of x and y)."""
        moved = points - self.centre + terms(points, self.centre, self.half_px) @ self.bends.T
        return np.asarray(moved @ self.matrix.T + self.offset)

    def moved(self, by: Floats) -> "Warp":
        """With `by` added to the bends."""
        return Warp(self.matrix, self.offset, self.centre, self.half_px, self.bends + by)

    @property
    def straight(self) -> "Warp":
        """Constant and linear bends taken into the affine, where there are no others."""
        linear = np.eye(2) + self.bends[:, 1:LINEAR] / self.half_px
        offset = self.matrix @ self.bends[:, 0] + self.offset
        return Warp(self.matrix @ linear, offset, self.centre, self.half_px, np.zeros_like(self.bends))


def unbent(matrix: Floats, offset: Floats, width_px: int, height_px: int) -> Warp:
    """An affine about the middle of a reference; its stretch and shear stand among the bends."""
    centre = np.array([(width_px - 1) / 2, (height_px - 1) / 2])
    half = max(width_px, height_px) / 2
    turn = rigid(matrix)
    bends = np.zeros((2, len(POWERS)))
    bends[:, 1:LINEAR] = (np.linalg.inv(turn) @ matrix - np.eye(2)) * half
    return Warp(turn, offset, centre, half, bends)


def rigid(matrix: Floats) -> Floats:
    """The turn, mirrored or not, and the one scale that come nearest to a matrix."""
    left, sizes, right = np.linalg.svd(matrix)
    return np.asarray(left @ right * np.sqrt(sizes.prod()))
