"""Arithmetic of the charge pump that turns a moving line into the coil voltage of relay K2.

Pure: no files, no clock. The drawing shows these values, control works out from them how often it has to tick, and
`python hardware/heartbeat.py` prints the figures that hardware/README.md and the drawing quote.

How the pump works: each rising level pushes charge through the coupling capacitors C1 and C2 and diode D2 into C3,
each falling level refills them through D1. Between pushes C3 feeds the coil, helped by C1 and C2 as long as the line
is high. No level that stays still passes a capacitor, so C3 empties into the coil and K2 drops.

The formulas take every transfer as complete. With R1 and the driver's own resistance it is, to 1 %; a simulation of
the circuit that knows nothing of them (tests/hardware/test_heartbeat.py) stays within a few percent.
"""

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache

TICK_S = 0.005
"""Control's period. It turns the line over once a tick, so the square wave has 100 Hz."""

WAVE_HZ = 1 / (2 * TICK_S)

DROP_LIMIT_S = 0.2
"""Design target: K2 has dropped so long after the last edge, at the worst corner of all tolerances."""

LEFT_OUT = 1.05
"""R1, the driver and the slope of D3, which the formulas leave out, take up to 5 % more ticks at the worst corner."""

PULL_IN_LIMIT_S = 0.1
"""Design target: K2 has pulled in so long after the first edge, at the worst corner."""


@dataclass(frozen=True)
class Pump:
    """Parts of the pump in volts, ohms, farads and seconds.

    `coupling_f` is C1 and C2 in series, `store_f` C3, `loss_v` what the driver keeps of the supply, `diode_v` one
    Schottky diode, `clamp_v` Zener diode D3. The relay's figures are those of a 5 V coil of 0.2 W: it must pull in at
    75 % and must have dropped at 10 % of 5 V; that it holds down to 50 % is the pessimistic guess for `may_drop_v`.
    """

    supply_v: float = 12.0
    loss_v: float = 0.2
    diode_v: float = 0.35
    coupling_f: float = 90e-6
    store_f: float = 270e-6
    clamp_v: float = 6.2
    coil_ohm: float = 125.0
    must_pull_in_v: float = 3.75
    may_drop_v: float = 2.5
    must_drop_v: float = 0.5
    operate_s: float = 0.010
    release_s: float = 0.010

    @property
    def push_v(self) -> float:
        """What C3 would be pushed up to in the end if nothing drew from it."""
        return self.supply_v - self.loss_v - 2 * self.diode_v

    @property
    def share(self) -> float:
        """Share of the missing voltage that one rising edge brings."""
        return self.coupling_f / (self.coupling_f + self.store_f)

    @property
    def low_decay_s(self) -> float:
        """Time constant with the line low: C3 alone empties into the coil, since D2 blocks."""
        return self.coil_ohm * self.store_f

    @property
    def high_decay_s(self) -> float:
        """Time constant with the line high: C1 and C2 go on feeding through D2, in parallel to C3."""
        return self.coil_ohm * (self.store_f + self.coupling_f)

    def kept(self, wave_hz: float) -> float:
        """Share of the peak that is left one period later."""
        half_s = 0.5 / wave_hz
        return math.exp(-half_s / self.high_decay_s - half_s / self.low_decay_s)


NOMINAL = Pump()

TOLERANCES: dict[str, tuple[float, float]] = {
    "supply_v": (0.95, 1.05),
    "coupling_f": (0.8, 1.2),
    "store_f": (0.8, 1.2),
    "clamp_v": (0.95, 1.05),
    "coil_ohm": (0.9, 1.1),
}
"""Smallest and largest share of each nominal value that a good part may have."""

HOT_COIL = 1.2
"""Copper at 70 °C against 20 °C: 1 + 0.0039/K · 50 K (coefficient from memory)."""


