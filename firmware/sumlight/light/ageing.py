"""How the light of a bank of lamps falls over their hours, and when it will be too little. Pure.

The curve is the exponential of TM-21, light = B·exp(−α·hours), fitted by least squares on the logarithm. As there, the
answer never reaches further than six times the observed duration. Two things differ, because this is one bank on a
bench and not a tested batch: readings far off the curve are put aside and counted, and what is left of the running-in
after the first hundred hours stands in the fit as a term of its own with a known worth.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sumlight.light.uncertainty import student_quantile
from sumlight.text.message import say

SEASONED_H = 100.0
"""'New' is the light after so many hours; it falls fastest before them (reference values §3)."""

CAP = 6.0
"""No statement reaches beyond so many times the observed duration (TM-21)."""

REPLACE_LEVEL = 0.70
"""Share of the seasoned light at which lamps are changed: about one step of a step tablet (trade notes, L8)."""

FEWEST = 8
"""Days with readings below which nothing is said about a trend."""

RUN_IN_H = 80.0
RUN_IN = (0.015, 0.015)
"""What is left of the running-in at 100 h: mean and standard uncertainty, fading with RUN_IN_H (no source)."""

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
    """Light of tubes as corrected where the bell is known, and as it was where it is not.

    `light` is in any unit, which the answer keeps.
    """
    return temperature_corrected(light, air_c) if abs(air_c - BEST_AIR_C) <= AIR_WIDTH_C / 2 else light


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
            middle = _median([p.mw_cm2 for p in group])
            off = [abs(p.mw_cm2 - middle) for p in group]
            reach = 6 * 1.4826 * _median(off)
            group = [p for p, o in zip(group, off, strict=True) if o <= reach]
        total = math.fsum(p.weight for p in group)
        checks = [p.self_check for p in group if p.self_check is not None]
        hours = math.fsum(p.weight * p.hours for p in group) / total
        light = math.exp(math.fsum(p.weight * math.log(p.mw_cm2) for p in group) / total)
        found.append(LampPoint(hours, light, group[0].day, total, sum(checks) / len(checks) if checks else None))
    return [*found, *days[-recent:]]


@dataclass(frozen=True)
class Decay:
    """A fitted curve. `alpha_per_h` and `log_b` as in TM-21, before any step; `steps` are (hours, change of ln light).

    `scatter` is the relative standard deviation of a reading of weight 1; `put_aside` counts readings left out.
    `first_h` and `last_h` bound the readings used; `covariance` belongs to (centre, alpha, steps, run-in).
    """

    centre_h: float
    coefficients: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    step_hours: tuple[float, ...]
    run_in: bool
    scatter: float
    dof: int
    put_aside: int
    first_h: float
    last_h: float

    @property
    def alpha_per_h(self) -> float:
        """Rate of fall per lamp hour."""
        return -self.coefficients[1]

    @property
    def log_b(self) -> float:
        """ln B: the curve at hour 0 without the running-in, before any step."""
        return self.coefficients[0] - self.coefficients[1] * self.centre_h

    @property
    def steps(self) -> tuple[tuple[float, float], ...]:
        """(hours, change of ln light) of every step."""
        return tuple(zip(self.step_hours, self.coefficients[2:], strict=False))

    def terms(self, hours: float) -> list[float]:
        """What each coefficient is multiplied with at this age: 1, hours off the centre, 1 after each step, run-in."""
        return _row(hours, self.centre_h, self.step_hours, run_in=self.run_in)

    def log_at(self, hours: float) -> tuple[float, float]:
        """ln light of the curve and its standard uncertainty."""
        row = self.terms(hours)
        value = math.fsum(c * r for c, r in zip(self.coefficients, row, strict=True))
        variance = sum(a * b * self.covariance[i][j] for i, a in enumerate(row) for j, b in enumerate(row))
        return value, math.sqrt(max(0.0, variance))

    def curve(self, hours: float, coverage: float = 0.95) -> tuple[float, float, float]:
        """Light of the curve in mW/cm², with the interval in which the curve lies."""
        value, sigma = self.log_at(hours)
        reach = student_quantile(0.5 + coverage / 2, self.dof) * sigma
        return math.exp(value), math.exp(value - reach), math.exp(value + reach)

    def reading(self, hours: float, coverage: float = 0.95, weight: float = 1.0) -> tuple[float, float, float]:
        """Light that a single reading will show, with its prediction interval."""
        value, sigma = self.log_at(hours)
        spread = math.hypot(sigma, self.scatter / math.sqrt(weight))
        reach = student_quantile(0.5 + coverage / 2, self.dof) * spread
        return math.exp(value), math.exp(value - reach), math.exp(value + reach)


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


def fit_decay(
    points: Sequence[LampPoint], *, step_hours: Sequence[float] = (), run_in: bool = False, sturdy: bool = True
) -> Decay:
    """Fit the exponential to readings, with a jump of unknown height at each of `step_hours`.

    `sturdy` puts readings aside that lie far off; without it, it is plain weighted least squares. Raises ValueError for
    too few readings, light or weights not above 0, or ages all alike.
    """
    unknowns = 2 + len(step_hours)
    if len(points) <= unknowns:
        raise ValueError(say("curve_needs_readings", unknowns=unknowns, readings=len(points)))
    if any(p.mw_cm2 <= 0 or p.weight <= 0 for p in points):
        raise ValueError(say("lamp_reading_above_zero"))
    total = math.fsum(p.weight for p in points)
    centre_h = math.fsum(p.weight * p.hours for p in points) / total
    rows = [_row(p.hours, centre_h, step_hours, run_in=run_in) for p in points]
    logs = [math.log(p.mw_cm2) for p in points]
    weights = [p.weight for p in points]
    kept = [True] * len(points)
    scatter = 0.0
    if run_in or sturdy:
        scatter = _spread([y - m for y, m in zip(logs, _model(rows, logs, weights, None), strict=True)], weights)
    if sturdy:
        kept, scatter = _keep_near(rows, logs, weights, _prior(scatter, run_in=run_in))
    rows_kept = [row for row, k in zip(rows, kept, strict=True) if k]
    logs_kept = [y for y, k in zip(logs, kept, strict=True) if k]
    weights_kept = [w for w, k in zip(weights, kept, strict=True) if k]
    prior = _prior(scatter, run_in=run_in)
    for _ in range(3 if run_in else 1):  # the prior's worth is counted in spreads, which the fit itself tells
        solution, inverse = _least_squares(rows_kept, logs_kept, weights_kept, prior)
        residuals = [y - _dot(row, solution) for row, y in zip(rows_kept, logs_kept, strict=True)]
        dof = len(residuals) - unknowns
        if dof < 1:
            raise ValueError(say("too_few_left"))
        chi2 = math.fsum(w * r * r for w, r in zip(weights_kept, residuals, strict=True))
        scatter = math.sqrt(chi2 / dof)
        prior = _prior(scatter, run_in=run_in)
    unit = scatter * scatter
    used = [p for p, k in zip(points, kept, strict=True) if k]
    return Decay(
        centre_h=centre_h,
        coefficients=tuple(solution),
        covariance=tuple(tuple(unit * v for v in line) for line in inverse),
        step_hours=tuple(step_hours),
        run_in=run_in,
        scatter=scatter,
        dof=dof,
        put_aside=len(points) - len(used),
        first_h=min(p.hours for p in used),
        last_h=max(p.hours for p in used),
    )


def window(days: Sequence[LampPoint]) -> list[LampPoint]:
    """The days a forecast may rest on: seasoned, and of those the later half of the lamps' age if they are enough.

    TM-21 takes the last half of a long test for the same reason: the early fall is not the later one.
    """
    seasoned = [p for p in days if p.hours >= SEASONED_H]
    if not seasoned:
        return []
    late = [p for p in seasoned if p.hours >= seasoned[-1].hours / 2]
    return late if len(late) >= 2 * FEWEST else seasoned


def duration_h(days: Sequence[LampPoint]) -> float:
    """How long the lamps have been observed: their age if watched since they were new, else the span of readings."""
    hours = [p.hours for p in days]
    return max(hours) if min(hours) <= SEASONED_H else max(hours) - min(hours)


def life(decay: Decay, level_mw_cm2: float, observed_h: float, coverage: float = 0.95) -> Life:
    """When the curve falls to `level_mw_cm2`; bounds are where its confidence limits do. Nothing beyond CAP is told.

    Raises ValueError for a level not above 0.
    """
    if level_mw_cm2 <= 0:
        raise ValueError(f"the level must be above 0 mW/cm², not {level_mw_cm2}")
    goal = math.log(level_mw_cm2)
    cap_h = CAP * observed_h
    quantile = student_quantile(0.5 + coverage / 2, decay.dof)
    begin_h = decay.last_h
    value, _ = decay.log_at(begin_h)
    alpha = decay.alpha_per_h
    calculated_h = begin_h + (value - goal) / alpha if alpha > 0 else math.inf if value > goal else begin_h

    def crossing(side: float) -> float | None:
        def above(hours: float) -> bool:
            middle, sigma = decay.log_at(hours)
            return middle + side * quantile * sigma > goal

        if not above(begin_h):
            return begin_h
        if cap_h <= begin_h or above(cap_h):
            return None
        low_h, high_h = begin_h, cap_h
        for _ in range(60):
            middle_h = (low_h + high_h) / 2
            low_h, high_h = (middle_h, high_h) if above(middle_h) else (low_h, middle_h)
        return high_h

    return Life(calculated_h, crossing(0.0), crossing(-1.0), crossing(1.0), cap_h)


def _row(hours: float, centre_h: float, step_hours: Sequence[float], *, run_in: bool) -> list[float]:
    row = [1.0, hours - centre_h, *(1.0 if hours >= at_h else 0.0 for at_h in step_hours)]
    return [*row, math.exp((SEASONED_H - hours) / RUN_IN_H)] if run_in else row


def run_in_known(scatter: float) -> tuple[float, float]:
    """The run-in's amplitude as one more observation: its value and its weight beside a reading of weight 1.

    `scatter` is the standard deviation of one reading in ln light.
    """
    return RUN_IN[0], (max(scatter, 1e-6) / RUN_IN[1]) ** 2


def _prior(scatter: float, *, run_in: bool) -> tuple[float, float] | None:
    return run_in_known(scatter) if run_in else None


def _keep_near(
    rows: list[list[float]], logs: list[float], weights: list[float], prior: tuple[float, float] | None
) -> tuple[list[bool], float]:
    """Which readings lie near the curve, found with Huber's weights so that those far off cannot bend it."""
    given = list(weights)
    spread = 0.0
    for _ in range(30):
        model = _model(rows, logs, given, prior)
        pulls = [(y - m) * math.sqrt(w) for y, m, w in zip(logs, model, weights, strict=True)]
        before, spread = spread, 1.4826 * _median([abs(p) for p in pulls])
        if spread <= 0:
            return [abs(p) <= 1e-9 for p in pulls], 0.0
        given = [w * min(1.0, HUBER * spread / max(abs(p), 1e-300)) for w, p in zip(weights, pulls, strict=True)]
        if abs(spread - before) <= 1e-6 * spread:
            break
    few = 1 + 5 / max(1, len(rows) - len(rows[0]))  # the median of few residuals is too small
    return [abs(p) <= FAR_OFF * few * spread for p in pulls], spread


