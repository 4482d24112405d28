"""The 21-step tablet: what a reading says about a resist, and which doses to try next.

A step tablet is a strip of film whose steps grow denser by 0.15 (transmittance 10^-0.15, nearly 1/sqrt 2). Behind
step n the resist gets dose x T(n). The *threshold* is the dose at the resist that just holds a step in full. Density
of the usual tablet: D(n) = 0.05 + 0.15 (n - 1); steps of 0.15 over 0 to 3 are published, the 0.05 of the first
step is from memory. A tablet with a certificate is read by its own densities; a *target step* is one of the usual
tablet all the same, for that is what a data sheet means. Doses are radiant exposure in mJ/cm².
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from sumlight.craft.censored import Halved, Marking, Observation, located, probability, without_prior
from sumlight.craft.readers import MISREAD_LN
from sumlight.text.message import NOTHING, Message, say

Convention = Literal["last_held", "first_cleared"]
"""Two ways to read a tablet that people confuse: the last step held in full, or the first step all gone."""

Step = int | Literal["all_held", "all_gone"]

Densities = tuple[float, ...]
"""Of steps 1 to 21, from a tablet's own certificate; empty for the usual tablet."""
USUAL: Densities = ()

STEPS = 21
MOST_DENSITY = 5.0
LEAST_RISE = 0.02
"""Steps whose densities differ by less cannot be told apart by eye (judgement, no source)."""
FIRST_DENSITY = 0.05
STEP_DENSITY = 0.15
STEP_LN = STEP_DENSITY * math.log(10.0)
"""One step in natural logarithm of dose: 0.345."""
PANEL_SIGMA = 0.03
ZONE_SIGMA = 0.01
"""Scatter of the threshold from panel to panel and within a panel (standard deviation of ln dose); common practice,
no source."""
RETRY = 4.0
"""Factor for the next try when every step was held or none (common practice: two steps and two more)."""


@dataclass(frozen=True)
class TabletReading:
    """One tablet, developed and read.

    `dose_mj_cm2` reached the tablet; `step` is read in the given convention. `half` says that the next step beyond
    the last one held in full is half there. `zone` names the place of this tablet on its panel, `densities` are those
    of its certificate. Raises ValueError for a dose not above 0 or a step that the convention cannot give.
    """

    dose_mj_cm2: float
    step: Step
    convention: Convention
    half: bool = False
    lot: str = ""
    panel: str = ""
    zone: str = ""
    densities: Densities = USUAL

    def __post_init__(self) -> None:
        if not (math.isfinite(self.dose_mj_cm2) and self.dose_mj_cm2 > 0):
            raise ValueError(say("tablet_dose_above_zero", value=self.dose_mj_cm2))
        if not isinstance(self.step, int):
            if self.half:
                raise ValueError(say("half_without_number", step=self.step))
            return
        first = (1 if self.convention == "last_held" else 2) + (self.convention == "first_cleared" and self.half)
        last = STEPS - 1 if self.convention == "last_held" else STEPS
        if not first <= self.step <= last:
            raise ValueError(
                say("step_not_readable", first=first, last=last, convention=self.convention, step=self.step)
            )

    @property
    def last_held(self) -> int | None:
        """Last step held in full, None when all or none were."""
        if not isinstance(self.step, int):
            return None
        if self.convention == "last_held":
            return self.step
        return self.step - (2 if self.half else 1)

    @property
    def retry_factor(self) -> float | None:
        """What to multiply the dose by for another try; None when this reading gives a number."""
        if isinstance(self.step, int):
            return None
        return 1.0 / RETRY if self.step == "all_held" else RETRY


@dataclass(frozen=True)
class ThresholdEstimate:
    """The threshold found from readings: mean and standard uncertainty of its natural logarithm (mJ/cm²).

    `low_mj_cm2` and `high_mj_cm2` bound it with 95 % probability. `panels` counts the panels used; `note` is a
    sentence for the user, empty when there is nothing to say.
    """

    ln_mean: float
    ln_sigma: float
    low_mj_cm2: float
    high_mj_cm2: float
    panels: int
    note: Message

    @property
    def threshold_mj_cm2(self) -> float:
        """The estimate itself."""
        return math.exp(self.ln_mean)


@dataclass(frozen=True)
class ZonePlan:
    """Doses for the zones of the next panel, smallest first.

    `reading_sigma` is the expected standard deviation (ln) left by reading whole steps, `expected_sigma` that of the
    threshold afterwards with the scatter between panels, before older knowledge is added.
    """

    doses_mj_cm2: tuple[float, ...]
    reading_sigma: float
    expected_sigma: float


def certified(densities: Sequence[float]) -> Densities:
    """The densities of a tablet's certificate, step 1 first; nothing for the usual tablet.

    Raises ValueError unless there are 21 of them, each above the one before.
    """
    if not densities:
        return USUAL
    if len(densities) != STEPS:
        raise ValueError(say("densities_not_so_many", steps=STEPS, found=len(densities)))
    if not 0 <= densities[0] < densities[-1] <= MOST_DENSITY:
        raise ValueError(say("densities_out_of_bounds", high=MOST_DENSITY, first=densities[0], last=densities[-1]))
    for step, (before, after) in enumerate(pairwise(densities), start=2):
        if after - before < LEAST_RISE:
            raise ValueError(say("densities_must_rise", step=step, after=after, before=before))
    return tuple(densities)


