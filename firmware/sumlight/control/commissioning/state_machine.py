"""The state machine of commissioning. Pure: it is told what is seen each tick and says what control should do.

A step goes through phases: `ask` (can the part be opened without touching a wire?), `prepare` (the person gets ready
for light, or for K1 to be held), `lighting` or `holding`, `act` (the person does what the step says), `watching`,
`confirm` (the person answers a question), `undo`. Looks at single tubes go from `prepare` to `lighting` many times.
The first step that fails ends the run: what is wrong is put right, then it is begun anew.
"""

from typing import Literal

from sumlight.bounds import bounds_of
from sumlight.control.commissioning import contact_steps
from sumlight.control.commissioning.facts import Facts, Measure, Result
from sumlight.control.commissioning.steps import (
    ACT_LIMIT_S,
    ALONE_LIMIT_S,
    BY_ELECTRICIAN,
    COOL_FACTOR,
    FALL_LIMIT_S,
    FAULT_HINTS,
    K1_LIMIT_S,
    NO_LIGHT_HINT,
    PREPARE,
    PREPARE_ALONE,
    SETTLE_S,
    Step,
)
from sumlight.control.commissioning.tube_rounds import TubeRounds
from sumlight.control.refused import RefusedError
from sumlight.control.safety.k1_alone import K1Alone
from sumlight.light import eyesafety
from sumlight.protocol.amounts import LeakReading
from sumlight.text.message import Message, as_written, joined, say

Phase = Literal["ask", "prepare", "lighting", "holding", "act", "watching", "confirm", "undo"]
Outcome = Literal["passed", "failed", "aborted"]
Action = Literal["light", "hold", "dark", "tidy", "abandon", "store", "end"]

LIGHTING_LIMIT_S = 30.0
WATCH_EXTRA_S = 1.0
AFTER_OFF_S = 2.0
SILENT_S = 0.12
"""Readings come every 0.05 s; a meter that lets twice that pass is on its way to being lost."""

BY_A_TUBE = frozenset({"no_light", "light_lost", "tube_out"})
"""Faults that a tube which is out may bring about: they end the look at the tubes, and prove nothing of the box."""

LID_READS = {"shut": say("reads_shut"), "open": say("reads_open"), "disagree": say("reads_disagree")}


