"""The whole-life goal in a fast model: tablet checks keep the dose right while the lamps age.

Truth here is a law of its own, apart from the model's: phosphor to 60 % and lines to 85 % after 1,500 h, both faster in
the first 100 h, as the project states them; sets of tubes differ a little around that. The panel is 'developed' by
comparing doses, with the stated scatter.
"""

import math
from dataclasses import dataclass
from random import Random

import pytest

from sumlight.craft.tablet import PANEL_SIGMA, STEP_LN, TabletReading, estimate_threshold, factor_from, next_zones
from sumlight.light.calibration import Calibration, RatioModel, Shift

LIVES_H = (1500, 500)
"""The first set of tubes lives 1,500 h, then another type burns 500 h."""
FOULED_AT_H = 700
FOULED_LN = -math.log(0.88)
THRESHOLD_MJ_CM2 = 9.0
TOLERANCE = 0.05
REPEAT_SIGMA = 0.005
EXPOSURE_EVERY_H = 5


@dataclass
class Tally:
    """Relative errors of the dose, their stated standard uncertainties, and how many checks were asked for."""

    errors: list[float]
    sigmas: list[float]
    checks: int
    hours: int

    def rms(self) -> float:
        """Root mean square error."""
        return math.sqrt(sum((math.exp(e) - 1) ** 2 for e in self.errors) / len(self.errors))

    def share_within(self, limit: float) -> float:
        """Share of exposures with an error of at most `limit`."""
        return sum(abs(math.exp(e) - 1) <= limit for e in self.errors) / len(self.errors)

    def coverage(self) -> float:
        """Share of exposures whose true dose lies within the stated k = 2."""
        return sum(abs(e) <= 2 * s for e, s in zip(self.errors, self.sigmas, strict=True)) / len(self.errors)


@dataclass(frozen=True)
class Tubes:
    """What is left after 1,500 h, and the share of the phosphor that goes with a time constant of 60 h."""

    phosphor: float = 0.60
    lines: float = 0.85
    early: float = 0.08

    def ln_ratio(self, hours: float) -> float:
        """ln of phosphor over lines."""
        early = 1 - math.exp(-hours / 60)
        steady = hours / 1500 * (math.log(self.phosphor / (1 - self.early)) - math.log(self.lines / 0.97))
        return math.log(1 - self.early * early) - math.log(1 - 0.03 * early) + steady


def last_held(true_dose_mj_cm2: float, threshold_ln: float) -> int:
    """Develop one tablet: the last step behind which the dose still reached the threshold."""
    return math.floor((math.log(true_dose_mj_cm2) - threshold_ln) / STEP_LN - 0.05 / 0.15 + 1)


def check(model: RatioModel, hours: float, true: float, rng: Random) -> Calibration:
    """One panel with four zones, as a user would do it: planned, exposed by the box's own count, developed, read."""
    reference = math.log(THRESHOLD_MJ_CM2)
    if model.checked_h is None:
        assumed, prior = true + rng.gauss(0, 0.5), None
        plan = next_zones(reference, 0.3)
    else:
        assumed, sigma = model.at(hours)
        prior = (reference, sigma)
        plan = next_zones(reference, sigma)
    panel_ln = reference + rng.gauss(0, 0.03)
    readings = []
    for dose in plan.doses_mj_cm2:
        step = last_held(dose * math.exp(true - assumed), panel_ln + rng.gauss(0, 0.01))
        readings.append(TabletReading(dose, step, "last_held", panel="p"))
    ln_factor, ln_sigma = factor_from(estimate_threshold(readings, prior=prior), THRESHOLD_MJ_CM2, prior=prior)
    return Calibration("tablet", assumed + ln_factor, ln_sigma, hours, "", scatter_ln_sigma=PANEL_SIGMA)


def live(seed: int, tally: Tally, *, checks: bool = True) -> None:
    """One box over two sets of lamps, with a diffuser that fouls and a self-check that corrects it to ±1 %."""
    rng = Random(seed)
    for number, life_h in enumerate(LIVES_H):
        model, fouled, scale = RatioModel(), 0.0, rng.gauss(0, 0.2)
        tubes = Tubes(rng.uniform(0.5, 0.7), rng.uniform(0.8, 0.9), rng.uniform(0.04, 0.12))
        for hours in range(0, life_h, EXPOSURE_EVERY_H):
            if number == 0 and hours == FOULED_AT_H:
                fouled = FOULED_LN
                model.shift(Shift(hours, fouled + rng.gauss(0, 0.01), 0.01))
            true = scale + tubes.ln_ratio(hours) + fouled
            if (checks and model.check_due(hours, TOLERANCE)) or model.checked_h is None:
                model.add(check(model, hours, true, rng))
                tally.checks += 1
            ln_ratio, sigma = model.at(hours)
            tally.errors.append(true - ln_ratio + rng.gauss(0, REPEAT_SIGMA))
            tally.sigmas.append(math.hypot(sigma, REPEAT_SIGMA))
        tally.hours += life_h


@pytest.fixture(scope="module")
def campaign() -> Tally:
    """Sixty boxes."""
    tally = Tally([], [], 0, 0)
    for seed in range(60):
        live(seed, tally)
    return tally


def test_the_dose_stays_right_through_the_lamps_life(campaign: Tally) -> None:
    """The project's goal: rms at most 3 %, 99 % of exposures within 8 %."""
    assert campaign.rms() <= 0.03
    assert campaign.share_within(0.08) >= 0.99


def test_the_stated_interval_holds_the_truth_as_often_as_it_says(campaign: Tally) -> None:
    """The project's goal: 93 to 98 % within k = 2."""
    assert 0.93 <= campaign.coverage() <= 0.98


def test_no_more_than_one_check_per_hundred_lamp_hours_is_asked_for(campaign: Tally) -> None:
    """The first check of each set of lamps counted."""
    assert campaign.checks / (campaign.hours / 100) <= 1.0


def test_without_checks_the_dose_is_lost() -> None:
    """One calibration at the start, and what is known about tubes in general, is not enough for the goal."""
    tally = Tally([], [], 0, 0)
    for seed in range(20):
        live(seed, tally, checks=False)
    assert tally.rms() > 0.04


@pytest.mark.parametrize("seed", range(3))
def test_a_check_comes_near_the_truth(seed: int) -> None:
    """Four zones on one panel: within four of its own standard uncertainties."""
    rng = Random(seed)
    model = RatioModel()
    model.add(check(model, 0, 0.1, rng))
    found = check(model, 100, -0.05, rng)
    assert abs(found.ln_ratio + 0.05) < 4 * found.ln_sigma
