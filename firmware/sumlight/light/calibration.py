"""How many mW/cm² of actinic light a count is worth, and how that drifts while lamps age.

The sensor sees mostly mercury lines, the resist uses the phosphor's light, and the phosphor fades faster. So the
*ratio* of actinic irradiance to basic counts falls with lamp hours. Its logarithm is followed by a local linear trend
with a term for the seasoning of new tubes (after Harvey 1989, Forecasting, Structural Time Series Models, section 2.3,
from memory). Every calibration is one measurement of ln r; between them the uncertainty grows with lamp hours.

How far checks scatter, how fast new tubes settle and how readily the trend bends differ from box to box. So several
guesses at them are followed side by side (`sumlight.light.guess`), each weighted by how well it foretold the checks so
far: checks that scatter, or that miss in one direction, give weight to the guesses that expect it, and the stated
uncertainty follows. What no guess foresaw still shows in the surprises: their mean square over the last checks (a
chi-square over its degrees of freedom, drawn towards 1 while there are few) widens the answer.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from sumlight.light.guess import Guess

Origin = Literal["radiometer", "tablet", "teach"]

UNSTATED_REFERENCE = 0.1
"""Relative standard uncertainty of a reference that states none, ±20 % (k = 2) (common practice, no source)."""
UNKNOWN_SIGMA = 3.0
"""Standard deviation of ln r before any calibration: a factor of twenty either way."""


def reference_ln_sigma(stated: float | None, *, densities: bool = False, density_sigma: float | None = None) -> float:
    """Standard uncertainty (ln) that a tablet's reference shares with all doses of its scale.

    `stated` is that of the dose which holds a step, as a share. A tablet that is read by the `densities` of its own
    certificate adds its own: ln 10 times `density_sigma`, for T = 10^-D (JCGM 100, 5.1.2). It is taken as common to all
    its steps and readings. What is not stated, or 0, counts as UNSTATED_REFERENCE.
    """
    own = (math.log(10.0) * density_sigma if density_sigma else UNSTATED_REFERENCE) if densities else 0.0
    return math.hypot(stated or UNSTATED_REFERENCE, own)


@dataclass(frozen=True)
class Calibration:
    """One anchoring of the light meter, as recorded.

    `ln_ratio` is ln(mW/cm² per basic count), 0 for a taught box; `ln_sigma` its standard uncertainty without what
    all records of that scale share, which is `common_ln_sigma` (the radiometer's own calibration, the reference
    threshold of the resist); `scatter_ln_sigma` is that part of `ln_sigma` which only assumes how far panels scatter,
    so that it can be learned. `lamp_hours` count since the lamp set was new. `fingerprint` holds the shares of the
    six channels (see sumlight.light.fingerprint). The record is valid only for its lamp set, meter and position.
    Raises ValueError for numbers that cannot be.
    """

    origin: Origin
    ln_ratio: float
    ln_sigma: float
    lamp_hours: float
    utc: str
    fingerprint: tuple[float, ...] = ()
    lamp_set: str = ""
    meter: str = ""
    position: str = ""
    common_ln_sigma: float = 0.0
    scatter_ln_sigma: float = 0.0

    def __post_init__(self) -> None:
        if not math.isfinite(self.ln_ratio):
            raise ValueError(f"ln_ratio must be a finite number, not {self.ln_ratio}")
        if not (math.isfinite(self.ln_sigma) and self.ln_sigma > 0):
            raise ValueError(f"ln_sigma must be above 0, not {self.ln_sigma}")
        if not (math.isfinite(self.lamp_hours) and self.lamp_hours >= 0):
            raise ValueError(f"lamp_hours must be at least 0, not {self.lamp_hours}")
        if not (math.isfinite(self.common_ln_sigma) and self.common_ln_sigma >= 0):
            raise ValueError(f"common_ln_sigma must be at least 0, not {self.common_ln_sigma}")
        if not (math.isfinite(self.scatter_ln_sigma) and self.scatter_ln_sigma >= 0):
            raise ValueError(f"scatter_ln_sigma must be at least 0, not {self.scatter_ln_sigma}")

    @property
    def own_ln_variance(self) -> float:
        """Variance of ln r without the assumed scatter of panels; a part is always left."""
        return max(self.ln_sigma**2 - self.scatter_ln_sigma**2, (LEAST_OWN * self.ln_sigma) ** 2)

    @property
    def mw_cm2_per_basic_count(self) -> float:
        """The ratio itself."""
        return math.exp(self.ln_ratio)


@dataclass(frozen=True)
class Shift:
    """A known change of the meter between calibrations: a dirty or cleaned diffuser, found by the self-check.

    `ln_shift` is added to ln r (a diffuser that lost 10 % raises it by 0.105); `ln_sigma` is how well it is known.
    """

    lamp_hours: float
    ln_shift: float
    ln_sigma: float


@dataclass(frozen=True)
class DriftPrior:
    """What is expected of fluorescent UV-A tubes before anything was measured (relative; common practice, no source).

    Noises are standard deviations after 100 h. For LEDs use `LED_DRIFT`.
    """

    slope_per_100h: float = -0.02
    slope_sigma_per_100h: float = 0.0125
    early: float = -0.04
    early_sigma: float = 0.04
    early_tau_h: float = 60.0
    level_noise: float = 0.004
    slope_noise_per_100h: float = 0.001


TUBE_DRIFT = DriftPrior()
LED_DRIFT = DriftPrior(slope_per_100h=0.0, slope_sigma_per_100h=0.003, early=0.0, early_sigma=0.005)
"""An LED has one band: what the meter sees and what the resist gets fade together."""

CHECK_INTERVAL_H = 100.0
"""A check is asked for at most this often."""

NEGLIGIBLE = 1e-3
"""Guesses with less weight are left out of an answer."""
URGENT, AGAIN = 3.0, 0.1
"""From so many times the tolerance on a check is asked for after this share of the interval (judgement, no source)."""
LEAST_OWN = 0.25
"""A reading leaves at least this share of its stated uncertainty, whatever is learned of the panels."""
SCATTERS = ((0.6, 0.3), (1.0, 0.5), (1.6, 0.15), (2.3, 0.05))
WANDERINGS = ((1.0, 0.75), (4.0, 0.17), (14.0, 0.08))
SETTLINGS = ((0.35, 0.3), (1.0, 0.4), (2.2, 0.3))
"""The guesses, each as (times what is usual, share before anything was measured): scatter of panels, slope noise, time
constant of new tubes (judgement, no source)."""
SCATTER_TELLS, LIGHT_SHARE = 1.2, 1.0
"""Of the variance of checks beyond so many times what panels usually scatter this share is taken to be the light's,
which no number of checks averages away (judgement, no source)."""
RECENT, USUAL, ORDINARY = 6, 8, 1.2
"""So many checks' surprises widen the answer; so many unsurprising ones stand beside them from the start; mean squares
up to this are ordinary (judgement, no source)."""
MOST_SURPRISE = 6.0
"""A single check counts at most with this square of its surprise: one misreading is not a run of them."""
TELLING, FEWEST_TOLD = 1.5, 3
"""Mean square of the recent surprises from which it is told, and the checks it needs."""


@dataclass(frozen=True)
class Disagreement:
    """The last `checks` disagreed more than expected: `times` is the mean square of their surprises."""

    checks: int
    times: float


class RatioModel:
    """Knowledge of ln r over the hours of one lamp set. Records must come in order of lamp hours."""

    def __init__(self, prior: DriftPrior = TUBE_DRIFT) -> None:
        self.prior = prior
        self.relative = True
        self.checked_h: float | None = None
        self.common_ln_sigma = 0.0
        self._h = 0.0
        self._scatter_ln = 0.0
        self._surprises: list[float] = []
        self._unusual: list[float] = []
        self._guesses = [
            _guess(prior, scatter, wandering, settling)
            for scatter in SCATTERS
            for wandering in WANDERINGS
            for settling in SETTLINGS
        ]
        self._usual = next(g for g in self._guesses if g.scatter == 1.0 and g.tau_h == prior.early_tau_h)
        self._weights = _shares(self._guesses)

    def add(self, calibration: Calibration) -> None:
        """Take in one calibration. Raises ValueError if it lies before what is already known."""
        if self.checked_h is not None:
            self._surprises.append(min(MOST_SURPRISE, self.surprise(calibration) ** 2))
            self._unusual.append(self._usual_surprise(calibration))
        self._move_to(calibration.lamp_hours)
        own, scatter = calibration.own_ln_variance, calibration.scatter_ln_sigma
        for guess in self._guesses:
            variance = own + (guess.scatter * scatter) ** 2
            guess.take(calibration.ln_ratio, variance, doubt=self.checked_h is not None)
        self._weights = _shares(self._guesses)
        self._scatter_ln = scatter
        self.common_ln_sigma = calibration.common_ln_sigma
        self.relative = self.relative and calibration.origin == "teach"
        self.checked_h = calibration.lamp_hours

    def shift(self, shift: Shift) -> None:
        """Take in a change of the meter. Raises ValueError if it lies before what is already known."""
        self._move_to(shift.lamp_hours)
        for guess in self._guesses:
            guess.shift(shift.ln_shift, shift.ln_sigma**2)

    def at(self, lamp_hours: float) -> tuple[float, float]:
        """Mean and standard uncertainty of ln r at `lamp_hours`, not before the last record (ValueError).

        What all records share (`common_ln_sigma`) is not in it: it moves every dose alike.
        """
        mean, variance = self._mixed(lamp_hours, 0.0)
        scatter = sum(w * guess.scatter**2 for w, guess in zip(self._weights, self._guesses, strict=True))
        light = LIGHT_SHARE * max(0.0, scatter - SCATTER_TELLS) * self._scatter_ln**2
        return mean, math.sqrt(self._widening * variance + light)

    def surprise(self, calibration: Calibration) -> float:
        """By how many standard deviations a new calibration misses what was expected; ask again above about 3."""
        mean, variance = self._mixed(calibration.lamp_hours, calibration.scatter_ln_sigma)
        return (calibration.ln_ratio - mean) / math.sqrt(variance + calibration.own_ln_variance)

    @property
    def disagreement(self) -> Disagreement | None:
        """Whether the last checks disagreed more than usual; None when they did not, or there are too few.

        Measured by what is usual before anything is learned: a box that has learned to expect little of its checks
        still tells.
        """
        recent = self._unusual[-RECENT:]
        if len(recent) < FEWEST_TOLD:
            return None
        times = math.fsum(recent) / len(recent)
        return Disagreement(len(recent), times) if times > TELLING else None

    def check_due(self, lamp_hours: float, tolerance: float, *, interval_h: float = CHECK_INTERVAL_H) -> bool:
        """Whether to ask for a tablet check: the expanded uncertainty (k = 2, relative) passes the tolerance.

        Without any calibration one is always due; after one, at most once in `interval_h` lamp hours. When a check left
        so much doubt that it may have been misread, another is asked for soon.
        """
        if self.checked_h is None:
            return True
        doubt, since_h = 2 * self.at(lamp_hours)[1], lamp_hours - self.checked_h
        return doubt > tolerance and since_h >= interval_h * (AGAIN if doubt > URGENT * tolerance else 1.0)

    @property
    def _widening(self) -> float:
        """Factor on the variance from the surprises of the last checks: chi-square over its degrees of freedom."""
        recent = self._surprises[-RECENT:]
        return max(1.0, (USUAL + math.fsum(recent)) / (USUAL + len(recent)) / ORDINARY)

    def _mixed(self, lamp_hours: float, scatter_ln: float) -> tuple[float, float]:
        """Mean and variance of ln r over all guesses, with the scatter that each expects of a check."""
        if lamp_hours < self._h:
            raise ValueError(f"lamp_hours must not go back: {lamp_hours:g} h lies before {self._h:g} h already known")
        found = [
            (weight, *guess.at(lamp_hours), guess.scatter)
            for weight, guess in zip(self._weights, self._guesses, strict=True)
            if weight > NEGLIGIBLE
        ]
        total = sum(weight for weight, *_ in found)
        mean = sum(weight * own for weight, own, _, _ in found) / total
        spread = sum(w * (variance + (own - mean) ** 2 + (s * scatter_ln) ** 2) for w, own, variance, s in found)
        return mean, spread / total

    def _usual_surprise(self, calibration: Calibration) -> float:
        """Square of the surprise in the eyes of the guess that everything is as usual."""
        mean, variance = self._usual.at(calibration.lamp_hours)
        variance += calibration.own_ln_variance + calibration.scatter_ln_sigma**2
        return min(MOST_SURPRISE, (calibration.ln_ratio - mean) ** 2 / variance)

    def _move_to(self, lamp_hours: float) -> None:
        if lamp_hours < self._h:
            raise ValueError(f"lamp_hours must not go back: {lamp_hours:g} h lies before {self._h:g} h already known")
        for guess in self._guesses:
            guess.move_to(lamp_hours)
        self._h = lamp_hours


def _guess(
    prior: DriftPrior, scatter: tuple[float, float], wandering: tuple[float, float], settling: tuple[float, float]
) -> Guess:
    """One guess before any calibration."""
    slope = (wandering[0] * prior.slope_noise_per_100h / 100.0) ** 2 / 100.0
    return Guess(
        scatter[0],
        settling[0] * prior.early_tau_h,
        prior.level_noise**2 / 100.0,
        slope,
        math.log(scatter[1] * wandering[1] * settling[1]),
        0.0,
        (0.0, prior.slope_per_100h / 100.0, prior.early),
        (UNKNOWN_SIGMA**2, 0.0, 0.0, (prior.slope_sigma_per_100h / 100.0) ** 2, 0.0, prior.early_sigma**2),
    )


def _shares(guesses: Sequence[Guess]) -> list[float]:
    """Weights of the guesses; they add up to 1."""
    best = max(guess.ln_weight for guess in guesses)
    weights = [math.exp(guess.ln_weight - best) for guess in guesses]
    total = sum(weights)
    return [weight / total for weight in weights]


def model_from(
    calibrations: Sequence[Calibration], shifts: Iterable[Shift] = (), prior: DriftPrior = TUBE_DRIFT
) -> RatioModel:
    """Build the model of one lamp set from its records, in any order.

    Once the box has a radiometer or tablet calibration, taught ones are left out: they have no absolute scale.
    Raises ValueError if the calibrations belong to different lamp sets, meters or positions.
    """
    places = {(c.lamp_set, c.meter, c.position) for c in calibrations}
    if len(places) > 1:
        raise ValueError("calibrations of different lamp sets, meters or positions cannot be combined; choose one")
    anchored = [c for c in calibrations if c.origin != "teach"]
    model = RatioModel(prior)
    events: list[Calibration | Shift] = [*(anchored or calibrations), *shifts]
    for event in sorted(events, key=lambda e: e.lamp_hours):
        if isinstance(event, Calibration):
            model.add(event)
        else:
            model.shift(event)
    return model


@dataclass(frozen=True)
class ReferencesCompared:
    """Two references for one box, a tablet and a radiometer: by how much (ln) the newer one lies above the older one,
    and the expanded uncertainty (k = 2, ln) of that difference by what each of them states."""

    newer: Origin
    ln_apart: float
    ln_expanded: float

    @property
    def agree(self) -> bool:
        """Whether E_n, the difference over its expanded uncertainty, is at most 1 (ISO/IEC 17043, from memory)."""
        return abs(self.ln_apart) <= self.ln_expanded

    @property
    def ln_doubt(self) -> float:
        """Standard uncertainty (ln) that references leave which contradict each other: nobody knows which is right, so
        the truth may lie anywhere between (rectangular, JCGM 100, 4.3.7)."""
        return 0.0 if self.agree else abs(self.ln_apart) / math.sqrt(3)


def compared(
    newer: Calibration, others: Sequence[Calibration], shifts: Iterable[Shift] = (), prior: DriftPrior = TUBE_DRIFT
) -> ReferencesCompared | None:
    """Compare a calibration with those before it that rest on the other reference; None where there is none.

    What the lamps did in between is taken out as far as it is known, the rest is doubt; so is what either reference
    shares with all its records (JCGM 100, 5.1.2: independent, so their squares add).
    """
    before = [c for c in others if c.origin not in (newer.origin, "teach") and c.lamp_hours <= newer.lamp_hours]
    if newer.origin == "teach" or not before:
        return None
    model = model_from(before, [shift for shift in shifts if shift.lamp_hours <= newer.lamp_hours], prior)
    mean, sigma = model.at(newer.lamp_hours)
    whole = math.hypot(sigma, newer.ln_sigma, newer.common_ln_sigma, model.common_ln_sigma)
    return ReferencesCompared(newer.origin, newer.ln_ratio - mean, 2 * whole)
