"""The exposure's state machine walked exhaustively: every state that can be reached, with every input, to closure.

Time and dose are continuous; what is walked is the machine as far as its decisions go: two situations are the same
state when they agree in everything below `situation`. Each is expanded once, by all inputs.
"""

import math
import pickle
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest

from sumlight.control.exposure.dark_check import DARK_PATIENCE_S, DARK_SAMPLES, LIGHTS_OUT_S
from sumlight.control.exposure.plan import Plan
from sumlight.control.exposure.side import LOOKS_FIRST, TAIL_LIMIT_S, TAIL_SAMPLES
from sumlight.control.exposure.state_machine import Exposure
from sumlight.control.refused import RefusedError
from sumlight.light.sample import SATURATED, Sample
from sumlight.light.sensors import AS7341
from tests.control.ideal_lamps import LIMITS, plan

Situation = tuple[object, ...]
Input = Callable[["Machine"], None]

COUNTS = {"one": 300, "turned": 472, "together": 790, "series": 466}
"""States that can be reached, by the kind of exposure. A change of the machine changes them: look at it, then here."""


def plan_of(mode: str) -> Plan:
    """A plan of each kind; the series has a leg by time after one by dose."""
    if mode != "series":
        return plan(mode)
    base = plan("turned")
    legs = (replace(base.sides[0], side="1"), replace(base.sides[0], side="2", target_mj_cm2=None, lit_for_s=2.0))
    return replace(base, kind="strip", sides_mode="series", sides=legs)


class Machine:
    """The exposure and its clock, copied for each step of the walk."""

    def __init__(self, mode: str) -> None:
        self.plan = plan_of(mode)
        self.exposure = Exposure(LIMITS, AS7341.window_s)
        self.now_s = 500.0
        self.troubles: list[str] = []

    def copies(self, count: int) -> "Iterator[Machine]":
        """The same again, so many times."""
        written = pickle.dumps(self, pickle.HIGHEST_PROTOCOL)  # much quicker than copying in depth
        return (pickle.loads(written) for _ in range(count))

    def wait(self, seconds: float) -> None:
        """Time passes, then a tick."""
        self.now_s += seconds
        self.exposure.events.clear()
        self.troubles = [name for name, _ in self.exposure.tick(self.now_s)]

    def reads(
        self, mw_cm2: float, flags: int = 0, gain_code: int = 5, banks: tuple[str, ...] = ("lower", "upper")
    ) -> None:
        """A conversion of every meter ends, or of one."""
        self.now_s += AS7341.window_s
        for side in self.exposure.sides:
            side._looks = LOOKS_FIRST  # a dose met sooner only waits; test_side_looks_first judges that
        sample = Sample(self.now_s, self.now_s - AS7341.window_s / 2, (1,) * 6, gain_code, flags)
        for bank in banks:
            self.exposure.reading(bank, sample, mw_cm2)
        self.exposure.tick(self.now_s)

    def situation(self) -> Situation:
        """What the machine's decisions depend on."""
        machine, now_s = self.exposure, self.now_s
        dark = tuple(sorted((bank, min(len(seen), DARK_SAMPLES)) for bank, seen in machine.darkness.readings.items()))
        in_check = machine.base_state == "dark_check"
        return (
            machine.base_state,
            machine.state == "faulted",
            machine._lid,
            machine._opened_since_turn if machine.base_state in ("turn", "light", "dark_check") else None,
            machine.pause_cause,
            machine.outcome,
            machine.left_inside,
            machine._was_lit,
            machine.record_ready,
            dark if in_check else None,
            in_check and now_s - machine.darkness.since_s > DARK_PATIENCE_S,
            now_s < machine.darkness.lights_out_s + LIGHTS_OUT_S,
            tuple(
                (
                    side.state,
                    side.first_lit_s is None,
                    side.state == "lit" and now_s >= side.off_at_s(),
                    side.state == "lit" and now_s - side.last_usable_s > LIMITS.bridge_limit_s,
                    side.state == "lit" and side.lit_for_s(now_s) > side.plan.guard_s,
                    side.state == "cut" and min(side._tail, TAIL_SAMPLES),
                    side.state == "cut" and now_s - side._cut_s > TAIL_LIMIT_S,
                )
                for side in machine.sides
            ),
        )


def fault(stands: bool) -> Input:
    """A fault is latched, or acknowledged."""
    return lambda m: m.exposure.faulted_is(stands, m.now_s)


def record_is_there(m: Machine) -> None:
    """The beginning is on disk, as recorder tells while an exposure is under way."""
    if m.exposure.running:
        m.exposure.record_ready = True


def record_fails(m: Machine) -> None:
    """It could not be written: only told while it is waited for, and nothing can have been lit."""
    if m.exposure.base_state in ("dark_check", "paused") and not m.exposure.record_ready:
        m.exposure.record_failed()


COMMANDS: dict[str, Input] = {
    "start": lambda m: m.exposure.start(m.plan, m.now_s),
    "go": lambda m: m.exposure.go(m.now_s),
    "abandon": lambda m: m.exposure.abandon(m.now_s),
}

