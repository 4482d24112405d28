"""Carries out what clients of the socket ask for. Runs in the loop's thread, between ticks."""

import logging
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import Any

from sumlight.box.meter import WINDOW_S
from sumlight.checkedfile import FileProblemsError
from sumlight.control.calibration.registry import TOLERANCE
from sumlight.control.commissioning.session import CommissionDesk
from sumlight.control.exposure.leftover import check_sides, check_text
from sumlight.control.exposure.plan import Plan, PlanError, make_plan
from sumlight.control.exposure.series import make_series
from sumlight.control.exposure.side import SideRun
from sumlight.control.exposure.state_machine import RefusedError
from sumlight.control.loop import ControlLoop
from sumlight.control.pace import refuse_if_slow
from sumlight.control.server import lamp_commands
from sumlight.control.server.calibration_commands import Metrology, OpenBook
from sumlight.control.server.seen import moved_on, refuse_other_light, refuse_other_state
from sumlight.control.server.snapshot import exposure_picture, fault_pictures, iso, sentence
from sumlight.protocol import commands, run_parameters
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.messages import Request
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.records import BankState, BegunExposure, Commissioned, InterruptedExposure
from sumlight.store.recipes import RecipeShelf, RecipeShelfError, UnknownRecipeError, recipe_from_text

log = logging.getLogger(__name__)

CURVE_REPLY_POINTS = 1500

LEFT_OUT = {
    "k1_mirror": "This box does without K1's mirror contact: a welded contactor would not be noticed.",
    "emergency_stop": "This box does without an emergency-stop signal: pressing it is seen only as missing light.",
    "over_temperature": "This box does without an over-temperature signal: heat is not watched.",
}

READ_FILES = frozenset({"start", "series", "tablet_plan", "tablet_readings", "teach", "transmission", "field", "strip"})
"""Commands that open a recipe or the logbook; never while an exposure is under way, whoever asks."""

Hands = Callable[[str, str | None, str | None], str]
"""Moves the twin's parts: (what, bank, meter) → what was done; raises ValueError for what it cannot do."""


