"""Where the etch front stands: distances from openings, the depth over each pixel, and what is gone.

With reach R (µm of metal eaten straight down) and etch factor F, the depth at distance d from the nearest opening is
R·sqrt(1 - (F·d/R)²), R inside, 0 beyond R/F. For F 1, an etchant that eats equally in all directions, this is exact:
every point of an opening is the centre of a sphere.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sumlight.artwork.choices import BUILDS
from sumlight.artwork.sheet import Mask, Sheet
from sumlight.craft.checks import between, one_of
from sumlight.craft.etching.compensation import OVER_ETCH, growth
from sumlight.text.message import say

HALF_PX = 0.5
"""The edge of an opening lies half a pixel beyond the middle of its last one."""
Lengths = NDArray[np.float32]


@dataclass(frozen=True)
class Build:
    """What is etched, and how far: thickness, and the reach of the bath from each side (0: covered)."""

    kind: str
    thickness_um: float
    front_reach_um: float
    back_reach_um: float

    def halo_px(self, factor: float, pitch_um: float) -> int:
        """Pixels beyond which an opening does not matter."""
        return math.ceil(max(self.front_reach_um, self.back_reach_um) / factor / pitch_um) + 2


def build(
    kind: str,
    thickness_um: float,
    *,
    over_etch: float = OVER_ETCH,
    depth_um: float | None = None,
    back_share: float = 1.0,
) -> Build:
    """Work out the reach of a build from over-etch k; `depth_um` instead of it for a side that is half-etched.

    `back_share` is the back's rate over the front's, where one side is slower. Raises ValueError as `growth` does, for
    a depth of what is open on both sides, and for a share outside 0.2 to 5.
    """
    one_of("build", kind, BUILDS)
    sides = 2 if kind == "sheet" else 1
    reach = growth(thickness_um, 1.0, sides=sides, over_etch=over_etch).reach_um
    between("back_share", back_share, 0.2, 5)
    if depth_um is not None:
        if kind != "masked":
            raise ValueError(say("art_depth_of_masked"))
        reach = between("depth_um", depth_um, 1, 3 * thickness_um)
    if kind != "sheet":
        return Build(kind, thickness_um, reach, 0.0)
    front = 2 * reach / (1 + back_share)
    return Build(kind, thickness_um, front, front * back_share)


def distance_um(goal: Mask, pitch_um: float) -> Lengths:
    """Distance of each pixel's middle from the nearest edge of what is True, 0 within it; infinite if nothing is."""
    if not goal.any():
        return np.full(goal.shape, np.inf, np.float32)
    found = cv2.distanceTransform((~goal).view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    found -= HALF_PX
    np.maximum(found, 0, out=found)
    found *= pitch_um
    return np.asarray(found, dtype=np.float32)


def depth_um(distance: Lengths, reach_um: float, factor: float) -> Lengths:
    """Depth over each pixel."""
    if reach_um == 0:
        return np.zeros_like(distance)
    inside = np.minimum(distance, reach_um / factor)
    inside *= factor
    np.square(inside, out=inside)
    np.subtract(reach_um**2, inside, out=inside)
    np.maximum(inside, 0, out=inside)
    return np.asarray(np.sqrt(inside, out=inside), dtype=np.float32)


@dataclass(frozen=True)
class Near:
    """Distances from the openings of both sides over a strip's own rows."""

    first: int
    front: Lengths
    back: Lengths

    def depths(self, made: Build, factor: float) -> tuple[Lengths, Lengths]:
        """From the front and from the back."""
        front = depth_um(self.front, made.front_reach_um, factor)
        if self.back is self.front and made.back_reach_um == made.front_reach_um:
            return front, front
        return front, depth_um(self.back, made.back_reach_um, factor)


def near(front: Sheet, back: Sheet | None, halo_px: int) -> Iterator[Near]:
    """Distances over the whole sheet, strip by strip; `back` None is the same artwork as the front."""
    behind = back.strips(halo_px) if back is not None else None
    for strip in front.strips(halo_px):
        ahead = distance_um(strip.rows, front.pitch_um)[strip.core]
        if behind is None:
            yield Near(strip.first, ahead, ahead)
        else:
            yield Near(strip.first, ahead, distance_um(next(behind).rows, front.pitch_um)[strip.core])
