"""How the light of a bank of lamps falls over their hours, and when it will be too little. Pure.

The curve is the exponential of TM-21, light = B·exp(−α·hours), and what `lampdoubt` adds to it. As there, the answer
never reaches further than six times the observed duration.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from operator import mul

from sumlight.light.ageing import CAP, SEASONED_H
from sumlight.light.lampdoubt import (
    FASTER,
    LEAST_RATE_PER_H,
    LEAST_SHARE,
    SEASON_TERMS,
    SLOWER,
    Doubts,
)
from sumlight.light.uncertainty import student_quantile

NEW_SPAN_H = 50.0
"""The seasoned value is the mean light over so many hours after SEASONED_H."""
NEW_PLACES = 6

FAR = 20.0
"""Factors of e beyond which a loss is as good as everything."""

PLACES_AHEAD = 48
"""A curve is looked along at so many places for the hour at which it meets a level."""


@dataclass(frozen=True)
class Decay:
    """A fitted curve. `alpha_per_h` and `log_b` as in TM-21, before any step; `steps` are (hours, change of ln light).

    `scatter` is the relative standard deviation of a reading of weight 1; `alike` how much the errors of neighbouring
    days are; `put_aside` counts readings left out. `first_h` and `last_h` bound the readings used; `covariance` belongs
    to (centre, slope, steps, doubts).
    """

    centre_h: float
    coefficients: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    step_hours: tuple[float, ...]
    doubts: Doubts | None
    scatter: float
    alike: float
    dof: int
    put_aside: int
    first_h: float
    last_h: float

    @property
    def unit(self) -> float:
        """Variance of a reading of weight 1 as many of them count: they err alike, and tell less together."""
        return self.scatter * self.scatter * worth_of(self.alike)

    @property
    def alpha_per_h(self) -> float:
        """Rate of fall per lamp hour, where there are no doubts about the law."""
        return -self.coefficients[1]

    @property
    def log_b(self) -> float:
        """ln B: the curve at hour 0 without doubts, before any step."""
        return self.coefficients[0] - self.coefficients[1] * self.centre_h

    @property
    def steps(self) -> tuple[tuple[float, float], ...]:
        """(hours, change of ln light) of every step."""
        return tuple(zip(self.step_hours, self.coefficients[2:], strict=False))

    def terms(self, hours: float, day: float | None = None) -> list[float]:
        """What each coefficient is multiplied with at this age, on a numbered `day`: 1, hours off the centre, 1 after
        each step, doubts."""
        return row_of(hours, day, self.centre_h, self.step_hours, self.doubts)

    def log_at(self, hours: float, day: float | None = None) -> tuple[float, float]:
        """ln light of the curve and its standard uncertainty; of the year's mean without a `day`."""
        return self._judged(self.terms(hours, day))

    @cached_property
    def _new_terms(self) -> list[float]:
        places = [self.terms(SEASONED_H + NEW_SPAN_H * (n + 0.5) / NEW_PLACES) for n in range(NEW_PLACES)]
        return [math.fsum(column) / NEW_PLACES for column in zip(*places, strict=True)]

    @property
    def new_mw_cm2(self) -> float:
        """Light of seasoned lamps, in the year's mean."""
        return math.exp(self._judged(self._new_terms)[0])

    def season(self, day: float) -> float:
        """Light on a numbered `day` over that of the year's mean, by what the room does to it."""
        return math.exp(self.log_at(self.last_h, day)[0] - self.log_at(self.last_h)[0])

    def share(self, hours: float, coverage: float = 0.95) -> tuple[float, float, float]:
        """Share of new, with its interval; ahead of the last reading with what the rate may do."""
        return _lifted(self.log_share_limits(hours, coverage))

    def curve(self, hours: float, coverage: float = 0.95, *, day: float | None = None) -> tuple[float, float, float]:
        """Light of the curve in mW/cm², with the interval in which it lies; of the year's mean without a `day`."""
        return _lifted(self._limits(hours, day, coverage))

    def reading(
        self, hours: float, coverage: float = 0.95, weight: float = 1.0, *, day: float | None = None
    ) -> tuple[float, float, float]:
        """Light that a single reading will show, with its prediction interval, in mW/cm².

        Without a numbered `day` it may be any of the year.
        """
        variance = self.scatter * self.scatter / weight
        if day is None and self.doubts is not None:
            size = len(self.coefficients)
            for i in range(size - SEASON_TERMS, size):  # the mean square of sine and cosine over a year is a half
                variance += (self.coefficients[i] ** 2 + self.covariance[i][i]) / 2
        return _lifted(self._limits(hours, day, coverage, variance=variance))

    def log_limits(self, hours: float, coverage: float = 0.95) -> tuple[float, float, float]:
        """ln light of the curve in the year's mean, with its limits."""
        return self._limits(hours, None, coverage)

    def log_share_limits(self, hours: float, coverage: float = 0.95) -> tuple[float, float, float]:
        """ln of the share of new, with its limits."""
        return self._limits(hours, None, coverage, less=self._new_terms)

    def _limits(
        self,
        hours: float,
        day: float | None,
        coverage: float,
        *,
        less: Sequence[float] | None = None,
        variance: float = 0.0,
    ) -> tuple[float, float, float]:
        """ln light with its limits, over that of the terms `less`, for something that scatters by `variance` itself.

        Ahead of the last reading it is the rate that is in doubt, and rates are more than nothing: what is yet to be
        lost is known to a factor, so that the limits lie unevenly about it.
        """
        quantile = self.quantile(coverage)
        row = self.terms(min(hours, self.last_h) if self.doubts else hours, day)
        value, sigma = self._judged(row if less is None else [a - b for a, b in zip(row, less, strict=True)])
        reach = quantile * math.sqrt(sigma * sigma + variance)
        if hours <= self.last_h or self.doubts is None:
            return value, value - reach, value + reach
        moved = [a - b for a, b in zip(self.terms(self.last_h), self.terms(hours), strict=True)]
        loss, sigma = self._judged(moved)
        loss = max(loss, LEAST_RATE_PER_H * LEAST_SHARE * (hours - self.last_h))
        known = math.log1p((sigma / loss) ** 2)
        up = loss * -math.expm1(-quantile * math.sqrt(known + SLOWER**2))
        down = loss * math.expm1(min(FAR, quantile * math.sqrt(known + FASTER**2)))
        value -= loss
        return value, value - math.hypot(reach, down), value + math.hypot(reach, up)

    def quantile(self, coverage: float) -> float:
        """Of Student's t, for both sides together."""
        return student_quantile(0.5 + coverage / 2, self.dof)

    def _judged(self, row: list[float]) -> tuple[float, float]:
        value = math.fsum(map(mul, self.coefficients, row))
        variance = sum(a * sum(map(mul, row, line)) for a, line in zip(row, self.covariance, strict=True) if a)
        return value, math.sqrt(max(0.0, variance))


