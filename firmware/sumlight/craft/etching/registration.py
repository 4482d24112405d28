"""What a front and back that do not meet do to a part that is etched through: steps in its walls, smaller openings.

With depth z(d) = sqrt(R² - (F·d)²) at distance d from a drawn edge (R where it is open), front and back laid off by s
meet at a wall where z(w - s/2) + z(w + s/2) = T, w from halfway between both drawn edges; s 0 is the waist of
`compensation`. Both edges of an opening lose the same, so it becomes narrower by 2·(w(0) - w(s)). Lengths in µm.
"""

import math
from dataclasses import dataclass

from sumlight.craft.checks import between
from sumlight.craft.etching.compensation import OVER_ETCH, growth

MOST_OFF_UM = 5000.0
HALVINGS = 60


@dataclass(frozen=True)
class LaidOff:
    """By how much the walls are stepped, and openings narrower, across the way in which both sides lie off."""

    step_um: float
    narrower_um: float


def laid_off(thickness_um: float, factor: float, off_um: float, *, over_etch: float = OVER_ETCH) -> LaidOff:
    """Work out what sides do that lie `off_um` from each other, for wide openings with straight walls.

    Raises ValueError as `growth` does and for less than 0 or more than 5 mm; MeaningNeededError for a factor outside
    0.8 to 6.
    """
    reach = growth(thickness_um, factor, over_etch=over_etch).reach_um
    half = between("off_um", off_um, 0, MOST_OFF_UM) / 2
    waists = [_waist_um(one, reach, factor, thickness_um) for one in (0.0, half)]
    return LaidOff(2 * half, 2 * (waists[0] - waists[1]))


def _waist_um(half_um: float, reach_um: float, factor: float, thickness_um: float) -> float:
    """Where both fronts meet, from halfway between both drawn edges: by halving, as depths only fall outward."""

    def depth(away: float) -> float:
        return math.sqrt(max(0.0, reach_um**2 - (factor * max(0.0, away)) ** 2))

    low, high = -half_um, half_um + reach_um / factor
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        if depth(middle - half_um) + depth(middle + half_um) >= thickness_um:
            low = middle
        else:
            high = middle
    return low
