"""The charge pump's arithmetic, held against a simulation of the circuit that shares nothing with it."""

import math
from collections.abc import Callable
from dataclasses import replace

import heartbeat
import numpy as np
import pytest
from heartbeat import NOMINAL, Pump
from scipy.integrate import solve_ivp

SERIES_OHM = 15.0
"""R1 and the driver's own resistance, which the arithmetic leaves out."""

DIODE_OHM, CLAMP_OHM, COIL_H = 0.1, 3.0, 0.2
"""Slopes of diodes and Zener diode, and the coil's inductance: typical values, from memory."""


class Run:
    """Voltages of coupling and store capacitor and the coil's current over time, by Kirchhoff's laws."""

    def __init__(self, pump: Pump, level: Callable[[float], bool], end_s: float, *, shorted_d2: bool = False) -> None:
        def change(now_s: float, state: np.ndarray) -> list[float]:
            coupling_v, store_v, coil_a = state
            node_v = (pump.supply_v - pump.loss_v if level(now_s) else 0.0) - coupling_v
            onward_v = 0.0 if shorted_d2 else pump.diode_v
            resistance = SERIES_OHM + DIODE_OHM
            drawn_a = 0.0
            if node_v > store_v + onward_v or shorted_d2:
                push_a = (node_v - store_v - onward_v) / resistance
                store_a = push_a
            elif node_v < -pump.diode_v:
                push_a, store_a = (node_v + pump.diode_v) / resistance, 0.0
            else:
                push_a, store_a = 0.0, 0.0
            if shorted_d2 and store_v < -pump.diode_v:
                drawn_a = (store_v + pump.diode_v) / DIODE_OHM
            clamp_a = max(0.0, (store_v - pump.clamp_v) / CLAMP_OHM)
            return [
                push_a / pump.coupling_f,
                (store_a - drawn_a - clamp_a - coil_a) / pump.store_f,
                (store_v - pump.coil_ohm * coil_a) / COIL_H,
            ]

        found = solve_ivp(change, (0.0, end_s), [0.0, 0.0, 0.0], method="LSODA", max_step=2.5e-4, rtol=1e-6, atol=1e-9)
        assert found.success
        self.at_s, self.store_v, self.coil_a = found.t, found.y[1], found.y[2]

    def mean_coil_a(self, from_s: float, to_s: float) -> float:
        """Time average of the coil's current."""
        inside = (self.at_s >= from_s) & (self.at_s <= to_s)
        return float(np.trapezoid(self.coil_a[inside], self.at_s[inside]) / np.ptp(self.at_s[inside]))

    def falls_below_s(self, current_a: float, after_s: float) -> float:
        """When the coil's current is below a value for good."""
        above = self.at_s[(self.coil_a > current_a) & (self.at_s > after_s)]
        return float(above[-1]) if len(above) else after_s

    def mean_reaches_s(self, current_a: float) -> float:
        """End of the first whole period whose mean current is enough."""
        for period in range(1, 60):
            if self.mean_coil_a((period - 1) * 0.01, period * 0.01) >= current_a:
                return period * 0.01
        return math.inf


def wave(now_s: float) -> bool:
    """100 Hz, high first."""
    return now_s % 0.01 < 0.005


def stops_at(stop_s: float, *, stuck: bool) -> Callable[[float], bool]:
    """The wave until then, and a level that stays."""
    return lambda now_s: wave(now_s) if now_s < stop_s else stuck


CORNERS = list(heartbeat.corners())
SLOWEST = max(CORNERS, key=lambda pump: heartbeat.hold_up_s(pump, pump.must_drop_v))
WEAKEST = max(CORNERS, key=heartbeat.pull_in_s)


@pytest.mark.parametrize("pump", [NOMINAL, SLOWEST, WEAKEST], ids=["nominal", "slowest", "weakest"])
def test_the_coil_current_is_what_the_circuit_gives(pump: Pump) -> None:
    """Within 8 %: the arithmetic leaves out series resistance and the slope of the Zener diode."""
    run = Run(pump, wave, 0.8)
    assert run.mean_coil_a(0.6, 0.8) == pytest.approx(heartbeat.coil_current_a(pump), rel=0.08)


