"""Commissioning on this box: feeds the state machine with what control sees, does what it says, keeps the lock.

On a real box nothing is exposed from the socket until commissioning has passed for the present wiring, or somebody has
overridden that, which is recorded and shown.
"""

import hashlib
import logging
import secrets
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from sumlight.box.wiring import wiring_sha256
from sumlight.control.calibration.both_sensors import silent_beside
from sumlight.control.commissioning.facts import BankFacts, Facts, Result
from sumlight.control.commissioning.history import Known
from sumlight.control.commissioning.report import report_html
from sumlight.control.commissioning.state_machine import Action, Commissioning
from sumlight.control.commissioning.steps import CUT_LIT_S, LEAK_LIT_S, LIT_S, steps_for
from sumlight.control.exposure.plan import Plan, SidePlan
from sumlight.control.loop import ControlLoop
from sumlight.control.pace import refuse_if_slow
from sumlight.control.refused import RefusedError
from sumlight.protocol import commands
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.snapshot import StepResult
from sumlight.protocol.walk import Pin, Walk, not_proved, walk_from
from sumlight.store.logbook.records import Commissioned, CommissioningRecord, OverrideRecord
from sumlight.text.message import Message, say

log = logging.getLogger(__name__)

NO_RECIPE_SHA256 = hashlib.sha256(b"").hexdigest()
"""What stands beside the empty text of no recipe: with another one the kill would be told as a damaged record."""

LOCKED = ("start", "series", "go")
"""Commands that lead to light."""


