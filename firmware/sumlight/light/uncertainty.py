"""The uncertainty budget of a dose, after JCGM 100:2008 (the GUM).

Components are multiplied together to make the dose, so relative uncertainties add in quadrature (5.1.6), with a
term for each pair that is correlated (5.2.2, equation 16; its example is H.2, resistance and reactance). They are
kept in two groups: what differs from exposure to exposure on one box (*repeat*), and what all its exposures share
(*absolute*, such as the calibration). The coverage factor comes from Student's t with the effective degrees of freedom
of Welch and Satterthwaite (G.4.1), truncated to a whole number (G.4.1 note 1).
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

Kind = Literal["absolute", "repeat"]

COVERAGE = 0.9545
"""Probability that k = 2 stands for with a normal distribution."""

Parts = Mapping[str, float]
Correlations = Mapping[tuple[str, str], float]
INDEPENDENT: Correlations = {}
ROUNDING = 1e-9

MANY_DOF = 10_000.0
"""From here on Student's t differs from the normal distribution by less than 0.0003 in k."""


@dataclass(frozen=True)
class Component:
    """One cause of doubt.

    `value` is the quantity that enters the dose as a factor, to the power of `exponent`, and `standard` its standard
    uncertainty in the same unit; a doubt in mJ/cm² enters with the dose itself as value. `dof` are its degrees of
    freedom. Raises ValueError for a value of 0, a negative `standard` or `dof` not above 0.
    """

    name: str
    value: float
    standard: float
    dof: float = math.inf
    kind: Kind = "absolute"
    exponent: float = 1.0

    def __post_init__(self) -> None:
        if self.value == 0 or not math.isfinite(self.value):
            raise ValueError(f"value of {self.name} must be a number other than 0, not {self.value}")
        if not (self.standard >= 0 and math.isfinite(self.standard)):
            raise ValueError(f"standard uncertainty of {self.name} must be at least 0, not {self.standard}")
        if not self.dof > 0:
            raise ValueError(f"degrees of freedom of {self.name} must be above 0, not {self.dof}")

    @property
    def relative(self) -> float:
        """Relative standard uncertainty."""
        return self.standard / abs(self.value)


@dataclass(frozen=True)
class Share:
    """One line of the budget: standard uncertainty in mJ/cm² and its share of the variance of the whole.

    Shares add up to 1. That of a component that is correlated with others holds half of what each pair adds or, with
    opposite signs, takes away.
    """

    name: str
    kind: Kind
    u_mj_cm2: float
    share: float


@dataclass(frozen=True)
class Budget:
    """Uncertainty of a dose in mJ/cm².

    `u_repeat` holds the repeat components only, `u_absolute` all of them: a dose compared with another box's or
    with a data sheet needs the latter. `dof_eff` and `k` belong to `u_absolute`, `repeat_k` to `u_repeat`.
    `expanded_…` cover 95.45 %. `largest` names the biggest contributor (empty when nothing is in doubt).
    """

    dose_mj_cm2: float
    u_repeat_mj_cm2: float
    u_absolute_mj_cm2: float
    dof_eff: float
    k: float
    repeat_k: float
    expanded_repeat_mj_cm2: float
    expanded_absolute_mj_cm2: float
    largest: str
    shares: tuple[Share, ...]


def budget(
    dose_mj_cm2: float,
    components: Iterable[Component],
    coverage: float = COVERAGE,
    correlations: Correlations = INDEPENDENT,
) -> Budget:
    """Combine the components of one dose; `correlations` are those between two of them, by name.

    Raises ValueError for a negative dose, a coverage outside 0 to 1 or correlations that cannot be.
    """
    if not (math.isfinite(dose_mj_cm2) and dose_mj_cm2 >= 0):
        raise ValueError(f"dose_mj_cm2 must be at least 0, not {dose_mj_cm2}")
    known = list(components)
    _check(correlations, [component.name for component in known])
    u_all, dof = _together(dose_mj_cm2, known, correlations)
    u_repeat, repeat_dof = _together(dose_mj_cm2, [c for c in known if c.kind == "repeat"], correlations)
    k, repeat_k = coverage_factor(dof, coverage), coverage_factor(repeat_dof, coverage)
    shares = tuple(sorted(_shares(dose_mj_cm2, known, u_all, correlations), key=lambda share: -share.share))
    largest = shares[0].name if shares and shares[0].u_mj_cm2 > 0 else ""
    return Budget(dose_mj_cm2, u_repeat, u_all, dof, k, repeat_k, repeat_k * u_repeat, k * u_all, largest, shares)


def _together(dose_mj_cm2: float, components: list[Component], correlations: Correlations) -> tuple[float, float]:
    """Standard uncertainty of the product and its degrees of freedom.

    Welch-Satterthwaite holds for independent inputs only (G.4.1): components that are correlated count as one, with
    the fewest degrees of freedom among them.
    """
    tied = {name for pair, r in correlations.items() if r for name in pair}
    contributions = [(_part(dose_mj_cm2, c), c.dof) for c in components if c.name not in tied]
    group = [c for c in components if c.name in tied]
    if group:
        parts = {c.name: _part(dose_mj_cm2, c) for c in group}
        variance = covariance(parts, parts, correlations)
        if variance < -ROUNDING * math.fsum(part * part for part in parts.values()):
            raise ValueError("these correlations cannot all hold at once")
        contributions.append((math.sqrt(max(0.0, variance)), min(c.dof for c in group)))
    return combine(contributions)


def _part(dose_mj_cm2: float, component: Component) -> float:
    """c u in mJ/cm², with its sign."""
    return dose_mj_cm2 * component.exponent * component.relative


