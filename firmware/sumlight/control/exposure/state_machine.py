"""The exposure's state machine. Pure: it is told what happens and when, and says which banks should be lit.

States: idle → (vacuum →) dark_check → light → (turn →) done; paused whenever light ended before the dose. A fault shows
as `faulted` over any of them. Nothing goes back to light without a person's word given with the lid shut.
"""

import math
from dataclasses import dataclass
from typing import Literal

from sumlight.box.description import Limits
from sumlight.box.lid import LidState
from sumlight.control.exposure.dark_check import DarkCheck
from sumlight.control.exposure.plan import Plan
from sumlight.control.exposure.side import SideRun, side_runs
from sumlight.control.exposure.vacuum import Vacuum
from sumlight.control.refused import RefusedError
from sumlight.control.trouble import Trouble
from sumlight.light.sample import SATURATED, Sample
from sumlight.protocol.snapshot import FaultName, State
from sumlight.text.message import Message, later, say

PauseCause = Literal["lid", "dark_command", "fault", "restart"]

SURPLUS_SHARE = 0.03

WITHOUT_FRAME = ("compare", "field", "steady", "commission")
"""Kinds of plan that light no panel in the contact frame."""
NOTHING_LAID_IN = ("steady", "commission")
"""Kinds of plan that light an empty box: one may follow the other without anything taken out in between."""


@dataclass(frozen=True)
class Event:
    """Something to be recorded: `what` is lit, dark, side, pause, resume, ended or taken_out.

    `side` and `bank` where they apply.
    """

    what: str
    at_s: float
    side: str = ""
    bank: str = ""
    seconds: float = 0.0
    word: str = ""


