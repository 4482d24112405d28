"""The colours of panels as they were seen: how far they scatter, how likely they are if nothing follows from them."""

import math
from statistics import median

from sumlight.light.guess import JUMPED, MISREAD

SENSOR_NOISE = 0.0025**2
"""Variance (ln) of clear over 415 nm by the sensor alone (common practice, no source)."""
USUAL_SCATTER, USUAL_COUNT = 0.005**2, 4
"""Variance (ln) of the colour from panel to panel before it was seen; that stands for so many panels (judgement)."""
LOOKED_BACK = 16
CREEPS = 0.004**2 / 100.0
"""A colour from which nothing follows creeps by this variance (ln) an hour: filters and diffuser age (judgement)."""
OUTLIES_LN = 0.2
NORMAL_MAD = 0.6745
"""Median of the distance from the mean of a normal distribution, in standard deviations."""


class ColourSeen:
    """Follows ln of clear over 415 nm as if it did not tell anything of the ratio."""

    def __init__(self) -> None:
        self.first = 0.0
        self.scatter = USUAL_SCATTER
        """Variance (ln) of a panel's colour about its trend."""
        self._seen: list[tuple[float, float]] = []
        self._squares: list[float] = []
        self._mean = self._variance = 0.0

    @property
    def begun(self) -> bool:
        """Whether a colour was seen."""
        return bool(self._seen)

    @property
    def noise(self) -> float:
        """The part of `scatter` that is the sensor's."""
        return min(SENSOR_NOISE, self.scatter)

    def see(self, lamp_hours: float, ln_colour: float) -> float | None:
        """A colour at `lamp_hours`. Answers ln of its likelihood if nothing follows from it; None for the first."""
        before = self._seen[-1][0] if self._seen else lamp_hours
        self._seen.append((lamp_hours, ln_colour))
        self._learn()
        if len(self._seen) == 1:
            self.first, self._mean, self._variance = ln_colour, ln_colour, self.scatter
            return None
        self._variance += CREEPS * (lamp_hours - before)
        whole, missed = self._variance + self.scatter, ln_colour - self._mean
        usual = (1 - MISREAD - JUMPED) * _density(missed, whole)
        odd = (MISREAD + JUMPED) * _density(missed, whole + OUTLIES_LN**2)
        share = usual / (usual + odd) if usual + odd > 0 else 0.0
        gain = share * self._variance / whole
        self._mean += gain * missed
        self._variance *= 1 - gain
        return math.log(max(LEAST_DENSITY, usual + odd))

    def _learn(self) -> None:
        """How far the newest but one lies off the line between its neighbours; robust against single odd colours."""
        if len(self._seen) < 3:
            return
        (h0, c0), (h1, c1), (h2, c2) = self._seen[-3:]
        share = (h1 - h0) / (h2 - h0) if h2 > h0 else 0.5
        off = c1 - c0 - share * (c2 - c0)
        self._squares = [*self._squares[1 - LOOKED_BACK :], off * off / (1 + share**2 + (1 - share) ** 2)]
        count = len(self._squares)
        found = median(self._squares) / NORMAL_MAD**2
        self.scatter = max(SENSOR_NOISE, (USUAL_COUNT * USUAL_SCATTER + count * found) / (USUAL_COUNT + count))
        del self._seen[:-3]


LEAST_DENSITY = 1e-30


def _density(missed: float, variance: float) -> float:
    """Of a normal distribution, without the constant that all guesses share."""
    return math.exp(-0.5 * missed * missed / variance) / math.sqrt(variance)
