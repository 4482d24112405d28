"""Whether two boxes mean the same by a mJ/cm²: their thresholds of one resist, read from tablets of one lot. Pure.

A resist's threshold does not know which box lit it. Where boxes find different ones, their scales differ by as much.
The interval is Welch's for the difference of two means of ln threshold, with effective degrees of freedom after Welch
and Satterthwaite (GUM, JCGM 100:2008, G.4.1); the width of a tablet's step enters as a rectangle (same, 4.3.7).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sumlight.craft.tablet import TabletReading, threshold_interval
from sumlight.light.uncertainty import coverage_factor

FEWEST = 2
"""Readings of each box; one alone tells nothing of its scatter."""


@dataclass(frozen=True)
class Drift:
    """One box's dose scale against another's: `ratio` 1.05 means that its mJ/cm² are 5 % smaller: it counts 5 % more.

    `low` and `high` are the ends of the 95 % interval, `readings` how many there were of both boxes.
    """

    ratio: float
    low: float
    high: float
    readings: int

    @property
    def differs(self) -> bool:
        """Whether the interval leaves out 1."""
        return not self.low <= 1.0 <= self.high


def compared(one: Sequence[TabletReading], other: Sequence[TabletReading]) -> Drift | None:
    """The scale of the first box against the second's. All readings are of one resist and one lot of tablets.

    None where either has fewer than FEWEST readings that lie between two steps.
    """
    sides = [_thresholds(readings) for readings in (one, other)]
    if min(len(values) for values, _ in sides) < FEWEST:
        return None
    means, variances, freedom = [], [], []
    for values, step in sides:
        count = len(values)
        mean = sum(values) / count
        scatter = sum((value - mean) ** 2 for value in values) / (count - 1)
        means.append(mean)
        variances.append(max(scatter, step**2 / 12) / count)
        freedom.append(count - 1)
    variance = sum(variances)
    dof = variance**2 / sum(part**2 / free for part, free in zip(variances, freedom, strict=True))
    half = coverage_factor(dof) * math.sqrt(variance)
    difference = means[0] - means[1]
    low, high = (math.exp(difference + sign * half) for sign in (-1, 1))
    return Drift(math.exp(difference), low, high, sum(len(values) for values, _ in sides))


def _thresholds(readings: Sequence[TabletReading]) -> tuple[list[float], float]:
    """Middle of each reading's interval in ln dose, and the widest interval."""
    middles, widest = [], 0.0
    for reading in readings:
        low, high = threshold_interval(reading)
        if 0 < low < high < math.inf:
            middles.append((math.log(low) + math.log(high)) / 2)
            widest = max(widest, math.log(high / low))
    return middles, widest
