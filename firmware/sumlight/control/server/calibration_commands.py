"""Commands about what doses are worth. They run between ticks and read the disk only in the dark.

| command | fields | result |
| --- | --- | --- |
| calibration | tolerance? (share, k = 2) | banks: {name: calibration block}, tolerance |
| radiometer | bank, mw_cm2 (at the glass), relative_uncertainty (standard) | factor, calibration, sentence |
| tablet_plan | recipe, target_step, zones?, reference_mj_cm2? | doses_mj_cm2, expected_sigma, sentence |
| tablet_readings | exposure_id, convention, readings: [{zone, step, half?}], target_step, … | see `tablets` |
| teach | exposure_id | recipe_dose_mj_cm2, calibration, sentence |
| self_check | bank, apply? | phase, result; the result comes with the bank in the snapshot |
| new_lamps | bank, lamp_type | lamp_set, sentence |
| learn_gains | bank; while a steady series is lit | phase; the steps are kept once the lesson is over |
| transmission, field, strip, strip_plan, dose_window | | see `measuring` |

Calibration block: origin (box.yaml, radiometer, tablet, teach), mw_cm2_per_basic_count, ln_sigma, common_ln_sigma,
expanded_relative (k = 2), relative, age_hours, lamp_hours, lamp_set, check_due, self_check_due, sentence.
"""

import math
from collections.abc import Callable
from contextlib import closing
from typing import Any

from sumlight.checkedfile import FileProblemsError
from sumlight.control.bank_monitor import BankWatch
from sumlight.control.calibration import measurements, step_tablets
from sumlight.control.calibration.registry import TOLERANCE, WindowCheck
from sumlight.control.calibration.series_results import finished
from sumlight.control.exposure.state_machine import RefusedError
from sumlight.control.loop import ControlLoop
from sumlight.protocol import commands
from sumlight.protocol.errors import BadRequestError
from sumlight.store.logbook.calibrations import (
    CalibrationRecord,
    GainStepRecord,
    LampsFitted,
    MeasurementRecord,
    SelfCheckRecord,
    ShiftRecord,
    tablet_reading,
)
from sumlight.store.logbook.lamps import NewTube
from sumlight.store.logbook.logbook import Logbook, LogbookError
from sumlight.store.logbook.reading import utc_text
from sumlight.store.logbook.records import BankState
from sumlight.store.recipe import Recipe
from sumlight.store.recipes import RecipeShelf, RecipeShelfError, UnknownRecipeError

OpenBook = Callable[[], Logbook]

READ_SIGMA = TEACH_SIGMA = 0.01
"""How well (ln) a radiometer is placed and read, and a taught exposure repeats (common practice, no source)."""