def _lifted(limits: tuple[float, float, float]) -> tuple[float, float, float]:
    value, low, high = limits
    return math.exp(value), math.exp(low), math.exp(high)


@dataclass(frozen=True)
class Life:
    """When the curve meets a level, in lamp hours: `hours` with `low_h`…`high_h`, None where beyond `cap_h`.

    `calculated_h` is the curve's own answer however far away, infinite for one that does not fall.
    """

    calculated_h: float
    hours: float | None
    low_h: float | None
    high_h: float | None
    cap_h: float

    @property
    def reported_h(self) -> float:
        """As TM-21 reports it: the calculated life, at most the cap."""
        return min(self.calculated_h, self.cap_h)


def life(decay: Decay, level_mw_cm2: float, observed_h: float, coverage: float = 0.95) -> Life:
    """When the curve falls to `level_mw_cm2`; bounds are where its confidence limits do. Nothing beyond CAP is told.

    Raises ValueError for a level not above 0.
    """
    if level_mw_cm2 <= 0:
        raise ValueError(f"the level must be above 0 mW/cm², not {level_mw_cm2}")
    return _meets(decay, lambda hours: decay.log_limits(hours, coverage), math.log(level_mw_cm2), observed_h)


def life_to_share(decay: Decay, level: float, observed_h: float, coverage: float = 0.95) -> Life:
    """When the light falls to `level`, a share of new, in the same way: what is in doubt of new is in the bounds too.

    Raises ValueError for a level not above 0.
    """
    if level <= 0:
        raise ValueError(f"the level must be a share above 0, not {level}")
    return _meets(decay, lambda hours: decay.log_share_limits(hours, coverage), math.log(level), observed_h)


def _meets(decay: Decay, limits: Callable[[float], tuple[float, float, float]], goal: float, observed_h: float) -> Life:
    """Where the middle, the lower and the upper limit of ln light meet a goal."""
    cap_h, begin_h = CAP * observed_h, decay.last_h
    value = limits(begin_h)[0]
    alpha = (value - limits(begin_h + 1000.0)[0]) / 1000.0
    calculated_h = begin_h + (value - goal) / alpha if alpha > 0 else math.inf if value > goal else begin_h
    ratio = math.pow(max(cap_h, begin_h) / begin_h, 1 / PLACES_AHEAD)
    places = [begin_h * math.pow(ratio, n) for n in range(PLACES_AHEAD + 1)]

    def crossing(side: int) -> float | None:
        """Light of lamps does not come back, so the first place counts at which the limit is below the level."""
        below = next((n for n, hours in enumerate(places) if limits(hours)[side] <= goal), None)
        if below is None or cap_h <= begin_h:
            return begin_h if below == 0 else None
        if below == 0:
            return begin_h
        low_h, high_h = places[below - 1], places[below]
        for _ in range(40):
            middle_h = (low_h + high_h) / 2
            low_h, high_h = (middle_h, high_h) if limits(middle_h)[side] > goal else (low_h, middle_h)
        return high_h

    return Life(calculated_h, crossing(0), crossing(1), crossing(2), cap_h)


def row_of(
    hours: float, day: float | None, centre_h: float, step_hours: Sequence[float], doubts: Doubts | None
) -> list[float]:
    """What each coefficient of a curve is multiplied with; ages in lamp hours, `day` as numbered, None: any."""
    row = [1.0, hours - centre_h, *(1.0 if hours >= at_h else 0.0 for at_h in step_hours)]
    return row if doubts is None else [*row, *doubts.terms(hours, day)]


def worth_of(alike: float) -> float:
    """By how much errors that stay for days take from what many tell: variance of a mean of an AR(1) series whose
    neighbours are `alike` (a share of 1)."""
    return (1 + alike) / (1 - alike)
