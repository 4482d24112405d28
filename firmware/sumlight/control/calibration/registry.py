"""Which calibration holds for each bank now, how well, and when it must be checked. Pure: it knows no clock, no disk.

All records of a run come from the logbook at its start and from commands since. Only those of the present lamp set,
meter and place of the meter count; without one the number of box.yaml has to do.
"""

import math
from dataclasses import dataclass

from sumlight.box.description import Bank, BoxDescription
from sumlight.craft.tablet import PANEL_SIGMA
from sumlight.light import selfcheck
from sumlight.light.calibration import LED_DRIFT, TUBE_DRIFT, Calibration, Origin, RatioModel, Shift, model_from
from sumlight.light.fingerprint import Fingerprint
from sumlight.light.gains import ANCHOR_CODE, GainStep, GainTable
from sumlight.store.logbook.calibrations import (
    CalibrationRecord,
    GainStepRecord,
    Kept,
    LampsFitted,
    SelfCheckRecord,
    ShiftRecord,
)

OTHER_LAMPS_SIGMA = 0.3
"""Standard uncertainty (ln) of box.yaml's number once other lamps were fitted or the sensor was moved (common practice,
no source)."""
SELF_CHECK_EVERY_H = 8.0
"""A self-check costs two seconds and is suggested once in so many lamp hours, about a working day (no source)."""
TOGETHER_H = 1.0
"""Self-check and calibration within so many lamp hours saw the same window."""
WORTH_A_SHIFT = 0.015
"""Smaller changes of the window (ln) are left alone."""
TOLERANCE = 0.1
"""Relative error of the dose (k = 2) that is allowed where no recipe says otherwise."""


@dataclass(frozen=True)
class Anchor:
    """What a basic count of a bank's meter is worth at present, in mW/cm² at the glass.

    `ln_sigma` is the standard uncertainty of its logarithm (so nearly a relative one), `common_ln_sigma` what all
    doses of that scale share on top. `relative` says that the unit is the box's own. `reference` is the colour of the
    light at the calibration and `gain_code` the gain it was made with.
    """

    mw_cm2_per_basic_count: float
    ln_sigma: float
    common_ln_sigma: float
    origin: str
    relative: bool
    lamp_hours: float
    lamp_set: int
    reference: Fingerprint | None = None
    gain_code: int = ANCHOR_CODE
    meter: str = ""
    position: str = ""

    @property
    def whole_ln_sigma(self) -> float:
        """Both together."""
        return math.hypot(self.ln_sigma, self.common_ln_sigma)


@dataclass(frozen=True)
class Due:
    """Whether a calibration check is asked for, and why (or why not) in a sentence."""

    due: bool
    sentence: str


@dataclass(frozen=True)
class WindowCheck:
    """What a self-check says: `ln_shift` is still missing from the calibration and may be applied if `may_apply`."""

    verdict: str
    sentence: str
    diffuser: float
    ln_shift: float
    ln_sigma: float
    may_apply: bool


