"""Step tablets: which doses to try, and what readings say about the box's calibration or the recipe's dose.

`tablet_readings` takes `exposure_id`, `convention` (last_held or first_cleared), `readings` of `{zone, step, half}`
with zone the leg and step a number, all_held or all_gone, `target_step`, and optionally `lot`, `reference_mj_cm2` (the
dose known to just hold the target step; the recipe's dose if left out), `reference_uncertainty` (relative, standard;
left out, or 0, it counts as 0.1 and that is said), `densities` of the tablet's own certificate with
`density_uncertainty` (standard, in density; likewise),
`apply` (calibration or recipe; without it nothing is recorded) and `sure`. Its result: threshold_mj_cm2 with low_mj_cm2
and high_mj_cm2 (95 %), panels, note, factor (true over counted dose) with factor_sigma, textbook_factor,
recipe_dose_mj_cm2 (which just holds the target step), surprise, retry_factor (all_held or all_gone everywhere:
everything else is null), applied, sentence.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from statistics import fmean
from typing import Any

from sumlight import checkedfile
from sumlight.control.calibration.answers import CalibrationFactor
from sumlight.control.calibration.registry import CalibrationBook
from sumlight.craft.censored import NoEstimateError
from sumlight.craft.readers import learned
from sumlight.craft.tablet import (
    Densities,
    TabletReading,
    ThresholdEstimate,
    certified,
    dose_for_step,
    estimate_threshold,
    factor_from,
    intervals_by_panel,
    next_zones,
    textbook_factor,
    transmittance,
)
from sumlight.light.calibration import UNSTATED_REFERENCE, reference_ln_sigma
from sumlight.light.fingerprint import Fingerprint
from sumlight.light.lampsigns import signs_in
from sumlight.protocol.commands import Reading, TabletPlan, TabletReadings
from sumlight.protocol.errors import BadRequestError
from sumlight.store.logbook.calibrations import CalibrationRecord, TabletRecord, counted_alone
from sumlight.store.recipe import Recipe
from sumlight.text.doseunit import unit_of_dose
from sumlight.text.message import NOTHING, as_written, joined, say

FIRST_SIGMA = 0.3
"""How well a dose is known (ln) before the first calibration, for planning (common practice, no source)."""
WIDE, WIDE_LN = 1.5, 0.06
"""What is known before shapes the estimate and is taken out again. It is made wider by the first and at least the
second (ln): taken out of a reading with a heavy tail, a tight one would leave anything (judgement, no source)."""
SURPRISING = 3.0
ANCHORED = ("tablet", "radiometer")


def plan(
    asked: TabletPlan, recipe: Recipe, anchor: CalibrationFactor, earlier: Sequence[TabletReading] = ()
) -> dict[str, Any]:
    """Doses for the zones of the next panel.

    `earlier` are tablets read before, oldest first: whoever marks half steps is given doses that lie closer together.
    """
    zones, target = asked.zones, asked.target_step
    reference = _reference(recipe, asked.reference_mj_cm2)
    sigma = anchor.ln_sigma if anchor.origin in ANCHORED else FIRST_SIGMA
    marks, ln_mean = learned(intervals_by_panel(earlier)).marks, math.log(reference * transmittance(target))
    found = next_zones(ln_mean, sigma, zones=zones, target_step=target, marks=marks)
    doses, unit = [round(dose, 2) for dose in found.doses_mj_cm2], unit_of_dose(relative=anchor.relative)
    return {
        "doses_mj_cm2": doses,
        "expected_sigma": found.expected_sigma,
        "reference_mj_cm2": reference,
        "sentence": say("tablet_plan", zones=zones, doses_mj_cm2=doses, unit=unit, share=2 * found.expected_sigma),
    }


def _reference(recipe: Recipe, given_mj_cm2: float | None) -> float:
    """The dose that is known to just hold the target step. Raises BadRequestError where neither side knows one."""
    known = recipe.dose_mj_cm2 if given_mj_cm2 is None else given_mj_cm2
    if known is None:
        told, remedy = say("tablet_without_dose"), say("give_reference_dose")
        raise BadRequestError("bad_value", told, field="reference_mj_cm2", remedy=remedy)
    return known


@dataclass(frozen=True)
class TabletRun:
    """One panel's tablets, read. `calibration` is None when the readings gave no number."""

    readings: list[TabletRecord]
    calibration: CalibrationRecord | None
    without_prior: CalibrationRecord | None
    estimate: ThresholdEstimate | None
    reference_mj_cm2: float
    target_step: int
    textbook: float | None
    retry_factor: float | None
    ln_k: float = 0.0
    stated: bool = True
    """Whether the reference states how well it is known."""
    densities_stated: bool = True
    """The same of the densities of the tablet's own certificate."""
    takes_over: bool = False
    """Whether the recipe's own dose is the reference: it is in the new scale by this very calibration."""
    relative: bool = False
    """Whether the tablets' doses were counted in the box's own units."""

    def result(self, book: CalibrationBook) -> dict[str, Any]:
        """What the command answers, before anything is applied."""
        blank = dict.fromkeys(("threshold_mj_cm2", "low_mj_cm2", "high_mj_cm2", "panels", "factor", "factor_sigma"))
        common = {
            "retry_factor": self.retry_factor,
            "textbook_factor": self.textbook,
            "reference_mj_cm2": self.reference_mj_cm2,
            "applied": False,
            "calibration": None,
        }
        if self.estimate is None or self.calibration is None or self.without_prior is None:
            retry = self.retry_factor or 1.0
            what = say("every_step_held") if retry < 1 else say("no_step_held")
            text = joined(what, say("try_with_factor", factor=retry))
            return {**blank, **common, "note": NOTHING, "recipe_dose_mj_cm2": None, "surprise": None, "sentence": text}
        found = self.estimate
        factor = math.exp(self.calibration.ln_ratio - self.ln_k)
        dose = dose_for_step(found.threshold_mj_cm2, self.target_step)
        step, unit, reference = self.target_step, unit_of_dose(relative=self.relative), self.reference_mj_cm2
        held = say("step_just_held", step=step, dose_mj_cm2=dose, unit=unit, reference_mj_cm2=reference)
        true = say("true_dose_is", factor=factor, share=2 * self.calibration.ln_sigma)
        known = joined(
            None if self.stated else say("reference_counts_as", share=2 * UNSTATED_REFERENCE),
            None if self.densities_stated else say("tablet_counts_as", share=2 * UNSTATED_REFERENCE),
        )
        return {
            **common,
            "threshold_mj_cm2": found.threshold_mj_cm2,
            "low_mj_cm2": found.low_mj_cm2,
            "high_mj_cm2": found.high_mj_cm2,
            "panels": found.panels,
            "note": found.note,
            "factor": factor,
            "factor_sigma": self.calibration.ln_sigma,
            "recipe_dose_mj_cm2": dose,
            "surprise": book.surprise(self.without_prior),
            "sentence": joined(held, true, known, book.compared(self.without_prior), found.note),
        }