INPUTS: dict[str, Input] = {
    **COMMANDS,
    "dark": lambda m: m.exposure.dark(m.now_s),
    "lid shut": lambda m: m.exposure.lid_is("shut", m.now_s),
    "lid open": lambda m: m.exposure.lid_is("open", m.now_s),
    "lid disagrees": lambda m: m.exposure.lid_is("disagree", m.now_s),
    "fault": fault(True),
    "fault cleared": fault(False),
    "record on disk": record_is_there,
    "record failed": record_fails,
    "tick": lambda m: m.wait(0.005),
    "silence": lambda m: m.wait(0.6),
    "long silence": lambda m: m.wait(4.0),
    "too long": lambda m: m.wait(61.0),
    "darkness": lambda m: m.reads(0.0),
    "darkness at another gain": lambda m: m.reads(0.0, gain_code=6),
    "light": lambda m: m.reads(5.0),
    "light to the target": lambda m: m.reads(400.0),
    "darkness below only": lambda m: m.reads(0.0, banks=("lower",)),
    "light to the target below only": lambda m: m.reads(400.0, banks=("lower",)),
    "unusable reading": lambda m: m.reads(5.0, SATURATED),
}


def check(before: Machine, name: str, after: Machine, refused: bool) -> None:
    """What must hold over every edge."""
    machine, was = after.exposure, before.exposure
    if machine.wanted():
        assert machine.base_state == "light"
        assert machine.state == "light", "light under a fault"
        assert machine._lid == "shut", "light with the lid not shut"
        assert machine.record_ready, "light without a record"
        assert machine.wanted() == tuple(side.plan.bank for side in machine.sides if side.state == "lit")
    assert not machine.enable_wanted() or machine.state == "light"
    assert math.isinf(machine.next_deadline_s()) or machine.base_state == "light"
    if machine.base_state == "light" and was.base_state != "light":
        assert was.base_state == "dark_check", "light without a dark check"
        assert name not in COMMANDS, "a command lit the lamps by itself"
    if was.left_inside is not None and name != "lid open":
        assert machine.left_inside is not None, "forgotten what lies inside without the lid open"
        assert machine.base_state in ("idle", "done"), "a panel was taken for another before the lid was open"
    if machine.base_state == "done" and was.base_state != "done" and any(s.first_lit_s for s in machine.sides):
        assert machine.left_inside is not None or name == "lid open", "a lit panel may be lit again"
    if machine.base_state == "dark_check" and was.base_state != "dark_check":
        assert name in ("start", "go"), "no person asked for light"
        assert was.state != "faulted"
        assert was._lid == "shut"
    if name in ("dark", "abandon", "fault", "lid open", "lid disagrees") and not refused:
        assert machine.wanted() == (), "not dark at once"
    if name == "abandon":  # also possible under light, where only dark is offered
        assert refused == (not was.running)
        assert name not in was.may() or not refused
    elif name in COMMANDS:
        assert refused == (name not in was.may()), f"{name} offered and refused, or the reverse"
    if refused:
        assert after.situation() == before.situation(), "a refused command changed something"
    if name != "start" and name != "record failed":
        for old, new in zip(was.sides, machine.sides, strict=True):
            assert new.dose_mj_cm2 >= old.dose_mj_cm2 - 1e-12, "a dose fell"
            assert (old.state, new.state) not in (("done", "lit"), ("done", "waiting"), ("abandoned", "lit"))
    if machine.base_state == "done":
        assert machine.outcome in ("completed", "abandoned")
        assert not any(side.open for side in machine.sides)


def walk(mode: str) -> tuple[dict[Situation, set[Situation]], int]:
    """Every situation with those that follow it, and the number of edges tried."""
    first = Machine(mode)
    graph: dict[Situation, set[Situation]] = {first.situation(): set()}
    todo = deque([first])
    edges = 0
    while todo:
        before = todo.popleft()
        here = before.situation()
        for (name, act), after in zip(INPUTS.items(), before.copies(len(INPUTS)), strict=True):
            refused = False
            try:
                act(after)
            except RefusedError:
                refused = True
            edges += 1
            check(before, name, after, refused)
            there = after.situation()
            graph[here].add(there)
            if there not in graph:
                graph[there] = set()
                todo.append(after)
    return graph, edges


@pytest.mark.parametrize("mode", COUNTS)
def test_every_state_takes_every_input_and_none_is_a_dead_end(mode: str) -> None:
    """No light but by the rules over every edge; from everywhere there is a way to the end of a panel."""
    graph, edges = walk(mode)
    assert edges == len(graph) * len(INPUTS)
    leads: dict[Situation, set[Situation]] = {there: set() for there in graph}
    for here, nexts in graph.items():
        for there in nexts:
            leads[there].add(here)
    ends = [here for here in graph if here[0] == "done" and here[5] == "completed"]
    reached = set(ends)
    todo = deque(ends)
    while todo:
        for here in leads[todo.popleft()] - reached:
            reached.add(here)
            todo.append(here)
    assert [here for here in graph if here not in reached] == []
    assert len(graph) == COUNTS[mode]