def density(step: float, densities: Densities = USUAL) -> float:
    """Density of a step, 1 to 21; fractions lie between. Raises ValueError outside the tablet."""
    if not 1 <= step <= STEPS:
        raise ValueError(say("sum_not_between", field="step", low=1, high=STEPS, value=step))
    if not densities:
        return FIRST_DENSITY + STEP_DENSITY * (step - 1)
    whole = min(int(step), STEPS - 1)
    low, high = densities[whole - 1], densities[whole]
    return low + (high - low) * (step - whole)


def transmittance(step: float, densities: Densities = USUAL) -> float:
    """Share of the light that a step lets through: 10^-D (ISO 5-2). Raises ValueError outside the tablet."""
    return math.pow(10.0, -density(step, densities))


def threshold_interval(reading: TabletReading) -> tuple[float, float]:
    """The threshold lies in (low, high] mJ/cm²; all held bounds it only from above, all gone only from below.

    Last step n held: threshold between dose x T(n+1) and dose x T(n). With step n+1 half there, the resist missed it
    by less than half a step, so only the lower half of that interval remains.
    """
    held, dose, own = reading.last_held, reading.dose_mj_cm2, reading.densities
    if held is None:
        if reading.step == "all_held":
            return 0.0, dose * transmittance(STEPS, own)
        return dose * transmittance(1, own), math.inf
    return dose * transmittance(held + 1, own), dose * transmittance(held + 0.5 if reading.half else held, own)


def edge_step(reading: TabletReading, dose_mj_cm2: float) -> float | None:
    """Where the edge of the image would lie on the usual tablet at this dose, in steps; None for all or none held.

    The threshold is taken in the middle of its interval, so that one tablet alone is good to half a step. At the
    reading's own dose that is n + 1/2 for last held step n. Raises ValueError for a dose not above 0.
    """
    if not dose_mj_cm2 > 0:
        raise ValueError(say("must_be_above_zero", field="dose_mj_cm2", value=dose_mj_cm2))
    low, high = threshold_interval(reading)
    if low <= 0 or math.isinf(high):
        return None
    wanted = math.log10(dose_mj_cm2 / math.sqrt(low * high))  # the density that leaves just the threshold
    return 1 + (wanted - FIRST_DENSITY) / STEP_DENSITY


def textbook_factor(target_step: float, held_step: float) -> float:
    """Factor on the dose that moves the last held step to the target: 10^(0.15 (target - held))."""
    return math.pow(10.0, STEP_DENSITY * (target_step - held_step))


def estimate_threshold(
    readings: Sequence[TabletReading],
    *,
    zone_sigma: float = ZONE_SIGMA,
    panel_sigma: float = PANEL_SIGMA,
    prior: tuple[float, float] | None = None,
    misread: float = 0.0,
    marking: Marking | None = None,
) -> ThresholdEstimate:
    """Estimate the threshold of a resist from any number of readings on any number of panels.

    Each reading is an interval of ln dose; zones of one panel share the panel's own shift. Readings without a panel
    name count as panels of their own. `prior` is what is known already, as mean and standard uncertainty of the
    ln threshold, `misread` the share of zones that are misread, `marking` how often a step that is half there is marked
    so, and one that is not (`sumlight.craft.readers`). Raises NoEstimateError (a ValueError) when all steps
    were held, or all gone, everywhere. `zone_sigma` and `panel_sigma` are standard deviations of ln dose.
    """
    if not readings:
        raise ValueError("at least one reading is needed")
    groups = intervals_by_panel(readings)
    found = located(
        groups,
        within_sigma=zone_sigma,
        between_sigma=panel_sigma,
        prior=prior,
        misread=misread,
        misread_sigma=MISREAD_LN,
        marking=marking,
    )
    return ThresholdEstimate(
        found.mean,
        found.sigma,
        math.exp(found.low),
        math.exp(found.high),
        len(groups),
        _note(found.contradicting, readings),
    )


def intervals_by_panel(readings: Sequence[TabletReading]) -> list[list[Observation]]:
    """The readings as intervals of the ln threshold, those of one panel together; oldest panel first."""
    groups: dict[str, list[Observation]] = {}
    for number, reading in enumerate(readings):
        groups.setdefault(reading.panel or f"reading {number}", []).append(_observation(reading))
    return list(groups.values())


def _observation(reading: TabletReading) -> Observation:
    """The ln threshold between two steps, and whether the half step between them is marked as there."""
    held, dose, own = reading.last_held, reading.dose_mj_cm2, reading.densities
    if held is None:
        low, high = threshold_interval(reading)
        return math.log(low) if low > 0 else -math.inf, math.log(high)
    low, middle, high = (math.log(dose * transmittance(step, own)) for step in (held + 1, held + 0.5, held))
    return Halved(low, middle, high, reading.half)


