"""Which calibration holds for each bank now, how well, and when it must be checked. Pure: it knows no clock, no disk.

All records of a run come from the logbook at its start and from commands since. Only those of the present lamp set,
meter and place of the meter count; without one the number of box.yaml has to do.
"""

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from sumlight.box.description import Bank, BoxDescription
from sumlight.control.calibration.answers import CalibrationFactor, Due, WindowCheck
from sumlight.control.calibration.expected_light import ExpectedLight
from sumlight.control.calibration.seen_light import LastLooks, SeenLight, SeenLights, Standing
from sumlight.control.calibration.window import WindowHistory
from sumlight.craft.tablet import PANEL_SIGMA
from sumlight.light.calibration import (
    LED_DRIFT,
    TUBE_DRIFT,
    Calibration,
    DriftPrior,
    Origin,
    RatioModel,
    ReferencesCompared,
    Shift,
    compared,
    model_from,
)
from sumlight.light.gains import ANCHOR_CODE, GainStep, GainTable
from sumlight.light.lampsigns import UNSEEN_LAMPS_SIGMA
from sumlight.light.plausible import Lamps, unchecked_ln_sigma
from sumlight.light.sensors import KINDS, SensorKind, record_name
from sumlight.store.logbook.calibrations import (
    CalibrationRecord,
    GainStepRecord,
    LampsFitted,
    SelfCheckRecord,
    ShiftRecord,
    StoredCalibrations,
)
from sumlight.text.message import NOTHING, Message, as_written, joined, say

OTHER_LAMPS_SIGMA = 0.3
"""Standard uncertainty (ln) of box.yaml's number once other lamps were fitted or the sensor was moved (common practice,
no source)."""
SAME_MOMENT_H = 1e-6
CLOCK_OFF, MOST_CLOCK_OFF = 0.004, 0.05
"""A chip's conversions that take longer or shorter than their registers say by more than the first share are reckoned
with as measured; the second is where it becomes a fault of the meter."""
TOLERANCE = 0.1
"""Relative error of the dose (k = 2) that is allowed where no recipe says otherwise."""
ORIGINS: Mapping[str, Message] = {
    "tablet": say("from_tablet"),
    "radiometer": say("from_radiometer"),
    "teach": say("from_teach"),
}