def corners(pump: Pump = NOMINAL) -> Iterator[Pump]:
    """Every combination of extreme parts, each with a cold and a hot coil; a hot coil needs more volts to pull in."""
    for shares in itertools.product(*TOLERANCES.values()):
        changed = {name: getattr(pump, name) * share for name, share in zip(TOLERANCES, shares, strict=True)}
        cold = replace(pump, **changed)
        yield cold
        yield replace(cold, coil_ohm=cold.coil_ohm * HOT_COIL, must_pull_in_v=cold.must_pull_in_v * HOT_COIL)


def peak_after_v(pump: Pump, edges: int, wave_hz: float = WAVE_HZ) -> float:
    """Voltage of C3 right after so many rising edges, starting empty."""
    voltage_v = 0.0
    for _ in range(edges):
        rest_v = voltage_v * pump.kept(wave_hz)
        voltage_v = min(rest_v + pump.share * max(0.0, pump.push_v - rest_v), pump.clamp_v)
    return voltage_v


def settled_peak_v(pump: Pump, wave_hz: float = WAVE_HZ) -> float:
    """The same after a long time: where what an edge brings equals what the coil has drawn."""
    return min(pump.share * pump.push_v / (1 - (1 - pump.share) * pump.kept(wave_hz)), pump.clamp_v)


def mean_over_period_v(pump: Pump, peak_v: float, wave_hz: float = WAVE_HZ) -> float:
    """Mean over one period that begins at `peak_v`; the coil's inductance lets it see about this."""
    half_s = 0.5 / wave_hz
    at_fall_v = peak_v * math.exp(-half_s / pump.high_decay_s)
    high_vs = pump.high_decay_s * (peak_v - at_fall_v)
    low_vs = pump.low_decay_s * (at_fall_v - peak_v * pump.kept(wave_hz))
    return (high_vs + low_vs) * wave_hz


def coil_current_a(pump: Pump, wave_hz: float = WAVE_HZ) -> float:
    """Mean coil current with the line moving."""
    return mean_over_period_v(pump, settled_peak_v(pump, wave_hz), wave_hz) / pump.coil_ohm


def pull_in_edges(pump: Pump, wave_hz: float = WAVE_HZ) -> int:
    """Rising edges until the mean coil voltage is enough to pull in. Raises ValueError if it never is."""
    if mean_over_period_v(pump, settled_peak_v(pump, wave_hz), wave_hz) < pump.must_pull_in_v:
        raise ValueError(f"at {wave_hz:g} Hz the coil never gets {pump.must_pull_in_v:g} V; K2 stays open")
    edges = 1
    while mean_over_period_v(pump, peak_after_v(pump, edges, wave_hz), wave_hz) < pump.must_pull_in_v:
        edges += 1
    return edges


def pull_in_s(pump: Pump, wave_hz: float = WAVE_HZ) -> float:
    """From the first rising edge to closed contacts of K2, one whole period for the last push included."""
    return pull_in_edges(pump, wave_hz) / wave_hz + pump.operate_s


def hold_up_s(pump: Pump, drop_out_v: float, wave_hz: float = WAVE_HZ, *, stuck_high: bool = True) -> float:
    """From the last edge to a coil voltage of `drop_out_v`, with the line stuck high or low.

    Stuck high is the longer one: the last edge was a rising one, and C1 and C2 still help C3.
    """
    if stuck_high:
        start_v, decay_s = settled_peak_v(pump, wave_hz), pump.high_decay_s
    else:
        start_v = settled_peak_v(pump, wave_hz) * math.exp(-0.5 / (wave_hz * pump.high_decay_s))
        decay_s = pump.low_decay_s
    return max(0.0, decay_s * math.log(start_v / drop_out_v))


def least_ticks_hz(pump: Pump) -> float:
    """Smallest rate of turn-overs a second at which the mean coil voltage still reaches the pull-in voltage."""
    too_slow_hz, enough_hz = 10.0, 1 / TICK_S
    while enough_hz - too_slow_hz > 0.01:
        ticks_hz = (too_slow_hz + enough_hz) / 2
        wave_hz = ticks_hz / 2
        if mean_over_period_v(pump, settled_peak_v(pump, wave_hz), wave_hz) < pump.must_pull_in_v:
            too_slow_hz = ticks_hz
        else:
            enough_hz = ticks_hz
    return enough_hz


