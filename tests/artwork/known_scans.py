"""Synthetic scans in closed form: how far every point of a sheet is from the nearest edge, worked out from its shapes.

Nothing of the program is in it: the sheet is drawn from distances at the middles of its pixels, and the scan from the
same distances where its own pixels lie on the sheet, with the integral of a Gaussian as the edge.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from sumlight.artwork.scan import Scan
from sumlight.artwork.sheet import Sheet, from_mask

Floats = NDArray[np.float64]
PITCH_UM = 25_400 / 1200
FAR = 12.0


@dataclass(frozen=True)
class Shape:
    """An opening: a disc (half across and down alike) or a rectangle, turned about its middle. In pixels."""

    x: float
    y: float
    half_x: float
    half_y: float
    turn_deg: float = 0.0
    disc: bool = False

    def inside(self, x: Floats, y: Floats) -> Floats:
        """Distance from the edge, above 0 inside."""
        x, y = x - self.x, y - self.y
        if self.disc:
            return np.asarray(self.half_x - np.hypot(x, y))
        angle = np.radians(self.turn_deg)
        x, y = np.cos(angle) * x + np.sin(angle) * y, np.cos(angle) * y - np.sin(angle) * x
        dx, dy = np.abs(x) - self.half_x, np.abs(y) - self.half_y
        return np.asarray(-np.hypot(np.maximum(dx, 0), np.maximum(dy, 0)) - np.minimum(np.maximum(dx, dy), 0))


@dataclass(frozen=True)
class Lying:
    """How a sheet lies under the scanner, and what the scanner does."""

    turn_deg: float = 0.0
    scale_x: float = 1.0
    scale_y: float = 1.0
    shift: tuple[float, float] = (0.0, 0.0)
    growth_px: float = 0.0
    blur_px: float = 1.0
    noise: float = 4.0
    dust: int = 0
    mirrored: bool = False
    inverted: bool = False
    seed: int = 1
    before: Floats = field(default_factory=lambda: np.eye(2))

    @property
    def matrix(self) -> Floats:
        """From the sheet to the scan: mirrored, stretched, turned, and then what the scanner does (`before`)."""
        angle = np.radians(self.turn_deg)
        turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        flip = np.diag([-1.0 if self.mirrored else 1.0, 1.0])
        return np.asarray(self.before @ turn @ np.diag([self.scale_x, self.scale_y]) @ flip)


def distances(shapes: list[Shape], width: int, height: int, matrix: Floats, offset: Floats) -> NDArray[np.float32]:
    """How far inside an opening each pixel's middle lies, at least -12, in pixels of the sheet."""
    found = np.full((height, width), -FAR, np.float32)
    back = np.linalg.inv(matrix)
    for one in shapes:
        reach = np.hypot(one.half_x, one.half_y) if one.turn_deg else 0.0
        wide, high = max(reach, one.half_x) + FAR, max(reach, one.half_y) + FAR
        corners = np.array([(one.x + i * wide, one.y + j * high) for i in (-1, 1) for j in (-1, 1)]) @ matrix.T + offset
        left, top = np.clip(np.floor(corners.min(axis=0)).astype(int), 0, (width, height))
        right, bottom = np.clip(np.ceil(corners.max(axis=0)).astype(int) + 1, 0, (width, height))
        y, x = np.mgrid[top:bottom, left:right].astype(np.float64)
        x, y = x - offset[0], y - offset[1]
        inside = one.inside(back[0, 0] * x + back[0, 1] * y, back[1, 0] * x + back[1, 1] * y)
        np.maximum(found[top:bottom, left:right], inside, out=found[top:bottom, left:right], casting="same_kind")
    return found


def sheet_of(shapes: list[Shape], width: int, height: int) -> Sheet:
    """The sheet in black and white."""
    return from_mask(distances(shapes, width, height, np.eye(2), np.zeros(2)) > 0, PITCH_UM)


def scanned(shapes: list[Shape], width: int, height: int, lying: Lying, margin: int = 60) -> tuple[Scan, Floats]:
    """A scan of it, openings black, and where the sheet's first pixel lies on it."""
    matrix = lying.matrix
    corners = np.array([(x, y) for x in (0, width - 1) for y in (0, height - 1)]) @ matrix.T
    size = np.ceil(corners.max(axis=0) - corners.min(axis=0)).astype(int) + 2 * margin
    offset = margin - corners.min(axis=0) + np.array(lying.shift)
    chance = np.random.default_rng(lying.seed)
    inside = distances(shapes, int(size[0]), int(size[1]), matrix, offset)
    made = np.empty(inside.shape, np.uint8)
    x, all_y = np.linspace(-1, 1, int(size[0]), dtype=np.float32), np.linspace(-1, 1, int(size[1]), dtype=np.float32)
    for top in range(0, len(made), 512):  # a whole sheet in floats would not fit
        opened = ndtr((inside[top : top + 512] + np.float32(lying.growth_px)) / np.float32(lying.blur_px))
        y = all_y[top : top + 512, None]
        white, black = 232 + 8 * x - 6 * y - 5 * x * y, 28 + 6 * y - 4 * x
        grey = white + (black - white) * opened + lying.noise * chance.standard_normal(opened.shape, dtype=np.float32)
        made[top : top + 512] = np.clip(np.rint(grey), 0, 255)
    for _ in range(lying.dust):
        top, left = chance.integers(0, size[::-1] - 8)
        made[top : top + 5, left : left + 4] = chance.integers(0, 255)
    return Scan(255 - made if lying.inverted else made, PITCH_UM), offset


def bench_part(width: int, height: int, seed: int = 3, wanted: int = 40) -> list[Shape]:
    """An invented part: a frame with an odd mark, and openings round, square and slanted that keep apart."""
    chance = np.random.default_rng(seed)
    # Level edges lie between pixels, so that the sheet's pixels are as wide as the shape.
    right, bottom = width // 2 * 2 - 14, height // 2 * 2 - 14
    frame = [
        Shape((14 + right) / 2, 14, (right - 14) / 2 + 3.5, 3.5),
        Shape((14 + right) / 2, bottom, (right - 14) / 2 + 3.5, 3.5),
        Shape(14, (14 + bottom) / 2, 3.5, (bottom - 14) / 2 + 3.5),
        Shape(right, (14 + bottom) / 2, 3.5, (bottom - 14) / 2 + 3.5),
        Shape(40, 40, 12.5, 12.5),
        Shape(width - 44, 44, 9, 9, disc=True),
    ]
    found: list[Shape] = []
    for _ in range(30 * wanted):
        if len(found) == wanted:
            break
        half = float(chance.uniform(8, 30))
        x, y = chance.uniform((75, 75), (width - 75, height - 75))
        kind = int(chance.integers(3))
        one = Shape(float(x), float(y), half, half * float(chance.uniform(0.4, 1)), float(chance.uniform(0, 90)))
        if kind == 1:
            one = Shape(one.x, one.y, half, half, disc=True)
        elif kind == 2:
            one = Shape(round(one.x), round(one.y), int(half) + 0.5, int(one.half_y) + 0.5)
        if all(np.hypot(one.x - other.x, one.y - other.y) > half + other.half_x + 24 for other in found):
            found.append(one)
    return frame + found
