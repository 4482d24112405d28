"""Every fault in every state of an exposure, both relay polarities, one bank and two: dark in time, nothing lost.

The lid's and the stop's own contacts are left out of the twin's supply, so that what darkens is the software alone.
"""

import logging
import sys
import tempfile
from dataclasses import dataclass
from itertools import product
from pathlib import Path

from sumlight.control.safety.faults import FAULTS
from sumlight.protocol.errors import BadRequestError
from tests.benchmarks.fault_causes import CAUSES, LIT, Cause
from tests.benchmarks.figure import Figure
from tests.benchmarks.late_write import measure_late_writes
from tests.control.bench_box import BenchBox, demo_box, recipe_text

STATES = ("idle", "dark_check", "strike", "light", "tail", "paused", "turn", "done")
POLARITIES = ("low", "high")
CARRY_ON_S = 40.0


@dataclass
class Outcome:
    """How one case went. Times in seconds; `wrong` says what did not hold."""

    fault: str
    state: str
    polarity: str
    banks: int
    seen: str | None = None
    dark_after_s: float | None = None
    beyond_s: float = 0.0
    lost: int = 0
    cleared: bool = True
    wrong: str = ""


class Case:
    """One fault in one state on one box."""

    def __init__(self, folder: Path, fault: str, state: str, polarity: str, banks: int) -> None:
        box = demo_box(banks == 2)
        wired = [bank.model_copy(update={"lights_when": polarity}) for bank in box.banks]
        self.bench = BenchBox(folder, box=demo_box(banks == 2, banks=wired), hardwired_stop=False)
        self.cause: Cause = CAUSES[fault]
        self.outcome = Outcome(fault, state, polarity, banks)
        self._sides = "together" if banks == 2 and state != "turn" else "turned" if state == "turn" else "one"
        self._unpermitted_s = dict.fromkeys((bank.name for bank in box.banks), 0.0)
        self._seen_s = self.bench.clock.now_s
        self._ended_s: float | None = None
        self.bench.save("long", recipe_text(self._sides, dose_mj_cm2=self.cause.dose_mj_cm2))
        self.bench.save("short", recipe_text(self._sides, dose_mj_cm2=4))

    def run(self) -> Outcome:
        """Reach the state, bring the fault about, put it right, finish the panel."""
        bench, cause, outcome = self.bench, self.cause, self.outcome
        try:
            self._reach(outcome.state)
            was_lit = bench.any_relay_lights()
            bench.after_step = self._account
            self._seen_s = began_s = bench.clock.now_s
            cause.bring(bench)
            self._carry_on(began_s, was_lit)
            self._check_record_while_standing()
            cause.remedy(bench)
            bench.run(cause.settle_s)
            self._clear()
            self._finish()
            self._check_record()
        except AssertionError as error:
            outcome.wrong = outcome.wrong or f"failed: {str(error).splitlines()[0] if str(error) else 'assertion'}"
        finally:
            bench.after_step = None
            bench.close()
        return outcome

    def _reach(self, state: str) -> None:
        bench = self.bench.ready()
        if state == "idle":
            return
        bench.ask("start", recipe="short" if state in ("tail", "turn", "done") else "long", panel="campaign")
        match state:
            case "dark_check":
                bench.run(0.1)
            case "strike":
                bench.until(bench.any_relay_lights)
                bench.run(0.1)
            case "light" | "paused":
                bench.until(bench.any_light)
                bench.run(3.5)
                if state == "paused":
                    bench.ask("dark")
                    bench.run(0.3)
            case "tail":
                bench.until(lambda: all(side.state == "cut" for side in bench.exposure.sides))
            case _:
                bench.until_state(state)

    def _account(self) -> None:
        """After each step: how long there has been light without leave, beyond what relay or pump may take."""
        bench = self.bench
        now_s = bench.clock.now_s
        since_s, self._seen_s = now_s - self._seen_s, now_s
        granted = bench.loop.permit.granted(now_s)
        if not granted and self._ended_s is None:
            self._ended_s = now_s
        if granted and bench.loop.desk:
            self.outcome.wrong = "a permit while a fault stands"
        for name in self._unpermitted_s:
            dark = granted or not bench.world.is_lit(name)
            self._unpermitted_s[name] = 0.0 if dark else self._unpermitted_s[name] + since_s
            if self._unpermitted_s[name] > self.cause.release_s:
                self.outcome.beyond_s += since_s

    def _carry_on(self, began_s: float, was_lit: bool) -> None:
        """Let time pass and people go on as the box allows, until the fault shows or a whole panel went well."""
        bench, outcome = self.bench, self.outcome
        names = (outcome.fault, *self.cause.also)
        started = False
        bench.run(0.1)
        while bench.clock.now_s - began_s < CARRY_ON_S:
            standing = [fault.kind.fault for fault in bench.loop.desk.standing()]
            if set(standing) & set(names):
                outcome.seen = standing[0]
                break
            if standing:
                outcome.wrong = f"another fault: {standing}"
                return
            may = bench.exposure.may()
            if "go" in may:
                if self._is_refused("go"):
                    break
            elif bench.state == "turn" and bench.loop.lid == "shut":
                bench.turn_panel()
            elif bench.state == "done" and self._may_change_panel():
                bench.change_panel()
            elif "start" in may and bench.sees_light() and not (started and bench.state == "done"):
                if self._is_refused("start", recipe="long", panel="carried on"):
                    break
                started = True
            elif "start" in may and not bench.sees_light():
                outcome.seen = "refused"
                bench.refused("start", recipe="long")
                break
            elif started and bench.state == "done":
                bench.run(1.0)
                started = not bench.loop.desk.standing()
                if started:
                    break
            bench.run(0.25)
        if outcome.seen is None and (self.cause.shows_in is None or outcome.state in self.cause.shows_in):
            outcome.wrong = outcome.wrong or f"not noticed; the box is {bench.state}"
        if not self.cause.stops:
            if outcome.seen and was_lit and self._ended_s is not None and outcome.state in LIT and not started:
                outcome.wrong = "a remark darkened"
        elif outcome.seen and was_lit and self._ended_s is not None and not started:
            outcome.dark_after_s = self._ended_s - began_s
            if outcome.dark_after_s > self.cause.dark_s + 0.0051:
                outcome.wrong = f"dark after {outcome.dark_after_s:.3f} s, stated {self.cause.dark_s:g} s"

    def _is_refused(self, command: str, **values: str) -> bool:
        """Press; true if that is refused for the cause at hand. A refusal for anything else is wrong."""
        try:
            self.bench.ask(command, **values)
        except BadRequestError as error:
            words = self.cause.refused_with
            if not words or words not in error.message:
                raise AssertionError(f"{command} was refused: {error.message}") from error
            self.outcome.seen = "refused"
        return self.outcome.seen == "refused"

    def _may_change_panel(self) -> bool:
        """Whether something lies inside, and a person at the box would open the lid now: no contact contradicts."""
        return self.bench.exposure.left_inside is not None and self.bench.loop.lid != "disagree"

    def _check_record_while_standing(self) -> None:
        bench = self.bench
        if self.cause.stops and self.outcome.seen:
            bench.run(1.0)
            if bench.any_light() or bench.any_relay_lights():
                self.outcome.wrong = "light while the fault stands"

    def _clear(self) -> None:
        bench = self.bench
        bench.ask("acknowledge", who="campaign")
        standing = [fault.kind.fault for fault in bench.loop.desk.standing()]
        if standing:
            self.outcome.cleared = False
            self.outcome.wrong = f"not cleared by its remedy: {standing}"

    def _finish(self) -> None:
        """The panel under way, and one more if there is none, is completed."""
        bench = self.bench
        for _ in range(400):
            if bench.state == "done":
                return
            may = bench.exposure.may()
            if "go" in may:
                bench.ask("go")
            elif bench.state == "turn" and bench.loop.lid == "shut":
                bench.turn_panel()
            elif bench.state == "idle" and self._may_change_panel():
                bench.change_panel()
            elif bench.state == "idle" and "start" in may and bench.sees_light():
                bench.ask("start", recipe="short", panel="afterwards")
            bench.run(0.25)
        self.outcome.wrong = self.outcome.wrong or f"no way out of {bench.state}: {bench.faults}"

    def _check_record(self) -> None:
        """Every side's dose is on disk as measured, and as the simulated panel really got it."""
        bench, outcome = self.bench, self.outcome
        bench.run(0.5)
        outcome.lost = bench.daemon.writer.lost_count
        with bench.logbook() as book:
            row = book.recent()[0]
        written = {side["side"]: side["dose_mj_cm2"] for side in row["sides"]}
        for side in bench.exposure.sides:
            if abs(written[side.plan.side] - side.dose_mj_cm2) > 1e-6:
                outcome.lost += 1
        if row["outcome"] is None:
            outcome.lost += 1


