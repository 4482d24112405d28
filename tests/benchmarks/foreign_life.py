"""The box in a foreign world: the real calibration book, planner, reader of tablets and budget, without the loop.

That the loop stops where its own meter says is the benchmark `dose`'s to show; so here a panel gets exactly the light
that makes the meter count the wanted dose. The person does what the box asks for and no more: a self-check, a step
tablet of four zones, a second look at a tablet that surprises, new lamps recorded when the box says they were changed.
"""

import json
import math
from dataclasses import dataclass, field
from random import Random
from statistics import fmean
from types import SimpleNamespace
from typing import Any

from sumlight.box.description import BoxDescription
from sumlight.control.calibration import step_tablets
from sumlight.control.calibration.dose_uncertainty import UncertaintyEstimator
from sumlight.control.calibration.registry import CalibrationBook
from sumlight.craft.tablet import TabletReading
from sumlight.light.fingerprint import Fingerprint, compare, fingerprint
from sumlight.light.lampheat import LampHeat
from sumlight.protocol.commands import TabletPlan, TabletReadings
from sumlight.store.logbook.calibrations import (
    LampsFitted,
    SelfCheckRecord,
    ShiftRecord,
    StoredCalibrations,
    tablet_reading,
)
from tests.benchmarks.dose import bench_recipe, demo_box
from tests.worlds.law import Law
from tests.worlds.nature import Conditions, Given, Life

BANK = "lower"
GAIN_CODE = 5
ZONES = 4
TARGET_STEP = 6
TOLERANCE = 0.05
GUESS = 0.2
TRIES = 5


@dataclass
class Panels:
    """What became of one life: for each panel ln(true over wanted), the stated k = 2 (relative), whether it held, and
    whether the box wanted a check at it: its ± was wider than the recipe allows, though it asks only every 100 h.

    `bound` is the error that the same checks leave to somebody who knows the law: decay, dirt and warmth are known, and
    all checks under these lamps average. It holds the reference's own error and what panels and readers scatter.
    """

    errors: list[float] = field(default_factory=list)
    stated: list[float] = field(default_factory=list)
    inside: list[bool] = field(default_factory=list)
    wanted: list[bool] = field(default_factory=list)
    bound: list[float] = field(default_factory=list)
    checks: int = 0
    hours: float = 0.0
    false_stops: int = 0
    swaps_named: int = 0

    @property
    def coverage(self) -> float:
        """Percent of the panels whose true dose lies inside the stated interval."""
        return 100 * sum(self.inside) / len(self.inside)


@dataclass
class Bench:
    """What the appraiser asks of a bank."""

    anchor: Any
    spectrum: Any
    heat: LampHeat = field(default_factory=LampHeat)
    by_lines: bool = True
    gain_ln_sigma: float = 0.0
    gain_code: int = GAIN_CODE
    gain_ln_error: float = 0.0


