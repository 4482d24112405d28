"""The uncertainty budget of a dose, after JCGM 100:2008 (the GUM).

Components are multiplied together to make the dose, so relative uncertainties add in quadrature (5.1.6). They are
kept in two groups: what differs from exposure to exposure on one box (*repeat*), and what all its exposures share
(*absolute*, such as the calibration). The coverage factor comes from Student's t with the effective degrees of freedom
of Welch and Satterthwaite (G.4.1), truncated to a whole number (G.4.1 note 1).
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

Kind = Literal["absolute", "repeat"]

COVERAGE = 0.9545
"""Probability that k = 2 stands for with a normal distribution."""

MANY_DOF = 10_000.0
"""From here on Student's t differs from the normal distribution by less than 0.0003 in k."""


@dataclass(frozen=True)
class Component:
    """One cause of doubt.

    `value` is the quantity that enters the dose as a factor and `standard` its standard uncertainty in the same unit;
    a doubt in mJ/cm² enters with the dose itself as value. `dof` are its degrees of freedom. Raises ValueError for
    a value of 0, a negative `standard` or `dof` not above 0.
    """

    name: str
    value: float
    standard: float
    dof: float = math.inf
    kind: Kind = "absolute"

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
    """One line of the budget: standard uncertainty in mJ/cm² and its share of the variance of the whole, 0 to 1."""

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


def budget(dose_mj_cm2: float, components: Iterable[Component], coverage: float = COVERAGE) -> Budget:
    """Combine the components of one dose. Raises ValueError for a negative dose or a coverage outside 0 to 1."""
    if not (math.isfinite(dose_mj_cm2) and dose_mj_cm2 >= 0):
        raise ValueError(f"dose_mj_cm2 must be at least 0, not {dose_mj_cm2}")
    known = list(components)
    contributions = [(dose_mj_cm2 * c.relative, c.dof) for c in known]
    u_all, dof = combine(contributions)
    u_repeat, repeat_dof = combine([part for part, c in zip(contributions, known, strict=True) if c.kind == "repeat"])
    k, repeat_k = coverage_factor(dof, coverage), coverage_factor(repeat_dof, coverage)
    variance = u_all**2 or 1.0
    shares = tuple(
        sorted(
            (Share(c.name, c.kind, u, u * u / variance) for (u, _), c in zip(contributions, known, strict=True)),
            key=lambda share: -share.share,
        )
    )
    largest = shares[0].name if shares and shares[0].u_mj_cm2 > 0 else ""
    return Budget(dose_mj_cm2, u_repeat, u_all, dof, k, repeat_k, repeat_k * u_repeat, k * u_all, largest, shares)


def combine(contributions: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Root sum of squares of independent (|c| u, degrees of freedom), and the effective degrees of freedom.

    Welch-Satterthwaite, G.2b: u⁴ / sum(u_i⁴ / dof_i); not for correlated inputs.
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
    """Standard uncertainty of a value that lies anywhere within ± half_width (4.3.7)."""
    return half_width / math.sqrt(3)


def dof_of_doubt(share: float) -> float:
    """Degrees of freedom of a standard uncertainty that may itself be wrong by `share` (0.25 for a quarter), G.4.2."""
    if share < 0:
        raise ValueError(f"share must be at least 0, not {share}")
    return math.inf if share == 0 else 0.5 / share**2


@lru_cache(maxsize=512)
def student_quantile(p: float, dof: float) -> float:
    """Quantile of Student's t for probability p (0 < p < 1) and dof above 0, infinite allowed; by bisection."""
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
    """Probability that Student's t stays below t; the normal distribution for infinite dof."""
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
