"""Fits the curve of `lampcurve` to readings, by least squares on the logarithm. Pure.

One bank on a bench is no tested batch, so two things are added to TM-21: readings far off the curve are put aside and
counted, and what is not known of law and room stands in the fit as terms with a known worth (`lampdoubt`).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from operator import mul
from statistics import median

from sumlight.light.ageing import FAR_OFF, HUBER, LampPoint
from sumlight.light.lampcurve import Decay, row_of, worth_of
from sumlight.light.lampdoubt import RATE_PER_H, Doubts
from sumlight.text.message import say

ALIKE, ALIKE_WORTH = 0.45, 40.0
"""How much the errors of two days beside each other are alike (weather stays for some days), as long as readings tell
little: worth so many pairs of days (judgement, no source)."""
NEIGHBOURS_D = 4
MOST_ALIKE = 0.85
"""Days no further apart than this tell of it, and no more than MOST_ALIKE is believed."""


@dataclass(frozen=True)
class Observed:
    """What a fit rests on, column by column: first what is known of coefficients, then the readings from `first` on."""

    columns: list[list[float]]
    values: list[float]
    weights: list[float]
    first: int

    def rest(self, coefficients: Sequence[float]) -> list[float]:
        """What the curve with these `coefficients`, each in ln light, leaves of each value."""
        model = [0.0] * len(self.values)
        for coefficient, column in zip(coefficients, self.columns, strict=True):
            model = [m + coefficient * v for m, v in zip(model, column, strict=True)]
        return [y - m for y, m in zip(self.values, model, strict=True)]


def observed(decay: Decay, points: Sequence[LampPoint]) -> Observed:
    """What a fitted curve rests on: what was known beforehand, counted in readings of weight 1, and the readings."""
    rows = [decay.terms(p.hours, p.day) for p in points]
    return _observed(points, rows, decay.doubts, decay.unit)


def _observed(points: Sequence[LampPoint], rows: Sequence[list[float]], doubts: Doubts | None, unit: float) -> Observed:
    """`unit` is the variance of a reading of weight 1, as far as many of them can tell."""
    size = len(rows[0])
    known = []
    if doubts is not None:
        about = doubts.known()
        known = [(1, -RATE_PER_H[0], RATE_PER_H[1])]
        known += [(size - len(about) + n, mean, sigma) for n, (mean, sigma) in enumerate(about)]
    before = [[1.0 if n == index else 0.0 for n in range(size)] for index, _, _ in known]
    values = [mean for _, mean, _ in known] + [math.log(p.mw_cm2) for p in points]
    weights = [max(unit, 1e-12) / (sigma * sigma) for _, _, sigma in known] + [p.weight for p in points]
    return Observed([list(column) for column in zip(*before, *rows, strict=True)], values, weights, len(known))


def fit_decay(
    points: Sequence[LampPoint], *, step_hours: Sequence[float] = (), doubts: Doubts | None = None, sturdy: bool = True
) -> Decay:
    """Fit the exponential to readings, with a jump of unknown height at each of `step_hours`, and with `doubts`.

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
    alike, scatter = ALIKE if doubts is not None else 0.0, _day_to_day(points)
    rows = [row_of(p.hours, p.day, centre_h, step_hours, doubts) for p in points]
    kept = list(points)
    if sturdy:
        near, scatter = _near(_observed(points, rows, doubts, scatter * scatter * worth_of(alike)))
        kept = [p for p, one in zip(points, near, strict=True) if one]
        rows = [row for row, one in zip(rows, near, strict=True) if one]
        if len(kept) <= unknowns:
            raise ValueError(say("too_few_left"))
    for _ in range(3 if doubts is not None else 1):  # what is known is counted in spreads, which the fit itself tells
        unit = scatter * scatter * worth_of(alike)
        seen = _observed(kept, rows, doubts, unit)
        solution, inverse = _least_squares(seen.columns, seen.values, seen.weights)
        rest, weights = seen.rest(solution)[seen.first :], seen.weights[seen.first :]
        told = len(solution) - math.fsum(w * inverse[i][i] for w, i in _known(seen))
        dof = math.floor(len(rest) - max(told, unknowns) + 1e-9)
        if dof < 1:
            raise ValueError(say("too_few_left"))
        scatter = math.sqrt(math.fsum(w * r * r for w, r in zip(weights, rest, strict=True)) / dof)
        if doubts is not None:
            alike = _alike(kept, rest, weights)
            doubts = doubts.at_rate(_fall(solution, centre_h, step_hours, doubts))
    unit = scatter * scatter * worth_of(alike)
    return Decay(
        centre_h=centre_h,
        coefficients=tuple(solution),
        covariance=tuple(tuple(unit * v for v in line) for line in inverse),
        step_hours=tuple(step_hours),
        doubts=doubts,
        scatter=scatter,
        alike=alike,
        dof=dof,
        put_aside=len(points) - len(kept),
        first_h=min(p.hours for p in kept),
        last_h=max(p.hours for p in kept),
    )


