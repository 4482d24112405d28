"""The twin's charge pump, held against a step-by-step integration of the circuit (tests/hardware/circuit.py)."""

from random import Random

import numpy as np
import pytest

from sumlight.box import charge_pump
from sumlight.box.charge_pump import Pump
from sumlight.twin.pump import PumpCircuit, PumpParts, parts_of
from tests.hardware.circuit import Run, line_of

RATES_HZ = (200.0, 160.0, 118.0, 91.0, 54.0)
"""What the loop managed with 0 to 4 ms more of work, and an emulated machine (the review's measurements)."""


def even(ticks_hz: float, seconds: float) -> list[float]:
    """Moments of turning over."""
    return [0.002 + number / ticks_hz for number in range(int(seconds * ticks_hz))]


def jittered(seed: int, seconds: float) -> list[float]:
    """Slots of 5 ms, one in five missed, each up to 2 ms late."""
    chance = Random(seed)
    slots = [number for number in range(int(seconds * 200)) if chance.random() > 0.2]
    return [0.002 + 0.005 * slot + chance.uniform(0, 0.002) for slot in slots]


def changing() -> list[float]:
    """A steady wave until every period is like the one before, then slots missed, one and two at a time."""
    steady_s = even(200.0, 0.5)
    return steady_s + [steady_s[-1] + 0.005 * slots for slots in (2, 3, 5, 6, 7, 10, 11, 12, 14, 15, 16, 17, 20)]


def closes(parts: Pump, drop_v: float, edges_s: list[float]) -> tuple[bool, np.ndarray]:
    """Whether the twin's K2 is closed in the end, and the voltages of C3 just before each edge."""
    pump, high, voltages, ahead_s = PumpCircuit(parts, drop_v), False, [], float("inf")
    for at_s in edges_s:
        while ahead_s <= at_s:
            pump.look(ahead_s)
            ahead_s = pump.look_next_s()
        pump.look(at_s)
        voltages.append(pump.store_v)
        high = not high
        pump.edge(high, at_s)
        ahead_s = pump.look_next_s()
    return pump.closed, np.array(voltages)


@pytest.mark.parametrize("which", ["nominal", "weakest", "slowest"])
@pytest.mark.parametrize("train", [*RATES_HZ, "jittered", "changing"])
def test_c3_is_charged_as_in_the_circuit(which: PumpParts, train: float | str) -> None:
    """Within 4 % of the clamp's voltage at every edge: the clamp's slope and the coil's inductance are left out."""
    parts, drop_v = parts_of(which)
    known = {"jittered": jittered(3, 0.6), "changing": changing()}
    edges_s = known[train] if isinstance(train, str) else even(train, 0.6)
    _, ours_v = closes(parts, drop_v, edges_s)
    run = Run(parts, line_of(edges_s), edges_s[-1] + 0.001)
    theirs_v = np.interp(edges_s, run.at_s, run.store_v)
    assert np.max(np.abs(ours_v - theirs_v)) < 0.04 * parts.clamp_v


@pytest.mark.parametrize("which", ["nominal", "weakest"])
@pytest.mark.parametrize("ticks_hz", RATES_HZ)
def test_k2_closes_at_the_rates_at_which_the_circuits_mean_current_is_enough(which: PumpParts, ticks_hz: float) -> None:
    """No rate here lies within 0.5 % of the edge between both."""
    parts, drop_v = parts_of(which)
    edges_s = even(ticks_hz, 1.0)
    period_s = 2 / ticks_hz
    run = Run(parts, line_of(edges_s), edges_s[-1])
    settled_v = run.mean_coil_a(edges_s[-1] - 6 * period_s, edges_s[-1]) * parts.coil_ohm
    assert settled_v != pytest.approx(parts.must_pull_in_v, rel=0.005)
    assert closes(parts, drop_v, edges_s)[0] is bool(settled_v > parts.must_pull_in_v)


def test_at_the_rate_of_the_emulated_machine_no_pump_ever_closes() -> None:
    """54 ticks a second, which once passed as closed."""
    assert not any(closes(corner, corner.must_drop_v, even(54.0, 2.0))[0] for corner in charge_pump.corners())


def test_every_good_pump_closes_at_the_rate_asked_of_control() -> None:
    """All corners; the weakest does not at nine tenths of it."""
    asked_hz = charge_pump.needed_ticks_hz()
    assert all(closes(corner, corner.must_drop_v, even(asked_hz, 1.0))[0] for corner in charge_pump.corners())
    assert not closes(*parts_of("weakest"), even(0.9 * asked_hz, 1.0))[0]


@pytest.mark.parametrize("high", [True, False], ids=["stuck high", "stuck low"])
@pytest.mark.parametrize("which", ["nominal", "slowest"])
def test_k2_drops_when_the_circuit_has_run_dry(which: PumpParts, high: bool) -> None:
    """Within 8 ms of the moment at which C3 falls below the drop-out voltage, and the armature's 10 ms."""
    parts, drop_v = parts_of(which)
    edges_s = even(200.0, 0.6)
    edges_s = edges_s if (len(edges_s) % 2 == 1) is high else edges_s[:-1]
    pump, level = PumpCircuit(parts, drop_v), False
    for at_s in edges_s:
        level = not level
        pump.edge(level, at_s)
        pump.look(at_s + parts.operate_s / 2)
    pump.look(at_s + 0.003)
    assert pump.closed
    at_s = pump.look_next_s()
    while pump.closed:
        pump.look(at_s)
        at_s = at_s if not pump.closed else pump.look_next_s()
    run = Run(parts, line_of(edges_s), edges_s[-1] + 0.5)
    dry_s = float(run.at_s[run.store_v > drop_v][-1])
    assert at_s == pytest.approx(dry_s + parts.release_s, abs=0.008)


def test_one_lone_edge_closes_nothing() -> None:
    """A pin that starts up."""
    pump = PumpCircuit(*parts_of("nominal"))
    pump.edge(True, 1.0)
    pump.look(1.5)
    assert not pump.closed
    assert pump.look_next_s() == float("inf")


@pytest.mark.parametrize("seed", range(5))
def test_what_is_remembered_is_what_would_be_worked_out(seed: int) -> None:
    """A pump that remembers goes with one that forgets at every step, whatever comes.

    In a long pause the coupling capacitor comes to rest, so that one start differs from another by C3 alone.
    """
    chance, at_s, high = Random(seed), 0.0, False
    parts, drop_v = parts_of("nominal")
    remembers, forgets = PumpCircuit(parts, drop_v), PumpCircuit(parts, drop_v)
    for _ in range(400):
        at_s += chance.choice((0.005, 0.005, 0.01, 0.1))
        high = not high if chance.random() < 0.8 else high
        forgets._known.clear()
        for pump in (remembers, forgets):
            pump.edge(high, at_s)
        assert remembers.store_v == pytest.approx(forgets.store_v, abs=1e-9)
    assert len(remembers._known) < 256