def _shares(
    dose_mj_cm2: float, components: list[Component], u_mj_cm2: float, correlations: Correlations
) -> Iterable[Share]:
    variance = u_mj_cm2**2 or 1.0
    for component in components:
        part = _part(dose_mj_cm2, component)
        shared = math.fsum(
            part * _part(dose_mj_cm2, other) * _correlation(component.name, other.name, correlations)
            for other in components
            if other is not component and correlations
        )
        yield Share(component.name, component.kind, abs(part), (part * part + shared) / variance)


def covariance(a: Parts, b: Parts, correlations: Correlations) -> float:
    """Covariance of two results of the same inputs (JCGM 100, 5.2.2 and H.2.3, equation H.9).

    `a` and `b` hold, by input, the sensitivity of each result times the input's standard uncertainty, with its sign.
    That of a result with itself is its variance.
    """
    return math.fsum(u * v * _correlation(i, j, correlations) for i, u in a.items() for j, v in b.items())


def _correlation(i: str, j: str, correlations: Correlations) -> float:
    return 1.0 if i == j else correlations.get((i, j), correlations.get((j, i), 0.0))


def _check(correlations: Correlations, names: Sequence[str]) -> None:
    for pair, r in correlations.items():
        if not set(pair) <= set(names) or pair[0] == pair[1]:
            raise ValueError(f"a correlation is between two components; {pair} are not two of {', '.join(names)}")
        if not -1 <= r <= 1:
            raise ValueError(f"correlation of {pair[0]} and {pair[1]} must lie between -1 and 1, not {r}")
    if correlations and len(set(names)) < len(names):
        raise ValueError(f"components that may be correlated need names of their own, not {', '.join(names)}")


def combine(contributions: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Root sum of squares of independent (|c| u, degrees of freedom), and the effective degrees of freedom.

    Welch-Satterthwaite, G.2b: u⁴ / sum(u_i⁴ / dof_i); not for correlated inputs.
    `contributions` are in one unit, which the sum keeps.
    """
    u = math.sqrt(math.fsum(part * part for part, _ in contributions))
    doubt = math.fsum(part**4 / dof for part, dof in contributions)
    return u, (u**4 / doubt if doubt > 0 else math.inf)


def coverage_factor(dof: float, coverage: float = COVERAGE) -> float:
    """k for a two-sided interval; degrees of freedom are truncated to a whole number, 1 at least.

    Beyond MANY_DOF they count as infinite, so that the few values in use can be kept: k is asked for all the time.
    """
    dof = max(1.0, math.floor(dof + 1e-9)) if dof <= MANY_DOF else math.inf
    return student_quantile(0.5 + coverage / 2, dof)


def rectangular(half_width: float) -> float:
    """Standard uncertainty of a value that lies anywhere within ± half_width (4.3.7).

    `half_width` is in any unit, which the answer keeps.
    """
    return half_width / math.sqrt(3)


def dof_of_doubt(share: float) -> float:
    """Return the degrees of freedom of a standard uncertainty that may itself be wrong by `share` (0.25 for a quarter).

    JCGM 100, G.4.2: 1 / (2 share²), so that `dof_of_doubt(0.25)` is 8. Raises ValueError for a negative share.
    """
    if share < 0:
        raise ValueError(f"share must be at least 0, not {share}")
    return math.inf if share == 0 else 0.5 / share**2


@lru_cache(maxsize=512)
def student_quantile(p: float, dof: float) -> float:
    """Return the quantile of Student's t for probability p (0 < p < 1) and dof above 0, infinite allowed; by bisection.

    Raises ValueError for another p or dof. `p` is a share of 1.
    """
    if not 0 < p < 1:
        raise ValueError(f"p must lie between 0 and 1, not {p}")
    if not dof > 0:
        raise ValueError(f"dof must be above 0, not {dof}")
    if p < 0.5:
        return -student_quantile(1 - p, dof)
    low, high = 0.0, 1.0
    while student_cdf(high, dof) < p:
        low, high = high, high * 2
    while high - low > 1e-13 * high:
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        if student_cdf(middle, dof) < p:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def student_cdf(t: float, dof: float) -> float:
    """Probability that Student's t stays below t; the normal distribution for infinite dof.

    `t` is in standard deviations.
    """
    if math.isinf(dof):
        return 0.5 * math.erfc(-t / math.sqrt(2))
    tail = 0.5 * _incomplete_beta(dof / (dof + t * t), t * t / (dof + t * t), dof / 2, 0.5)
    return 1 - tail if t > 0 else tail


def _incomplete_beta(x: float, rest: float, a: float, b: float) -> float:
    """Regularised incomplete beta function I_x(a, b), with rest = 1 - x given apart for accuracy near 1.

    Continued fraction DLMF 8.17.22, taken on the side where it converges fast.
    """
    if x <= 0:
        return 0.0
    if rest <= 0:
        return 1.0
    log_front = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log(rest)
    front = math.exp(log_front)
    if x < (a + 1) / (a + b + 2):
        return front * _fraction(x, a, b) / a
    return 1 - front * _fraction(rest, b, a) / b


def _fraction(x: float, a: float, b: float) -> float:
    """Lentz's evaluation of the continued fraction."""
    tiny = 1e-300
    c, d = 1.0, 1 / (1 - (a + b) * x / (a + 1) or tiny)
    value = d
    for m in range(1, 1000):
        for term in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d = 1 / (1 + term * d or tiny)
            c = 1 + term / c or tiny
            value *= c * d
        if abs(c * d - 1) < 1e-15:
            break
    return value