def _known(seen: Observed) -> list[tuple[float, int]]:
    """Weight and coefficient of each thing known beforehand."""
    return [(seen.weights[n], next(i for i, c in enumerate(seen.columns) if c[n])) for n in range(seen.first)]


def _fall(solution: list[float], centre_h: float, step_hours: Sequence[float], doubts: Doubts) -> float:
    """The mean rate of fall over the time observed, jumps and seasons left out."""
    begin, end = (row_of(h, None, centre_h, step_hours, doubts) for h in (doubts.first_h, doubts.last_h))
    moved = [0.0 if 2 <= n < 3 + len(step_hours) else a - b for n, (a, b) in enumerate(zip(begin, end, strict=True))]
    return math.fsum(map(mul, solution, moved)) / max(1.0, doubts.last_h - doubts.first_h)


def _alike(points: Sequence[LampPoint], rest: list[float], weights: list[float]) -> float:
    """How much the errors of neighbouring days are alike, from 0 to MOST_ALIKE."""
    pulls = [math.sqrt(w) * r for w, r in zip(weights, rest, strict=True)]
    mean = math.fsum(p * p for p in pulls) / len(pulls)
    both = count = 0.0
    for n in range(1, len(points)):
        if points[n].day - points[n - 1].day <= NEIGHBOURS_D:
            both, count = both + pulls[n] * pulls[n - 1], count + 1
    found = both / mean if mean > 0 else 0.0
    return min(MOST_ALIKE, max(0.0, (found + ALIKE * ALIKE_WORTH) / (count + ALIKE_WORTH)))


def _day_to_day(points: Sequence[LampPoint]) -> float:
    """Spread of a reading of weight 1, from what changes from one to the next."""
    moved = [abs(math.log(b.mw_cm2 / a.mw_cm2)) / math.sqrt(1 / a.weight + 1 / b.weight) for a, b in pairwise(points)]
    return 1.4826 * median(moved)


def _near(seen: Observed) -> tuple[list[bool], float]:
    """Which readings lie near the curve, found with Huber's weights so that those far off cannot bend it."""
    given = list(seen.weights)
    spread = 0.0
    roots = [math.sqrt(w) for w in seen.weights]
    for _ in range(30):
        solution, _ = _least_squares(seen.columns, seen.values, given)
        pulls = [abs(r) * root for r, root in zip(seen.rest(solution), roots, strict=True)]
        before, spread = spread, 1.4826 * median(pulls[seen.first :])
        if spread <= 0:
            return [pull <= 1e-9 for pull in pulls[seen.first :]], 0.0
        for n in range(seen.first, len(given)):
            given[n] = seen.weights[n] * min(1.0, HUBER * spread / max(pulls[n], 1e-300))
        if abs(spread - before) <= 1e-3 * spread:
            break
    few = 1 + 5 / max(1, len(seen.values) - seen.first - 2)  # the median of few residuals is too small
    return [pull <= FAR_OFF * few * spread for pull in pulls[seen.first :]], spread


def _least_squares(
    columns: list[list[float]], values: list[float], weights: list[float]
) -> tuple[list[float], list[list[float]]]:
    """Solution and inverse of the normal equations."""
    size = len(columns)
    heavy = [list(map(mul, weights, column)) for column in columns]
    normal = [[0.0] * size for _ in range(size)]
    for i in range(size):
        for j in range(i + 1):
            normal[i][j] = normal[j][i] = math.fsum(map(mul, heavy[i], columns[j]))
    right = [math.fsum(map(mul, column, values)) for column in heavy]
    inverse = _inverse(normal)
    return [math.fsum(map(mul, line, right)) for line in inverse], inverse


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
