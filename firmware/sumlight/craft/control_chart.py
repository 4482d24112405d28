"""Control chart of single values: held step, dose or warm-up per week, with limits and run rules. Pure.

Limits: mean ± 2.66 × mean moving range; 2.66 = 3 / d2 with d2 = 1.128 for ranges of two. Source of the constants: table
of factors in ASTM Manual on Presentation of Data and Control Chart Analysis (MNL 7), also NIST/SEMATECH e-Handbook of
Statistical Methods 6.3.2.2. Run rules: Western Electric, Statistical Quality Control Handbook (1956), as in the
e-Handbook 6.3.2. A rule broken is a word of warning; it never keeps a box from working.
"""

import itertools
import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from sumlight.text.message import Message, say

D2 = 1.128
"""Mean range of two values in standard deviations."""

D4 = 3.267
"""Upper limit of a range of two over the mean range."""

FEWEST = 12
"""Values below which limits would say little (common practice, no source: twenty are better)."""

FALSE_ALARM_PER_POINT = {"beyond": 0.0027, "all": 0.0109, "own_limits": 0.02}
"""Share of points of a steady process that raise an alarm. With known limits: rule 1 alone (2 × 0.00135, normal
distribution) and all four rules together (one in 91.75: Champ and Woodall 1987; simulated in the tests). `own_limits`:
all rules, limits taken from the values themselves, 12 to 104 of them (no source, simulated in the tests)."""

RULES = {
    "beyond": say("rule_beyond"),
    "two_of_three": say("rule_two_of_three"),
    "four_of_five": say("rule_four_of_five"),
    "eight": say("rule_eight"),
}
_RUNS = (("two_of_three", 2, 3, 2.0), ("four_of_five", 4, 5, 1.0), ("eight", 8, 8, 0.0))


@dataclass(frozen=True)
class Limits:
    """Centre line and limits of a chart, in the unit of the values; `sigma` is mean moving range / d2."""

    mean: float
    sigma: float

    @property
    def low(self) -> float:
        """Lower control limit."""
        return self.mean - 3 * self.sigma

    @property
    def high(self) -> float:
        """Upper control limit."""
        return self.mean + 3 * self.sigma


@dataclass(frozen=True)
class Signal:
    """A broken rule: `index` of the value that completed it, `rule` from RULES, `side` +1 above or −1 below."""

    index: int
    rule: str
    side: int

    @property
    def words(self) -> Message:
        """What it is, for people."""
        rule = RULES[self.rule]
        return say("rule_above", rule=rule) if self.side > 0 else say("rule_below", rule=rule)


def limits_of(values: Sequence[float]) -> Limits:
    """Limits from past values in order of time. Ranges beyond their own limit (D4) are left out once.

    Raises ValueError below FEWEST values or for one that is not finite.
    `values` are in any unit, one for all; the limits are in it too.
    """
    if len(values) < FEWEST:
        raise ValueError(f"limits need at least {FEWEST} values, not {len(values)}; go on recording")
    if not all(math.isfinite(value) for value in values):
        raise ValueError("every value must be a finite number")
    ranges = [abs(b - a) for a, b in itertools.pairwise(values)]
    mean_range = statistics.fmean(ranges)
    usual = [r for r in ranges if r <= D4 * mean_range]
    return Limits(statistics.fmean(values), statistics.fmean(usual) / D2)


def signals(values: Sequence[float], limits: Limits) -> list[Signal]:
    """Every point at which a rule is broken, in order; a run is told at the point that completes it.

    `values` are in the unit of the limits.
    """
    if limits.sigma <= 0:
        return [
            Signal(i, "beyond", 1 if value > limits.mean else -1)
            for i, value in enumerate(values)
            if value != limits.mean
        ]
    z = [(value - limits.mean) / limits.sigma for value in values]
    found = []
    for index, value in enumerate(z):
        side = 1 if value > 0 else -1
        if abs(value) > 3:
            found.append(Signal(index, "beyond", side))
        for rule, needed, span, beyond in _RUNS:
            if index + 1 < span or side * value <= beyond:
                continue
            if sum(side * v > beyond for v in z[index + 1 - span : index + 1]) >= needed:
                found.append(Signal(index, rule, side))
    return found


def shift_words(values: Sequence[float], limits: Limits) -> Message | None:
    """What the chart says of the latest value, or None while the process is steady.

    `values` are in the unit of the limits.
    """
    latest = [signal for signal in signals(values, limits) if signal.index == len(values) - 1]
    if not latest:
        return None
    often = {name: 1 / FALSE_ALARM_PER_POINT[name] for name in ("all", "own_limits")}
    rules = [signal.words for signal in latest]
    return say("process_shifted", rules=rules, all=often["all"], own=often["own_limits"])


@dataclass(frozen=True)
class Chart:
    """Values in order of time against their own limits; `limits` is None while there are fewer than FEWEST."""

    values: tuple[float, ...]
    limits: Limits | None
    signals: tuple[Signal, ...]

    @property
    def latest(self) -> tuple[Signal, ...]:
        """The rules that the newest value has broken."""
        return tuple(signal for signal in self.signals if signal.index == len(self.values) - 1)

    @property
    def words(self) -> Message:
        """What the chart says of the newest value."""
        if self.limits is None:
            return say("limits_need_values", values=len(self.values), fewest=FEWEST)
        return shift_words(self.values, self.limits) or say("steady_value")


def chart_of(values: Sequence[float]) -> Chart:
    """The chart of past values. Raises ValueError for one that is not finite.

    Values beyond the limits are left out once and the limits worked out anew (common practice): one odd week must not
    move the mean under all the others. `values` are in any unit, one for all.
    """
    limits = limits_of(values) if len(values) >= FEWEST else None
    if limits is not None:
        usual = [value for value in values if limits.low <= value <= limits.high]
        limits = limits_of(usual) if len(usual) >= FEWEST else limits
    return Chart(tuple(values), limits, tuple(signals(values, limits)) if limits else ())
