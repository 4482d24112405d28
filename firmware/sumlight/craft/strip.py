"""The test strip: one panel, a mask that slides, every zone a fixed factor more dose than the one before.

The whole strip is exposed first, then the mask covers one zone after the other. So the first zone gets the first part
only, the last one the sum of all. The lamps are dark while the mask moves. Doses in mJ/cm² at the resist.
"""

import math
from dataclasses import dataclass

from sumlight.text.doseunit import unit_of_dose
from sumlight.text.message import Message, joined, say

FEWEST_ZONES = 3
MOST_ZONES = 20
SMALLEST_FACTOR = 1.02
LARGEST_FACTOR = 4.0
SHORTEST_PART_S = 2.0
"""A shorter part would be mostly the lamps' strike (common practice, no source)."""


@dataclass(frozen=True)
class StripPart:
    """One exposure of the strip: `covered` zones lie under the mask, the rest gets `dose_mj_cm2` more."""

    number: int
    covered: int
    dose_mj_cm2: float
    sentence: Message


@dataclass(frozen=True)
class Strip:
    """A planned strip: dose of each zone in the end, and the parts that make it. `warnings` are sentences."""

    zone_doses_mj_cm2: tuple[float, ...]
    parts: tuple[StripPart, ...]
    factor: float
    warnings: tuple[Message, ...]


def strip(
    first_mj_cm2: float, factor: float, zones: int, mw_cm2: float | None = None, *, relative: bool = False
) -> Strip:
    """Plan from the smallest dose, the factor from zone to zone and their number.

    `mw_cm2` is the expected irradiance, for a warning about parts too short; `relative` doses are in the box's
    own units. Raises ValueError for a dose not above 0, a factor outside 1.02 to 4 or a number of zones outside 3 to
    20.
    """
    if not (math.isfinite(first_mj_cm2) and first_mj_cm2 > 0):
        raise ValueError(say("must_be_above_zero", field="first_mj_cm2", value=first_mj_cm2))
    if not SMALLEST_FACTOR <= factor <= LARGEST_FACTOR:
        raise ValueError(say("strip_factor", low=SMALLEST_FACTOR, high=LARGEST_FACTOR, value=factor))
    if not FEWEST_ZONES <= zones <= MOST_ZONES:
        raise ValueError(say("sum_not_between", field="zones", low=FEWEST_ZONES, high=MOST_ZONES, value=zones))
    doses = tuple(first_mj_cm2 * factor**i for i in range(zones))
    parts, unit = [], unit_of_dose(relative=relative)
    for i, dose in enumerate(doses):
        more = dose if i == 0 else dose - doses[i - 1]
        move = say("whole_strip_open") if i == 0 else say("slide_mask_over", zone=i)
        parts.append(StripPart(i + 1, i, more, joined(move, say("gets_more", dose_mj_cm2=more, unit=unit))))
    warnings = []
    if mw_cm2 is not None and mw_cm2 > 0:
        shortest = min(part.dose_mj_cm2 for part in parts) / mw_cm2
        if shortest < SHORTEST_PART_S:
            warnings.append(say("shortest_part", seconds=shortest))
    return Strip(doses, tuple(parts), factor, tuple(warnings))


def strip_between(low_mj_cm2: float, high_mj_cm2: float, zones: int, mw_cm2: float | None = None) -> Strip:
    """Plan from the smallest and the largest dose. Raises ValueError as `strip` does, or if high is not above low."""
    if not 0 < low_mj_cm2 < high_mj_cm2:
        raise ValueError(f"low_mj_cm2 must be above 0 and below high_mj_cm2, not {low_mj_cm2} and {high_mj_cm2}")
    if zones < FEWEST_ZONES:
        raise ValueError(say("sum_not_between", field="zones", low=FEWEST_ZONES, high=MOST_ZONES, value=zones))
    return strip(low_mj_cm2, (high_mj_cm2 / low_mj_cm2) ** (1 / (zones - 1)), zones, mw_cm2)


def threshold_between(planned: Strip, first_held_zone: int | None) -> tuple[float, float]:
    """The dose that just holds lies in (low, high] mJ/cm²; None when no zone held.

    `first_held_zone` counts from 1. Raises ValueError for a zone that the strip has not.
    """
    doses = planned.zone_doses_mj_cm2
    if first_held_zone is None:
        return doses[-1], math.inf
    if not 1 <= first_held_zone <= len(doses):
        raise ValueError(say("sum_not_between", field="first_held_zone", low=1, high=len(doses), value=first_held_zone))
    return (0.0 if first_held_zone == 1 else doses[first_held_zone - 2]), doses[first_held_zone - 1]
