"""Carries out what clients of the socket ask for. Runs in the loop's thread, between ticks."""

import logging
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import Any

from sumlight.control.calibration.both_sensors import silent_beside
from sumlight.control.calibration.registry import TOLERANCE
from sumlight.control.commissioning.session import CommissioningSession
from sumlight.control.exposure.leftover import check_sides, check_text
from sumlight.control.exposure.plan import Plan, PlanError, make_plan, refuse_without_end
from sumlight.control.exposure.series import make_series
from sumlight.control.exposure.side import side_runs
from sumlight.control.frontpanel.operation import PanelOperation
from sumlight.control.jobs.jobbook import JobBook
from sumlight.control.loop import ControlLoop
from sumlight.control.pace import refuse_if_slow
from sumlight.control.refused import RefusedError, recipe_asked_for, refuse_if_unwritable
from sumlight.control.server import finding_commands, lamp_commands, panel_commands
from sumlight.control.server.calibration_commands import Metrology, OpenBook
from sumlight.control.server.seen import moved_on, refuse_other_light, refuse_other_state
from sumlight.control.server.snapshot import exposure_snapshot, fault_snapshots, iso, sentence
from sumlight.control.server.standing import Standing, StandingParts
from sumlight.protocol import bath_commands, commands, job_commands, run_parameters, stock_commands
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.finding_commands import ConfirmCause, Findings, LookedAt
from sumlight.protocol.messages import Request
from sumlight.protocol.series_answers import CURVE_PIECE
from sumlight.store.logbook.jobs import KeptJobs
from sumlight.store.logbook.logbook import Logbook, LogbookError
from sumlight.store.logbook.records import BankState, BegunExposure, Commissioned, InterruptedExposure
from sumlight.store.recipes import RecipeStore, recipe_from_text
from sumlight.text.message import Message, as_written, say

log = logging.getLogger(__name__)


UNSYNCED_S = 3.0
"""A card takes a record in less than half a second; longer than this, and it is told."""


LEFT_OUT = {
    "k1_mirror": say("without_mirror"),
    "emergency_stop": say("without_stop_signal"),
    "over_temperature": say("without_heat_signal"),
}

READ_FILES = frozenset(
    {
        *("start", "series", "tablet_plan", "tablet_readings", "teach", "transmission", "field", "strip", "job_new"),
        *("recipe_scales", "keep_dose", "stencil_recipe"),
    }
)
"""Commands that open a recipe or the logbook; never while an exposure is under way, whoever asks."""

QUESTIONS = (commands.State, commands.Watch, commands.Trace)
"""What the page asks all the time. It changes nothing, so what was worked out for other snapshots still holds."""

OF_JOBS = frozenset({*job_commands.COMMANDS, *bath_commands.COMMANDS, *stock_commands.COMMANDS})
"""Commands that the book of jobs carries out."""

Hands = Callable[[str, str | None, str | None], str]
"""Moves the twin's parts: (what, bank, meter) → what was done; raises ValueError for what it cannot do."""