class CalibrationBook:
    """All banks' calibrations. `kept` is what the logbook held when control started."""

    def __init__(self, box: BoxDescription, kept: Kept) -> None:
        self._banks = {bank.name: bank for bank in box.banks}
        self._box = box
        self._calibrations = list(kept.calibrations)
        self._shifts = list(kept.shifts)
        self._checks = list(kept.self_checks)
        self._sets = dict(kept.lamp_sets)
        self._models: dict[str, RatioModel] = {}
        self.gains = {meter.name: GainTable() for meter in box.meters}
        for step in kept.gain_steps:
            if step.meter in self.gains:
                self.learn_gain(step)
        self.field_relative = _field_relative(kept)

    # -- what holds now ------------------------------------------------------------------------------------------

    def lamp_set(self, bank: str) -> int:
        """Number of the lamps in a bank; 0 until new ones were recorded."""
        fitted = self._sets.get(bank)
        return fitted.number if fitted else 0

    def k(self, bank: str, lamp_hours: float) -> Anchor:
        """The anchor of a bank at its present lamp hours."""
        records = self._records(bank)
        last = records[-1] if records else None
        if last is None:
            return self._from_file(bank, lamp_hours)
        model = self._model(bank)
        ln_ratio, ln_sigma = model.at(max(lamp_hours, self._known_to(bank)))
        seen = next((record for record in reversed(records) if record.print_ is not None), None)
        return Anchor(
            math.exp(ln_ratio),
            ln_sigma,
            model.common_ln_sigma,
            last.origin,
            model.relative,
            lamp_hours,
            self.lamp_set(bank),
            seen.print_ if seen else None,
            seen.gain_code if seen and seen.gain_code is not None else ANCHOR_CODE,
            self._bank(bank).meter,
            self.position(bank),
        )

    def position(self, bank: str) -> str:
        """Where the bank's meter sits now, in the words of box.yaml."""
        return self._box.meter_of(self._bank(bank)).position

    def moved(self, bank: str) -> bool:
        """Whether the meter sits elsewhere than at every calibration of the present lamps."""
        return bool(self._of_lamps(bank)) and not self._records(bank)

    def age_hours(self, bank: str, lamp_hours: float) -> float | None:
        """Lamp hours since the last calibration; None without one."""
        records = self._records(bank)
        return max(0.0, lamp_hours - records[-1].lamp_hours) if records else None

    def check_due(self, bank: str, lamp_hours: float, tolerance: float = TOLERANCE) -> Due:
        """Whether to ask for a step tablet (or a radiometer) now, for a recipe with this tolerance."""
        anchor = self.k(bank, lamp_hours)
        wide = f"±{2 * anchor.whole_ln_sigma:.0%} {'repeat' if anchor.relative else 'absolute'} (k = 2)"
        allowed = f"the recipe allows ±{tolerance:.0%}"
        if anchor.origin == "box.yaml":
            if self.moved(bank):
                text = "The sensor sits elsewhere than at its calibrations: they no longer hold here, "
                return Due(True, text + "expose a step tablet.")
            if anchor.lamp_set:
                return Due(True, "New lamps: expose a step tablet before the first panel.")
            due = 2 * anchor.whole_ln_sigma > tolerance
            more = "a step tablet makes it better" if due else "good enough for this recipe"
            return Due(due, f"The calibration is the number in box.yaml, worth {wide}; {allowed}: {more}.")
        due = self._model(bank).check_due(max(lamp_hours, self._known_to(bank)), tolerance)
        unit = " Doses are relative: they repeat, but are not mJ/cm²." if anchor.relative else ""
        unit = self._surprised(bank, anchor) + unit
        if due:
            return Due(True, f"The calibration has grown to {wide}, {allowed}: expose a step tablet.{unit}")
        return Due(False, f"The calibration ({anchor.origin}) is worth {wide}.{unit}")

    def _surprised(self, bank: str, anchor: Anchor) -> str:
        """That the last checks disagreed more than expected and the ± was widened for it; empty when they did not."""
        found = self._model(bank).disagreement
        if found is None:
            return ""
        now = f"{2 * anchor.whole_ln_sigma:.0%}"
        return f" The last {found.checks} checks disagreed more than expected; ± is now {now}."

    def surprise(self, record: CalibrationRecord) -> float | None:
        """By how many standard deviations a new calibration misses what was expected; None without expectation."""
        if not self._records(record.bank) or record.lamp_hours < self._known_to(record.bank):
            return None
        model = self._model(record.bank)
        return None if model.relative else model.surprise(self._plain(record))

    def gain_sigma(self, meter: str, code: int, from_code: int) -> float:
        """Relative standard uncertainty left by unlearned gain steps between two gains."""
        low, high = sorted((code, from_code))
        return math.sqrt(math.fsum(step.ln_sigma**2 for step in self.gains[meter].steps()[low:high]))

    # -- what is added -------------------------------------------------------------------------------------------

    def add(self, record: CalibrationRecord) -> None:
        """A new calibration; it replaces one that came from the same exposure."""
        self._calibrations.append(record)
        self._models.pop(record.bank, None)

    def fit(self, fitted: LampsFitted) -> None:
        """New lamps: earlier calibrations of the bank no longer hold."""
        self._sets[fitted.bank] = fitted
        self._models.pop(fitted.bank, None)

    def add_shift(self, record: ShiftRecord) -> None:
        """A change of a meter's window."""
        self._shifts.append(record)
        self._models.pop(record.bank, None)

    def add_self_check(self, record: SelfCheckRecord) -> None:
        """A reading of the board's LED."""
        self._checks.append(record)

    def learn_gain(self, record: GainStepRecord) -> None:
        """One more determination of a gain step."""
        self.gains[record.meter].learn(GainStep(record.code, record.ln_error, record.ln_sigma))
        self._models.clear()

    # -- the sensor's window ---------------------------------------------------------------------------------------

    def self_check_due(self, bank: str, lamp_hours: float) -> bool:
        """Whether the board's LED should be looked at again."""
        last = self._last_check(bank)
        return last is None or not 0 <= lamp_hours - last.lamp_hours < SELF_CHECK_EVERY_H

    def judge_window(self, bank: str, led: tuple[float, ...], lamp: float | None, lamp_hours: float) -> WindowCheck:
        """Compare an LED reading with the reference; say what is not yet in the calibration.

        `lamp` is the last settled lamp reading in basic counts. What a calibration made since the last self-check
        may already hold is never offered again.
        """
        checks = self._checks_of(bank)
        reference = next((check for check in reversed(checks) if check.is_reference), None)
        if reference is None:
            text = "First reading of the sensor's LED: later ones are compared with it."
            return WindowCheck("reference", text, 1.0, 0.0, 0.0, False)
        now, before = _visible(led), _visible(reference.led)
        found = selfcheck.judge(now, before, None)
        if found.verdict == "steady" and lamp and reference.lamp_basic_counts:
            found = selfcheck.judge(now, before, lamp / reference.lamp_basic_counts)
        if found.verdict == "sensor_changed":
            return WindowCheck(found.verdict, found.sentence, found.diffuser, 0.0, 0.0, False)
        accounted = self._accounted(bank, reference)
        missing = found.ln_shift - accounted
        if abs(missing) < WORTH_A_SHIFT:
            return self._nothing_new(found, accounted)
        sigma = found.ln_sigma or WORTH_A_SHIFT / 2
        if self._calibrated_since(bank, checks[-1]):
            text = f"{found.sentence.split('. The dose')[0]}. A calibration was made since the last self-check and may "
            text += "hold this already: nothing is corrected. Expose a step tablet if in doubt."
            return WindowCheck(found.verdict, text, found.diffuser, missing, sigma, False)
        verdict = found.verdict
        if missing < 0 and verdict != "diffuser_cleaned":
            text = "The diffuser was cleaned since the last self-check; apply the correction."
            return WindowCheck("diffuser_cleaned", text, found.diffuser, missing, sigma, True)
        text = found.sentence.split(" The dose is corrected")[0] + " Apply the correction until then."
        return WindowCheck(verdict, text, found.diffuser, missing, sigma, True)

    def window_share(self, bank: str, lamp_hours: float) -> float | None:
        """Share of the lamps' light that the meter's window passes, over that at the last calibration.

        Corrections that were applied do not change it: `corrected_by` tells those. Told only within TOGETHER_H lamp
        hours of a self-check, or of a calibration after one: what an older check said must not stand beside a new loss
        of light as if the window had been looked at. None otherwise, and when the sensor itself has changed.
        """
        checks, records = self._checks_of(bank), self._records(bank)
        reference = next((check for check in reversed(checks) if check.is_reference), None)
        if reference is None:
            return None
        last, fitted = checks[-1], self._sets.get(bank)
        hours = [check.lamp_hours for check in checks if fitted is None or check.made_utc >= fitted.fitted_utc]
        hours += [record.lamp_hours for record in records]
        if not any(0 <= lamp_hours - known_h <= TOGETHER_H for known_h in hours):
            return None
        if any(record.made_utc > last.made_utc for record in records):
            return 1.0  # the calibration was made through the window as it is
        found = selfcheck.judge(_visible(last.led), _visible(reference.led), None)
        if found.verdict == "sensor_changed":
            return None
        in_calibration = self._accounted(bank, reference) - math.log(self.corrected_by(bank))
        return math.exp(in_calibration - found.ln_shift)

    def corrected_by(self, bank: str) -> float:
        """Factor by which corrections for the window have raised the ratio since the last calibration."""
        records = self._records(bank)
        since_h = records[-1].lamp_hours if records else -math.inf
        return math.exp(math.fsum(shift.ln_shift for shift in self._applied(bank) if shift.lamp_hours >= since_h))

    def _accounted(self, bank: str, reference: SelfCheckRecord) -> float:
        """What was already corrected, or was in a calibration, since the reference reading (ln)."""
        return math.fsum(s.ln_shift for s in self._shifts_of(bank) if s.made_utc >= reference.made_utc)

    def _nothing_new(self, found: selfcheck.SelfCheck, accounted: float) -> WindowCheck:
        if abs(accounted) < WORTH_A_SHIFT:
            return WindowCheck(found.verdict, found.sentence, found.diffuser, 0.0, 0.0, False)
        text = f"The diffuser passes {found.diffuser:.0%}, as at the last self-check; the dose is corrected for it."
        return WindowCheck("steady", text, found.diffuser, 0.0, 0.0, False)

    def _calibrated_since(self, bank: str, check: SelfCheckRecord) -> bool:
        if self.lamp_set(bank) and check.made_utc < self._sets[bank].fitted_utc:
            return bool(self._records(bank))
        return any(record.lamp_hours > check.lamp_hours + TOGETHER_H for record in self._records(bank))

    def _checks_of(self, bank: str) -> list[SelfCheckRecord]:
        meter = self._banks[bank].meter
        return [check for check in self._checks if check.meter == meter]

    def _last_check(self, bank: str) -> SelfCheckRecord | None:
        checks = self._checks_of(bank)
        return checks[-1] if checks else None

    def _shifts_of(self, bank: str) -> list[ShiftRecord]:
        return [shift for shift in self._shifts if shift.bank == bank]

    # -- inside ----------------------------------------------------------------------------------------------------

    def _bank(self, bank: str) -> Bank:
        return self._banks[bank]

    def _records(self, bank: str) -> list[CalibrationRecord]:
        """Those of the present lamps and place of the meter, by lamp hours; the latest of each exposure."""
        here = self.position(bank)
        mine = [c for c in self._of_lamps(bank) if c.position == here]
        latest = {("exposure", c.exposure_id) if c.exposure_id else ("row", n): c for n, c in enumerate(mine)}
        anchored = [c for c in latest.values() if c.origin != "teach"]
        return sorted(anchored or latest.values(), key=lambda c: c.lamp_hours)

    def _of_lamps(self, bank: str) -> list[CalibrationRecord]:
        """Those of the present lamps and meter, wherever it sat."""
        now, meter = self.lamp_set(bank), self._bank(bank).meter
        return [c for c in self._calibrations if (c.bank, c.lamp_set, c.meter) == (bank, now, meter)]

    def _applied(self, bank: str) -> list[ShiftRecord]:
        now = self.lamp_set(bank)
        return [shift for shift in self._shifts_of(bank) if shift.applied and shift.lamp_set == now]

    def _known_to(self, bank: str) -> float:
        known = [record.lamp_hours for record in self._records(bank)]
        return max(known + [shift.lamp_hours for shift in self._applied(bank)], default=0.0)

    def _model(self, bank: str) -> RatioModel:
        model = self._models.get(bank)
        if model is None:
            prior = LED_DRIFT if self._is_led(bank) else TUBE_DRIFT
            shifts = [Shift(s.lamp_hours, s.ln_shift, s.ln_sigma) for s in self._applied(bank)]
            model = model_from([self._plain(record) for record in self._records(bank)], shifts, prior)
            self._models[bank] = model
        return model

    def _plain(self, record: CalibrationRecord) -> Calibration:
        """A record for the drift model, with what is known now of the gain it was made with."""
        origins: dict[str, Origin] = {"radiometer": "radiometer", "tablet": "tablet", "teach": "teach"}
        gain = 0.0 if record.gain_code is None else self.gains[record.meter].ln_error(record.gain_code)[0]
        return Calibration(
            origins[record.origin],
            record.ln_ratio + gain,
            record.ln_sigma,
            record.lamp_hours,
            record.made_utc,
            lamp_set=str(record.lamp_set),
            meter=record.meter,
            position=record.position,
            common_ln_sigma=record.common_ln_sigma,
            scatter_ln_sigma=PANEL_SIGMA if record.origin == "tablet" else 0.0,
        )

    def _is_led(self, bank: str) -> bool:
        fitted = self._sets.get(bank)
        return fitted is not None and fitted.lamp_type.lower().startswith("led")

    def _from_file(self, bank: str, lamp_hours: float) -> Anchor:
        meter = self._box.meter_of(self._bank(bank))
        shifts, number = self._applied(bank), self.lamp_set(bank)
        ln_shift = math.fsum(shift.ln_shift for shift in shifts)
        sigma = math.hypot(meter.calibration_uncertainty, *(shift.ln_sigma for shift in shifts))
        if number or self.moved(bank):
            sigma = max(sigma, OTHER_LAMPS_SIGMA)
        value = meter.mw_cm2_per_basic_count * math.exp(ln_shift)
        return Anchor(
            value, sigma, 0.0, "box.yaml", False, lamp_hours, number, meter=meter.name, position=meter.position
        )


def _visible(led: tuple[float, ...]) -> list[float]:
    """The channels that see the white LED well: 445, 480, 515 nm and clear."""
    return list(led[1:5])


def _field_relative(kept: Kept) -> float | None:
    """Relative standard uncertainty of the step from sensor to panel, as last measured."""
    place = (kept.field_result or {}).get("place")
    return float(place["standard"]) / float(place["factor"]) if place else None
