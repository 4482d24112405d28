"""K1 held alone by the loop: whatever it sees of the box reaches the leave, each thing by itself.

The loop is a stand-in in which all is well; leave, look and line are the real ones.
"""

from types import SimpleNamespace
from typing import Any

import pytest

from sumlight.control.k1_hold import K1Holder
from sumlight.control.safety.faults import FAULTS, FaultRegistry
from sumlight.control.safety.permit import Permit
from sumlight.protocol.snapshot import FaultName
from sumlight.text.message import as_written
from tests.control.bench_box import BenchBox
from tests.control.conftest import MakeBench

LIMIT_MW_CM2 = 0.1


class Line:
    """In place of the enable line: counts."""

    def __init__(self) -> None:
        self.beats, self.rests = 0, 0

    def beat(self) -> None:
        """One edge."""
        self.beats += 1

    def rest(self) -> None:
        """Still."""
        self.rests += 1


class Watch:
    """In place of what watches one bank: dark, seen, off."""

    def __init__(self) -> None:
        self.bank = SimpleNamespace(commanded=False)
        self.glass_mw_cm2: float | None = 0.0
        self.seen = True

    def fresh(self, _now_s: float) -> bool:
        """Whether its meter reads."""
        return self.seen


class Loop:
    """In place of the loop."""

    def __init__(self) -> None:
        self.now_s = 0.0
        self.line = Line()
        self.signals = SimpleNamespace(k1_dropped=True, stop_released=True, cool=True)
        self.clock = SimpleNamespace(mono_s=lambda: self.now_s)
        self.box = SimpleNamespace(
            enable=self.line,
            signals=SimpleNamespace(read=lambda: self.signals),
            description=SimpleNamespace(limits=SimpleNamespace(dark_limit_mw_cm2=LIMIT_MW_CM2)),
        )
        self.permit = Permit()
        self.grid = SimpleNamespace(beat=lambda _now_s: True)
        self.desk = FaultRegistry()
        self.banks = {"lower": Watch(), "upper": Watch()}
        self.lid = "shut"
        self.watch = SimpleNamespace(tripped_after_s=None)
        self.k1 = K1Holder(self)  # type: ignore[arg-type]

    def tick(self) -> bool:
        """Five milliseconds later; whether K1 is held."""
        self.now_s += 0.005
        return self.k1.tick(self.now_s)


@pytest.fixture
def loop() -> Loop:
    """K1 was lent with one fault allowed, has closed, and is held."""
    found = Loop()
    alone = found.k1.lend((FaultName.EMERGENCY_STOP,))
    assert found.tick()
    found.signals.k1_dropped = False
    assert found.tick()
    assert alone.held_s == pytest.approx(0.01)
    return found


def light(loop: Loop) -> None:
    """The second meter sees some."""
    loop.banks["upper"].glass_mw_cm2 = LIMIT_MW_CM2 + 0.01


def commanded(loop: Loop) -> None:
    """The second bank is told to light."""
    loop.banks["upper"].bank.commanded = True


def silent(loop: Loop) -> None:
    """The second meter says nothing."""
    loop.banks["upper"].seen = False


def fault(loop: Loop) -> None:
    """One that nobody asked for."""
    loop.desk.report(FaultName.LID_MISMATCH, as_written("a test"), loop.now_s)


def tripped(loop: Loop) -> None:
    """The watch has seen the loop stand still."""
    loop.watch.tripped_after_s = 0.3


@pytest.mark.parametrize(
    ("happens", "ended", "why"),
    [
        (light, "light", "light_was_seen"),
        (commanded, "fault", "bank_is_on"),
        (silent, "fault", "no_reading"),
        (fault, "fault", "fault_stands"),
        (tripped, "fault", "loop_held_up"),
    ],
    ids=lambda part: getattr(part, "__name__", part),
)
def test_each_thing_that_the_loop_sees_ends_it_by_itself(loop: Loop, happens: Any, ended: str, why: str) -> None:
    """In the same tick, for good, with the line at rest."""
    alone = loop.k1.alone
    assert alone is not None
    happens(loop)
    beats = loop.line.beats
    assert not loop.tick()
    assert alone.ended == ended
    assert alone.why is not None
    assert alone.why.code == why
    assert (loop.line.beats, loop.line.rests) == (beats, 1)
    assert not loop.permit.k1.lent
    assert not loop.tick()
    assert loop.line.beats == beats


def test_the_fault_that_the_act_brings_about_and_a_remark_do_not_end_it(loop: Loop) -> None:
    """An emergency stop is pressed in that step; a remark never takes light either."""
    remark = next(name for name in FaultName if not FAULTS[name].stops)
    for name in (FaultName.EMERGENCY_STOP, remark):
        loop.desk.report(name, as_written("a test"), loop.now_s)
    assert loop.tick()


def test_a_fault_while_k1_is_held_alone_ends_it_in_the_same_tick(make_bench: MakeBench) -> None:
    """No lamp is on and none has leave: nothing but this look would take K1 away."""
    bench: BenchBox = make_bench(hardwired_lid_switch=True).ready()
    alone = bench.loop.k1.lend(())
    bench.run(0.3)
    assert alone.ended is None
    bench.loop.tell(FaultName.LID_MISMATCH, as_written("made for this test"))
    bench.step()
    assert alone.ended == "fault"
    assert not bench.loop.permit.k1.lent