def doubted(result: dict[str, Any]) -> dict[str, Any]:
    """A result too far from what was expected to be applied unasked: its sentence says what to do."""
    doubt = say("far_from_expected", sigmas=abs(result["surprise"]))
    return {**result, "sentence": joined(result["sentence"], doubt)}


def read(asked: TabletReadings, exposure: dict[str, Any], utc: str, earlier: Sequence[TabletReading] = ()) -> TabletRun:
    """Work out one panel's readings. Raises BadRequestError.

    `earlier` are tablets read before, oldest first: how far zones scatter and how often one is misread on this bench is
    learned from them and from this panel.
    """
    recipe = checkedfile.parse(exposure["recipe_text"], Recipe, exposure["recipe_name"])
    target, stated = asked.target_step, bool(asked.reference_uncertainty)
    own, density_sigma = _certificate(asked), asked.density_uncertainty or None
    common = reference_ln_sigma(asked.reference_uncertainty, densities=bool(own), density_sigma=density_sigma)
    reference = _reference(recipe, asked.reference_mj_cm2)
    sides = {side["side"]: side for side in exposure["sides"] if side["state"] == "done"}
    records, readings = _readings(asked, exposure, sides, own, utc)
    budget, bank = _settled(sides), next(iter(sides.values()))["bank"]
    anchor = budget["anchor"]
    ln_reference = math.log(reference * transmittance(target))
    known = anchor["origin"] in ANCHORED and not anchor["relative"]
    prior = (ln_reference, max(WIDE * anchor["ln_sigma"], WIDE_LN)) if known else None
    held = next((r.last_held for r in readings if r.last_held is not None), None)
    textbook = None if held is None else textbook_factor(target, held)
    try:
        reader = learned(intervals_by_panel([*earlier, *readings]))
        read_by = partial(
            estimate_threshold,
            readings,
            zone_sigma=reader.zone_sigma,
            misread=reader.misread,
            marking=reader.marking,
        )
        plain, estimate = read_by(), read_by(prior=prior)
    except NoEstimateError:
        retry = next((r.retry_factor for r in readings if r.retry_factor is not None), None)
        if retry is None:
            raise BadRequestError("bad_value", say("readings_give_nothing"), field="readings") from None
        return TabletRun(records, None, None, None, reference, target, textbook, retry)
    ln_k = math.log(anchor["mw_cm2_per_basic_count"]) - budget["gain_ln_error"]
    threshold = math.exp(ln_reference)

    def record(found: ThresholdEstimate, taken: tuple[float, float] | None) -> CalibrationRecord:
        ln_factor, ln_sigma = factor_from(found, threshold, prior=taken)
        return CalibrationRecord(
            "tablet",
            anchor["meter"],
            bank,
            anchor["lamp_set"],
            ln_k + ln_factor,
            ln_sigma,
            common,
            anchor["lamp_hours"],
            utc,
            _mean_colour(sides),
            budget["gain_code"],
            exposure["exposure_id"],
            anchor.get("position", ""),  # records of older versions say nothing of it
            note=f"{len(readings)} tablet(s), target step {target}, reference {reference:g} mJ/cm²",
            ln_window=anchor.get("ln_window", 0.0),
            lit_s=max(side["lit_s"] for side in sides.values()),
            signs=signs_in(budget.get("signs")),
            heat=_mean_heat(sides),
        )

    takes_over, relative = reference == recipe.dose_mj_cm2, counted_alone(anchor)
    shaped, own_alone = record(estimate, prior), record(plain, None)
    if abs(shaped.ln_ratio - own_alone.ln_ratio) > own_alone.ln_sigma:
        shaped, estimate = own_alone, plain  # readings that contradict what was known: taking it out again invents
    found = shaped, own_alone
    told = not own or density_sigma is not None
    return TabletRun(
        records, *found, estimate, reference, target, textbook, None, ln_k, stated, told, takes_over, relative
    )