@pytest.mark.parametrize("stuck", [True, False], ids=["stuck high", "stuck low"])
@pytest.mark.parametrize("pump", [NOMINAL, SLOWEST], ids=["nominal", "slowest"])
def test_k2_drops_in_the_stated_time_whichever_way_the_line_is_stuck(pump: Pump, stuck: bool) -> None:
    """Time from the last edge to a current at which any relay of that kind has dropped."""
    stop_s = 0.605 if stuck is False else 0.6  # the last edge is then a falling or a rising one
    run = Run(pump, stops_at(stop_s, stuck=stuck), 1.1)
    dropped_s = run.falls_below_s(pump.must_drop_v / pump.coil_ohm, stop_s) - stop_s
    stated_s = heartbeat.hold_up_s(pump, pump.must_drop_v, stuck_high=stuck)
    assert dropped_s == pytest.approx(stated_s, rel=0.08, abs=0.004)
    assert dropped_s + pump.release_s < heartbeat.DROP_LIMIT_S


@pytest.mark.parametrize("pump", [NOMINAL, WEAKEST], ids=["nominal", "weakest"])
def test_k2_pulls_in_after_the_stated_edges(pump: Pump) -> None:
    """Within two periods: the coil's inductance delays the current a little."""
    run = Run(pump, wave, 0.6)
    reached_s = run.mean_reaches_s(pump.must_pull_in_v / pump.coil_ohm)
    assert reached_s == pytest.approx(heartbeat.pull_in_edges(pump) / heartbeat.WAVE_HZ, abs=0.0201)
    assert reached_s + pump.operate_s <= heartbeat.PULL_IN_LIMIT_S + 1e-9


def test_every_corner_of_the_tolerances_meets_both_limits() -> None:
    """Drop within 0.2 s and pull in within 0.1 s, whatever good parts somebody happens to get."""
    assert len(CORNERS) == 64
    assert heartbeat.longest_drop_s() < heartbeat.DROP_LIMIT_S
    assert heartbeat.longest_pull_in_s() < heartbeat.PULL_IN_LIMIT_S


def test_one_lone_edge_never_pulls_k2_in() -> None:
    """A pin that starts up makes one edge; at the worst corner it reaches pull-in for less than the relay needs."""
    assert heartbeat.single_edge_v(NOMINAL) < 0.8 * NOMINAL.must_pull_in_v
    keenest = max(CORNERS, key=heartbeat.single_edge_s)
    run = Run(keenest, lambda _now_s: True, 0.3)
    enough = run.at_s[run.coil_a >= keenest.must_pull_in_v / keenest.coil_ohm]
    stated_s = heartbeat.single_edge_s(keenest)
    assert (np.ptp(enough) if len(enough) else 0.0) <= stated_s + 1e-4
    assert stated_s < keenest.operate_s / 2


def test_a_line_that_never_moves_leaves_the_coil_without_current() -> None:
    """Stuck low from the start: nothing at all."""
    assert max(abs(Run(NOMINAL, lambda _now_s: False, 0.2).coil_a)) < 1e-6


def test_a_shorted_coupling_capacitor_still_blocks_a_still_line() -> None:
    """One of C1 and C2 shorted: the other one alone has twice the capacity, and K2 still drops in time."""
    shorted = replace(NOMINAL, coupling_f=2 * NOMINAL.coupling_f)
    run = Run(shorted, stops_at(0.6, stuck=True), 1.1)
    dropped_s = run.falls_below_s(NOMINAL.must_drop_v / NOMINAL.coil_ohm, 0.6) - 0.6
    assert dropped_s + NOMINAL.release_s < heartbeat.DROP_LIMIT_S


def test_a_shorted_diode_d2_does_not_pull_k2_in() -> None:
    """README: the coil then sees weak alternating current."""
    run = Run(NOMINAL, wave, 0.6, shorted_d2=True)
    assert run.mean_coil_a(0.4, 0.6) < NOMINAL.must_pull_in_v / NOMINAL.coil_ohm


def test_a_pause_of_three_ticks_does_not_drop_k2() -> None:
    """A loop held up for 15 ms is late, yet no reason to cut K1, even with the worst parts."""
    assert heartbeat.shortest_hold_s() > 3 * heartbeat.TICK_S


def test_the_clamp_stays_within_its_rating() -> None:
    """3 W, in parts.csv and on the drawing."""
    assert max(heartbeat.clamp_power_w(pump) for pump in CORNERS) < 1.5


def test_a_wave_too_slow_to_hold_the_relay_is_told() -> None:
    """At a fifth of its rate the pump cannot pull K2 in, which is an error and no number."""
    with pytest.raises(ValueError, match="K2 stays open"):
        heartbeat.pull_in_edges(NOMINAL, 20.0)


def test_the_wave_is_what_the_loop_makes() -> None:
    """One turn-over a tick of control; another tick needs another pump."""
    from sumlight.control import loop

    assert loop.TICK_S == heartbeat.TICK_S
