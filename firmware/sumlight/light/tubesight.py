"""Which tubes of a bank a light sensor sees, from where it sits and how far aside it takes light. Pure.

The tubes lie as in `tubefield`; the sensor faces them from the plane of the glass. Nothing is claimed about a tube that
does not lie well within the sensor's angle: whether it burns, the sensor cannot tell.
"""

import math
from dataclasses import dataclass

from sumlight.light.tubefield import tube_places_mm

MARGIN_DEG = 5.0
"""The sensor has to take light from so far beyond a tube's axis before that tube counts as seen: the tube is 26 mm
thick, and head and bank are never mounted exactly (common practice, no source)."""


@dataclass(frozen=True)
class TubeSight:
    """How a sensor looks at its bank: `unseen` are places counted from 1, from the side where `across_mm` is negative.

    `farthest_deg` is the angle from upright to the axis of the farthest tube.
    """

    tubes: int
    unseen: tuple[int, ...]
    farthest_deg: float

    @property
    def seen(self) -> int:
        """How many tubes it sees."""
        return self.tubes - len(self.unseen)


def tube_angles_deg(tubes: int, pitch_mm: float, height_mm: float, across_mm: float) -> list[float]:
    """Angle from upright to each tube's axis, for a sensor `height_mm` before the axes and `across_mm` from the middle.

    Raises ValueError for sizes that cannot be.
    """
    if tubes < 1 or min(pitch_mm, height_mm) <= 0:
        raise ValueError("a bank needs at least one tube, and pitch_mm and height_mm above 0")
    return [math.degrees(math.atan2(abs(x - across_mm), height_mm)) for x in tube_places_mm(tubes, pitch_mm)]


def tube_shares(tubes: int, pitch_mm: float, height_mm: float, across_mm: float) -> list[float]:
    """Share of each tube in the light of a level sensor that sees them all: a long tube gives h/ρ², ρ from its axis (a
    line that shines as a Lambertian surface does, as in `tubefield`). Raises ValueError for sizes that cannot be."""
    given = [math.cos(math.radians(angle)) ** 2 for angle in tube_angles_deg(tubes, pitch_mm, height_mm, across_mm)]
    return [each / sum(given) for each in given]


def tube_sight(tubes: int, pitch_mm: float, height_mm: float, across_mm: float, accepts_deg: float) -> TubeSight:
    """What a sensor sees that takes light up to `accepts_deg` from upright."""
    angles = tube_angles_deg(tubes, pitch_mm, height_mm, across_mm)
    unseen = tuple(place for place, angle in enumerate(angles, start=1) if angle + MARGIN_DEG > accepts_deg)
    return TubeSight(tubes, unseen, max(angles))