class Metrology:
    """Calibrations, tablets, self-checks and measurements of one box.

    `states` holds each bank's use before this run; `open_book` opens a reader of the logbook.
    """

    def __init__(
        self, loop: ControlLoop, shelf: RecipeShelf, states: dict[str, BankState], open_book: OpenBook
    ) -> None:
        self._loop = loop
        self._shelf = shelf
        self._states = states
        self._open_book = open_book
        self._window: dict[str, WindowCheck] = {}
        self.anchor_all()

    def handle(self, asked: commands.Command) -> dict[str, Any]:
        """Carry one out. Raises BadRequestError or RefusedError."""
        try:
            return self._carry_out(asked)
        except LogbookError as error:
            raise BadRequestError("internal", str(error)) from error

    def _carry_out(self, asked: commands.Command) -> dict[str, Any]:
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
                return measurements.strip_plan(asked)
            case commands.DoseWindow():
                return measurements.dose_window(asked)
        raise TypeError(type(asked).__name__)

    def anchor_all(self) -> None:
        """Set what a count is worth for each bank, at its present lamp hours; not while an exposure is under way."""
        if self._loop.exposure.running:
            return
        for name, watch in self._loop.banks.items():
            watch.anchor = self._loop.book.k(name, self.lamp_hours(name))

    def lamp_hours(self, bank: str) -> float:
        """Hours of light of the present lamps."""
        return self._loop.recorder.use_of(bank, self._states[bank])[0] / 3600

    def refuse_while_looking(self) -> None:
        """Nothing may be lit while the sensor looks at its own LED."""
        if any(watch.led.running for watch in self._loop.banks.values()):
            raise RefusedError("The sensor's self-check is running.", "It takes two seconds; then try again.")

    def tick(self) -> None:
        """Take in a self-check or a gain lesson that has ended."""
        for name, watch in self._loop.banks.items():
            if watch.lesson.phase == "done":
                watch.lesson.phase = "idle"
                self._keep_gains(watch)
            if watch.led.phase == "done":
                self._judge_window(name, watch)

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
            "age_hours": book.age_hours(bank, hours),
            "lamp_hours": hours,
            "lamp_set": anchor.lamp_set,
            "check_due": due.due,
            "self_check_due": book.self_check_due(bank, hours),
            "sentence": due.sentence,
        }

    def bank_picture(self, bank: str) -> dict[str, Any]:
        """What a bank's part of the snapshot shows: colour of the light and the last self-check."""
        watch = self._loop.banks[bank]
        found = watch.spectrum.comparison
        window = self._window.get(bank)
        return {
            "spectrum": None if found is None else {"verdict": found.verdict, "sentence": found.sentence},
            "self_check": {
                "phase": "running" if watch.led.running else watch.led.phase,
                "result": None if window is None else vars(window),
            },
        }

    def remarks(self) -> list[str]:
        """Standing remarks for the panel at hand: checks that are due, light far from the recipe's."""
        exposure = self._loop.exposure
        if exposure.plan is None:
            return []
        found = []
        for name in dict.fromkeys(side.plan.bank for side in exposure.sides):
            due = self._loop.book.check_due(name, self.lamp_hours(name), exposure.plan.tolerance)
            if due.due:
                found.append(f"Bank {name}: {due.sentence}")
        return found + measurements.reciprocity_remarks(exposure.sides)

    # -- commands ----------------------------------------------------------------------------------------------------

    def _calibration(self, asked: commands.Calibration) -> dict[str, Any]:
        tolerance = TOLERANCE if asked.tolerance is None else asked.tolerance
        return {"tolerance": tolerance, "banks": {bank: self.picture(bank, tolerance) for bank in self._loop.banks}}

    def _radiometer(self, asked: commands.Radiometer) -> dict[str, Any]:
        bank, watch = self._bank(asked)
        mw_cm2, share = asked.mw_cm2, asked.relative_uncertainty
        print_, net = watch.spectrum.print_, watch.spectrum.net
        if not self._steady(bank) or print_ is None or net is None or watch.lesson.phase == "running":
            raise RefusedError(
                "A radiometer is read while a steady series holds the lamps.", "Start one, wait three seconds, read."
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
        )
        factor = mw_cm2 / (counts * watch.anchor.mw_cm2_per_basic_count)
        self._keep(record)
        text = f"The box counts in the radiometer's unit now: {factor:.3f} of what it counted before."
        return {"factor": factor, "calibration": self.picture(bank), "sentence": text}

    def _tablet_plan(self, asked: commands.TabletPlan) -> dict[str, Any]:
        recipe = self._recipe(asked.recipe)
        bank = (self._loop.box.description.bank_for("A") or self._loop.box.description.banks[0]).name
        return step_tablets.plan(asked, recipe, self._loop.book.k(bank, self.lamp_hours(bank)))

    def _tablet_readings(self, asked: commands.TabletReadings) -> dict[str, Any]:
        with self._reader() as book:
            rows = (row for row in book.calibrations.tablet_readings() if row["exposure_id"] != asked.exposure_id)
            earlier = [tablet_reading(row) for row in rows]
            found = step_tablets.read(asked, finished(book, asked.exposure_id), self._utc(), earlier)
        result = found.result(self._loop.book)
        if found.calibration is None or not asked.apply:
            return result  # only looked at: nothing is recorded of it
        bank = found.calibration.bank
        if asked.apply == "recipe":
            self._keep_readings(found)
            return result
        if found.calibration.lamp_set != self._loop.book.lamp_set(bank):
            raise RefusedError("The lamps were changed since this tablet was exposed.", "Expose another one.")
        if found.calibration.position != self._loop.book.position(bank):
            raise RefusedError("The sensor was moved since this tablet was exposed.", "Expose another one.")
        surprise = result["surprise"]
        if surprise is not None and abs(surprise) > step_tablets.SURPRISING and not asked.sure:
            return step_tablets.doubted(result)
        self._keep_readings(found)
        self._keep(found.calibration)
        sentence = f"{result['sentence']} The calibration was set by it."
        reference = {"recipe_dose_mj_cm2": found.reference_mj_cm2}
        return {**result, **reference, "applied": True, "calibration": self.picture(bank), "sentence": sentence}

    def _teach(self, asked: commands.Teach) -> dict[str, Any]:
        with self._reader() as book:
            found = finished(book, asked.exposure_id, "teach")
        side = found["sides"][0]
        budget = side["budget"]
        if side["state"] != "done" or budget is None:
            raise RefusedError("The taught exposure was not completed.", "Expose it again without interruption.")
        anchor, bank, dose = budget["anchor"], side["bank"], side["dose_mj_cm2"]
        here = self._loop.book.lamp_set(bank), self._loop.book.position(bank)
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
                )
            )
        unit = "relative" if relative else "mJ/cm²"
        text = f"{side['lit_s']:.1f} s of light gave {dose:.1f} ({unit}). Put this dose into the recipe."
        return {"recipe_dose_mj_cm2": dose, "relative": relative, "calibration": self.picture(bank), "sentence": text}

    def _self_check(self, asked: commands.SelfCheck) -> dict[str, Any]:
        bank, watch = self._bank(asked)
        if self._loop.exposure.running:
            raise RefusedError("An exposure is under way.", "The self-check needs dark lamps: finish it first.")
        if asked.apply:
            return self._apply_window(bank)
        if self._loop.desk or self._loop.lid != "shut" or not watch.fresh(self._loop.clock.mono_s()):
            raise RefusedError(
                "The self-check needs a shut lid, a sensor that reads and no fault.", "See to that first."
            )
        if not watch.led.running:
            watch.led.begin()
            self._window.pop(bank, None)
        return {"phase": "running", "result": None}

    def _apply_window(self, bank: str) -> dict[str, Any]:
        window = self._window.get(bank)
        if window is None or not window.may_apply:
            raise RefusedError("There is no correction to apply.", "Run the self-check first.")
        self._shift(bank, window, applied=True)
        done = WindowCheck(
            window.verdict, "The correction was applied.", window.diffuser, window.ln_shift, window.ln_sigma, False
        )
        self._window[bank] = done
        self.anchor_all()
        return {"phase": "done", "result": vars(done), "calibration": self.picture(bank)}

    def _judge_window(self, bank: str, watch: BankWatch) -> None:
        seen, watch.led.phase = watch.led.seen, "idle"
        if seen is None:
            return
        book, hours = self._loop.book, self.lamp_hours(bank)
        window = self._window[bank] = book.judge_window(bank, seen, watch.settled_basic_counts, hours)
        first = window.verdict == "reference"
        record = SelfCheckRecord(
            watch.meter.name, bank, self._utc(), hours, seen, watch.settled_basic_counts, window.verdict, first
        )
        book.add_self_check(record)
        self._loop.writer.add_metrology(record)
        if window.ln_shift and not window.may_apply:
            self._shift(bank, window, applied=False)

    def _shift(self, bank: str, window: WindowCheck, *, applied: bool) -> None:
        watch, book = self._loop.banks[bank], self._loop.book
        record = ShiftRecord(
            watch.meter.name,
            bank,
            book.lamp_set(bank),
            self.lamp_hours(bank),
            window.ln_shift,
            window.ln_sigma,
            applied,
            self._utc(),
        )
        book.add_shift(record)
        self._loop.writer.add_metrology(record)

    def new_lamps(self, asked: commands.NewLamps) -> dict[str, Any]:
        """All lamps of a bank were changed, nothing is told of single tubes; see `fit_lamps`."""
        bank, _ = self._bank(asked)
        if self._loop.exposure.running:
            raise RefusedError("An exposure is under way.", "Finish or abandon it first.")
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
        self.anchor_all()
        begin = f"begin at {hours:g} h and {strikes} strikes" if hours or strikes else "begin anew"
        text = f"Lamp set {number} of bank {bank} is recorded. Hours and strikes {begin}; the old calibration no "
        text += "longer holds: expose a step tablet before the first panel."
        return {"lamp_set": number, "calibration": self.picture(bank), "sentence": text}

    def _learn_gains(self, asked: commands.LearnGains) -> dict[str, Any]:
        bank, watch = self._bank(asked)
        if not self._steady(bank) or watch.spectrum.print_ is None:
            raise RefusedError(
                "Gains are learned while a steady series holds the lamps.", "Start one of 60 s and wait three seconds."
            )
        if watch.lesson.phase != "running":
            watch.lesson.begin(watch.meter.gain_code)
        return {"phase": watch.lesson.phase}

    def _keep_gains(self, watch: BankWatch) -> None:
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
        self.anchor_all()

    def _steady(self, bank: str) -> bool:
        exposure = self._loop.exposure
        return exposure.plan is not None and exposure.plan.kind == "steady" and bank in exposure.wanted()

    def _bank(self, asked: commands.OfBank) -> tuple[str, BankWatch]:
        name = asked.bank if asked.bank is not None else next(iter(self._loop.banks))
        if name not in self._loop.banks:
            known = ", ".join(self._loop.banks)
            raise BadRequestError("not_found", f"there is no bank '{name}'; there is {known}", field="bank")
        return name, self._loop.banks[name]

    def _recipe(self, name: str) -> Recipe:
        try:
            return self._shelf.load(name).recipe
        except UnknownRecipeError as error:
            raise BadRequestError("not_found", str(error), field="recipe") from error
        except FileProblemsError as error:
            raise BadRequestError("bad_value", str(error), field="recipe", remedy="Mend the recipe first.") from error
        except RecipeShelfError as error:
            raise BadRequestError("refused", str(error), field="recipe") from error

    def _reader(self) -> closing[Logbook]:
        return closing(self._open_book())

    def _utc(self) -> str:
        return utc_text(self._loop.clock.utc())
