"""Estimates from observations that only say 'between here and there' (interval-censored, logarithmic).

An observation is an interval (low, high] of a natural logarithm; either end may be infinite. Two questions are
answered: where does the mean lie when the scatter is known (`located`), and what are mean and scatter together
(`fitted`). Both work on the likelihood, the product of the normal probabilities of the intervals; see Finkelstein
and Wolfe 1985 (Biometrics 41, 933) for the kind of data. Plain Python, small grids.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

Interval = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Halved:
    """An interval (low, high] with a mark that people set where the value lies below its `middle`, most of the time."""

    low: float
    middle: float
    high: float
    marked: bool


Observation = Interval | Halved
Marking = tuple[float, float]
"""Probability that the mark is set where the value lies below the middle, and where it lies above."""

SQRT_2 = math.sqrt(2.0)
REACH = 5.0
"""Standard deviations that a grid extends beyond the intervals."""
LARGEST_GRID = 6000
SMALLEST_LIKELIHOOD = 1e-280
CONTRADICTION = 1e-4
"""Observations of one group whose best joint probability is below this contradict each other."""
FIT_STEPS = 400
LEAST_GAIN = 0.02
"""Observations are taken to add at least this share of the prior's precision."""


class NoEstimateError(ValueError):
    """The observations do not bound the value on both sides; the message says what is missing."""


@dataclass(frozen=True)
class Location:
    """Where a mean lies: posterior mean and standard deviation for an even prior, and its 95 % interval.

    `contradicting` counts the groups whose own observations can hardly all be true.
    """

    mean: float
    sigma: float
    low: float
    high: float
    contradicting: int


@dataclass(frozen=True)
class Fit:
    """Mean, scatter and log-likelihood of a fitted normal; `note` says when there is no finite maximum."""

    mean: float
    sigma: float
    log_likelihood: float
    note: str


def probability(low: float, high: float, mean: float, sigma: float) -> float:
    """Probability of (low, high] under a normal distribution; accurate in either tail.

    `mean`, `sigma`, `low` and `high` are in one unit, whichever it is.
    """
    a = (low - mean) / (sigma * SQRT_2)
    b = (high - mean) / (sigma * SQRT_2)
    if a > 0:
        return 0.5 * (math.erfc(a) - math.erfc(b))
    if b < 0:
        return 0.5 * (math.erfc(-b) - math.erfc(-a))
    return 0.5 * (math.erf(b) - math.erf(a))


def likelihood(seen: Observation, mean: float, sigma: float, marking: Marking | None) -> float:
    """Probability of an observation under a normal distribution.

    Without a `marking` a mark that is set is believed, and one that is not says nothing. `mean` and `sigma` are in the
    unit of the observation.
    """
    if not isinstance(seen, Halved):
        return probability(*seen, mean, sigma)
    if marking is None:
        return probability(seen.low, seen.middle if seen.marked else seen.high, mean, sigma)
    below, above = marking if seen.marked else (1 - marking[0], 1 - marking[1])
    return below * probability(seen.low, seen.middle, mean, sigma) + above * probability(
        seen.middle, seen.high, mean, sigma
    )


def ends_of(seen: Observation) -> Interval:
    """What the value surely lies between, whatever is marked."""
    return (seen.low, seen.high) if isinstance(seen, Halved) else seen


def located(
    groups: Sequence[Sequence[Observation]],
    *,
    within_sigma: float,
    between_sigma: float,
    prior: tuple[float, float] | None = None,
    misread: float = 0.0,
    misread_sigma: float = 1.0,
    marking: Marking | None = None,
) -> Location:
    """Locate the mean from groups of observations that share one random shift per group.

    A group is a panel, its observations are zones: `within_sigma` scatters the zones of a panel, `between_sigma` shifts
    whole panels (both standard deviations of the logarithm). The shift is integrated out on a grid. `prior` is an
    optional normal (mean, sigma) for the mean; otherwise every value is equally likely at first. With `misread` that
    share of the observations belongs to a normal as wide as `misread_sigma` instead (a heavy tail). `marking` is how
    marks are set (see `likelihood`).
    Raises NoEstimateError when nothing bounds the value from one side, ValueError for unusable scatter.
    """
    if within_sigma <= 0 or between_sigma < 0:
        raise ValueError("within_sigma must be above 0 and between_sigma at least 0")
    grid, step = _grid(groups, math.hypot(within_sigma, between_sigma), within_sigma, prior)
    weight = [0.0] * len(grid) if prior is None else [-0.5 * ((u - prior[0]) / prior[1]) ** 2 for u in grid]
    contradicting = 0
    for group in groups:
        own = [_together(group, u, within_sigma, misread, misread_sigma, marking) for u in grid]
        contradicting += max(own) < CONTRADICTION
        shifted = _spread(own, between_sigma / step)
        weight = [w + math.log(max(s, SMALLEST_LIKELIHOOD)) for w, s in zip(weight, shifted, strict=True)]
    return _summary(grid, weight, step, contradicting)