def _model(
    rows: list[list[float]], logs: list[float], weights: list[float], prior: tuple[float, float] | None
) -> list[float]:
    if prior is None and len(rows[0]) > 2:  # without its prior the run-in may not be told apart from the rest
        prior = (0.0, 1e-3 * sum(weights))
    solution, _ = _least_squares(rows, logs, weights, prior)
    return [_dot(row, solution) for row in rows]


def _spread(residuals: list[float], weights: list[float]) -> float:
    return 1.4826 * _median([abs(r) * math.sqrt(w) for r, w in zip(residuals, weights, strict=True)])


def _least_squares(
    rows: list[list[float]], values: list[float], weights: list[float], prior: tuple[float, float] | None
) -> tuple[list[float], list[list[float]]]:
    """Solution and inverse of the normal equations; `prior` observes the last unknown alone."""
    size = len(rows[0])
    normal = [
        [math.fsum(w * r[i] * r[j] for w, r in zip(weights, rows, strict=True)) for j in range(size)]
        for i in range(size)
    ]
    right = [math.fsum(w * r[i] * v for w, r, v in zip(weights, rows, values, strict=True)) for i in range(size)]
    if prior is not None:
        normal[-1][-1] += prior[1]
        right[-1] += prior[0] * prior[1]
    inverse = _inverse(normal)
    return [_dot(line, right) for line in inverse], inverse