class Commander:
    """The box as its clients see it: a snapshot, and the commands.

    `hands` exists on the twin only; `truth` gives the twin's true dose by side.
    """

    def __init__(
        self,
        loop: ControlLoop,
        shelf: RecipeShelf,
        bank_states: dict[str, BankState],
        open_book: OpenBook,
        *,
        simulated: bool,
        hands: Hands | None = None,
        truth: Callable[[], dict[str, float]] | None = None,
        commissioning: CommissionDesk | None = None,
    ) -> None:
        self._loop = loop
        self._shelf = shelf
        self._states = bank_states
        self._simulated = simulated
        self._hands = hands
        self._truth = truth
        self._started: datetime | None = None
        self._seq = 0
        self._warnings = warnings_of(loop)
        self.commissioning = commissioning or CommissionDesk(loop, Commissioned(), None, simulated=simulated)
        self.commissioning.begin_light = self.start
        self.metrology = Metrology(loop, shelf, bank_states, open_book)

    def handle(self, request: Request) -> dict[str, Any]:
        """Carry out one request; returns its result. Raises BadRequestError."""
        try:
            return self._carry_out(request)
        except RefusedError as error:
            raise BadRequestError("refused", error.message, remedy=error.remedy) from error
        except BadRequestError:
            raise
        except Exception as error:
            self._loop.fail_safe(f"the command {request.command}: {type(error).__name__}: {error}")
            log.exception("the command %s failed", request.command)
            raise BadRequestError("internal", f"{type(error).__name__}: {error}") from error

    def _carry_out(self, request: Request) -> dict[str, Any]:
        exposure, now_s = self._loop.exposure, self._loop.clock.mono_s()
        self.commissioning.refuse_if_locked(request.command)
        if exposure.running and request.command in READ_FILES:  # before a file is opened or anything worked out
            raise RefusedError("An exposure is under way.", "Finish or abandon it first.")
        match request.asked:
            case commands.State() | commands.Watch():
                return self.snapshot()
            case commands.Trace(since_s=since_s):
                return self._trace(since_s)
            case commands.Series() as series:
                return self._series(series)
            case commands.Start() as start:
                return self._start(start)
            case commands.Go() as press:
                self._go(press)
            case commands.Dark():
                self._loop.go_dark("the command dark")
                exposure.dark(now_s)
            case commands.Abandon():
                if exposure.running:
                    self._loop.go_dark("the command abandon")
                exposure.abandon(now_s)
            case commands.Acknowledge(who=who):
                return self._loop.acknowledge(who)
            case commands.Lamps():
                return lamp_commands.lamps(self._loop, self._states)
            case commands.ReplacementLevel(percent=percent):
                return lamp_commands.replacement_level(self._loop, percent)
            case commands.TubesFitted() as fitted:
                return lamp_commands.tubes_fitted(self._loop, fitted, self.metrology.fit_lamps)
            case commands.NoteExposure() as note:
                return self._note(note)
            case commands.Simulate() as wish:
                return self._simulate(wish)
            case commands.OfCommissioning() as step:
                return self.commissioning.handle(step)
            case asked:
                return self.metrology.handle(asked)
        return {"state": exposure.state}

    def _go(self, press: commands.Go) -> None:
        exposure = self._loop.exposure
        if exposure.plan is not None and exposure.running:
            refuse_other_state(press, self._loop.state_number())
            refuse_other_light(press, exposure.plan, exposure.due())
            if press.panel != exposure.plan.panel:
                raise moved_on()
        if "go" in exposure.may():
            refuse_if_slow(self._loop.rate)
        exposure.go(self._loop.clock.mono_s())

    def _start(self, asked: commands.Start) -> dict[str, Any]:
        refuse_other_state(asked, self._loop.state_number())
        plan = self._plan(asked)
        refuse_other_light(asked, plan, plan.first_lit())
        self.start(plan)
        return {"state": self._loop.exposure.state}

    def _series(self, asked: commands.Series) -> dict[str, Any]:
        refuse_other_state(asked, self._loop.state_number())
        try:
            plan = make_series(
                self._plan(asked),
                asked.kind,
                doses_mj_cm2=asked.doses_mj_cm2,
                seconds=asked.seconds,
                legs=asked.legs,
            )
        except PlanError as error:
            raise BadRequestError("bad_value", error.message, field=error.field, remedy=error.remedy) from error
        if asked.parameters is not None:
            given = run_parameters.checked(plan.kind, asked.parameters, len(plan.sides))
            plan = replace(plan, parameters=given.as_json())
        refuse_other_light(asked, plan, plan.first_lit())
        self.start(plan)
        return {"state": self._loop.exposure.state}

    def _plan(self, asked: commands.Start) -> Plan:
        try:
            stored = self._shelf.load(asked.recipe)
        except UnknownRecipeError as error:
            raise BadRequestError("not_found", str(error), field="recipe") from error
        except FileProblemsError as error:
            remedy = "Mend the recipe, then start again."
            raise BadRequestError("bad_value", str(error), field="recipe", remedy=remedy) from error
        except RecipeShelfError as error:
            raise BadRequestError("refused", str(error), field="recipe") from error
        try:
            return make_plan(
                stored.recipe,
                name=stored.name,
                text=stored.text,
                sha256=stored.sha256,
                panel=asked.panel or "unnamed panel",
                note=asked.note,
                who=asked.who,
                box=self._loop.box.description,
                leads_s=self._leads(),
            )
        except PlanError as error:
            raise BadRequestError("bad_value", error.message, field=error.field, remedy=error.remedy) from error

    def start(self, plan: Plan) -> None:
        """Begin an exposure. Raises RefusedError."""
        loop = self._loop
        blind = [watch.bank.name for watch in loop.banks.values() if not watch.fresh(loop.clock.mono_s())]
        if blind and not loop.desk:
            raise RefusedError(
                f"The light meter of bank {blind[0]} gives no reading.",
                "Check the sensor's cable; it is tried again every second.",
            )
        if not loop.desk:
            refuse_if_slow(loop.rate)
        lamp_commands.refuse_if_unwritable(loop)
        if not loop.exposure.running and (loop.exposure.events or loop.recorder.waiting):
            raise RefusedError("The last panel is still being recorded.", "Try again in a moment.")
        self.metrology.refuse_while_looking()
        self.metrology.anchor_all()
        loop.exposure.start(plan, loop.clock.mono_s())
        loop.curve.clear()
        loop.recorder.begin(plan)
        self._started = loop.clock.utc()

    def _leads(self) -> dict[str, float]:
        """What the lead of each bank was last learned to be: in this run, else in the logbook."""
        leads = {name: state.release_s for name, state in self._states.items() if state.release_s is not None}
        for side in self._loop.exposure.sides:
            leads[side.plan.bank] = side.cut_off.lead_s
        return leads

    def restore(self, left: InterruptedExposure) -> None:
        """Offer an exposure for continuation that the last run of control left unfinished.

        Raises DamagedRecordError if the record contradicts itself, FileProblemsError or PlanError if its recipe cannot
        be run any more, e.g. after the box was rebuilt.
        """
        loop = self._loop
        check_text(left)
        if left.kind != "panel":
            raise PlanError("kind", f"A {left.kind} series cannot be taken up after a restart.", "Begin it anew.")
        stored = recipe_from_text(left.recipe_text, left.recipe_name)
        plan = make_plan(
            stored.recipe,
            name=left.recipe_name,
            text=left.recipe_text,
            sha256=left.recipe_sha256,
            panel=left.panel,
            note="",
            box=loop.box.description,
            leads_s=self._leads(),
        )
        check_sides(left, plan)
        now_s = loop.clock.mono_s()
        gap_s: float | None = (loop.clock.utc() - left.last_known_utc).total_seconds()
        if gap_s is not None and gap_s <= 0:  # a clock without a battery starts in the past: it measures no gap
            gap_s = None
        known = {new.side: state for new, state in left.sides}
        sides = [SideRun(side, WINDOW_S) for side in plan.sides]
        for side in sides:
            usual_mw_cm2 = left.settled_mw_cm2.get(side.plan.bank, 0.0)
            growth_mw_cm2 = left.growth_mw_cm2.get(side.plan.side, 0.0)
            side.restore(known[side.plan.side], now_s, gap_s, usual_mw_cm2, growth_mw_cm2)
            side.gap_unknown |= left.gap_unknown and side.pauses > 0
        loop.exposure.restore(plan, sides, now_s)
        ids = {new.side: state.side_id for new, state in left.sides}
        dark_since_s = None if gap_s is None else now_s - gap_s
        loop.recorder.resume(BegunExposure(left.exposure_id, left.panel_id, ids), left.last_known_utc, dark_since_s)
        log.warning("exposure %d was left unfinished; it waits to be continued or abandoned", left.exposure_id)

    def _trace(self, since_s: float) -> dict[str, Any]:
        return {"samples": [list(point) for point in self._loop.curve.since(since_s, CURVE_REPLY_POINTS)]}

    def _note(self, asked: commands.NoteExposure) -> dict[str, Any]:
        """Note and result of a recorded exposure; whether the number exists the logbook finds out."""
        lamp_commands.refuse_if_unwritable(self._loop)
        self._loop.writer.put_note(asked.exposure_id, asked.note, asked.result, asked.who)
        return {"exposure_id": asked.exposure_id}

    def _simulate(self, wish: commands.Simulate) -> dict[str, Any]:
        if self._hands is None:
            raise BadRequestError("refused", "this is a real box; its parts are moved by hand", field="command")
        try:
            return {"done": self._hands(wish.do, wish.bank, wish.meter)}
        except ValueError as error:
            raise BadRequestError("bad_value", str(error), field="do") from error

    def snapshot(self) -> dict[str, Any]:
        """The whole picture now."""
        loop = self._loop
        now_s, now = loop.clock.mono_s(), loop.clock.utc()
        self._seq += 1
        tolerance = loop.exposure.plan.tolerance if loop.exposure.plan else TOLERANCE
        picture: dict[str, Any] = {
            "seq": self._seq,
            "box": loop.box.description.name,
            "simulated": self._simulated,
            "mono_s": now_s,
            "utc": iso(now),
            "state": loop.exposure.state,
            "state_number": loop.state_number(),
            "sentence": sentence(loop.exposure, loop.desk, loop.lid, now_s),
            "may": self.commissioning.allowed(loop.exposure.may()) + (["acknowledge"] if loop.desk.standing() else []),
            "lid": loop.lid,
            "banks": [self._bank_picture(name, now_s) for name in loop.banks],
            "exposure": exposure_picture(
                loop.exposure, loop.recorder.exposure_id, loop.appraiser, self._started, now, now_s
            ),
            "faults": fault_pictures(loop.desk, now, now_s),
            "logbook": {
                "ok": loop.writer.error is None,
                "message": loop.writer.error,
                "lag_s": loop.writer.lag_s,
                "keep_traces_days": loop.box.description.logbook.keep_traces_days,
            },
            "ticks": {"measured_hz": loop.rate.measured_hz, "needed_hz": loop.rate.needed_hz},
            "calibration": {name: self.metrology.picture(name, tolerance) for name in loop.banks},
            "warnings": self._warnings + self.commissioning.warnings() + self.metrology.remarks(),
            "commissioning": self.commissioning.picture(),
        }
        if self._truth is not None:
            picture["true_dose_mj_cm2"] = self._truth()
        return picture

    def _bank_picture(self, name: str, now_s: float) -> dict[str, Any]:
        watch = self._loop.banks[name]
        seen_s = watch.meter.last_seen_s
        fresh = watch.fresh(now_s)
        use = self._loop.recorder.use_of(name, self._states[name])
        return {
            "name": name,
            "side": watch.bank.side,
            "commanded": watch.bank.commanded,
            "meter": watch.meter.name,
            "irradiance_mw_cm2": watch.glass_mw_cm2 if fresh else None,
            "reading_age_s": None if seen_s is None else now_s - seen_s,
            "meter_ok": fresh,
            "meter_message": watch.meter.lost,
            "lamp_hours": use[0] / 3600,
            "strikes": use[1],
            **self.metrology.bank_picture(name),
        }


def warnings_of(loop: ControlLoop) -> list[str]:
    """Standing remarks on how the box is built, shown at all times."""
    found = []
    if loop.box.enable is None:
        found.append("No contactor K1 is declared: a welded lamp relay could not be switched off by this controller.")
    if loop.box.signals is not None:
        found += [LEFT_OUT[name] for name in loop.box.signals.left_out]
    return found


def read_bank_states(logbook: Logbook, banks: list[str]) -> dict[str, BankState]:
    """What the logbook knows of each bank."""
    return {name: logbook.bank_state(name) for name in banks}