class ForeignLife:
    """One box under one law of nature, from new tubes to the end of the law's life."""

    def __init__(self, law: Law, seed: int) -> None:
        self._nature = Life(law, seed)
        self._chance = Random(f"person {law.name} {seed}")
        self._law = law
        self._book = CalibrationBook(_guessed(self._nature, self._chance), StoredCalibrations())
        self._bench = Bench(None, SimpleNamespace(print_=None, comparison=None, settled=None, signs=None, judge=STEADY))
        self._appraiser = UncertaintyEstimator({BANK: self._bench})
        self._set_h = 0.0  # lamp hours at which the present set, as far as the box knows, was new
        self._stamp = self._exposures = 0
        self._settled: float | None = None
        self._read: list[TabletReading] = []
        self._missed: list[
            float
        ] = []  # by how much (ln) each check under these lamps missed the truth of its own light
        self.panels = Panels()

    def live(self, every_h: float) -> Panels:
        """Burn the tubes through their life with a panel every so many hours."""
        nature = self._nature
        while nature.hours < self._law.life_h:
            conditions = nature.conditions()
            hours = self._hours
            if self._book.self_check_due(BANK, hours):
                self._self_check(conditions)
            due = self._book.check_due(BANK, hours, TOLERANCE).due
            if due:
                self._tablet_check()
            self._panel(conditions)
            nature.burn(every_h)
        self.panels.hours = nature.hours
        return self.panels

    @property
    def _hours(self) -> float:
        return self._nature.hours - self._set_h

    def _utc(self) -> str:
        self._stamp += 1
        return f"{self._stamp:012}"

    # -- what the person does ----------------------------------------------------------------------------------------

    def _self_check(self, conditions: Conditions) -> None:
        led = self._nature.led(conditions)
        window = self._book.judge_window(BANK, led, self._settled)
        first = window.verdict == "reference"
        self._book.add_self_check(
            SelfCheckRecord("below", BANK, self._utc(), self._hours, led, self._settled, window.verdict, first)
        )
        if window.ln_shift:
            shift = (self._book.lamp_set(BANK), self._hours, window.ln_shift, window.ln_sigma, window.may_apply)
            self._book.add_shift(ShiftRecord("below", BANK, *shift, self._utc()))

    def _tablet_check(self) -> None:
        """A tablet of four zones; once more at other doses while all or none of the steps are held."""
        scale = 1.0
        for _ in range(TRIES):
            retry = self._tablet(scale)
            if retry is None:
                return
            scale *= retry
        raise RuntimeError(f"no tablet of {TRIES} gave a number at {self._nature.hours:g} h")

    def _tablet(self, scale: float) -> float | None:
        self.panels.checks += 1
        self._exposures += 1
        reference = self._nature.reference_mj_cm2(TARGET_STEP)
        asked = {"target_step": TARGET_STEP, "reference_mj_cm2": reference}
        anchor = self._book.k(BANK, self._hours)
        planned = step_tablets.plan(TabletPlan.model_validate({"recipe": "r", **asked}), RECIPE, anchor, self._read)
        conditions, elapsed_s, sides, doses = self._nature.conditions(), 0.0, [], {}
        ln_ratios = []
        for zone, dose in enumerate(planned["doses_mj_cm2"], start=1):
            side, given = self._exposure(str(zone), scale * dose, conditions, elapsed_s)
            elapsed_s += given.lit_s
            sides.append(side)
            doses[zone] = given.actinic_mw_cm2 * given.lit_s
            ln_ratios.append(math.log(given.actinic_mw_cm2 / given.six[0]))
        exposure = {"exposure_id": self._exposures, "recipe_text": TEXT, "recipe_name": "r", "sides": sides}
        panel = self._nature.panel()
        for last in (False, True):
            readings = []
            for zone, dose in doses.items():
                read = panel.read(zone, dose)
                readings.append({"zone": str(zone), "step": read.step, "half": read.half})
            values = {
                **asked,
                "exposure_id": self._exposures,
                "convention": "last_held",
                "readings": readings,
                "reference_uncertainty": self._law.reference_limit / math.sqrt(3),
                "apply": "calibration",
            }
            found = step_tablets.read(TabletReadings.model_validate(values), exposure, self._utc(), self._read)
            if found.calibration is None:
                return found.retry_factor
            surprise = found.result(self._book)["surprise"]
            if last or surprise is None or abs(surprise) <= step_tablets.SURPRISING:
                break
        assert found.calibration is not None
        self._read += [tablet_reading({**vars(record), "certificate": None}) for record in found.readings]
        self._missed.append(found.calibration.ln_ratio - fmean(ln_ratios))
        self._book.add(found.calibration)
        return None

    def _panel(self, conditions: Conditions) -> None:
        """One panel; a box that says other lamps are fitted is told so and calibrated before the panel."""
        target = math.exp(self._chance.uniform(*map(math.log, self._law.doses_mj_cm2)))
        side, given = self._exposure("A", target, conditions, 0.0)
        comparison = self._bench.spectrum.comparison
        if comparison is not None and comparison.fault:
            self._new_lamps()
            side, given = self._exposure("A", target, conditions, 0.0)
        budget = json.loads(side["budget_text"])
        true, half = given.actinic_mw_cm2 * given.lit_s, budget["expanded_absolute_mj_cm2"]
        self._settled = given.six[0]
        tally = self.panels
        tally.errors.append(math.log(true / target))
        tally.stated.append(half / target)
        tally.inside.append(abs(true - target) <= half)
        tally.wanted.append(half > TOLERANCE * target)
        tally.bound.append(-fmean(self._missed))

    def _new_lamps(self) -> None:
        """The person records new lamps, whether any were fitted or not, and exposes a tablet."""
        if self._nature.tubes_h < self._hours - 1:
            self.panels.swaps_named += 1
            self._set_h = self._nature.hours - self._nature.tubes_h
        else:
            self.panels.false_stops += 1
            self._set_h = self._nature.hours
        number = self._book.lamp_set(BANK) + 1
        self._book.fit(LampsFitted(BANK, number, "tubes (invented)", self._utc()))
        self._settled = None
        self._missed.clear()
        self._tablet_check()

    # -- the box -----------------------------------------------------------------------------------------------------

    def _exposure(
        self, name: str, dose_mj_cm2: float, conditions: Conditions, elapsed_s: float
    ) -> tuple[dict[str, Any], Given]:
        """Light until the meter has counted the dose; the side as the record has it, and what was given."""
        anchor = self._bench.anchor = self._book.k(BANK, self._hours)
        rate = anchor.mw_cm2_per_basic_count
        lit_s = dose_mj_cm2 / (rate * self._nature.expose(conditions, 10.0, elapsed_s).six[0])
        for _ in range(2):
            given = self._nature.expose(conditions, lit_s, elapsed_s)
            lit_s = dose_mj_cm2 / (rate * given.six[0])
        given = Given(given.six, given.actinic_mw_cm2, lit_s)
        print_ = _colour(given.six)
        seen = None if anchor.reference is None else compare(print_, anchor.reference)
        self._bench.spectrum = SimpleNamespace(
            print_=print_, comparison=seen, settled=given.six, signs=None, judge=STEADY
        )
        self._bench.heat = self._warmed(conditions, elapsed_s, lit_s)
        light = dose_mj_cm2 / lit_s
        run = SimpleNamespace(
            plan=SimpleNamespace(side=name, bank=BANK),
            dose_mj_cm2=dose_mj_cm2,
            sum=SimpleNamespace(doubt_mj_cm2=0.0),
            cut_off=SimpleNamespace(latest_mw_cm2=light),
            cut_mw_cm2=light,
            last_usable_s=elapsed_s + lit_s,
        )
        self._appraiser.begin()
        text = self._appraiser.settle(run)  # type: ignore[arg-type]  # what it reads of a side, no more
        record = {"side": name, "state": "done", "bank": BANK, "dose_mj_cm2": dose_mj_cm2, "budget_text": text}
        return {**record, "lit_s": lit_s, "budget": json.loads(text)}, given

    def _warmed(self, conditions: Conditions, elapsed_s: float, lit_s: float) -> LampHeat:
        """What the box has seen of its lamps' burning: as long before as made them so warm, then this panel's light."""
        heat = LampHeat()
        heat.switched(on=True, now_s=self._law.warmth.rise_s * math.log(1 - conditions.warm))
        for on, now_s in ((False, 0.0), (True, 0.0), (False, elapsed_s), (True, elapsed_s), (False, elapsed_s + lit_s)):
            heat.switched(on=on, now_s=now_s)
        return heat


def _colour(six: tuple[float, ...]) -> Fingerprint:
    return fingerprint(six, [0.0004 * max(six)] * len(six))


def _guessed(nature: Life, chance: Random) -> BoxDescription:
    """The demo box with a number in box.yaml that was only guessed, and says so."""
    given = nature.expose(Conditions(22.0, 1.0, 1.0), 10.0)
    guess = given.actinic_mw_cm2 / given.six[0] * math.exp(chance.gauss(0, GUESS))
    box = demo_box()
    changed = {"mw_cm2_per_basic_count": guess, "calibration_uncertainty": GUESS}
    return box.model_copy(update={"meters": [box.meters[0].model_copy(update=changed)]})


TEXT = bench_recipe(50.0)
RECIPE: Any = SimpleNamespace(dose_mj_cm2=50.0)
STEADY = SimpleNamespace(
    jumps_ln=[],
    weaker=None,
    odd_signs=(),
    blind=False,
    window_doubts_ln=(),
    leds_unseen=False,
    stands=lambda _: None,
)
"""Light that does not jump, before a window that somebody looked at."""