def dose_for_step(threshold_mj_cm2: float, target_step: float) -> float:
    """Work out the dose that just holds the target step, in mJ/cm²: threshold / T(target). Raises ValueError."""
    if threshold_mj_cm2 <= 0:
        raise ValueError(say("must_be_above_zero", field="threshold_mj_cm2", value=threshold_mj_cm2))
    return threshold_mj_cm2 / transmittance(target_step)


def factor_from(
    estimate: ThresholdEstimate, reference_threshold_mj_cm2: float, *, prior: tuple[float, float] | None = None
) -> tuple[float, float]:
    """Correction for the box's calibration, as (ln factor, standard uncertainty).

    The readings were taken in doses as the box counted them. A resist that seems to need more than its reference
    got less light than was counted, so the true dose is the counted one x reference / found. When `prior` went into
    the estimate, give it here again: it is taken out, so that what was known already is not counted twice.
    Raises ValueError for a reference not above 0.
    """
    if not reference_threshold_mj_cm2 > 0:
        raise ValueError(
            say("must_be_above_zero", field="reference_threshold_mj_cm2", value=reference_threshold_mj_cm2)
        )
    mean, sigma = estimate.ln_mean, estimate.ln_sigma
    if prior is not None:
        mean, sigma = without_prior((mean, sigma), prior)
    return math.log(reference_threshold_mj_cm2) - mean, sigma


NARROWEST = 10
"""Zones are spread over at least so many twentieths of a step, that is half of one: with the half steps that are read
they then lie equally close anywhere. Closer ones would only ask whether what is expected is right, and a box that is
wrong by more than their reach would be told so by the same small amount each time."""


def next_zones(
    ln_mean: float,
    ln_sigma: float,
    *,
    zones: int = 4,
    target_step: int = 8,
    panel_sigma: float = PANEL_SIGMA,
    zone_sigma: float = ZONE_SIGMA,
    marks: float = 0.0,
) -> ZonePlan:
    """Choose the doses, in mJ/cm², for `zones` tablets on one panel that pin the threshold down best.

    Raises ValueError.

    Tablets repeat every step, so zones a fraction of a step apart divide it. While little is known they are spread
    evenly over a whole step (ratio sqrt 2 ^ (1/zones)); the better the threshold is known, the closer they move
    together around it, as far as `NARROWEST`. The spread with the smallest expected remaining variance is taken.
    Half steps that are marked divide it once more; `marks` is how likely they are, and zones a whole step apart would
    set each border twice. `target_step` is the step whose edge is aimed at, so that the image ends well within the
    tablet.
    `zone_sigma` and `panel_sigma` are standard deviations of ln dose.
    """
    if zones < 1:
        raise ValueError(f"zones must be at least 1, not {zones}")
    if ln_sigma < 0:
        raise ValueError(f"ln_sigma must be at least 0, not {ln_sigma}")
    spread = math.hypot(ln_sigma, panel_sigma)
    best_variance, best_offsets = math.inf, [0.0]
    for twentieths in range(20, NARROWEST - 1, -1):
        spacing = STEP_LN / zones * twentieths / 20.0
        offsets = [(i - (zones - 1) / 2.0) * spacing for i in range(zones)]
        variance = (1 - marks) * remaining_variance(offsets, spread)
        variance += marks * remaining_variance(offsets, spread, STEP_LN / 2) if marks else 0.0
        if variance < best_variance - 1e-12:
            best_variance, best_offsets = variance, offsets
    centre = ln_mean - math.log(transmittance(target_step))
    doses = tuple(math.exp(centre + offset) for offset in best_offsets)
    reading = math.hypot(math.sqrt(best_variance), zone_sigma / math.sqrt(zones))
    return ZonePlan(doses, reading, math.hypot(reading, panel_sigma))


def remaining_variance(offsets: Sequence[float], sigma: float, apart_ln: float = STEP_LN) -> float:
    """Variance (ln) expected to remain after reading zones with those offsets, threshold normal around 0 before.

    Every offset sets a border between readings every `apart_ln`, once a step; the variance left is that of a truncated
    normal within each cell, weighted with the cell's probability. Scatter within the panel is left out.
    `offsets` and `sigma` are in ln dose.
    """
    if sigma <= 0:
        return 0.0
    reach = math.ceil(6 * sigma / apart_ln) + 1
    borders = sorted(offset + k * apart_ln for offset in offsets for k in range(-reach, reach + 1))
    explained = 0.0
    for low, high in pairwise(borders):
        share = probability(low, high, 0.0, sigma)
        if share > 0:
            moment = sigma * (_bell(low / sigma) - _bell(high / sigma))
            explained += moment * moment / share
    return max(0.0, sigma * sigma - explained)


def _bell(z: float) -> float:
    return math.exp(-0.5 * z * z) / math.sqrt(2 * math.pi)


def _note(contradicting: int, readings: Sequence[TabletReading]) -> Message:
    if contradicting:
        return say("panel_contradicts") if contradicting == 1 else say("panels_contradict", panels=contradicting)
    if len({reading.convention for reading in readings}) > 1:
        return say("conventions_mixed")
    return say("one_reading") if len(readings) == 1 else NOTHING