class CommissioningSession:
    """Runs commissioning and keeps the lock. `known` is what the logbook says of this wiring, `reports` the folder for
    reports (None: none are written). `begin_light` starts an exposure; commander sets it."""

    def __init__(self, loop: ControlLoop, known: Commissioned, reports: Path | None, *, simulated: bool) -> None:
        self._loop = loop
        self._reports = reports
        self._simulated = simulated
        self._box = loop.box.description
        self._wiring = wiring_sha256(self._box)
        self._steps, self.left_out = steps_for(self._box)
        self._known = Known(self._steps, self.left_out, known)
        self._run: Commissioning | None = None
        self._began: datetime | None = None
        self._token, self._presses = f"{secrets.token_hex(4)}-", 0
        self._report: str | None = None
        self.begin_light: Callable[[Plan], None] = lambda _: None
        if known.cut_off is not None:
            self._take_up(known.cut_off)

    # -- the lock ------------------------------------------------------------------------------------------------

    @property
    def locked(self) -> bool:
        """Whether this box may not expose yet."""
        return not (self._simulated or self._known.passed is not None or self._known.override is not None)

    def refuse_if_locked(self, command: str) -> None:
        """Raise RefusedError for a command that leads to light while that is locked or commissioning is under way."""
        if command not in LOCKED:
            return
        if self._run is not None and self._run.outcome is None:
            raise RefusedError(say("commissioning_under_way"), say("finish_or_abort_first"))
        if self.locked:
            why = say("older_walk") if self._known.older else say("not_commissioned")
            raise RefusedError(why, say("commission_or_override"))

    def allowed(self, commands: list[str]) -> list[str]:
        """Those of `commands` that the lock does not refuse."""
        shut = self.locked or (self._run is not None and self._run.outcome is None)
        return [command for command in commands if not (shut and command in LOCKED)]

    def warnings(self) -> list[Message]:
        """What is shown at all times."""
        known = self._known
        unseen = self._shown_unseen()
        if self._simulated:
            return unseen
        if known.passed is not None:
            points = known.open_points
            return [*([say("incomplete_always", titles=points)] if points else []), *unseen]
        if known.override is not None:
            given = known.override
            return [say("unlocked_by", who=given.who, day=f"{given.given_utc:%Y-%m-%d}", reason=given.reason)]
        if known.older:
            return [say("older_walk_locked", titles=known.older)]
        return [say("not_commissioned_locked")]

    def _shown_unseen(self) -> list[Message]:
        """Tubes that a walk has shown not to be seen although box.yaml says that they are."""
        found = []
        for bank in self._box.banks:
            sight = self._box.meter_of(bank).sight
            declared = () if sight is None else sight.of_tubes().unseen
            unseen = [str(place) for place in self._known.unseen.get(bank.name, []) if place not in declared]
            if unseen:
                found.append(say("tubes_shown_unseen", bank=bank.name, unseen=unseen))
        return found

    # -- commands ------------------------------------------------------------------------------------------------

    def handle(self, asked: commands.OfCommissioning) -> dict[str, Any]:
        """Carry out one command of commissioning. Raises RefusedError or BadRequestError."""
        match asked:
            case commands.CommissionBegin(who=who):
                self._begin(who)
            case commands.CommissionNext():
                self._next(asked)
            case commands.CommissionAbort():
                self._carry_out(self._under_way().abort())
            case commands.CommissionOverride(who=who, reason=reason):
                self._unlock(who, reason)
        return {"commissioning": self.picture()}

    def look(self) -> None:
        """One tick of a run under way."""
        if self._run is not None and self._run.outcome is None:
            self._loop.hurry(self._loop.clock.mono_s())
            self._carry_out(self._run.look(self._facts()))

    def picture(self) -> dict[str, Any]:
        """Where commissioning stands, for the page and the terminal."""
        passed = self._known.passed
        given = self._known.override if passed is None else None
        picture: dict[str, Any] = {
            "needed": not self._simulated and passed is None,
            "locked": self.locked,
            "passed_utc": None if passed is None or passed.ended_utc is None else passed.ended_utc.isoformat(),
            "passed_by": None if passed is None else passed.who,
            "overridden": given is not None,
            "override": None
            if given is None
            else {"who": given.who, "reason": given.reason, "given_utc": given.given_utc.isoformat()},
            "not_proved": self._known.open_points,
            "older_walk": self._known.older,
            "wiring_sha256": self._wiring,
            "run": None,
            "report": self._report,
        }
        run = self._run
        if run is not None:
            results = _told(run)
            tubes = run.tubes
            picture["run"] = {
                "who": run.who,
                "outcome": run.outcome,
                "number": min(run.index + 1, len(run.steps)),
                "of": len(run.steps),
                "step": run.step.name,
                "kind": run.step.kind,
                "title": run.step.title,
                "phase": run.phase,
                "at": self._place(run),
                "do": run.words(),
                "waits_for_next": run.waits_for_next,
                "asks": run.asks,
                "results": results,
                "left_out": self.left_out,
                "not_proved": not_proved(results, self.left_out),
            }
            if tubes is not None:
                picture["run"]["tubes"] = {"bank": run.step.bank, "back": tubes.back, "out": tubes.out}
        return picture

    # -- inside --------------------------------------------------------------------------------------------------

    def _place(self, run: Commissioning) -> str:
        """Names this moment of this run, so that a press meant for an earlier one cannot count for it."""
        began = "" if self._began is None else f"{self._began:%Y%m%dT%H%M%S.%f}"
        return f"{began}/{run.step.name}/{run.phase}/{self._token}{self._presses}"

    def _under_way(self) -> Commissioning:
        if self._run is None or self._run.outcome is not None:
            raise RefusedError(say("no_commissioning_under_way"), say("begin_one_first"))
        return self._run

    def _begin(self, who: str) -> None:
        if not who:
            raise BadRequestError("bad_value", say("say_who_does_it"), field="who")
        if self._run is not None and self._run.outcome is None:
            raise RefusedError(say("commissioning_under_way"), say("finish_or_abort_first"))
        if self._loop.exposure.running:
            raise RefusedError(say("exposure_under_way"), say("finish_or_abandon_first"))
        watches, now_s = self._loop.banks.values(), self._loop.clock.mono_s()
        if silent_beside(
            [watch.meter.beside for watch in watches], now_s
        ):  # the light is looked at by both, or by none
            raise RefusedError(say("colour_is_silent"), say("check_sensor_cable"))
        self._tidy(who, must=False)
        self._run = self._begun_by(who)
        self._began, self._report = self._loop.clock.utc(), None
        self._carry_out(["store"])

    def _begun_by(self, who: str) -> Commissioning:
        return Commissioning(self._steps, who, self._box.lid.disagreement_limit_s, self._box.limits.drop_limit)

    def _next(self, asked: commands.CommissionNext) -> None:
        run, facts = self._under_way(), self._facts()
        if asked.at != self._place(run):
            raise RefusedError(say("walk_has_gone_on"), say("look_at_step_due"))
        if run.phase == "undo":  # every step that waits for a fault comes after this, so none can stand from before
            self._tidy(run.who)
            if facts.lid != "shut":
                raise RefusedError(say("lid_not_shut"), run.words())
        if run.phase == "prepare":
            run.refuse_if_hot(self._loop.clock.mono_s())
            self._tidy(run.who)
            if run.step.kind == "alone":
                self._refuse_unless_dark()
            else:
                lit_s = {"leak": LEAK_LIT_S, "cut": CUT_LIT_S}.get(run.step.kind, LIT_S)
                self.begin_light(self._plan(lit_s, run.step.bank))
        actions = run.next(
            self._facts(), leak_mw_cm2=asked.leak_mw_cm2, answer=asked.answer, at_the_box=asked.at_the_box
        )
        self._presses += 1
        self._carry_out([action for action in actions if action != "light"])

    def _refuse_unless_dark(self) -> None:
        """K1 is lent only with the lid shut, meters seeing nothing, ticks enough to hold it. Raises RefusedError."""
        refuse_if_slow(self._loop.rate)
        facts = self._facts()
        if facts.lid != "shut":
            raise RefusedError(say("lid_not_shut"), say("shut_lid"))
        if facts.dimmest is None:
            raise RefusedError(say("a_meter_is_silent"), say("check_sensor_cable"))
        if facts.light:
            raise RefusedError(say("light_with_lamps_off"), say("darken_the_room"))

    def _unlock(self, who: str, reason: str) -> None:
        if not self.locked:
            raise RefusedError(say("not_locked"), say("nothing_to_override"))
        for field, text, least in (("who", who, 1), ("reason", reason, 8)):
            if len(text) < least:
                raise BadRequestError("bad_value", say("say_it_in_words", field=field), field=field)
        override = OverrideRecord(self._wiring, who, reason, self._loop.clock.utc())
        self._known.overridden(override)
        self._loop.writer.add_override(override)
        log.warning("the lock until commissioning was overridden by %s: %s", who, reason)

    def _carry_out(self, actions: list[Action]) -> None:
        run = self._run
        if run is None:
            return
        loop, now_s = self._loop, self._loop.clock.mono_s()
        for action in actions:
            match action:
                case "dark":
                    loop.go_dark("a step of commissioning")
                    loop.exposure.dark(now_s)
                case "hold":
                    run.alone = loop.k1.lend((run.step.expects,) if run.step.expects else ())
                case "abandon" if loop.exposure.running:
                    loop.exposure.abandon(now_s)
                case "tidy":
                    self._tidy(run.who, must=False)
                case "store":
                    self._store(run)
                case "end":
                    self._end(run)

    def _tidy(self, who: str, *, must: bool = True) -> None:
        """No exposure under way, no fault standing. Raises RefusedError with the remedy of one that will not go."""
        loop = self._loop
        if loop.exposure.running:
            loop.exposure.abandon(loop.clock.mono_s())
        if loop.desk.standing():
            loop.acknowledge(who)
        if loop.desk and must:
            kind = loop.desk.standing()[0].kind
            raise RefusedError(say("fault_by_name", title=kind.title), kind.remedy)

    def _store(self, run: Commissioning) -> None:
        if self._began is None:
            return
        self._loop.writer.put_commissioning(self._record(run))

    def _record(self, run: Commissioning) -> CommissioningRecord:
        began = self._began or self._loop.clock.utc()
        # A step counts as reached when its lamps burn: a restart before that was not the kill that a step asks for.
        waits_for_light = run.outcome is None and run.phase in ("prepare", "lighting")
        return CommissioningRecord(
            began_utc=began,
            wiring_sha256=self._wiring,
            box_name=self._box.name,
            simulated=self._simulated,
            who=run.who,
            step_index=run.index - waits_for_light,
            results=Walk(_told(run), self.left_out, self._pins()).as_text(),
            ended_utc=self._loop.clock.utc() if run.outcome is not None else None,
            outcome=run.outcome,
        )

    def _pins(self) -> list[Pin]:
        return [(".".join(str(part) for part in place), pin) for place, pin in self._box.pins()]

    def _end(self, run: Commissioning) -> None:
        record = self._record(run)
        if run.outcome == "passed":
            self._known.has_passed(record)
        if self._reports is not None and run.outcome != "aborted":
            path = self._reports / f"commissioning-{record.began_utc:%Y%m%d-%H%M%S}.html"
            self._loop.writer.add_report(path, report_html(record))
            self._report = str(path)

    def _take_up(self, left: CommissioningRecord) -> None:
        """A run was under way when the last process ended: by the kill that it asked for, or otherwise."""
        run = self._begun_by(left.who)
        results = [Result(**result) for result in walk_from(left.results).results]
        self._began = left.began_utc
        if run.restarted(results, left.step_index):
            self._run = run
            return
        run.outcome = "aborted"
        self._store(run)
        log.warning("a commissioning by %s was cut off; begin it anew", left.who)

    def _plan(self, lit_s: float, only: str = "") -> Plan:
        """Light all banks at once, or only one, for a set time, behind nothing."""
        limits = self._box.limits
        sides = tuple(
            SidePlan(
                side=bank.side,
                bank=bank.name,
                target_mj_cm2=None,
                transmission=1.0,
                guard_s=limits.lit_limit_s,
                lead_s=bank.release_s,
                lit_for_s=min(lit_s, 0.9 * limits.lit_limit_s),
            )
            for bank in self._box.banks
            if only in ("", bank.name)
        )
        return Plan(
            panel="commissioning",
            note="",
            recipe_name="commissioning",
            recipe_text="",
            recipe_sha256=NO_RECIPE_SHA256,
            resist="none: lay nothing in",
            sides_mode="together" if len(sides) > 1 else "series",
            sides=sides,
            forgiven=0,
            longest_gap_s=0.0,
            hold_s=0.0,
            hold_limit_s=None,
            kind="commission",
            who=self._under_way().who,
        )

    def _facts(self) -> Facts:
        loop = self._loop
        now_s = loop.clock.mono_s()
        watches = list(loop.banks.values())
        banks = {
            name: BankFacts(watch.witness.first_light_s is not None, watch.glass_mw_cm2 if watch.fresh(now_s) else None)
            for name, watch in loop.banks.items()
        }
        glass = [watch.glass_mw_cm2 for watch in watches if watch.fresh(now_s) and watch.glass_mw_cm2 is not None]
        seen = [watch.meter.last_seen_s for watch in watches]
        signals = None if loop.box.signals is None else loop.box.signals.read()
        limit = self._box.limits.dark_limit_mw_cm2
        return Facts(
            now_s=now_s,
            state=loop.exposure.state,
            lid=loop.lid,
            commanded=any(watch.bank.commanded for watch in watches),
            lit=all(watch.witness.first_light_s is not None for watch in watches),
            dimmest=min(glass) if len(glass) == len(watches) else None,
            brightest=max(glass) if len(glass) == len(watches) else None,
            silent_s=max(now_s - at_s if at_s is not None else float("inf") for at_s in seen),
            k1_dropped=None if signals is None else signals.k1_dropped,
            stop_released=None if signals is None else signals.stop_released,
            faults=tuple(fault.kind.fault for fault in loop.desk.standing() if fault.kind.stops),
            k1_held=loop.k1_held,
            banks=banks,
            light=len(glass) < len(watches) or any(seen_mw_cm2 > limit for seen_mw_cm2 in glass),
        )


def _told(run: Commissioning) -> list[StepResult]:
    return [result.as_told() for result in run.results]
