"""What a scanner does to shapes, from two scans of one sheet, the second turned by about a quarter turn.

With the scanner's own affine S and the sheet as it is, A, the scans are S·R(θ₁)·A and S·R(θ₂)·A; their ratio is
K = S·R(φ)·S⁻¹, whatever the sheet. For S = [[a, b], [0, d]], (K - cos φ·I) / sin φ = [[b/a, …], [d/a, -b/a]]: the ratio
of both axes and the skew follow, the absolute scale does not. That takes one known length, such as of a steel rule.
"""

import math
from dataclasses import dataclass

import numpy as np

from sumlight.artwork.warp import Affine, taken_apart
from sumlight.craft.checks import between
from sumlight.text.message import say

Matrix = tuple[tuple[float, float], tuple[float, float]]
LEAST_TURN_DEG = 30.0
RATIO, SKEW, SCALE = (0.9, 1.1), (-0.1, 0.1), (0.9, 1.1)


@dataclass(frozen=True)
class Scanner:
    """How long a length across comes out over one down (`x_over_y`), how far down leans (`skew`, in radians), and how
    long lengths come out on average (`scale`), None while no length is known."""

    x_over_y: float
    skew: float
    scale: float | None = None

    def __post_init__(self) -> None:
        between("x_over_y", self.x_over_y, *RATIO)
        between("skew", self.skew, *SKEW)
        if self.scale is not None:
            between("scale", self.scale, *SCALE)

    def corrected(self, matrix: Matrix) -> Affine:
        """What is left of a comparison's affine without the scanner."""
        root = math.sqrt(self.x_over_y)
        own = np.array([[root, math.tan(self.skew) / root], [0.0, 1 / root]]) * (self.scale or 1.0)
        return taken_apart(np.linalg.inv(own) @ np.asarray(matrix))


def scanner_of(turned: Matrix) -> Scanner:
    """Find the scanner from the affine that leads from the first scan to the second.

    Raises ValueError for scans that are turned by less than 30° (or as near to half a turn) or mirrored.
    """
    (a, b), (c, d) = turned
    half_trace, area = (a + d) / 2, a * d - b * c
    if area <= 0:
        raise ValueError(say("art_scanner_mirrored"))
    cosine = half_trace / math.sqrt(area)
    if abs(cosine) > math.cos(math.radians(LEAST_TURN_DEG)):
        raise ValueError(say("art_scanner_turn", turn=math.degrees(math.acos(max(-1.0, min(1.0, cosine))))))
    sine = math.copysign(math.sqrt(1 - cosine**2), c)
    quarter = (np.asarray(turned) / math.sqrt(area) - cosine * np.eye(2)) / sine
    return Scanner(1 / float(quarter[1, 0]), math.atan(float(quarter[0, 0] / quarter[1, 0])))
