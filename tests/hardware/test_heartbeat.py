"""The charge pump's arithmetic, held against a simulation of the circuit that shares nothing with it."""

import csv
import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from sumlight.box import charge_pump
from sumlight.box.charge_pump import NOMINAL, Pump
from tests.hardware.circuit import Run

from .conftest import ROOT


def wave(now_s: float) -> bool:
    """100 Hz, high first."""
    return now_s % 0.01 < 0.005


def stops_at(stop_s: float, *, stuck: bool) -> Callable[[float], bool]:
    """The wave until then, and a level that stays."""
    return lambda now_s: wave(now_s) if now_s < stop_s else stuck


CORNERS = list(charge_pump.corners())
SLOWEST = max(CORNERS, key=lambda pump: charge_pump.hold_up_s(pump, pump.must_drop_v))
WEAKEST = max(CORNERS, key=charge_pump.pull_in_s)


@pytest.mark.parametrize("pump", [NOMINAL, SLOWEST, WEAKEST], ids=["nominal", "slowest", "weakest"])
def test_the_coil_current_is_what_the_circuit_gives(pump: Pump) -> None:
    """Within 8 %: the arithmetic leaves out series resistance and the slope of the Zener diode."""
    run = Run(pump, wave, 0.8)
    assert run.mean_coil_a(0.6, 0.8) == pytest.approx(charge_pump.coil_current_a(pump), rel=0.08)


@pytest.mark.parametrize("stuck", [True, False], ids=["stuck high", "stuck low"])
@pytest.mark.parametrize("pump", [NOMINAL, SLOWEST], ids=["nominal", "slowest"])
def test_k2_drops_in_the_stated_time_whichever_way_the_line_is_stuck(pump: Pump, stuck: bool) -> None:
    """Time from the last edge to a current at which any relay of that kind has dropped."""
    stop_s = 0.605 if stuck is False else 0.6  # the last edge is then a falling or a rising one
    run = Run(pump, stops_at(stop_s, stuck=stuck), 1.1)
    dropped_s = run.falls_below_s(pump.must_drop_v / pump.coil_ohm, stop_s) - stop_s
    stated_s = charge_pump.hold_up_s(pump, pump.must_drop_v, stuck_high=stuck)
    assert dropped_s == pytest.approx(stated_s, rel=0.08, abs=0.004)
    assert dropped_s + pump.release_s < charge_pump.DROP_LIMIT_S


@pytest.mark.parametrize("pump", [NOMINAL, WEAKEST], ids=["nominal", "weakest"])
def test_k2_pulls_in_after_the_stated_edges(pump: Pump) -> None:
    """Within two periods: the coil's inductance delays the current a little."""
    run = Run(pump, wave, 0.6)
    reached_s = run.mean_reaches_s(pump.must_pull_in_v / pump.coil_ohm)
    assert reached_s == pytest.approx(charge_pump.pull_in_edges(pump) / charge_pump.WAVE_HZ, abs=0.0201)
    assert reached_s + pump.operate_s <= charge_pump.PULL_IN_LIMIT_S + 1e-9


def test_every_corner_of_the_tolerances_meets_both_limits() -> None:
    """Drop within 0.2 s and pull in within 0.1 s, whatever good parts somebody happens to get."""
    assert len(CORNERS) == 64
    assert charge_pump.longest_drop_s() < charge_pump.DROP_LIMIT_S
    assert charge_pump.longest_pull_in_s() < charge_pump.PULL_IN_LIMIT_S


def test_one_lone_edge_never_pulls_k2_in() -> None:
    """A pin that starts up makes one edge; at the worst corner it reaches pull-in for less than the relay needs."""
    assert charge_pump.single_edge_v(NOMINAL) < 0.8 * NOMINAL.must_pull_in_v
    keenest = max(CORNERS, key=charge_pump.single_edge_s)
    run = Run(keenest, lambda _now_s: True, 0.3)
    enough = run.at_s[run.coil_a >= keenest.must_pull_in_v / keenest.coil_ohm]
    stated_s = charge_pump.single_edge_s(keenest)
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
    assert dropped_s + NOMINAL.release_s < charge_pump.DROP_LIMIT_S


def test_a_shorted_diode_d2_does_not_pull_k2_in() -> None:
    """README: the coil then sees weak alternating current."""
    run = Run(NOMINAL, wave, 0.6, shorted_d2=True)
    assert run.mean_coil_a(0.4, 0.6) < NOMINAL.must_pull_in_v / NOMINAL.coil_ohm


def test_a_pause_of_three_ticks_does_not_drop_k2() -> None:
    """A loop held up for 15 ms is late, yet no reason to cut K1, even with the worst parts."""
    assert charge_pump.shortest_hold_s() > 3 * charge_pump.TICK_S


def test_the_clamp_stays_within_its_rating() -> None:
    """3 W, in parts.csv and on the drawing."""
    assert max(charge_pump.clamp_power_w(pump) for pump in CORNERS) < 1.5


def test_the_capacitors_bear_their_ripple_current_in_a_warm_box() -> None:
    """At the strongest corner, with a driver of no resistance and R1 5 % low: a quarter less than the list asks for."""
    listed_a = [
        float(re.findall(r"ripple current (\S+) A or more at 100 Hz", rating(part))[0]) for part in ("C1", "C3")
    ]
    runs = [Run(pump, wave, 0.3, series_ohm=9.5) for pump in (NOMINAL, max(CORNERS, key=charge_pump.coil_current_a))]
    coupling_a, store_a = map(max, zip(*(run.ripple_a(0.2) for run in runs), strict=True))
    assert 0.1 < coupling_a < 0.8 * listed_a[0]
    assert 0.05 < store_a < 0.8 * listed_a[1]
    assert rating("C1") == rating("C2")
    assert all("105 °C" in rating(part) for part in ("C1", "C2", "C3"))


def rating(part: str) -> str:
    """What parts.csv asks of a part."""
    with (ROOT / "hardware" / "parts.csv").open(encoding="utf-8", newline="") as file:
        return next(row["rating"] for row in csv.DictReader(file) if row["designator"] == part)


def test_a_wave_too_slow_to_hold_the_relay_is_told() -> None:
    """At a fifth of its rate the pump cannot pull K2 in, which is an error and no number."""
    with pytest.raises(ValueError, match="K2 stays open"):
        charge_pump.pull_in_edges(NOMINAL, 20.0)


def even_ticks(ticks_hz: float) -> Callable[[float], bool]:
    """A line that turns over so many times a second."""
    return lambda now_s: int(now_s * ticks_hz) % 2 == 0


def settled_coil_v(pump: Pump, ticks_hz: float) -> float:
    """Mean coil voltage of the circuit over its last ten periods."""
    period_s = 2 / ticks_hz
    run = Run(pump, even_ticks(ticks_hz), 50 * period_s)
    return run.mean_coil_a(40 * period_s, 50 * period_s) * pump.coil_ohm


def test_the_rate_asked_of_control_pulls_k2_in_at_the_worst_corner_and_little_less_does_not() -> None:
    """By the circuit, which knows nothing of `LEFT_OUT`: enough at the rate asked for, too little at 0.95 of it."""
    asked_hz = charge_pump.needed_ticks_hz()
    worst = max(CORNERS, key=charge_pump.least_ticks_hz)
    assert settled_coil_v(worst, asked_hz) > worst.must_pull_in_v > settled_coil_v(worst, 0.95 * asked_hz)
