"""The charge pump's circuit, integrated step by step by Kirchhoff's laws: judges whatever works it out by formula.

It shares component values with the package and nothing else.
"""

import math
from bisect import bisect_right
from collections.abc import Callable, Sequence

import numpy as np
from scipy.integrate import solve_ivp

from sumlight.box.charge_pump import Pump

SERIES_OHM = 15.0
"""R1 and the driver's own resistance, which the arithmetic leaves out."""

DIODE_OHM, CLAMP_OHM, COIL_H = 0.1, 3.0, 0.2
"""Slopes of diodes and Zener diode, and the coil's inductance: typical values, from memory."""


class Run:
    """Voltages of coupling and store capacitor and the coil's current over time, by Kirchhoff's laws."""

    def __init__(
        self,
        pump: Pump,
        level: Callable[[float], bool],
        end_s: float,
        *,
        shorted_d2: bool = False,
        series_ohm: float = SERIES_OHM,
    ) -> None:
        def change(now_s: float, state: np.ndarray) -> list[float]:
            coupling_v, store_v, coil_a = state
            node_v = (pump.supply_v - pump.loss_v if level(now_s) else 0.0) - coupling_v
            onward_v = 0.0 if shorted_d2 else pump.diode_v
            resistance = series_ohm + DIODE_OHM
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
        self.pump = pump
        self.at_s = found.t
        self.coupling_v, self.store_v, self.coil_a = found.y[0], found.y[1], found.y[2]

    def mean_coil_a(self, from_s: float, to_s: float) -> float:
        """Time average of the coil's current."""
        inside = (self.at_s >= from_s) & (self.at_s <= to_s)
        return float(np.trapezoid(self.coil_a[inside], self.at_s[inside]) / np.ptp(self.at_s[inside]))

    def ripple_a(self, after_s: float) -> tuple[float, float]:
        """Effective currents through the coupling capacitors and the store capacitor: C dU/dt, squared and averaged."""
        inside = self.at_s > after_s
        steps_s = np.diff(self.at_s[inside])

        def effective_a(farad: float, volts: np.ndarray) -> float:
            amperes = farad * np.diff(volts[inside]) / steps_s
            return math.sqrt(float(np.sum(amperes**2 * steps_s) / np.sum(steps_s)))

        return effective_a(self.pump.coupling_f, self.coupling_v), effective_a(self.pump.store_f, self.store_v)

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


def line_of(edges_s: Sequence[float]) -> Callable[[float], bool]:
    """A line that begins low and turns over at these moments."""
    return lambda now_s: bisect_right(edges_s, now_s) % 2 == 1
