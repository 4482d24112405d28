"""Commands about what doses are worth. They run between ticks and read the disk only in the dark.

Their fields are those of `protocol.commands`. Results:

| command | result |
| --- | --- |
| calibration | banks: {name: calibration block}, tolerance |
| radiometer | factor, calibration, sentence |
| tablet_plan | doses_mj_cm2, expected_sigma, sentence |
| tablet_readings | see `step_tablets` |
| teach | recipe_dose_mj_cm2, calibration, sentence |
| self_check | phase, result; the result comes with the bank in the snapshot |
| new_lamps | lamp_set, sentence |
| learn_gains | phase; the steps are kept once the lesson is over |
| transmission, field, strip, strip_plan, dose_window | see `measurements` |
| recipe_scales, keep_dose | see `recipe_scales` |

Calibration block: origin (box.yaml, radiometer, tablet, teach), mw_cm2_per_basic_count, ln_sigma, common_ln_sigma,
expanded_relative (k = 2), relative, age_hours, lamp_hours, lamp_set, check_due, self_check_due, sentence.
"""

import math
from collections.abc import Callable
from contextlib import closing
from typing import Any

from sumlight.control.bank_monitor import BankMonitor
from sumlight.control.calibration import measurements, step_tablets
from sumlight.control.calibration.answers import CalibrationFactor
from sumlight.control.calibration.old_scale import refuse_own_reference, scale_moved
from sumlight.control.calibration.registry import TOLERANCE
from sumlight.control.calibration.series_results import finished
from sumlight.control.loop import ControlLoop
from sumlight.control.refused import RefusedError, recipe_asked_for
from sumlight.control.server.before_light import BeforeLight
from sumlight.control.server.recipe_scales import RecipeDoseScales
from sumlight.control.server.self_checks import SelfChecks
from sumlight.light.calibration import UNSTATED_REFERENCE
from sumlight.light.lampsigns import signs_in
from sumlight.protocol import commands, scale_commands
from sumlight.protocol.command import TERMINAL
from sumlight.protocol.errors import BadRequestError
from sumlight.store.logbook.calibrations import (
    CalibrationRecord,
    GainStepRecord,
    LampsFitted,
    MeasurementRecord,
    tablet_reading,
)
from sumlight.store.logbook.lamps import NewTube
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.reading import utc_text
from sumlight.store.logbook.records import BankState
from sumlight.store.recipes import RecipeStore
from sumlight.text.doseunit import unit_of_dose
from sumlight.text.message import NOTHING, Message, joined, say

OpenBook = Callable[[], Logbook]

READ_SIGMA = TEACH_SIGMA = 0.01
"""How well (ln) a radiometer is placed and read, and a taught exposure repeats (common practice, no source)."""