def _together(
    group: Sequence[Observation],
    mean: float,
    sigma: float,
    misread: float,
    misread_sigma: float,
    marking: Marking | None,
) -> float:
    """Probability of all observations of a group."""
    near = [likelihood(seen, mean, sigma, marking) for seen in group]
    if misread > 0:
        far = (likelihood(seen, mean, misread_sigma, marking) for seen in group)
        near = [(1 - misread) * p + misread * q for p, q in zip(near, far, strict=True)]
    return math.prod(near)


def without_prior(posterior: tuple[float, float], prior: tuple[float, float]) -> tuple[float, float]:
    """What the observations alone said, as the normal (mean, sigma) that turns the prior into the posterior.

    Moment matching: precisions subtract. Observations that taught almost nothing give a wide answer, never a
    negative variance. `posterior` and `prior` are (mean, sigma) in the unit of the observations.
    """
    precision = max(posterior[1] ** -2 - prior[1] ** -2, LEAST_GAIN * prior[1] ** -2)
    moved = posterior[0] - prior[0]
    return prior[0] + moved * posterior[1] ** -2 / precision, math.sqrt(1.0 / precision)


def fitted(intervals: Sequence[Interval]) -> Fit:
    """Maximum-likelihood normal for single observations, mean and scatter both unknown.

    When the intervals leave room for a scatter of zero (all of them overlap) the likelihood has no finite maximum
    in the scatter: the fit then gives the middle of the overlap, a scatter of 0 and says so in `note`. Raises
    NoEstimateError when the mean itself is not bounded.
    """
    _bounds(intervals)
    low = max(interval[0] for interval in intervals)
    high = min(interval[1] for interval in intervals)
    if low < high:
        middle = low if math.isinf(high) else high if math.isinf(low) else 0.5 * (low + high)
        return Fit(middle, 0.0, 0.0, "all observations agree: the scatter is too small to be seen")
    mean, sigma = _start(intervals)
    mean, log_sigma, likelihood = _climb(intervals, mean, math.log(sigma))
    return Fit(mean, math.exp(log_sigma), likelihood, "")


def log_likelihood(intervals: Sequence[Interval], mean: float, sigma: float) -> float:
    """Sum of the logarithms of the intervals' probabilities. `mean` and `sigma` are in the intervals' unit."""
    return sum(math.log(max(probability(a, b, mean, sigma), SMALLEST_LIKELIHOOD)) for a, b in intervals)


def _bounds(intervals: Sequence[Interval]) -> tuple[float, float]:
    """Smallest upper and largest lower finite ends, ordered."""
    lows = [low for low, _ in intervals if math.isfinite(low)]
    highs = [high for _, high in intervals if math.isfinite(high)]
    if not lows:
        raise NoEstimateError(
            "every observation is an upper bound only; one that bounds the value from below is missing"
        )
    if not highs:
        raise NoEstimateError(
            "every observation is a lower bound only; one that bounds the value from above is missing"
        )
    return min(min(highs), max(lows)), max(min(highs), max(lows))


def _grid(
    groups: Sequence[Sequence[Observation]], sigma: float, finest: float, prior: tuple[float, float] | None
) -> tuple[list[float], float]:
    """Even grid over all that the observations leave possible."""
    intervals = [ends_of(seen) for group in groups for seen in group]
    if prior is None:
        low, high = _bounds(intervals)
    else:
        low, high = prior
        low, high = low - REACH * high, low + REACH * high
    low, high = low - REACH * sigma, high + REACH * sigma
    step = max(finest / 2.0, (high - low) / LARGEST_GRID)
    count = math.ceil((high - low) / step) + 1
    return [low + i * step for i in range(count)], step


