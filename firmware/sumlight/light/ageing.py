"""The light of a bank of lamps as it is read from day to day, in air that differs. Pure."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

SEASONED_H = 100.0
"""'New' is the light after so many hours; it falls fastest before them (reference values §3)."""

CAP = 6.0
"""No statement reaches beyond so many times the observed duration (TM-21)."""

REPLACE_LEVEL = 0.70
"""Share of the seasoned light at which lamps are changed: about one step of a step tablet (trade notes, L8)."""

FEWEST = 8
"""Days with readings below which nothing is said about a trend."""

SAME_DAY = 0.5
"""How much alike the errors of two readings of one day are (mains and room hardly change; no source)."""

HUBER = 1.345
FAR_OFF = 4.0
"""Residuals from HUBER spreads on count less while the curve is sought; from FAR_OFF on they are put aside."""

BEST_AIR_C = 25.0
AIR_WIDTH_C = 28.0
"""Air in which a tube gives most, and the width of the bell: −12 % at 10 K, −25 % at 15 K off (trade notes, L1-L3)."""


@dataclass(frozen=True, slots=True)
class LampPoint:
    """Light of a bank at one age: `mw_cm2` settled, at the meter; `day` any number that readings of one day share.

    `weight` says what the reading is worth beside others; `self_check` the sensor's own reference reading over that at
    calibration, None where none was taken.
    """

    hours: float
    mw_cm2: float
    day: int
    weight: float = 1.0
    self_check: float | None = None


def temperature_corrected(mw_cm2: float, air_c: float, best_air_c: float = BEST_AIR_C) -> float:
    """What a tube would give in the air that suits it best. Correct from −15 K to +15 K of it at most.

    Raises ValueError further off, where the bell is no longer known.
    """
    if abs(air_c - best_air_c) > 15.0:
        raise ValueError(f"the correction is known to 15 K about {best_air_c:g} °C, not at {air_c:g} °C")
    return mw_cm2 * math.exp(((air_c - best_air_c) / AIR_WIDTH_C) ** 2)


def in_best_air(light: float, air_c: float) -> float:
    """Light of tubes as corrected; air further off than the bell is known counts as that at its end.

    Uncorrected, light of a cold night would seem to fall by a quarter at once. `light` is in any unit, which the answer
    keeps.
    """
    reach_k = AIR_WIDTH_C / 2
    return temperature_corrected(light, min(BEST_AIR_C + reach_k, max(BEST_AIR_C - reach_k, air_c)))


def by_day(points: Sequence[LampPoint]) -> list[LampPoint]:
    """One point a day, in order of hours: weighted means, worth more for several readings, but not as many times."""
    days: dict[int, list[LampPoint]] = {}
    for point in points:
        days.setdefault(point.day, []).append(point)
    found = []
    for day, group in days.items():
        if len(group) == 1:
            found.append(group[0])
            continue
        total = math.fsum(p.weight for p in group)
        checks = [p.self_check for p in group if p.self_check is not None]
        found.append(
            LampPoint(
                hours=math.fsum(p.weight * p.hours for p in group) / total,
                mw_cm2=math.exp(math.fsum(p.weight * math.log(p.mw_cm2) for p in group) / total),
                day=day,
                weight=total / (1 + SAME_DAY * (len(group) - 1)),
                self_check=sum(checks) / len(checks) if checks else None,
            )
        )
    return sorted(found, key=lambda p: p.hours)


def gathered(days: Sequence[LampPoint], most: int = 240, recent: int = 60) -> list[LampPoint]:
    """At most about `most` points: years of days are put together some at a time, the latest stay single.

    Days err independently, so their weights add up; a day far off its fellows is left out of a group of three or more.
    """
    if len(days) <= most:
        return list(days)
    old, found = days[:-recent], []
    size = math.ceil(len(old) / (most - recent))
    for at in range(0, len(old), size):
        group = old[at : at + size]
        if len(group) >= 3:
            middle = median([p.mw_cm2 for p in group])
            off = [abs(p.mw_cm2 - middle) for p in group]
            reach = 6 * 1.4826 * median(off)
            group = [p for p, o in zip(group, off, strict=True) if o <= reach]
        total = math.fsum(p.weight for p in group)
        checks = [p.self_check for p in group if p.self_check is not None]
        hours = math.fsum(p.weight * p.hours for p in group) / total
        light = math.exp(math.fsum(p.weight * math.log(p.mw_cm2) for p in group) / total)
        day = round(math.fsum(p.weight * p.day for p in group) / total)
        found.append(LampPoint(hours, light, day, total, sum(checks) / len(checks) if checks else None))
    return [*found, *days[-recent:]]


def duration_h(days: Sequence[LampPoint]) -> float:
    """How long the lamps have been observed: their age if watched since they were new, else the span of readings."""
    hours = [p.hours for p in days]
    return max(hours) if min(hours) <= SEASONED_H else max(hours) - min(hours)