class Metrology:
    """Calibrations, tablets, self-checks and measurements of one box.

    `states` holds each bank's use before this run; `open_book` opens a reader of the logbook.
    """

    def __init__(
        self, loop: ControlLoop, shelf: RecipeStore, states: dict[str, BankState], open_book: OpenBook
    ) -> None:
        self._loop = loop
        self._shelf = shelf
        self._states = states
        self._open_book = open_book
        self._scales = RecipeDoseScales(loop, shelf, self.lamp_hours, open_book)
        self.before_light = BeforeLight(loop, self.lamp_hours, self._scales)
        self._self_checks = SelfChecks(loop, self.lamp_hours)
        self.set_calibration_factors()

    def handle(self, asked: commands.Command) -> dict[str, Any]:
        """Carry one out. Raises BadRequestError, RefusedError or LogbookError."""
        match asked:
            case commands.Calibration():
                return self._calibration(asked)
            case commands.Radiometer():
                return self._radiometer(asked)
            case commands.TabletPlan():
                return self._tablet_plan(asked)
            case commands.TabletReadings():
                return self._tablet_readings(asked)
            case commands.Teach():
                return self._teach(asked)
            case commands.SelfCheck():
                return self._self_check(asked)
            case commands.NewLamps():
                return self.new_lamps(asked)
            case commands.LearnGains():
                return self._learn_gains(asked)
            case commands.SheetTransmission() | commands.FieldMap() | commands.Strip():
                return self._measure(asked)
            case commands.StripPlan():
                return measurements.strip_plan(asked, relative=self._own_units())
            case commands.DoseWindow():
                return measurements.dose_window(asked)
            case scale_commands.RecipeScales() | scale_commands.KeepDose():
                return self._scales.handle(asked)
        raise TypeError(type(asked).__name__)

    def set_calibration_factors(self) -> None:
        """Set what a count is worth for each bank, at its present lamp hours; not while an exposure is under way."""
        if self._loop.exposure.running:
            return
        for name, watch in self._loop.banks.items():
            meter = watch.meter
            self._loop.book.reckon_with_window(meter.name, meter.measured_window_s, meter.kind.window_s)
            watch.anchor = self._loop.book.k(name, self.lamp_hours(name))
            self.before_light.expect_usual(name)

    def lamp_hours(self, bank: str) -> float:
        """Hours of light of the present lamps."""
        return self._loop.recorder.use_of(bank, self._states[bank])[0] / 3600

    def in_box_units(self, recipe: str) -> bool:
        """Whether a recipe's dose is in the box's own units. Raises BadRequestError or LogbookError."""
        return self._scales.in_box_units(recipe)

    def refuse_while_looking(self) -> None:
        """Refuse light while the sensor looks at its own LED. Raises RefusedError."""
        if any(watch.led.running for watch in self._loop.banks.values()):
            raise RefusedError(say("self_check_runs"), say("takes_two_seconds"))

    def tick(self) -> None:
        """Take in a self-check or a gain lesson that has ended."""
        for watch in self._loop.banks.values():
            if watch.lesson.phase == "done":
                watch.lesson.phase = "idle"
                self._keep_gains(watch)
        self._self_checks.take()

    def _own_units(self) -> bool:
        """Whether the doses of a series, which side A's lamps light, count in the box's own units now."""
        lit_by = [bank.name for bank in self._loop.box.description.banks if bank.side == "A"]
        return any(self._loop.book.k(bank, self.lamp_hours(bank)).relative for bank in lit_by)

    # -- pictures ----------------------------------------------------------------------------------------------------

    def picture(self, bank: str, tolerance: float = TOLERANCE) -> dict[str, Any]:
        """The calibration block of a bank."""
        book, hours = self._loop.book, self.lamp_hours(bank)
        anchor, due = book.k(bank, hours), book.check_due(bank, hours, tolerance)
        return {
            "origin": anchor.origin,
            "mw_cm2_per_basic_count": anchor.mw_cm2_per_basic_count,
            "ln_sigma": anchor.ln_sigma,
            "common_ln_sigma": anchor.common_ln_sigma,
            "expanded_relative": 2 * anchor.whole_ln_sigma,
            "relative": anchor.relative,
            "age_hours": anchor.age_h,
            "lamp_hours": hours,
            "lamp_set": anchor.lamp_set,
            "check_due": due.due,
            "self_check_due": self._loop.banks[bank].meter.kind.own_led and book.self_check_due(bank, hours),
            "sentence": due.sentence,
        }

    def bank_snapshot(self, bank: str) -> dict[str, Any]:
        """What a bank's part of the snapshot shows: colour of the light and the last self-check."""
        found = self._loop.banks[bank].spectrum.comparison
        return {
            "spectrum": None if found is None else {"verdict": found.verdict, "sentence": found.sentence},
            "self_check": self._self_checks.picture(bank),
        }

    def advisories(self) -> list[Message]:
        """Standing remarks for the panel at hand: checks that are due, light far from the recipe's."""
        exposure = self._loop.exposure
        if exposure.plan is None:
            return []
        found = []
        for name in dict.fromkeys(side.plan.bank for side in exposure.sides):
            due = self._loop.book.check_due(name, self.lamp_hours(name), exposure.plan.tolerance)
            if due.due:
                found.append(say("of_bank", bank=name, told=due.sentence))
            found += self._loop.banks[name].spectrum.judge.remarks()
        told = self.before_light.told if exposure.running else []
        return found + told + measurements.reciprocity_remarks(exposure.sides)

    # -- commands ----------------------------------------------------------------------------------------------------

    def _calibration(self, asked: commands.Calibration) -> dict[str, Any]:
        tolerance = TOLERANCE if asked.tolerance is None else asked.tolerance
        return {"tolerance": tolerance, "banks": {bank: self.picture(bank, tolerance) for bank in self._loop.banks}}

    def _radiometer(self, asked: commands.Radiometer) -> dict[str, Any]:
        bank, watch = self._bank(asked)
        mw_cm2, share = asked.mw_cm2, asked.relative_uncertainty or UNSTATED_REFERENCE
        print_, net = watch.spectrum.print_, watch.spectrum.net
        seen = print_ if watch.meter.kind.proxy else watch.spectrum.settled
        if not self._steady(bank) or seen is None or net is None or watch.lesson.phase == "running":
            raise RefusedError(
                say("radiometer_wants_steady"),
                say("start_wait_read"),
            )
        counts, _ = self._loop.book.gains[watch.meter.name].corrected(net[0], watch.meter.gain_code)
        record = CalibrationRecord(
            "radiometer",
            watch.meter.name,
            bank,
            self._loop.book.lamp_set(bank),
            math.log(mw_cm2 / net[0]),
            READ_SIGMA,
            share,
            self.lamp_hours(bank),
            self._utc(),
            print_,
            watch.meter.gain_code,
            position=self._loop.book.position(bank),
            note=f"radiometer read {mw_cm2:g} mW/cm²",
            ln_window=watch.anchor.ln_window,
            lit_s=self._lit_s(bank),
            signs=watch.spectrum.signs,
            heat=watch.heat.at(self._loop.clock.mono_s()),
        )
        factor, before = mw_cm2 / (counts * watch.anchor.mw_cm2_per_basic_count), self._factor(bank)
        other = self._loop.book.compared(record)
        self._keep(record)
        known = NOTHING if asked.relative_uncertainty else say("reference_counts_as", share=2 * share)
        text = joined(say("counts_in_radiometers_unit", factor=factor), known, other, self._to_take_over(bank, before))
        return {"factor": factor, "calibration": self.picture(bank), "sentence": text}

    def _tablet_plan(self, asked: commands.TabletPlan) -> dict[str, Any]:
        recipe = recipe_asked_for(self._shelf, asked.recipe, say("mend_recipe_first")).recipe
        bank = (self._loop.box.description.bank_for("A") or self._loop.box.description.banks[0]).name
        with self._reader() as book:
            earlier = [tablet_reading(row) for row in book.calibrations.tablet_readings()]
        return step_tablets.plan(asked, recipe, self._loop.book.k(bank, self.lamp_hours(bank)), earlier)

    def _tablet_readings(self, asked: commands.TabletReadings) -> dict[str, Any]:
        with self._reader() as book:
            rows = (row for row in book.calibrations.tablet_readings() if row["exposure_id"] != asked.exposure_id)
            earlier = [tablet_reading(row) for row in rows]
            exposure = finished(book, asked.exposure_id)
            found = step_tablets.read(asked, exposure, self._utc(), earlier)
            if asked.apply == "calibration":
                own = book.calibrations.found_in_box_units(exposure["recipe_name"])
                refuse_own_reference(found.reference_mj_cm2, own, stated=found.stated)
        result = found.result(self._loop.book)
        if found.calibration is None or not asked.apply:
            return result  # only looked at: nothing is recorded of it
        bank = found.calibration.bank
        if found.calibration.meter != self._loop.banks[bank].meter.name:
            raise RefusedError(say("kind_changed_since_tablet"), say("expose_another"))
        if asked.apply == "recipe":
            self._keep_readings(found)
            return result
        if found.calibration.lamp_set != self._loop.book.lamp_set(bank):
            raise RefusedError(say("lamps_changed_since_tablet"), say("expose_another"))
        if found.calibration.position != self._loop.book.position(bank):
            raise RefusedError(say("sensor_moved_since_tablet"), say("expose_another"))
        surprise = result["surprise"]
        if surprise is not None and abs(surprise) > step_tablets.SURPRISING and not asked.sure:
            return step_tablets.doubted(result)
        before = self._factor(bank)
        self._keep_readings(found)
        self._keep(found.calibration)
        if found.takes_over:  # whoever says that its dose just holds the target step has said what it is
            self._scales.take(exposure["recipe_name"], found.reference_mj_cm2, found.reference_mj_cm2, TERMINAL)
        sentence = joined(result["sentence"], say("calibration_was_set"), self._to_take_over(bank, before))
        reference = {"recipe_dose_mj_cm2": found.reference_mj_cm2}
        return {**result, **reference, "applied": True, "calibration": self.picture(bank), "sentence": sentence}

    def _teach(self, asked: commands.Teach) -> dict[str, Any]:
        with self._reader() as book:
            found = finished(book, asked.exposure_id, "teach")
        side = found["sides"][0]
        budget = side["budget"]
        if side["state"] != "done" or budget is None:
            raise RefusedError(
                say("taught_not_completed"),
                say("expose_without_break"),
            )
        anchor, bank, dose = budget["anchor"], side["bank"], side["dose_mj_cm2"]
        here = self._loop.book.lamp_set(bank), self._loop.book.position(bank)
        if anchor.get("meter", "") not in ("", self._loop.banks[bank].meter.name):
            raise RefusedError(say("kind_changed_since_teaching"), say("expose_again_to_teach"))
        relative = anchor["origin"] in ("box.yaml", "teach")
        if relative and (anchor["lamp_set"], anchor.get("position", "")) == here:
            self._keep(
                CalibrationRecord(
                    "teach",
                    self._loop.banks[bank].meter.name,
                    bank,
                    anchor["lamp_set"],
                    math.log(anchor["mw_cm2_per_basic_count"]) - budget["gain_ln_error"],
                    TEACH_SIGMA,
                    0.0,
                    anchor["lamp_hours"],
                    self._utc(),
                    step_tablets.fingerprint_of(budget),
                    budget["gain_code"],
                    found["exposure_id"],
                    here[1],
                    note=f"taught by {side['lit_s']:.1f} s of light",
                    ln_window=anchor.get("ln_window", 0.0),
                    lit_s=side["lit_s"],
                    signs=signs_in(budget.get("signs")),
                    heat=budget.get("heat"),
                )
            )
        unit = unit_of_dose(relative=relative)
        told = say("light_gave_dose", seconds=side["lit_s"], dose=dose, unit=unit)
        text = joined(told, say("put_dose_into_recipe"))
        return {"recipe_dose_mj_cm2": dose, "relative": relative, "calibration": self.picture(bank), "sentence": text}

    def _self_check(self, asked: commands.SelfCheck) -> dict[str, Any]:
        bank, _ = self._bank(asked)
        if self._loop.exposure.running:
            raise RefusedError(say("exposure_under_way"), say("self_check_needs_dark"))
        if not asked.apply:
            self._self_checks.begin(bank)
            return {"phase": "running", "result": None}
        applied = self._self_checks.apply(bank)
        self.set_calibration_factors()
        return {"phase": "done", "result": vars(applied), "calibration": self.picture(bank)}

    def new_lamps(self, asked: commands.NewLamps) -> dict[str, Any]:
        """Record that all lamps of a bank were changed; see `fit_lamps`. Raises RefusedError."""
        bank, _ = self._bank(asked)
        if self._loop.exposure.running:
            raise RefusedError(say("exposure_under_way"), say("finish_or_abandon_first"))
        return self.fit_lamps(bank, asked.lamp_type)

    def fit_lamps(self, bank: str, lamp_type: str, tubes: tuple[NewTube, ...] = ()) -> dict[str, Any]:
        """Begin a new lamp set, in one record: the old calibration no longer holds.

        Hours and strikes begin with those that `tubes`, all of the bank's and alike, have behind them.
        """
        number = self._loop.book.lamp_set(bank) + 1
        hours, strikes = (tubes[0].hours, tubes[0].strikes) if tubes else (0.0, 0)
        fitted = LampsFitted(bank, number, lamp_type, self._utc(), tubes)
        self._loop.writer.add_metrology(fitted)
        self._loop.book.fit(fitted)
        before = self._states[bank]
        self._states[bank] = BankState(bank, 3600 * hours, strikes, before.release_s, before.gain_code)
        self._loop.recorder.new_lamps(bank)
        self._loop.banks[bank].settled_basic_counts = None
        self.set_calibration_factors()
        begin = say("lamps_begin_at", hours=hours, strikes=strikes) if hours or strikes else say("lamps_begin_anew")
        text = joined(say("lamp_set_recorded", number=number, bank=bank), begin)
        return {"lamp_set": number, "calibration": self.picture(bank), "sentence": text}

    def _learn_gains(self, asked: commands.LearnGains) -> dict[str, Any]:
        bank, watch = self._bank(asked)
        if not self._steady(bank) or watch.spectrum.settled is None:
            raise RefusedError(
                say("gains_want_steady"),
                say("start_sixty_seconds"),
            )
        if watch.lesson.phase != "running":
            watch.lesson.begin(watch.meter.gain_code)
        return {"phase": watch.lesson.phase}

    def _keep_gains(self, watch: BankMonitor) -> None:
        for step in watch.lesson.steps:
            record = GainStepRecord(watch.meter.name, step.code, step.ln_error, step.ln_sigma, self._utc())
            self._loop.book.learn_gain(record)
            self._loop.writer.add_metrology(record)

    def _measure(self, asked: measurements.Measured) -> dict[str, Any]:
        with self._reader() as book:
            kind, result = measurements.evaluate(asked, book, self._loop.banks, self._loop.book)
        record = MeasurementRecord(kind, asked.exposure_id, self._utc(), measurements.as_text(result))
        self._loop.writer.add_metrology(record)
        place = result.get("place")
        if place is not None:
            self._loop.book.field_relative = place["standard"] / place["factor"]
            self._loop.appraiser.field_relative = self._loop.book.field_relative
        return result

    # -- inside ------------------------------------------------------------------------------------------------------

    def _keep_readings(self, found: step_tablets.TabletRun) -> None:
        for record in found.readings:
            self._loop.writer.add_metrology(record)

    def _keep(self, record: CalibrationRecord) -> None:
        self._loop.book.add(record)
        self._loop.writer.add_metrology(record)
        self.set_calibration_factors()

    def _to_take_over(self, bank: str, before: CalibrationFactor) -> Message:
        """Where doses that were found before wait, if a calibration has moved the scale beyond what goes unasked."""
        return say("doses_wait_for_you") if scale_moved(before, self._factor(bank)) else NOTHING

    def _factor(self, bank: str) -> CalibrationFactor:
        """What the book says now; under light the bank itself has what held before it."""
        return self._loop.book.k(bank, self.lamp_hours(bank))

    def _steady(self, bank: str) -> bool:
        exposure = self._loop.exposure
        return exposure.plan is not None and exposure.plan.kind == "steady" and bank in exposure.wanted()

    def _lit_s(self, bank: str) -> float | None:
        """How long a bank has been lit by the exposure under way."""
        now_s = self._loop.clock.mono_s()
        lit = [side.lit_for_s(now_s) for side in self._loop.exposure.sides if side.plan.bank == bank]
        return max(lit, default=None)

    def _bank(self, asked: commands.OfBank) -> tuple[str, BankMonitor]:
        name = asked.bank if asked.bank is not None else next(iter(self._loop.banks))
        if name not in self._loop.banks:
            known = list(self._loop.banks)
            raise BadRequestError("not_found", say("no_such_bank", bank=name, known=known), field="bank")
        return name, self._loop.banks[name]

    def _reader(self) -> closing[Logbook]:
        return closing(self._open_book())

    def _utc(self) -> str:
        return utc_text(self._loop.clock.utc())