def _spread(values: list[float], sigma_steps: float) -> list[float]:
    """Convolve with a normal of that many grid steps; the rim continues level."""
    if sigma_steps < 0.3:
        return values
    reach = math.ceil(REACH * sigma_steps)
    kernel = [math.exp(-0.5 * (i / sigma_steps) ** 2) for i in range(-reach, reach + 1)]
    total = sum(kernel)
    padded = [values[0]] * reach + values + [values[-1]] * reach
    width = len(kernel)
    return [sum(k * v for k, v in zip(kernel, padded[i : i + width], strict=True)) / total for i in range(len(values))]


def _summary(grid: list[float], weight: list[float], step: float, contradicting: int) -> Location:
    top = max(weight)
    mass = [math.exp(w - top) for w in weight]
    total = sum(mass)
    mean = sum(m * u for m, u in zip(mass, grid, strict=True)) / total
    variance = sum(m * (u - mean) ** 2 for m, u in zip(mass, grid, strict=True)) / total
    low = _quantile(grid, mass, step, 0.025 * total)
    high = _quantile(grid, mass, step, 0.975 * total)
    return Location(mean, math.sqrt(variance), low, high, contradicting)


def _quantile(grid: list[float], mass: list[float], step: float, wanted: float) -> float:
    summed = 0.0
    for u, m in zip(grid, mass, strict=True):
        if summed + m >= wanted:
            return u - 0.5 * step + step * (wanted - summed) / m
        summed += m
    return grid[-1]


def _start(intervals: Sequence[Interval]) -> tuple[float, float]:
    """First guess: the finite middles, or the finite end of a one-sided observation."""
    points = [low if math.isinf(high) else high if math.isinf(low) else 0.5 * (low + high) for low, high in intervals]
    points = [p for p in points if math.isfinite(p)]
    mean = sum(points) / len(points)
    spread = math.sqrt(sum((p - mean) ** 2 for p in points) / len(points))
    return mean, max(spread, 1e-3)


def _climb(intervals: Sequence[Interval], mean: float, log_sigma: float) -> tuple[float, float, float]:
    """Newton's method on (mean, ln sigma) with numerical derivatives, guarded by halving and by plain ascent."""
    best = log_likelihood(intervals, mean, math.exp(log_sigma))
    for _ in range(FIT_STEPS):
        step_mean, step_log = _newton_step(intervals, mean, log_sigma)
        share = 1.0
        while share > 1e-9:
            found = log_likelihood(intervals, mean + share * step_mean, math.exp(log_sigma + share * step_log))
            if found >= best:
                break
            share *= 0.5
        else:
            return mean, log_sigma, best
        mean, log_sigma = mean + share * step_mean, log_sigma + share * step_log
        settled = abs(share * step_mean) < 1e-10 * math.exp(log_sigma) and abs(share * step_log) < 1e-10
        best = found
        if settled:
            break
    return mean, log_sigma, best


def _newton_step(intervals: Sequence[Interval], mean: float, log_sigma: float) -> tuple[float, float]:
    """Step towards the maximum from central differences, in units of the scatter itself."""
    sigma = math.exp(log_sigma)
    d = 1e-3

    def at(i: int, j: int) -> float:
        return log_likelihood(intervals, mean + i * d * sigma, math.exp(log_sigma + j * d))

    middle = at(0, 0)
    right, left, up, down = at(1, 0), at(-1, 0), at(0, 1), at(0, -1)
    g0, g1 = (right - left) / (2 * d), (up - down) / (2 * d)
    h00, h11 = (right - 2 * middle + left) / d**2, (up - 2 * middle + down) / d**2
    h01 = (at(1, 1) - at(1, -1) - at(-1, 1) + at(-1, -1)) / (4 * d**2)
    determinant = h00 * h11 - h01 * h01
    if h00 < 0 and determinant > 0:
        step0, step1 = -(h11 * g0 - h01 * g1) / determinant, -(h00 * g1 - h01 * g0) / determinant
    else:  # not yet near the top: go uphill
        step0, step1 = g0 / (abs(h00) + 1.0), g1 / (abs(h11) + 1.0)
    limit = max(1.0, abs(step0), abs(step1))
    return step0 / limit * sigma, step1 / limit