class Commissioning:
    """One run over `steps`; `disagreement_limit_s` is the lid's, `drop_limit` the share of light whose loss is noticed.

    `results` and `outcome` tell how it went, `tubes` which of them are looked at.
    """

    def __init__(self, steps: list[Step], who: str, disagreement_limit_s: float, drop_limit: float = 0.1) -> None:
        self.steps = steps
        self.who = who
        self.results: list[Result] = []
        self.outcome: Outcome | None = None
        self.index = 0
        self.phase: Phase = "prepare"
        self.alone: K1Alone | None = None
        """What the loop sees while K1 is held alone; set by whoever carries out `hold`."""
        self.k1_shown = False
        """Whether K1 has been seen held with all bank relays off and no light: only then it may be held alone."""
        self.tubes: TubeRounds | None = None
        self._watch_s = disagreement_limit_s + WATCH_EXTRA_S
        self._drop_limit = drop_limit
        self._cool_at_s = 0.0
        self._since_s = 0.0
        self._lit_since_s: float | None = None
        self._light_before = (0.0, 0.0)
        self._ok_s: float | None = None
        self._began_s: float | None = None
        self._off_s: float | None = None
        self._fall_s: float | None = None
        self._k1_s: float | None = None
        self._enter()

    @property
    def step(self) -> Step:
        """The step at hand."""
        return self.steps[min(self.index, len(self.steps) - 1)]

    @property
    def waits_for_next(self) -> bool:
        """Whether the person's `next` is what is waited for."""
        if self.outcome is not None:
            return False
        return self.phase in ("ask", "prepare", "undo", "confirm") or (
            self.phase == "act" and self.step.kind in ("reading", "rest", "watch", "leak")
        )

    @property
    def asks(self) -> str | None:
        """What `next` must bring along: leak_mw_cm2 (a number), answer or button (both: answer, yes or no), place
        (`at_the_box`: the person says that they stand there), or nothing."""
        if self.phase == "act" and self.step.kind == "leak":
            return "leak_mw_cm2"
        if self.phase == "ask":
            return "button"
        if self.phase == "prepare" and self.step.kind == "alone":
            return "place"
        return "answer" if self.phase == "confirm" else None

    def words(self) -> Message:
        """What the person does now."""
        match self.phase:
            case "ask":
                return self.step.button or self.step.do
            case "prepare" if self.step.kind == "alone":
                return joined(PREPARE_ALONE, self.step.do)
            case "prepare" if self.tubes is not None:
                return joined(self.tubes.words(), PREPARE)
            case "prepare":
                return PREPARE
            case "holding":
                return say("wait_k1_closing")
            case "lighting":
                return say("wait_lamps_lighting")
            case "watching":
                return say("wait_watching")
            case "undo":
                return self.step.undo or self.step.do
            case "confirm":
                return say("did_lamps_go_dark")
        return self.step.do

    def refuse_if_hot(self, now_s: float) -> None:
        """Raise RefusedError while tubes that are to be moved are hot, or were not dark for as long as before."""
        if self.phase == "prepare" and now_s < self._cool_at_s:
            raise RefusedError(say("tubes_still_warm", left_s=self._cool_at_s - now_s), self.words())

    # -- what the person says ------------------------------------------------------------------------------------

    def next(
        self,
        facts: Facts,
        *,
        leak_mw_cm2: float | None = None,
        answer: str | None = None,
        at_the_box: bool = False,
    ) -> list[Action]:
        """The person goes on. Raises RefusedError when that is not possible yet."""
        if not self.waits_for_next:
            raise RefusedError(say("waits_for_something_else"), self.words())
        self._since_s = facts.now_s
        if self.phase == "ask":
            return self._asked(answer)
        if self.phase == "prepare" and self.step.kind == "alone":
            return self._hold(at_the_box=at_the_box)
        if self.phase == "prepare":
            self.phase = "lighting"
            return ["light"]
        if self.phase == "undo":
            return self._step_over()
        if self.phase == "confirm":
            return self._confirmed(facts, answer)
        if self.step.kind == "reading":
            return self._read(facts)
        if self.step.kind == "rest":
            return self._rest(facts)
        if self.step.kind == "leak":
            return self._leak(leak_mw_cm2)
        self.phase = "watching"
        return []

    def abort(self) -> list[Action]:
        """The person gives up."""
        self.outcome = "aborted"
        return ["dark", "abandon", "store", "end"]

    # -- what is seen --------------------------------------------------------------------------------------------

    def look(self, facts: Facts) -> list[Action]:
        """One tick."""
        if self.outcome is not None:
            return []
        if self.phase == "lighting" and self.tubes is not None:
            return self._look_tubes(facts, self.tubes)
        if self.phase == "lighting":
            return self._look_lighting(facts)
        if self.phase == "watching":
            return self._look_watching(facts)
        if self.phase == "holding" or (self.phase == "act" and self.step.kind == "alone"):
            return self._look_alone(facts)
        if self.phase == "act" and self.step.kind == "cut":
            return self._look_cut(facts)
        if self.phase == "act" and self.step.kind in ("lamps", "mirror"):
            return self._look_reaction(facts)
        if self.phase == "act" and self.step.kind in ("killed", "leak"):
            return self._look_steady(facts)
        return []

    def _look_lighting(self, facts: Facts) -> list[Action]:
        if facts.faults:
            told = say("lamps_lit_unsoundly", names=facts.faults)
            return self._failed(told, next((FAULT_HINTS[name] for name in facts.faults if name in FAULT_HINTS), None))
        if facts.now_s - self._since_s > LIGHTING_LIMIT_S or facts.state in ("paused", "done", "idle"):
            return self._failed(say("lamps_did_not_stay_on", state=facts.state), NO_LIGHT_HINT)
        burnt_s = self._burnt_s(facts, lit=facts.lit)
        if burnt_s is None or burnt_s < SETTLE_S or facts.dimmest is None or facts.brightest is None:
            return []
        self._light_before = (facts.dimmest, facts.brightest)
        self.phase, self._since_s, self._ok_s = "act", facts.now_s, facts.now_s
        self._began_s = self._off_s = self._fall_s = self._k1_s = None
        return ["dark"] if self.step.kind == "mirror" else ["store"]

    def _burnt_s(self, facts: Facts, *, lit: bool) -> float | None:
        """How long the lamps have burnt without a break; None while they do not."""
        if not (lit and facts.commanded):
            self._lit_since_s = None
            return None
        if self._lit_since_s is None:
            self._lit_since_s = facts.now_s
        return facts.now_s - self._lit_since_s

    def _look_tubes(self, facts: Facts, tubes: TubeRounds) -> list[Action]:
        step, bank = self.step, facts.banks[self.step.bank]
        if facts.faults:
            told = say("lamps_lit_unsoundly", names=facts.faults)
            return self._not_proved(told) if BY_A_TUBE.issuperset(facts.faults) else self._failed(told)
        if facts.now_s - self._since_s > LIGHTING_LIMIT_S + step.lit_s or facts.state in ("paused", "done", "idle"):
            return self._failed(say("lamps_did_not_stay_on", state=facts.state), NO_LIGHT_HINT)
        burnt_s = self._burnt_s(facts, lit=bank.lit)
        if burnt_s is None or not tubes.look(burnt_s, bank.glass_mw_cm2):
            return []
        self._lit_since_s = None
        found = tubes.sighted()
        if found is None:
            self.phase, self._cool_at_s = "prepare", facts.now_s + COOL_FACTOR * step.lit_s
            return ["dark", "tidy"]
        if not found.proved:
            return self._not_proved(found.found)
        self.results.append(Result(step.name, step.title, True, found.found, unseen=found.unseen))
        return ["dark", *self._step_over()]

    def _look_watching(self, facts: Facts) -> list[Action]:
        if self.step.expects == "lid_mismatch" and facts.lid == "shut":
            return self._failed(say("lid_read_shut_with_one_held"))
        waited_s, expected = facts.now_s - self._since_s, self.step.expects or ""
        if expected in facts.faults:
            noticed = Measure(say("noticed"), waited_s, "s", self._watch_s)
            return self._passed(say("fault_raised", name=expected), [noticed])
        if waited_s > self._watch_s:
            told = say("fault_not_in_time", name=expected, limit_s=self._watch_s, lid=LID_READS[facts.lid])
            return self._failed(told)
        return []

    def _look_cut(self, facts: Facts) -> list[Action]:
        now_s = facts.now_s
        if facts.faults:
            return self._failed(say("light_cut_by_fault", names=facts.faults))
        if facts.commanded:
            self._off_s = None
            return [] if now_s - self._since_s <= LIGHTING_LIMIT_S else self._failed(say("light_did_not_end"))
        if self._off_s is None:
            self._off_s = now_s
        if self._fall_s is None and facts.brightest is not None and facts.brightest < 0.5 * self._light_before[1]:
            self._fall_s = now_s
        self.k1_shown |= facts.k1_held and facts.k1_dropped is False and not facts.light
        if now_s - self._off_s < AFTER_OFF_S:
            return []
        fall_s = (self._fall_s if self._fall_s is not None else now_s) - self._off_s
        measures = [Measure(say("half_of_light"), fall_s, "s", FALL_LIMIT_S)]
        if facts.state != "done" or not measures[0].kept:
            return self._failed(say("light_not_ended_in_time", state=facts.state), None, measures)
        if facts.k1_dropped is not None and not self.k1_shown:
            return self._failed(say("k1_not_seen_held"), say("k1_not_seen_held_hint"), measures)
        return self._passed(say("dark_k1_held"), measures)

    def _look_alone(self, facts: Facts) -> list[Action]:
        alone = self.alone
        if alone is None:
            return []
        opened = [("lid", facts.lid != "shut"), ("stop", facts.stop_released is False)]
        verdict = contact_steps.judge(self.step, alone, facts.now_s, tuple(name for name, is_open in opened if is_open))
        if verdict is None:
            held = alone.held_s is not None and facts.now_s - alone.held_s >= contact_steps.STEADY_S
            if self.phase == "holding" and held:
                self.phase = "act"
            return []
        measures = []
        if verdict.drop_s is not None:
            measures.append(Measure(say("k1_after_contact"), verdict.drop_s, "s", ALONE_LIMIT_S))
        if not verdict.passed:
            return self._failed(verdict.found, verdict.hint, measures)
        return self._passed(verdict.found, measures)

    def _look_reaction(self, facts: Facts) -> list[Action]:
        now_s = facts.now_s
        if self._began_s is None:
            self._began_s = self._noticed(facts)
        if self._began_s is None:
            self._ok_s = now_s
            if not facts.commanded:
                return self._failed(say("out_for_another_reason", names=facts.faults or [facts.state]))
            if now_s - self._since_s > ACT_LIMIT_S:
                return self._failed(say("nothing_noticed", limit_s=ACT_LIMIT_S))
            return []
        if self._off_s is None and not facts.commanded:
            self._off_s = now_s
        if self._fall_s is None and facts.brightest is not None and facts.brightest < 0.5 * self._light_before[1]:
            self._fall_s = now_s
        if self._k1_s is None and facts.k1_dropped:
            self._k1_s = now_s
        if now_s - (self._off_s or self._began_s) < AFTER_OFF_S:
            return []
        return self._judge_reaction(facts, self._began_s)

    def _noticed(self, facts: Facts) -> float | None:
        """When what the person did began to show: the last tick in which it did not."""
        shade = facts.dimmest is not None and facts.dimmest < 0.5 * self._light_before[0]
        seen = {
            "lid": facts.lid != "shut",
            "stop": facts.stop_released is False,
            "shade": shade,
            None: not facts.commanded,
        }
        if self.step.trigger == "silence":
            return facts.now_s - facts.silent_s if facts.silent_s > SILENT_S else None
        return self._ok_s if seen[self.step.trigger] else None

    def _judge_reaction(self, facts: Facts, began_s: float) -> list[Action]:
        measures: list[Measure] = []
        if self._off_s is None:
            return self._failed(say("lamps_stayed_on", time_s=AFTER_OFF_S), measures=measures)
        measures.append(Measure(say("told_to_go_dark"), self._off_s - began_s, "s", self.step.off_limit_s))
        if self.step.sees_fall or self.step.kind == "mirror":
            fall_s = (self._fall_s if self._fall_s is not None else facts.now_s) - began_s
            measures.append(Measure(say("half_of_light"), fall_s, "s", FALL_LIMIT_S))
        if facts.k1_dropped is not None:
            k1_s = (self._k1_s if self._k1_s is not None else facts.now_s) - self._off_s
            measures.append(Measure(say("k1_after_that"), max(0.0, k1_s), "s", K1_LIMIT_S))
        odd = [name for name in facts.faults if name != self.step.expects]
        if self.step.expects and self.step.expects not in facts.faults:
            absent = say("fault_not_raised", name=self.step.expects)
            other = say("other_fault_raised", name=self.step.expects, names=odd)
            return self._failed(other if odd else absent, measures=measures)
        if odd:
            return self._failed(say("unexpected_fault", names=odd), measures=measures)
        late = [measure.what for measure in measures if not measure.kept]
        if late:
            return self._failed(say("too_slow", what=late), measures=measures)
        return self._passed(say("dark_in_time"), measures)

    def _look_steady(self, facts: Facts) -> list[Action]:
        """Light must burn on until the person has done the step."""
        if not facts.commanded:
            return self._failed(say("lamps_went_out", names=facts.faults or [facts.state]))
        if self.step.kind == "killed" and facts.now_s - self._since_s > ACT_LIMIT_S:
            return self._failed(say("not_killed", limit_s=ACT_LIMIT_S))
        return []

    # -- after a kill --------------------------------------------------------------------------------------------

    def restarted(self, results: list[Result], index: int) -> bool:
        """Take up the run that was under way when control was killed; false if it was not the kill it asked for."""
        self.results, self.index = results, index
        if self._among_tubes(index):
            return True
        if index >= len(self.steps) or self.step.kind != "killed":
            return False
        if [result.step for result in results] != [step.name for step in self.steps[:index]]:  # another walk's
            return False
        self.phase = "confirm"
        return True

    def _among_tubes(self, index: int) -> bool:
        """Whether tubes were being looked at, which is begun anew: pulling the box's plug for that ends the process."""
        done = len(self.results)
        if done >= len(self.steps) or self.steps[done].kind != "tubes" or index < done - 1:
            return False
        if [result.step for result in self.results] != [step.name for step in self.steps[:done]]:
            return False
        self.index = done
        self._enter()
        return True

    def _confirmed(self, facts: Facts, answer: str | None) -> list[Action]:
        if answer not in ("yes", "no"):
            raise RefusedError(say("answer_needed"), say("yes_or_no"))
        if answer == "no":
            return self._failed(say("lamps_burnt_on"))
        if facts.k1_dropped is False:
            return self._failed(say("mirror_shows_closed"))
        return self._passed(say("dark_and_mirror_dropped") if facts.k1_dropped else say("dark_without_mirror"), [])

    # -- readings ------------------------------------------------------------------------------------------------

    def _asked(self, answer: str | None) -> list[Action]:
        """Whether the part can be opened by hand: if not, the step is left to the electrician."""
        if answer not in ("yes", "no"):
            raise RefusedError(say("answer_needed"), say("yes_or_no"))
        if answer == "no":
            told = say("tubes_left_in") if self.step.kind == "tubes" else BY_ELECTRICIAN
            self.results.append(Result(self.step.name, self.step.title, True, told, proved=False))
            return self._step_over()
        self.phase = "prepare" if self.step.kind in ("alone", "tubes") else "act"
        return ["store"]

    def _hold(self, *, at_the_box: bool) -> list[Action]:
        if not at_the_box:
            raise RefusedError(say("only_at_the_box"), say("go_there_and_say_so"))
        if not self.k1_shown:
            raise RefusedError(say("k1_never_seen_held"), say("begin_commissioning_anew"))
        self.phase, self.alone = "holding", None
        return ["hold"]

    def _rest(self, facts: Facts) -> list[Action]:
        if not facts.k1_dropped:
            return self._failed(say("mirror_shows_closed"))
        return self._passed(say("mirror_shows_dropped"), [])

    def _read(self, facts: Facts) -> list[Action]:
        if facts.lid != self.step.lid:
            real = LID_READS[self.step.lid or "disagree"]
            return self._failed(say("lid_reads_wrongly", seen=LID_READS[facts.lid], real=real))
        return self._passed(say("lid_reads", seen=LID_READS[facts.lid]), [])

    def _leak(self, leak_mw_cm2: float | None) -> list[Action]:
        bounds = bounds_of(LeakReading, "leak_mw_cm2")
        if leak_mw_cm2 is None or not bounds.allow(leak_mw_cm2):
            raise RefusedError(say("reading_needed"), say("enter_leak", allowed=bounds.in_words()))
        leak = eyesafety.leak(leak_mw_cm2)
        allowed = eyesafety.permitted_mw_cm2(eyesafety.DAY_S)
        measures = [Measure(say("leaking_light"), leak_mw_cm2, "mW/cm²", allowed)]
        told = say("eyes_in_this_light", time=as_written(eyesafety.in_words(leak.permitted_s)), limit=leak.limit)
        return self._passed(told, measures) if leak.harmless_all_day else self._failed(told, measures=measures)

    # -- moving on -----------------------------------------------------------------------------------------------

    def _passed(self, found: Message, measures: list[Measure]) -> list[Action]:
        step = self.step
        self.results.append(Result(step.name, step.title, True, found, [measure.as_told() for measure in measures]))
        if step.undo:
            self.phase = "undo"
            return ["store"]
        return self._step_over()

    def _not_proved(self, found: Message) -> list[Action]:
        """Nothing came of the looks at tubes; nothing is wrong with the box for it."""
        step = self.step
        told = joined(say("tubes_prove_nothing"), found, step.hint)
        self.results.append(Result(step.name, step.title, True, told, proved=False))
        return ["dark", *self._step_over()]

    def _failed(
        self, found: Message, hint: Message | None = None, measures: list[Measure] | None = None
    ) -> list[Action]:
        step = self.step
        kept = [measure.as_told() for measure in measures or []]
        self.results.append(Result(step.name, step.title, False, joined(found, hint or step.hint), kept))
        self.outcome = "failed"
        return ["dark", "abandon", "store", "end"]

    def _step_over(self) -> list[Action]:
        self.index += 1
        if self.index >= len(self.steps):
            self.outcome = "passed"
            return ["dark", "tidy", "store", "end"]
        self._enter()
        return ["tidy", "store"]

    def _enter(self) -> None:
        if self.step.button:
            self.phase = "ask"
        else:
            self.phase = "prepare" if self.step.lights or self.step.kind == "alone" else "act"
        step, self._lit_since_s, self._cool_at_s = self.step, None, 0.0
        self.tubes = TubeRounds(step.bank, step.sight, step.lit_s, self._drop_limit) if step.sight else None
