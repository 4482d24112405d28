"""What readings of lamps leave open: by which law they fade, and what the room did to them. Pure.

Each doubt is a term of the curve whose coefficient is known beforehand only as 'about nothing, give or take so much'.
Where readings tell more they decide; where they cannot, as with a season that is half over, the doubt stays in every
interval.

- The law: loss may go with a power of the hours other than the first (a bend that lasts), its rate may have changed at
  any time (knots), and may change ahead.
- The room: light of tubes follows the air. Without a thermometer a year's swing stands in the readings, with what its
  first and second harmonic can hold; with one, what the correction leaves of it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from sumlight.light.ageing import SEASONED_H, LampPoint

RATE_PER_H = (2.5e-4, 2.0e-4)
"""Fall of ln light in an hour, mean and standard uncertainty: tubes lose a quarter to a half of their UV in one to
three thousand hours (common practice, no source)."""
LEAST_RATE_PER_H = 1e-4
"""Doubts about the law are shares of the rate, and of no smaller one than this."""

RUN_IN_H = 80.0
RUN_IN = (0.015, 0.025)
"""What is left of the running-in at 100 h: mean and standard uncertainty, fading with RUN_IN_H (no source)."""

BEND = 0.45
"""Standard uncertainty of the power with which loss goes, about 1 (judgement: from its root to its square is 2σ)."""
KNOTS = (0.25, 0.5, 0.7, 0.88)
KNOT = 0.45
"""Standard uncertainty of a change of the rate, over the rate, at each of those shares of the time observed (judgement,
no source)."""
LEAST_SHARE = 0.3
SLOWER, FASTER = 0.15, 0.38
"""Ahead of the last reading: the least rate that is reckoned with, over LEAST_RATE_PER_H, and the standard uncertainty
of the rate's logarithm downwards and upwards (judgement, no source: tubes rather fall away at their end)."""

YEAR_D = 365.25
Season = tuple[float, float]
"""Standard uncertainty of the sine and cosine of a year in ln light, and of their second harmonic."""
UNKNOWN_ROOM: Season = (0.035, 0.018)
"""A room that swings by 4 K to 6 K about 20 °C, by the bell of `ageing` (judgement from the trade notes, L1-L3)."""
CORRECTED_ROOM: Season = (0.02, 0.01)
"""Readings corrected by a thermometer: 10 K off its best a tube loses 6 to 12 % (trade notes, L2 and L3), and the bell
is one of them."""
SHARED_ROOM: Season = (0.006, 0.003)
"""Between two banks in one room, whose tubes answer alike (judgement)."""
SEASON_TERMS = 4


@dataclass(frozen=True)
class Doubts:
    """The doubts about one bank, watched from `first_h` to `last_h`; `rate_per_h` is what doubts about the law are
    shares of, `room` what seasons may have done."""

    first_h: float
    last_h: float
    room: Season
    rate_per_h: float = RATE_PER_H[0]

    def at_rate(self, rate_per_h: float) -> "Doubts":
        """The same about lamps of another rate of fall."""
        return replace(self, rate_per_h=max(LEAST_RATE_PER_H, rate_per_h))

    def terms(self, hours: float, day: float | None) -> list[float]:
        """What each doubt's coefficient is multiplied with at an age, on a numbered `day`; None: in the year's mean."""
        middle_h = math.sqrt(max(self.first_h, 1.0) * max(self.last_h, 1.0))
        spans = [max(0.0, hours - self.first_h - share * (self.last_h - self.first_h)) for share in KNOTS]
        law = [
            math.exp((SEASONED_H - hours) / RUN_IN_H),
            hours * (math.log(max(hours, 1.0) / middle_h) - 1),
            *spans,
        ]
        if day is None:
            return [*law, 0.0, 0.0, 0.0, 0.0]
        turn = math.tau * day / YEAR_D
        return [*law, math.cos(turn), math.sin(turn), math.cos(2 * turn), math.sin(2 * turn)]

    def known(self) -> list[tuple[float, float]]:
        """Mean and standard uncertainty of each doubt's coefficient before any reading."""
        rate = self.rate_per_h
        season, second = self.room
        law = [RUN_IN, (0.0, BEND * rate), *[(0.0, KNOT * rate)] * len(KNOTS)]
        return [*law, (0.0, season), (0.0, season), (0.0, second), (0.0, second)]


def doubts_of(days: Sequence[LampPoint], *, air_known: bool) -> Doubts:
    """The doubts about a bank of which these days are known, in order of hours; ages in hours."""
    return Doubts(days[0].hours, days[-1].hours, CORRECTED_ROOM if air_known else UNKNOWN_ROOM)