def _inverse(matrix: list[list[float]]) -> list[list[float]]:
    """By elimination with pivots, after scaling to ones on the diagonal."""
    size = len(matrix)
    scale = [1 / math.sqrt(matrix[i][i]) if matrix[i][i] > 0 else 0.0 for i in range(size)]
    work = [
        [matrix[i][j] * scale[i] * scale[j] for j in range(size)] + [float(i == j) for j in range(size)]
        for i in range(size)
    ]
    for column in range(size):
        pivot = max(range(column, size), key=lambda i: abs(work[i][column]))
        if abs(work[pivot][column]) < 1e-12:
            raise ValueError(say("ages_too_alike"))
        work[column], work[pivot] = work[pivot], work[column]
        lead = work[column][column]
        work[column] = [v / lead for v in work[column]]
        for i in range(size):
            factor = work[i][column]
            if i != column and factor:
                work[i] = [v - factor * p for v, p in zip(work[i], work[column], strict=True)]
    return [[work[i][size + j] * scale[i] * scale[j] for j in range(size)] for i in range(size)]


def _dot(a: Sequence[float], b: Sequence[float]) -> float:
    return math.fsum(x * y for x, y in zip(a, b, strict=True))


def _median(values: list[float]) -> float:
    ordered = sorted(values)
    middle = len(ordered) // 2
    return ordered[middle] if len(ordered) % 2 else (ordered[middle - 1] + ordered[middle]) / 2