@cache
def needed_ticks_hz() -> float:
    """Ticks a second below which K2 may stay open with good parts: the worst corner's rate and `LEFT_OUT`, in fives."""
    return 5.0 * math.ceil(LEFT_OUT * max(map(least_ticks_hz, corners())) / 5)


def longest_drop_s(pump: Pump = NOMINAL) -> float:
    """Last edge to open contacts of K2: worst corner, a relay that only drops where it must."""
    return max(hold_up_s(corner, corner.must_drop_v) + corner.release_s for corner in corners(pump))


def shortest_hold_s(pump: Pump = NOMINAL) -> float:
    """How long a pause of the line K2 survives at least: worst corner, a relay that drops at half voltage."""
    return min(hold_up_s(corner, corner.may_drop_v, stuck_high=False) for corner in corners(pump))


def longest_pull_in_s(pump: Pump = NOMINAL) -> float:
    """First edge to closed contacts of K2 at the worst corner."""
    return max(pull_in_s(corner) for corner in corners(pump))


def single_edge_v(pump: Pump) -> float:
    """What one lone rising edge, such as a pin that starts up, puts on the coil."""
    return pump.share * pump.push_v


def single_edge_s(pump: Pump) -> float:
    """How long one lone rising edge keeps the coil at its pull-in voltage; less than `operate_s` does nothing."""
    return max(0.0, pump.high_decay_s * math.log(single_edge_v(pump) / pump.must_pull_in_v))


def clamp_power_w(pump: Pump, wave_hz: float = WAVE_HZ) -> float:
    """Mean power of D3: what the pump brings and the coil does not draw."""
    settled_v = settled_peak_v(pump, wave_hz)
    if settled_v < pump.clamp_v:
        return 0.0
    rest_v = settled_v * pump.kept(wave_hz)
    unclamped_v = rest_v + pump.share * (pump.push_v - rest_v)
    return (unclamped_v - pump.clamp_v) * (pump.coupling_f + pump.store_f) * wave_hz * pump.clamp_v


def figures() -> dict[str, str]:
    """The figures that README.md quotes, as name and text."""
    nominal, every = NOMINAL, list(corners())
    mean_v = mean_over_period_v(nominal, settled_peak_v(nominal))
    ms = 1000
    return {
        "coil voltage, mean": f"{mean_v:.1f} V",
        "coil current, mean": f"{coil_current_a(nominal) * ms:.0f} mA",
        "rising edges to pull in": f"{pull_in_edges(nominal)} ({max(map(pull_in_edges, every))} at the worst corner)",
        "first edge to K2 closed": f"{pull_in_s(nominal) * ms:.0f} ms ({longest_pull_in_s() * ms:.0f} ms)",
        "last edge to K2 open": f"{(hold_up_s(nominal, nominal.must_drop_v) + nominal.release_s) * ms:.0f} ms "
        f"({longest_drop_s() * ms:.0f} ms)",
        "pause of the line that K2 survives": f"{hold_up_s(nominal, nominal.may_drop_v, stuck_high=False) * ms:.0f} ms "
        f"({shortest_hold_s() * ms:.0f} ms)",
        "one lone edge gives the coil": f"{single_edge_v(nominal):.1f} V ({max(map(single_edge_v, every)):.1f} V)",
        "ticks a second that K2 needs": f"{least_ticks_hz(nominal):.0f} ({max(map(least_ticks_hz, every)):.0f}); "
        f"asked for are {needed_ticks_hz():.0f}",
        "power of D3": f"{clamp_power_w(nominal):.2f} W ({max(map(clamp_power_w, every)):.2f} W)",
    }