def _readings(
    asked: TabletReadings, exposure: dict[str, Any], sides: dict[str, dict[str, Any]], own: Densities, utc: str
) -> tuple[list[TabletRecord], list[TabletReading]]:
    """The readings, for the record and for the estimate; `own` are the densities of the tablet's certificate."""
    convention, lot = asked.convention, asked.lot
    density_sigma = asked.density_uncertainty or None
    records, readings = [], []
    for given in asked.readings:
        side = _zone(given, sides)
        reading = _reading(given, side, asked, exposure, own)
        dose, step = reading.dose_mj_cm2, str(reading.step)
        readings.append(reading)
        records.append(
            TabletRecord(
                exposure["exposure_id"],
                side["side"],
                dose,
                step,
                convention,
                reading.half,
                lot,
                utc,
                own,
                density_sigma if own else None,
            )
        )
    return records, readings


def fingerprint_of(budget: dict[str, Any]) -> Fingerprint | None:
    """The colour of the light as it stands in a side's record."""
    seen = budget.get("fingerprint")
    return None if seen is None else Fingerprint(tuple(seen["shares"]), tuple(seen["sigmas"]))


def _mean_colour(sides: dict[str, dict[str, Any]]) -> Fingerprint | None:
    """The colour of the light over all zones: lamps grow warm from one to the next, and their colour with them."""
    budgets = [side["budget"] for side in sides.values() if side["budget"] is not None]
    seen = [found for budget in budgets if (found := fingerprint_of(budget)) is not None]
    if not seen:
        return None
    shares, sigmas = ([fmean(values) for values in zip(*each, strict=True)] for each in _parts(seen))
    return Fingerprint(tuple(shares), tuple(sigmas))


def _mean_heat(sides: dict[str, dict[str, Any]]) -> float | None:
    """How warm the lamps were over all zones, a share of 1; None where the record does not say."""
    heats = [side["budget"].get("heat") for side in sides.values() if side["budget"] is not None]
    known = [heat for heat in heats if heat is not None]
    return fmean(known) if known else None


def _parts(seen: Sequence[Fingerprint]) -> tuple[list[tuple[float, ...]], list[tuple[float, ...]]]:
    return [found.shares for found in seen], [found.sigmas for found in seen]


def _zone(given: Reading, sides: dict[str, dict[str, Any]]) -> dict[str, Any]:
    zone = str(given.zone)
    if zone not in sides:
        short = zone[:20]
        told = say("no_such_zone", zone=short, known=list(sides)) if sides else say("no_zone_at_all", zone=short)
        raise BadRequestError("bad_value", told, field="readings")
    return sides[zone]


def _certificate(asked: TabletReadings) -> Densities:
    """The densities of the tablet's own certificate. Raises BadRequestError."""
    try:
        return certified(asked.densities)
    except ValueError as error:
        raise BadRequestError("bad_value", as_written(error.args[0]), field="densities") from error


def _reading(
    given: Reading, side: dict[str, Any], asked: TabletReadings, exposure: dict[str, Any], own: Densities
) -> TabletReading:
    panel = str(exposure["exposure_id"])
    try:
        return TabletReading(
            side["dose_mj_cm2"],
            given.step,
            asked.convention,
            given.half,
            panel=panel,
            zone=side["side"],
            densities=own,
        )
    except ValueError as error:
        raise BadRequestError("bad_value", as_written(error.args[0]), field="readings") from error


def _settled(sides: dict[str, dict[str, Any]]) -> dict[str, Any]:
    budgets = [side["budget"] for side in sides.values() if side["budget"] is not None]
    if not budgets:
        raise BadRequestError("refused", say("no_record_of_calibration"), field="exposure_id")
    best = next((budget for budget in reversed(budgets) if budget["fingerprint"] is not None), budgets[-1])
    return dict(best)