class Exposure:
    """One panel after the other.

    `window_s` is the length of a conversion of the meters, `lead_s` how long the vacuum pump runs before light.
    """

    def __init__(self, limits: Limits, window_s: float, lead_s: float = 0.0) -> None:
        self.vacuum = Vacuum(lead_s)
        self.darkness = DarkCheck(limits, window_s)
        self._limits = limits
        self._window_s = window_s
        self._base: State = "idle"
        self._faulted = False
        self._lid: LidState = "disagree"
        self._opened_since_turn = False
        self.left_inside: str | None = None
        """Kind of what was lit and may still lie inside: the lid has not been seen open since its end."""
        self._was_lit = False
        self._full_scale_s: dict[str, float] = {}
        self._deadline_s = math.inf
        self.plan: Plan | None = None
        self.sides: list[SideRun] = []
        self.pause_cause: PauseCause | None = None
        self.outcome: str | None = None
        self.ended_s: float | None = None
        self.record_ready = False
        self.events: list[Event] = []

    # -- what it says ------------------------------------------------------------------------------------------

    @property
    def state(self) -> State:
        """Where the work stands, faults included."""
        return "faulted" if self._faulted else self._base

    @property
    def base_state(self) -> State:
        """Where the work stands under any fault."""
        return self._base

    @property
    def running(self) -> bool:
        """Whether an exposure is under way, lit or not."""
        return self._base in ("vacuum", "dark_check", "light", "paused", "turn")

    def wanted(self) -> tuple[str, ...]:
        """Banks that should give light now."""
        if self._base != "light" or self._faulted:
            return ()
        return tuple([side.plan.bank for side in self.sides if side.state == "lit"])

    def enable_wanted(self) -> bool:
        """Whether contactor K1 should be held: from light to the end of the tail, so that a stuck relay shows."""
        return self._base == "light" and not self._faulted

    def light_known(self, now_s: float) -> bool:
        """Whether every lit side has been read recently enough to bridge what is missing."""
        for side in self.sides:
            if side.state == "lit" and not now_s - side.last_usable_s <= self._limits.bridge_limit_s:
                return False
        return True

    def next_deadline_s(self) -> float:
        """When a side must be cut next, as the last tick found it; infinite if none is lit."""
        return self._deadline_s if self._base == "light" else math.inf

    def why_doubtful(self) -> Message | None:
        """Why the panel must be judged with care, or None."""
        if self.plan is None:
            return None
        for side in self.sides:
            name, target = side.plan.side, side.target_mj_cm2
            surplus = side.dose_mj_cm2 / target - 1 if target else 0.0
            if surplus > SURPLUS_SHARE:
                return say("side_got_more", side=name, share=surplus)
            if side.pauses > self.plan.forgiven:
                return say("side_interrupted", side=name, count=side.pauses, forgiven=self.plan.forgiven)
            if side.gap_unknown:
                return say("side_dark_unknown", side=name)
            if side.longest_gap_s > self.plan.longest_gap_s:
                return say("side_lay_dark", side=name, gap_s=side.longest_gap_s, forgiven_s=self.plan.longest_gap_s)
        return None

    def due(self) -> str:
        """What the next light would be given to: "A", "B", "A+B", the number of a leg, or nothing."""
        return "+".join(side.plan.side for side in self._due())

    def facts(self) -> tuple[object, ...]:
        """All that tells one state from another for somebody who looks at the box."""
        return (
            self._base,
            self._faulted,
            self._lid,
            self.pause_cause,
            self._opened_since_turn,
            self.left_inside,
            self.plan,
        )

    def next_step(self) -> Message:
        """What the person does before the next side or leg."""
        due = self._due()
        return (due[0].plan.before if due else None) or say("turn_the_panel")

    def lid_step(self) -> Message | None:
        """What has to be done to the lid before another panel is lit; nothing once it was seen open."""
        if self.left_inside is None:
            return None
        return say("open_lid_before_a_panel") if self.left_inside in NOTHING_LAID_IN else say("take_panel_out")

    def may(self) -> list[str]:
        """Commands that would be carried out now; `dark` always is."""
        allowed = ["dark"]
        if not self._faulted and self._base in ("idle", "done") and self._lid == "shut" and not self.left_inside:
            allowed.append("start")
        if (
            not self._faulted
            and self._lid == "shut"
            and (self._base == "paused" or (self._base == "turn" and self._opened_since_turn))
        ):
            allowed.append("go")
        if self._base in ("paused", "turn"):
            allowed.append("abandon")
        return allowed

    # -- commands -----------------------------------------------------------------------------------------------

    def start(self, plan: Plan, now_s: float) -> None:
        """Begin a panel. Raises RefusedError with a remedy."""
        self._refuse_fault()
        if self.running:
            raise RefusedError(say("exposure_under_way"), say("finish_or_abandon_first"))
        self._refuse_lid()
        self._refuse_second_light(plan)
        self._new_run(plan)
        self._towards_light(now_s)

    def restore(self, plan: Plan, sides: list[SideRun], now_s: float) -> None:
        """Take up an exposure that the last run of control left; it waits for a person's word.

        One that only lacked the record of its end is ended now.
        """
        self._new_run(plan)
        self.sides, self.record_ready, self._was_lit = sides, True, True  # the record may lag behind the light
        if not any(side.open for side in sides):
            self._end("abandoned" if any(side.state == "abandoned" for side in sides) else "completed", now_s)
        elif self._turn_next():
            self._base, self._opened_since_turn = "turn", False
        else:
            self._base, self.pause_cause = "paused", "restart"

    def go(self, now_s: float) -> None:
        """A person's fresh word to light, after a pause or a turned panel. Raises RefusedError with a remedy."""
        self._refuse_fault()
        if self._base not in ("paused", "turn"):
            raise RefusedError(say("nothing_waits_to_go_on"), say("start_a_panel_instead"))
        self._refuse_lid()
        if self._base == "turn" and not self._opened_since_turn:
            raise RefusedError(say("lid_not_opened_since_light"), self.next_step())
        if self._base == "paused":
            self.events.append(Event("resume", now_s))
        self._towards_light(now_s)

    def dark(self, now_s: float) -> None:
        """Lamps off at once, dose kept. Always possible; while the vacuum of a start is pulled, that start is over."""
        if self._base == "vacuum" and all(side.first_lit_s is None for side in self.sides):
            self.abandon(now_s)
        else:
            self._interrupt(now_s, "dark_command")

    def abandon(self, now_s: float) -> None:
        """End the exposure for good, lamps off. Raises RefusedError if none is under way."""
        if not self.running:
            raise RefusedError(say("no_exposure_under_way"), say("nothing_to_abandon"))
        self._interrupt(now_s, "dark_command")
        for side in self.sides:
            if side.open:
                side.state = "abandoned"
                self._side_event(side, now_s)
        self._end("abandoned", now_s)

    # -- what happens -------------------------------------------------------------------------------------------

    def record_failed(self) -> None:
        """The beginning could not be written: forget this run, nothing was lit."""
        self.vacuum.stop()
        if self._was_lit and self.plan is not None:  # by the run before, which no lid has parted from this one
            self.left_inside = self.plan.kind
        self._base, self.plan, self.sides, self.pause_cause = "idle", None, [], None

    def lid_is(self, state: LidState, now_s: float) -> None:
        """The lid as judged in this tick; anything but shut ends light at once."""
        self._lid = state
        if state != "shut":
            self._interrupt(now_s, "lid")
        if state == "open":  # contacts that contradict each other for a moment do not tell of a turned panel
            self._opened_since_turn = True
            self._taken_out(now_s)

    def faulted_is(self, faulted: bool, now_s: float) -> None:
        """Whether any fault stands; one that does ends light at once."""
        self._faulted = faulted
        if faulted:
            self._interrupt(now_s, "fault")

    def reading(self, bank: str, sample: Sample, glass_mw_cm2: float) -> Trouble | None:
        """One conversion of the meter that watches `bank`, `glass_mw_cm2` with the dark reading still in it."""
        if not sample.usable:
            if sample.flags & SATURATED:
                self._full_scale_s[bank] = sample.end_s
            return None
        if self._base == "dark_check":
            return self.darkness.reading(bank, sample, glass_mw_cm2)
        if self._base == "light":
            for side in self.sides:
                if side.plan.bank == bank and side.state in ("lit", "cut"):
                    side.reading(sample, glass_mw_cm2)
        return None

    def tick(self, now_s: float) -> list[Trouble]:
        """Let time pass: cut sides that reach their dose, end tails, watch the guards. Returns troubles found."""
        self.vacuum.tick(now_s)
        if self._base == "light":
            return self._tick_light(now_s)
        if self._base == "vacuum" and self.vacuum.missing_s(now_s) <= 0:
            self._to_dark_check(now_s)
        return self._tick_dark_check(now_s) if self._base == "dark_check" else []

    # -- inside -------------------------------------------------------------------------------------------------

    def _new_run(self, plan: Plan) -> None:
        self.plan = plan
        self.sides = side_runs(plan.sides, self._window_s)
        self.pause_cause, self.outcome, self.ended_s, self.record_ready = None, None, None, False
        self._was_lit, self.left_inside = self.left_inside is not None, None

    def _refuse_fault(self) -> None:
        if self._faulted:
            raise RefusedError(say("fault_is_standing"), say("read_its_remedy"))

    def _refuse_lid(self) -> None:
        if self._lid != "shut":
            raise RefusedError(say("lid_not_shut"), say("shut_it_then_try"))

    def _refuse_second_light(self, plan: Plan) -> None:
        step = self.lid_step()
        if step is not None and not (self.left_inside in NOTHING_LAID_IN and plan.kind in NOTHING_LAID_IN):
            raise RefusedError(say("may_still_lie_inside"), step)

    def _taken_out(self, now_s: float) -> None:
        if self.left_inside is not None:
            self.left_inside = None
            self.events.append(Event("taken_out", now_s))

    def _due(self) -> list[SideRun]:
        """The sides to be lit next: all at once under two banks, else the first that is open."""
        waiting = [side for side in self.sides if side.open]
        together = self.plan is not None and self.plan.sides_mode == "together"
        return waiting if together else waiting[:1]

    def _towards_light(self, now_s: float) -> None:
        """A panel waits for its vacuum first; what lights an empty box does not."""
        self.pause_cause = None
        if self.plan is not None and self.plan.kind not in WITHOUT_FRAME:
            self.vacuum.begin(now_s)
            if self.vacuum.missing_s(now_s) > 0:
                self._base = "vacuum"
                return
        self._to_dark_check(now_s)

    def _to_dark_check(self, now_s: float) -> None:
        self._base, self.pause_cause = "dark_check", None
        self.darkness.begin((side.plan.bank for side in self._due()), now_s)

    def _tick_dark_check(self, now_s: float) -> list[Trouble]:
        if self.darkness.complete and self.record_ready and self._lid == "shut":
            self._base, self._was_lit = "light", True
            for side in self._due():
                bank = side.plan.bank
                side.light(now_s, self.darkness.ended_s(bank), self.darkness.mean_mw_cm2(bank))
                self.events.append(Event("lit", now_s, side.plan.side, bank))
                self._side_event(side, now_s)
        silent = self.darkness.silent(now_s)
        return [silent] if silent is not None else []

    def _tick_light(self, now_s: float) -> list[Trouble]:
        troubles: list[Trouble] = []
        deadline_s = math.inf
        under_way = False
        for side in self.sides:
            if side.state == "lit":
                off_s = side.off_at_s()
                if now_s >= off_s:
                    side.cut(now_s)
                    self._dark_event(side, now_s)
                else:
                    if off_s < deadline_s:
                        deadline_s = off_s
                    troubles += self._guards(side, now_s)
            elif side.state == "cut" and side.tail_over(now_s):
                side.finish(now_s)
                self._side_event(side, now_s)
            under_way = under_way or side.state in ("lit", "cut")
        self._deadline_s = deadline_s
        if not troubles and not under_way:
            if any(side.open for side in self.sides):
                self._base, self._opened_since_turn = "turn", False
                self.vacuum.stop()  # the frame is opened
            else:
                self._end("completed", now_s)
        return troubles

    def _guards(self, side: SideRun, now_s: float) -> list[Trouble]:
        silent_s = now_s - side.last_usable_s
        if silent_s > self._limits.bridge_limit_s:
            limit_s = self._limits.bridge_limit_s
            if now_s - self._full_scale_s.get(side.plan.bank, -math.inf) < limit_s / 2:  # it answers, and sees too much
                told = later("full_scale_under_light", side=side.plan.side, silent_s=silent_s, limit_s=limit_s)
                return [(FaultName.METER_SATURATED, told)]
            told = later("no_reading_under_light", side=side.plan.side, silent_s=silent_s, limit_s=limit_s)
            return [(FaultName.METER_LOST, told)]
        lit_s = side.lit_for_s(now_s)
        if lit_s > side.plan.guard_s:
            name, dose_mj_cm2, limit_s = side.plan.side, side.dose_mj_cm2, side.plan.guard_s
            told = later("guard_ran_out", side=name, dose_mj_cm2=dose_mj_cm2, lit_s=lit_s, limit_s=limit_s)
            return [(FaultName.TIME_GUARD, told)]
        return []

    def _interrupt(self, now_s: float, cause: PauseCause) -> None:
        """End light for another reason than the dose; what was only about to start is paused as well."""
        if self._base not in ("vacuum", "light", "dark_check"):
            return
        for side in self.sides:
            was_lit = side.state == "lit"
            if side.state in ("lit", "cut"):
                side.interrupt(now_s)
                if was_lit:
                    self._dark_event(side, now_s)
                self._side_event(side, now_s)
        if not any(side.open for side in self.sides):
            self._end("completed", now_s)
        elif self._base == "light" and self._turn_next():  # in the dark check of side B it was turned already
            self._base, self._opened_since_turn = "turn", False
            self.vacuum.stop()
        else:
            self._base, self.pause_cause = "paused", cause
            if cause == "lid" and self.plan is not None:
                self.vacuum.stop_after(now_s + self.plan.longest_gap_s)
            else:
                self.vacuum.stop()
            self.events.append(Event("pause", now_s, word=cause))

    def _turn_next(self) -> bool:
        """Whether the next step is to turn the panel or move a mask: one side is done, the next was never lit."""
        return any(side.state == "done" for side in self.sides) and all(
            side.first_lit_s is None for side in self._due()
        )

    def _end(self, outcome: str, now_s: float) -> None:
        self._base, self.outcome, self.ended_s, self.pause_cause = "done", outcome, now_s, None
        self.vacuum.stop()
        self.events.append(Event("ended", now_s, word=outcome))
        if self._was_lit and self.plan is not None:
            self.left_inside = self.plan.kind
        else:  # no lamp was on: there is nothing to take out
            self.events.append(Event("taken_out", now_s))

    def _side_event(self, side: SideRun, now_s: float) -> None:
        self.events.append(Event("side", now_s, side.plan.side, side.plan.bank))

    def _dark_event(self, side: SideRun, now_s: float) -> None:
        self.darkness.lights_out(now_s)
        self.events.append(Event("dark", now_s, side.plan.side, side.plan.bank, side.lit_s))
        self._side_event(side, now_s)