class CalibrationBook:
    """All banks' calibrations. `kept` is what the logbook held when control started."""

    def __init__(self, box: BoxDescription, kept: StoredCalibrations) -> None:
        self._banks = {bank.name: bank for bank in box.banks}
        self._box = box
        self._calibrations = list(kept.calibrations)
        self._shifts = list(kept.shifts)
        self._checks = list(kept.self_checks)
        self._sets = dict(kept.lamp_sets)
        self._models: dict[str, RatioModel] = {}
        self._compared: dict[str, ReferencesCompared | None] = {}
        self._ln_windows: dict[str, float] = {}
        self.gains = {meter.record_name: GainTable() for meter in box.meters}
        for step in kept.gain_steps:
            if step.meter in self.gains:
                self.learn_gain(step)
        self.field_relative = _field_relative(kept)
        self._lights = SeenLights(kept.last_budgets)

    # -- what holds now ------------------------------------------------------------------------------------------

    def lamp_set(self, bank: str) -> int:
        """Number of the lamps in a bank; 0 until new ones were recorded."""
        fitted = self._sets.get(bank)
        return fitted.number if fitted else 0

    def k(self, bank: str, lamp_hours: float) -> CalibrationFactor:
        """The anchor of a bank at its present lamp hours."""
        records = self._records(bank)
        last = records[-1] if records else None
        if last is None:
            return self._from_file(bank, lamp_hours)
        model = self._model(bank)
        ln_ratio, ln_sigma = model.at(self._age_h(bank, max(lamp_hours, self._known_to(bank))))
        seen = next((record for record in reversed(records) if record.print_ is not None), None)
        ln_window = self._ln_windows.get(self._meter(bank), 0.0)
        return CalibrationFactor(
            math.exp(ln_ratio - ln_window),
            ln_sigma,
            math.hypot(model.common_ln_sigma, standing.ln_doubt if (standing := self._standing(bank)) else 0.0),
            last.origin,
            model.relative,
            lamp_hours,
            self.lamp_set(bank),
            seen.print_ if seen else None,
            seen.gain_code if seen and seen.gain_code is not None else ANCHOR_CODE,
            self._meter(bank),
            self.position(bank),
            ln_window,
            self.age_hours(bank, lamp_hours),
            next((record.signs for record in reversed(records) if record.signs is not None), None),
            last.heat,
        )

    def reckon_with_window(self, meter: str, measured_s: float | None, nominal_s: float) -> None:
        """From now on conversions of a meter are taken to last as measured; as nominal while nothing is known.

        A slow clock collects more counts in what is called the same time; calibrations keep what held for them.
        """
        off = 0.0 if measured_s is None else math.log(measured_s / nominal_s)
        self._ln_windows[meter] = off if CLOCK_OFF < abs(off) <= math.log(1 + MOST_CLOCK_OFF) else 0.0

    def position(self, bank: str) -> str:
        """Where the bank's meter sits now, in the words of box.yaml."""
        return self._box.meter_of(self._bank(bank)).position

    def moved(self, bank: str) -> bool:
        """Whether the meter sits elsewhere than at every calibration of the present lamps."""
        return bool(self._of_lamps(bank)) and not self._records(bank)

    def of_other_kind(self, bank: str) -> bool:
        """Whether all calibrations of the present lamps were made with another kind of sensor."""
        now, name = self.lamp_set(bank), self._bank(bank).meter
        others = {record_name(name, kind.name) for kind in KINDS.values()} - {self._meter(bank)}
        made = [c for c in self._calibrations if (c.bank, c.lamp_set) == (bank, now) and c.meter in others]
        return bool(made) and not self._of_lamps(bank)

    def calibrated_lit_s(self, bank: str) -> float | None:
        """How long the light of the last calibration lasted; None where there is none, or it does not say."""
        records = self._records(bank)
        return records[-1].lit_s if records else None

    def age_hours(self, bank: str, lamp_hours: float) -> float | None:
        """Lamp hours since the last calibration; None without one."""
        records = self._records(bank)
        return max(0.0, lamp_hours - records[-1].lamp_hours) if records else None

    def made_utc(self, bank: str, anchor: Mapping[str, Any]) -> str | None:
        """When the calibration was made that an anchor of a record rests on; None without one, or when it is gone."""
        if anchor.get("age_h") is None:
            return None
        made_h = anchor["lamp_hours"] - anchor["age_h"]
        place = bank, anchor.get("lamp_set"), anchor.get("meter"), anchor.get("position")
        same = (c for c in self._calibrations if (c.bank, c.lamp_set, c.meter, c.position) == place)
        return next((c.made_utc for c in same if abs(c.lamp_hours - made_h) < SAME_MOMENT_H), None)

    def check_due(self, bank: str, lamp_hours: float, tolerance: float = TOLERANCE) -> Due:
        """Whether to ask for a step tablet (or a radiometer) now, and what the sensor cannot see."""
        due = self._check_due(bank, lamp_hours, tolerance)
        losses = NOTHING if self._sensor(bank).sees_colour else say("uv_meter_losses")
        if losses and self.lamps(bank) == "led":
            trusted = self._bank(bank).leds_built_in
            losses = joined(losses, say("uv_meter_trusts_leds") if trusted else say("uv_meter_blind_to_leds"))
        return replace(due, sentence=joined(due.sentence, losses))

    def _check_due(self, bank: str, lamp_hours: float, tolerance: float) -> Due:
        anchor = self.k(bank, lamp_hours)
        share = 2 * anchor.whole_ln_sigma
        if anchor.origin == "box.yaml":
            found = self._due_from_file(bank, anchor, say("worth_absolute", share=share), tolerance)
            return replace(found, sentence=joined(found.sentence, say("doses_are_relative")))
        worth = say("worth_repeat", share=share) if anchor.relative else say("worth_absolute", share=share)
        due = self._model(bank).check_due(self._age_h(bank, max(lamp_hours, self._known_to(bank))), tolerance)
        if due:
            told = say("calibration_wants_tablet", worth=worth, tolerance=tolerance)
        else:
            origin = ORIGINS.get(anchor.origin, as_written(anchor.origin))
            told = say("calibration_worth", origin=origin, worth=worth)
        unit = say("doses_are_relative") if anchor.relative else NOTHING
        return Due(due, joined(told, self._surprised(bank, share), unit))

    def _due_from_file(self, bank: str, anchor: CalibrationFactor, worth: Message, tolerance: float) -> Due:
        if self.moved(bank):
            return Due(True, say("sensor_sits_elsewhere"))
        if self.of_other_kind(bank):
            return Due(True, say("other_kind_wants_tablet"))
        if anchor.lamp_set:
            return Due(True, say("new_lamps_want_tablet"))
        if 2 * anchor.whole_ln_sigma > tolerance:
            return Due(True, say("file_number_wants_tablet", worth=worth, tolerance=tolerance))
        return Due(False, say("file_number_will_do", worth=worth, tolerance=tolerance))

    def _surprised(self, bank: str, share: float) -> Message:
        """That the last checks disagreed more than expected and the ± was widened for it; empty when they did not."""
        found = self._model(bank).disagreement
        told = NOTHING if found is None else say("checks_disagreed", checks=found.checks, share=share)
        standing = self._standing(bank)
        return joined(told, None if standing is None or standing.agree else compared_in_words(standing))

    def compared(self, record: CalibrationRecord) -> Message:
        """What a new calibration says against those that rest on the other reference; empty where there are none."""
        place = self.lamp_set(record.bank), self._meter(record.bank), self.position(record.bank)
        if (record.lamp_set, record.meter, record.position) != place:
            return NOTHING
        others = [c for c in self._records(record.bank) if c.exposure_id is None or c.exposure_id != record.exposure_id]
        found = self._compare(record, others)
        return NOTHING if found is None else compared_in_words(found)

    def _standing(self, bank: str) -> ReferencesCompared | None:
        """How the calibration that holds lies to the other reference."""
        if bank not in self._compared:
            records = self._records(bank)
            self._compared[bank] = self._compare(records[-1], records[:-1]) if records else None
        return self._compared[bank]

    def _compare(self, record: CalibrationRecord, others: list[CalibrationRecord]) -> ReferencesCompared | None:
        bank = record.bank
        return compared(
            self._plain(record), [self._plain(c) for c in others], self._model_shifts(bank), self._prior(bank)
        )

    def surprise(self, record: CalibrationRecord) -> float | None:
        """By how many standard deviations a new calibration misses what was expected; None without expectation.

        Nothing is expected of one with other lamps, another meter or at another place.
        """
        place = self.lamp_set(record.bank), self._meter(record.bank), self.position(record.bank)
        if (record.lamp_set, record.meter, record.position) != place:
            return None
        if not self._records(record.bank) or record.lamp_hours < self._known_to(record.bank):
            return None
        model = self._model(record.bank)
        return None if model.relative else model.surprise(self._plain(record))

    def gain_sigma(self, meter: str, code: int, from_code: int) -> float:
        """Relative standard uncertainty left by unlearned gain steps between two gains."""
        low, high = sorted((code, from_code))
        return math.sqrt(math.fsum(step.ln_sigma**2 for step in self.gains[meter].steps()[low:high]))

    # -- the light that is expected ------------------------------------------------------------------------------

    def expected(self, bank: str, lamp_hours: float) -> ExpectedLight:
        """What is known of a bank's light before it is lit: by its lamps, its number, and the last panel."""
        anchor, here = self.k(bank, lamp_hours), (self.lamp_set(bank), self._meter(bank), self.position(bank))
        looked = LastLooks(
            max((record.lamp_hours for record in self._records(bank)), default=-math.inf),
            max((check.lamp_hours for check in self._checks if check.meter == self._meter(bank)), default=-math.inf),
        )
        standing = self._lights.standing(bank, here, lamp_hours, looked)
        doubted_h = -math.inf if standing is None or standing.doubted_h is None else standing.doubted_h
        calibrated = anchor.reference is not None if self._sensor(bank).proxy else anchor.origin != "box.yaml"
        return ExpectedLight(
            self.lamps(bank),
            anchor.mw_cm2_per_basic_count,
            anchor.whole_ln_sigma,
            calibrated,
            self._lights.last(bank, here, lamp_hours),
            standing,
            window_seen=not self.self_check_due(bank, lamp_hours) and looked.self_check_h > doubted_h,
            window_missing_ln=self._window(bank).missing_ln,
            leds_built_in=self._bank(bank).leds_built_in,
        )

    def saw(self, bank: str, seen: SeenLight, standing: Standing) -> None:
        """The settled light of a side that was completed; the next one is compared with what stands after it."""
        self._lights.saw(bank, seen, standing)

    # -- what is added -------------------------------------------------------------------------------------------

    def add(self, record: CalibrationRecord) -> None:
        """A new calibration; it replaces one that came from the same exposure."""
        self._calibrations.append(record)
        self._forget(record.bank)

    def fit(self, fitted: LampsFitted) -> None:
        """New lamps: earlier calibrations of the bank no longer hold."""
        self._sets[fitted.bank] = fitted
        self._forget(fitted.bank)

    def add_shift(self, record: ShiftRecord) -> None:
        """A change of a meter's window."""
        self._shifts.append(record)
        self._forget(record.bank)

    def add_self_check(self, record: SelfCheckRecord) -> None:
        """A reading of the board's LED."""
        self._checks.append(record)

    def learn_gain(self, record: GainStepRecord) -> None:
        """One more determination of a gain step."""
        self.gains[record.meter].learn(GainStep(record.code, record.ln_error, record.ln_sigma))
        self._models.clear()
        self._compared.clear()

    # -- the sensor's window ---------------------------------------------------------------------------------------

    def self_check_due(self, bank: str, lamp_hours: float) -> bool:
        """Whether the board's LED should be looked at again."""
        return self._window(bank).due(lamp_hours)

    def judge_window(self, bank: str, led: tuple[float, ...], lamp: float | None) -> WindowCheck:
        """See `WindowHistory.judge`. `led` and `lamp` are in basic counts."""
        return self._window(bank).judge(led, lamp)

    def window_share(self, bank: str, lamp_hours: float) -> float | None:
        """See `WindowHistory.share`."""
        return self._window(bank).share(lamp_hours)

    def corrected_by(self, bank: str) -> float:
        """See `WindowHistory.corrected_by`."""
        return self._window(bank).corrected_by()

    def ln_corrected_since(self, bank: str, lamp_hours: float) -> float:
        """See `WindowHistory.ln_corrected_since`."""
        return self._window(bank).ln_corrected_since(lamp_hours)

    def _window(self, bank: str) -> WindowHistory:
        meter = self._meter(bank)
        return WindowHistory(
            [check for check in self._checks if check.meter == meter],
            [shift for shift in self._shifts if shift.bank == bank],
            self._records(bank),
            self._sets.get(bank),
        )

    # -- inside ----------------------------------------------------------------------------------------------------

    def _bank(self, bank: str) -> Bank:
        return self._banks[bank]

    def _sensor(self, bank: str) -> SensorKind:
        return self._box.meter_of(self._bank(bank)).sensor

    def _meter(self, bank: str) -> str:
        """What records call the bank's meter."""
        return self._box.meter_of(self._bank(bank)).record_name

    def _records(self, bank: str) -> list[CalibrationRecord]:
        """Those of the present lamps and place of the meter, by lamp hours; the latest of each exposure."""
        here = self.position(bank)
        mine = [c for c in self._of_lamps(bank) if c.position == here]
        latest = {("exposure", c.exposure_id) if c.exposure_id else ("row", n): c for n, c in enumerate(mine)}
        anchored = [c for c in latest.values() if c.origin != "teach"]
        return sorted(anchored or latest.values(), key=lambda c: c.lamp_hours)

    def _of_lamps(self, bank: str) -> list[CalibrationRecord]:
        """Those of the present lamps and meter, wherever it sat."""
        now, meter = self.lamp_set(bank), self._meter(bank)
        return [c for c in self._calibrations if (c.bank, c.lamp_set, c.meter) == (bank, now, meter)]

    def _known_to(self, bank: str) -> float:
        known = [record.lamp_hours for record in self._records(bank)]
        return max(known + [shift.lamp_hours for shift in self._window(bank).applied()], default=0.0)

    def _model(self, bank: str) -> RatioModel:
        model = self._models.get(bank)
        if model is None:
            records = [self._plain(record) for record in self._records(bank)]
            model = self._models[bank] = model_from(records, self._model_shifts(bank), self._prior(bank))
        return model

    def _prior(self, bank: str) -> DriftPrior:
        proxy = self._sensor(bank).proxy and self.lamps(bank) == "tubes"
        return TUBE_DRIFT if proxy else LED_DRIFT  # UV-A itself does not fade against itself

    def _model_shifts(self, bank: str) -> list[Shift]:
        return [Shift(self._age_h(bank, s.lamp_hours), s.ln_shift, s.ln_sigma) for s in self._window(bank).applied()]

    def _forget(self, bank: str) -> None:
        """What was worked out for a bank before something was added."""
        self._models.pop(bank, None)
        self._compared.pop(bank, None)

    def _plain(self, record: CalibrationRecord) -> Calibration:
        """A record for the drift model, with what is known now of the gain it was made with."""
        origins: dict[str, Origin] = {"radiometer": "radiometer", "tablet": "tablet", "teach": "teach"}
        gain = 0.0 if record.gain_code is None else self.gains[record.meter].ln_error(record.gain_code)[0]
        return Calibration(
            origins[record.origin],
            record.ln_ratio + gain + record.ln_window,
            record.ln_sigma,
            self._age_h(record.bank, record.lamp_hours),
            record.made_utc,
            lamp_set=str(record.lamp_set),
            meter=record.meter,
            position=record.position,
            common_ln_sigma=record.common_ln_sigma,
            scatter_ln_sigma=PANEL_SIGMA if record.origin == "tablet" else 0.0,
        )

    def lamps(self, bank: str) -> Lamps:
        """What shines in a bank: as recorded when it was fitted, else as box.yaml says."""
        fitted = self._sets.get(bank)
        if fitted is None:
            return self._bank(bank).lamps
        return "led" if fitted.lamp_type.lower().startswith("led") else "tubes"

    def _age_h(self, bank: str, lamp_hours: float) -> float:
        """Hours that the lamps have burned, those before this box counted included."""
        return lamp_hours if bank in self._sets else lamp_hours + self._bank(bank).lamp_hours

    def _from_file(self, bank: str, lamp_hours: float) -> CalibrationFactor:
        meter = self._box.meter_of(self._bank(bank))
        shifts, number = self._window(bank).applied(), self.lamp_set(bank)
        ln_shift = math.fsum(shift.ln_shift for shift in shifts)
        stated = meter.calibration_uncertainty
        if number or self.moved(bank) or self.of_other_kind(bank):
            stated = max(stated, OTHER_LAMPS_SIGMA)
        if not self._sensor(bank).sees_colour:
            stated = max(stated, UNSEEN_LAMPS_SIGMA)
        unchecked = unchecked_ln_sigma(stated, self.lamps(bank), self._age_h(bank, lamp_hours))
        sigma = math.hypot(unchecked, *(shift.ln_sigma for shift in shifts))
        ln_window = self._ln_windows.get(meter.record_name, 0.0)
        value, place = meter.mw_cm2_per_basic_count * math.exp(ln_shift - ln_window), meter.position
        worth = CalibrationFactor(value, sigma, 0.0, "box.yaml", True, lamp_hours, number)
        return replace(worth, meter=meter.record_name, position=place, ln_window=ln_window)


def compared_in_words(found: ReferencesCompared) -> Message:
    """By how much two references are apart, and whether that is more than both state."""
    apart, share = math.expm1(abs(found.ln_apart)), math.expm1(found.ln_expanded)
    if found.agree:
        return say("references_agree", apart=apart, share=share)
    return say("references_disagree", apart=apart, share=share)


def _field_relative(kept: StoredCalibrations) -> float | None:
    """Relative standard uncertainty of the step from sensor to panel, as last measured."""
    place = (kept.field_result or {}).get("place")
    return float(place["standard"]) / float(place["factor"]) if place else None