class Commander:
    """The box as its clients see it: a snapshot, and the commands.

    `hands` exists on the twin only; `truth` gives the twin's true dose by side.
    """

    def __init__(
        self,
        loop: ControlLoop,
        shelf: RecipeStore,
        bank_states: dict[str, BankState],
        open_book: OpenBook,
        *,
        simulated: bool,
        hands: Hands | None = None,
        truth: Callable[[], dict[str, float]] | None = None,
        commissioning: CommissioningSession | None = None,
        jobs: KeptJobs | None = None,
    ) -> None:
        self._loop = loop
        self._shelf = shelf
        self._states = bank_states
        self._simulated = simulated
        self._hands = hands
        self._truth = truth
        self._started: datetime | None = None
        self._seq = 0
        self.remarks = warnings_of(loop)
        self._standing = StandingParts(self._stands)
        self.commissioning = commissioning or CommissioningSession(loop, Commissioned(), None, simulated=simulated)
        self.commissioning.begin_light = self.start
        self.metrology = Metrology(loop, shelf, bank_states, open_book)
        self.jobs = JobBook(loop, jobs or KeptJobs(), shelf, open_book, self.metrology.in_box_units)
        self.panel: PanelOperation | None = None
        described = loop.box.description.front_panel
        if loop.box.front_panel is not None and described is not None:
            self.panel = PanelOperation(
                loop,
                loop.box.front_panel,
                described,
                self.pressed,
                lambda: panel_commands.go_request(self.snapshot()),
                lambda recipe: panel_commands.start_request(recipe, self.snapshot(), shelf, open_book),
                self.jobs.timers,
            )

    def handle(self, request: Request) -> dict[str, Any]:
        """Carry out one request; returns its result. Raises BadRequestError."""
        return self._handled(request, at_the_box=False)

    def pressed(self, request: Request) -> dict[str, Any]:
        """Carry out what somebody at the box has pressed go for. Raises BadRequestError."""
        return self._handled(request, at_the_box=True)

    def _handled(self, request: Request, *, at_the_box: bool) -> dict[str, Any]:
        if not isinstance(request.asked, QUESTIONS):
            self._standing.forget()
        try:
            kept = None
            if not at_the_box:
                kept = panel_commands.kept_for_press(self.panel, request, self._loop, self.commissioning)
            return self._carry_out(request) if kept is None else kept
        except RefusedError as error:
            raise BadRequestError("refused", error.message, remedy=error.remedy) from error
        except PlanError as error:
            raise BadRequestError("bad_value", error.message, field=error.field, remedy=error.remedy) from error
        except LogbookError as error:  # a file that cannot be read is no mistake of the program's
            raise BadRequestError("internal", error.told) from error
        except BadRequestError:
            raise
        except Exception as error:
            self._loop.fail_safe(f"the command {request.command}: {type(error).__name__}: {error}")
            log.exception("the command %s failed", request.command)
            raise BadRequestError("internal", as_written(f"{type(error).__name__}: {error}")) from error

    def _carry_out(self, request: Request) -> dict[str, Any]:
        exposure, now_s = self._loop.exposure, self._loop.clock.mono_s()
        self.commissioning.refuse_if_locked(request.command)
        if exposure.running and request.command in READ_FILES:  # before a file is opened or anything worked out
            raise RefusedError(say("exposure_under_way"), say("finish_or_abandon_first"))
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
            case commands.Dark(sender=sender):
                if self.panel is not None:
                    self.panel.forget()
                self._loop.go_dark("the command dark")
                exposure.dark(now_s)
                if sender:
                    now = self._loop.clock.utc()
                    what = f"dark over the network by {sender}"
                    self._loop.writer.add(what, lambda book: book.note_network_dark(sender, now))
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
            case commands.Judge() as judged:
                refuse_if_unwritable(self._loop.writer)
                self._loop.writer.put_verdict(judged.exposure_id, judged.verdict, judged.who)
                return {"exposure_id": judged.exposure_id}
            case Findings() | ConfirmCause() | LookedAt() as found:
                return finding_commands.handle(self._loop, found)
            case commands.Simulate() as wish:
                return self._simulate(wish)
            case commands.OfCommissioning() as step:
                return self.commissioning.handle(step)
            case asked if request.command in OF_JOBS:
                return self.jobs.handle(asked)
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
            self.metrology.before_light.refuse_after_unlikely()
        exposure.go(self._loop.clock.mono_s())

    def _start(self, asked: commands.Start) -> dict[str, Any]:
        refuse_other_state(asked, self._loop.state_number())
        plan = self._plan(asked)
        refuse_other_light(asked, plan, plan.first_lit())
        refuse_without_end(plan)
        self.start(plan)
        return {"state": self._loop.exposure.state}

    def _series(self, asked: commands.Series) -> dict[str, Any]:
        refuse_other_state(asked, self._loop.state_number())
        plan = make_series(
            self._plan(asked),
            asked.kind,
            doses_mj_cm2=asked.doses_mj_cm2,
            seconds=asked.seconds,
            legs=asked.legs,
        )
        if asked.parameters is not None:
            given = run_parameters.checked(plan.kind, asked.parameters, len(plan.sides))
            plan = replace(plan, parameters=given.as_json())
        refuse_other_light(asked, plan, plan.first_lit())
        self.start(plan)
        return {"state": self._loop.exposure.state}

    def _plan(self, asked: commands.Start) -> Plan:
        stored = recipe_asked_for(self._shelf, asked.recipe, say("mend_recipe_then_start"))
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

    def start(self, plan: Plan) -> None:
        """Begin an exposure. Raises RefusedError."""
        loop = self._loop
        blind = [watch.bank.name for watch in loop.banks.values() if not watch.fresh(loop.clock.mono_s())]
        if blind and not loop.desk:
            raise RefusedError(
                say("meter_gives_no_reading", bank=blind[0]),
                say("check_cable_tried_again"),
            )
        if not loop.desk:
            refuse_if_slow(loop.rate)
        refuse_if_unwritable(loop.writer)
        if not loop.exposure.running and (loop.exposure.events or loop.recorder.waiting):
            raise RefusedError(say("last_panel_is_recorded"), say("try_in_a_moment"))
        self.metrology.refuse_while_looking()
        self.metrology.set_calibration_factors()
        self.metrology.before_light.expect(plan)
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
            raise PlanError("kind", say("series_not_taken_up", kind=left.kind), say("begin_it_anew"))
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
        sides = side_runs(plan.sides, self._loop.box.sensor.window_s)
        for side in sides:
            usual_mw_cm2 = left.settled_mw_cm2.get(side.plan.bank, 0.0)
            growth_mw_cm2 = left.growth_mw_cm2.get(side.plan.side, 0.0)
            between_s = left.between_records_s.get(side.plan.side, 0.0)
            side.restore(known[side.plan.side], now_s, gap_s, usual_mw_cm2, growth_mw_cm2, between_s)
            side.gap_unknown |= left.gap_unknown and side.pauses > 0
        loop.exposure.restore(plan, sides, now_s)
        ids = {new.side: state.side_id for new, state in left.sides}
        dark_since_s = None if gap_s is None else now_s - gap_s
        loop.recorder.resume(BegunExposure(left.exposure_id, left.panel_id, ids), left.last_known_utc, dark_since_s)
        log.warning("exposure %d was left unfinished; it waits to be continued or abandoned", left.exposure_id)

    def _trace(self, since_s: float) -> dict[str, Any]:
        return {"samples": [list(point) for point in self._loop.curve.since(since_s, CURVE_PIECE)]}

    def _note(self, asked: commands.NoteExposure) -> dict[str, Any]:
        """Note and result of a recorded exposure; whether the number exists the logbook finds out."""
        refuse_if_unwritable(self._loop.writer)
        self._loop.writer.put_note(asked.exposure_id, asked.note, asked.result, asked.who)
        return {"exposure_id": asked.exposure_id}

    def _simulate(self, wish: commands.Simulate) -> dict[str, Any]:
        if self._hands is None:
            raise BadRequestError("refused", say("real_box_by_hand"), field="command")
        try:
            return {"done": self._hands(wish.do, wish.bank, wish.meter)}
        except ValueError as error:
            raise BadRequestError("bad_value", as_written(error.args[0]), field="do") from error

    def snapshot(self, *, pushed: bool = False) -> dict[str, Any]:
        """The whole picture now. In one that is `pushed` to watchers, what stands may be a second old."""
        loop = self._loop
        now_s, now = loop.clock.mono_s(), loop.clock.utc()
        self._seq += 1
        facts = (loop.state_number(), tuple([side.state for side in loop.exposure.sides]))
        standing = self._standing.lately(now_s, facts) if pushed else self._standing.anew(now_s, facts)
        picture: dict[str, Any] = {
            "seq": self._seq,
            "box": loop.box.description.name,
            "simulated": self._simulated,
            "mono_s": now_s,
            "utc": iso(now),
            "state": loop.exposure.state,
            "state_number": facts[0],
            "sentence": sentence(loop.exposure, loop.desk, loop.lid, now_s),
            "may": self.commissioning.allowed(loop.exposure.may()) + (["acknowledge"] if loop.desk.standing() else []),
            "lid": loop.lid,
            "banks": [self._bank_snapshot(name, now_s) for name in loop.banks],
            "exposure": exposure_snapshot(
                loop.exposure, loop.recorder.exposure_id, standing.worth, self._started, now, now_s
            ),
            "faults": fault_snapshots(loop.desk, now, now_s),
            "logbook": {
                "ok": loop.writer.error is None,
                "message": loop.writer.error,
                "lag_s": loop.writer.lag_s,
                "keep_traces_days": loop.box.description.logbook.keep_traces_days,
            },
            "ticks": {
                "measured_hz": loop.rate.measured_hz,
                "needed_hz": loop.rate.needed_hz,
                "longest_gap_s": loop.rate.longest_gap_s,
            },
            "calibration": standing.calibration,
            "warnings": standing.warnings,
            "commissioning": self.commissioning.picture(),
            "jobs": self.jobs.picture(),
            "air": loop.recorder.air.picture(),
        }
        if self.panel is not None:
            picture["front_panel"] = panel = self.panel.picture()
            if panel["waits_s"] is not None:
                picture["sentence"] = say("press_go_at_the_box", seconds=panel["waits_s"])
        if self._truth is not None:
            picture["true_dose_mj_cm2"] = self._truth()
        return picture

    def _stands(self) -> Standing:
        loop = self._loop
        tolerance = loop.exposure.plan.tolerance if loop.exposure.plan else TOLERANCE
        panel = self.panel.troubles() if self.panel is not None else []
        return Standing(
            {name: self.metrology.picture(name, tolerance) for name in loop.banks},
            [
                *self.remarks,
                *silent_beside([watch.meter.beside for watch in loop.banks.values()], loop.clock.mono_s()),
                *waiting_records(loop),
                *panel,
                *self.commissioning.warnings(),
                *self.metrology.advisories(),
            ],
            {side.plan.side: loop.appraiser.of(side).figures() for side in loop.exposure.sides},
        )

    def _bank_snapshot(self, name: str, now_s: float) -> dict[str, Any]:
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
            "meter_message": None if watch.meter.lost is None else watch.meter.lost.said(),
            "lamp_hours": use[0] / 3600,
            "strikes": use[1],
            **self.metrology.bank_snapshot(name),
        }


def waiting_records(loop: ControlLoop) -> list[Message]:
    """A remark while the card has taken nothing for a while; what it refuses is told as trouble of the logbook."""
    waited_s = loop.writer.lag_s
    if loop.writer.error is not None or waited_s <= UNSYNCED_S:
        return []
    return [say("records_wait", seconds=round(waited_s))]


def warnings_of(loop: ControlLoop) -> list[Message]:
    """Standing remarks on how the box is built, shown at all times."""
    found = []
    if loop.box.enable is None:
        found.append(say("without_k1"))
    if loop.box.signals is not None:
        found += [LEFT_OUT[name] for name in loop.box.signals.left_out]
    for meter in loop.box.description.meters:
        looks = meter.sight.of_tubes() if meter.sight is not None else None
        if looks is not None and looks.unseen:
            seen, unseen = looks.seen, [str(place) for place in looks.unseen]
            found.append(say("sensor_sees_some", meter=meter.name, seen=seen, tubes=looks.tubes, unseen=unseen))
    return found


def read_bank_states(logbook: Logbook, banks: list[str]) -> dict[str, BankState]:
    """What the logbook knows of each bank."""
    return {name: logbook.bank_state(name) for name in banks}
