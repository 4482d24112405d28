"""True ratios between the sensor's gain steps, learned on a steady lamp.

A nominal doubling may be off by up to 3 %. Reading the same light at two neighbouring gains shows by how much. The
errors add up away from gain 16 (code 5), which is taken as exact: a calibration fixes the scale there.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from sumlight.light.counts import GAINS

ANCHOR_CODE = 5
LARGEST_ERROR = 0.03
"""Largest error of a doubling as the maker leaves it (project's own figure)."""
UNLEARNED_SIGMA = LARGEST_ERROR / math.sqrt(3)
IMPLAUSIBLE = 0.10
"""A step found farther off than this was no steady lamp or no neighbouring gain."""


@dataclass(frozen=True)
class GainStep:
    """Error of one doubling: ln(true / nominal ratio of code + 1 to code) and its standard uncertainty."""

    code: int
    ln_error: float
    ln_sigma: float


def learned_step(code: int, lower_before: float, upper: float, lower_after: float, relative_noise: float) -> GainStep:
    """One step from basic counts (nominal gain taken out) of a steady lamp at code, at code + 1, and at code again.

    The two outer readings bracket drift: their mean is compared, a third of their difference is doubt.
    `relative_noise` is that of each reading. Raises ValueError for a code outside 0 to 9, counts not above 0, or
    an error no chip shows. `lower_before`, `upper` and `lower_after` are in basic counts.
    """
    if not 0 <= code < len(GAINS) - 1:
        raise ValueError(f"code must lie between 0 and {len(GAINS) - 2}, not {code}")
    if min(lower_before, upper, lower_after) <= 0:
        raise ValueError("readings must be above 0; light the lamps and measure darkness first")
    lower = 0.5 * (lower_before + lower_after)
    drift = abs(lower_after - lower_before) / lower / 3
    ln_error = math.log(upper / lower)
    if abs(ln_error) > IMPLAUSIBLE:
        raise ValueError(f"the step from gain code {code} seems off by {ln_error:+.0%}; the light was not steady")
    return GainStep(code, ln_error, math.hypot(relative_noise * math.sqrt(1.5), drift))


class GainTable:
    """What is known of all steps; each unlearned step stays within its 3 %."""

    def __init__(self, steps: Iterable[GainStep] = ()) -> None:
        count = len(GAINS) - 1
        self._ln = [0.0] * count
        self._precision = [UNLEARNED_SIGMA**-2] * count
        self._sum = [0.0] * count
        self._known: dict[int, tuple[float, float]] = {}
        for step in steps:
            self.learn(step)

    def learn(self, step: GainStep) -> None:
        """Take in one more determination of a step, weighted by its uncertainty."""
        weight = max(step.ln_sigma, 1e-5) ** -2
        self._sum[step.code] += weight * step.ln_error
        self._precision[step.code] += weight
        self._ln[step.code] = self._sum[step.code] / self._precision[step.code]
        self._known.clear()

    def steps(self) -> list[GainStep]:
        """All ten steps as now known, for the record."""
        return [GainStep(i, self._ln[i], self._precision[i] ** -0.5) for i in range(len(self._ln))]

    def ln_error(self, code: int) -> tuple[float, float]:
        """ln(true / nominal gain) of a code relative to gain 16, and its standard uncertainty."""
        known = self._known.get(code)  # asked for each conversion, and changed by a lesson only
        if known is None:
            known = self._known[code] = self._worked_out(code)
        return known

    def _worked_out(self, code: int) -> tuple[float, float]:
        if not 0 <= code < len(GAINS):
            raise ValueError(f"gain code must lie between 0 and {len(GAINS) - 1}, not {code}")
        passed = range(min(code, ANCHOR_CODE), max(code, ANCHOR_CODE))
        sign = 1 if code >= ANCHOR_CODE else -1
        error = sign * sum(self._ln[i] for i in passed)
        return error, math.sqrt(sum(1 / self._precision[i] for i in passed))

    def corrected(self, basic_counts: float, code: int) -> tuple[float, float]:
        """Basic counts with the gain's true size, and the relative standard uncertainty that it leaves."""
        error, sigma = self.ln_error(code)
        return basic_counts * math.exp(-error), sigma