def measure(quick: bool) -> list[Figure]:
    """The whole matrix, or with `quick` each fault in each state once, over the boxes in turn."""
    missing = set(FAULTS) ^ set(CAUSES)
    if missing:
        raise RuntimeError(f"faults without a cause in the campaign, or the reverse: {sorted(missing)}")
    boxes = list(product(POLARITIES, (1, 2)))
    cases = [
        (fault, state, *box)
        for row, fault in enumerate(CAUSES)
        for column, state in enumerate(STATES)
        for number, box in enumerate(boxes)
        if not quick or number == (row + column) % len(boxes)
    ]
    level = logging.root.manager.disable
    logging.disable(logging.CRITICAL)
    try:
        late_writes = measure_late_writes()
        outcomes = []
        for case in cases:
            with tempfile.TemporaryDirectory(prefix="sumlight-") as folder:
                outcomes.append(Case(Path(folder), *case).run())
    finally:
        logging.disable(level)
    _print_matrix(outcomes)
    unseen = set(CAUSES) - {outcome.seen for outcome in outcomes}
    if unseen:
        print(f"never seen under their own name: {sorted(unseen)}", file=sys.stderr)
    return [
        Figure("faults: cases (fault, state, polarity, banks)", len(outcomes), "", "for comparison"),
        Figure(
            "faults: lamp-seconds without permit beyond stated time",
            sum(o.beyond_s for o in outcomes),
            "s",
            "at most",
            0,
        ),
        Figure("faults: records lost", sum(o.lost for o in outcomes), "", "at most", 0),
        Figure("faults: not cleared by their remedy", sum(not o.cleared for o in outcomes), "", "at most", 0),
        Figure("faults: never seen under their own name", len(unseen), "", "at most", 0),
        Figure(
            "faults: cases in which anything else was wrong", sum(bool(o.wrong) for o in outcomes), "", "at most", 0
        ),
        *late_writes,
    ]


def _print_matrix(outcomes: list[Outcome]) -> None:
    """Fault by state: the longest time to the permit's end in ms; lower case words where lamps were dark anyway."""
    say = sys.stderr
    print(f"{'':16}" + "".join(f"{state:>12}" for state in STATES), file=say)
    for fault in CAUSES:
        cells = []
        for state in STATES:
            found = [o for o in outcomes if (o.fault, o.state) == (fault, state)]
            times = [o.dark_after_s for o in found if o.dark_after_s is not None]
            if any(o.wrong or o.beyond_s or o.lost for o in found):
                cells.append("WRONG")
            elif times and CAUSES[fault].dark_s == float("inf"):
                cells.append("at the cut")
            elif times:
                cells.append(f"{1000 * max(times):.0f} ms")
            elif any(o.seen == "refused" for o in found):
                cells.append("refused")
            elif any(o.seen for o in found):
                cells.append("told" if not CAUSES[fault].stops else "dark")
            else:
                cells.append("-")
        print(f"{fault:16}" + "".join(f"{cell:>12}" for cell in cells), file=say)
    for outcome in outcomes:
        if outcome.wrong or outcome.beyond_s or outcome.lost:
            print(outcome, file=say)
