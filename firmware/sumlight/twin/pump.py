"""The charge pump of relay K2, from edge to edge: exponentials between the moments at which a diode turns.

Its own model of the circuit in hardware/drawings/heartbeat.svg. It shares the values of the parts with
`sumlight.box.charge_pump`, as data, and none of the formulas there, so that it can judge what control does by them.
"""

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Literal

from sumlight.box.charge_pump import HOT_COIL, NOMINAL, TOLERANCES, Pump

SERIES_OHM = 15.0
"""R1 of the drawing, 10 Ω, and about 5 Ω of the driver (from memory)."""

PumpParts = Literal["nominal", "weakest", "slowest"]

_EXTREME: dict[str, tuple[int, ...]] = {"weakest": (0, 0, 0, 0, 0), "slowest": (1, 1, 1, 1, 1)}
"""Smallest or largest of each value, in the order of TOLERANCES; the coil is hot in both."""

HALVINGS = 24

NS_PER_S = 1e9
"""Time passes in whole nanoseconds here: a steady wave then meets the very same voltages again, period for period."""

KNOWN_MOST = 256


def parts_of(which: PumpParts) -> tuple[Pump, float]:
    """The parts, and the voltage at which this K2 drops: early for the weakest pump, else as late as it may."""
    if which == "nominal":
        return NOMINAL, NOMINAL.must_drop_v
    shares = {name: ends[end] for end, (name, ends) in zip(_EXTREME[which], TOLERANCES.items(), strict=True)}
    made = replace(NOMINAL, **{name: getattr(NOMINAL, name) * share for name, share in shares.items()})
    hot = replace(made, coil_ohm=made.coil_ohm * HOT_COIL, must_pull_in_v=made.must_pull_in_v * HOT_COIL)
    return hot, hot.may_drop_v if which == "weakest" else hot.must_drop_v


class PumpCircuit:
    """C1 and C2 as one, C3 with the coil across it, and K2's armature.

    `closed` is K2's contact. It pulls in when the mean coil voltage from one rising edge to the next is enough, and
    drops when the coil voltage has been too small for as long as the armature needs.
    """

    def __init__(self, parts: Pump, drop_v: float, now_s: float = 0.0) -> None:
        self.closed = False
        self.store_v = 0.0
        self._parts, self._drop_v = parts, drop_v
        self._coupling_v = 0.0
        self._high = False
        self._at_s = now_s
        self._area_vs = 0.0
        self._rose_s: float | None = None
        self._closes_s = math.inf
        self._below_since_s: float | None = None
        self._drain = 1 / (parts.coil_ohm * parts.store_f)
        fill = 1 / (SERIES_OHM * parts.store_f)
        both = fill + 1 / (SERIES_OHM * parts.coupling_f)
        root = math.sqrt((both - self._drain) ** 2 + 4 * self._drain * fill)
        self._fast, self._slow = (-both - self._drain - root) / 2, (-both - self._drain + root) / 2
        self._fill = fill
        self._clamp_v, self._diode_v = parts.clamp_v, parts.diode_v
        self._driven_v = parts.supply_v - parts.loss_v - parts.diode_v
        self._refill = 1 / (SERIES_OHM * parts.coupling_f)
        self._known: dict[tuple[bool, int, float, float], tuple[float, float, float]] = {}

    def edge(self, high: bool, now_s: float) -> None:
        """The line turned over."""
        # A steady wave meets the same voltages again, and from those the same follows.
        start = (self._high, int((now_s - self._at_s) * NS_PER_S + 0.5), self._coupling_v, self.store_v)
        known = self._known.get(start)
        if known is None:
            before_vs, self._area_vs = self._area_vs, 0.0
            self._go_to(now_s)
            if len(self._known) >= KNOWN_MOST:
                self._known.clear()
            self._known[start] = (self._coupling_v, self.store_v, self._area_vs)
            self._area_vs += before_vs
        else:
            self._at_s = now_s
            self._coupling_v, self.store_v, area_vs = known
            self._area_vs += area_vs
        self._high = high
        if not high:
            return
        if self._rose_s is not None:
            enough = self._area_vs >= self._parts.must_pull_in_v * (now_s - self._rose_s)
            if enough and not self.closed and self._closes_s == math.inf:
                self._closes_s = now_s + self._parts.operate_s
        self._rose_s, self._area_vs = now_s, 0.0

    def look(self, now_s: float) -> None:
        """Let K2 move if it has come to that."""
        self._go_to(now_s)
        if self.store_v > self._drop_v * (1 + 1e-6):
            self._below_since_s = None
            if now_s >= self._closes_s - 1e-9:
                self.closed, self._closes_s = True, math.inf
            return
        self._closes_s = math.inf
        if self._below_since_s is None:
            self._below_since_s = now_s
        elif now_s - self._below_since_s >= self._parts.release_s - 1e-9:
            self.closed = False

    def look_next_s(self) -> float:
        """When to look again; infinite if nothing can happen until an edge comes.

        With K2 closed it stands whatever edges come before: none takes charge from C3.
        """
        if self._closes_s < math.inf:
            return self._closes_s
        if not self.closed:
            return math.inf
        if self._below_since_s is not None:
            return max(self._at_s, self._below_since_s + self._parts.release_s)
        return self._at_s + max(1e-4, math.log(self.store_v / self._drop_v) / self._drain)

    def _go_to(self, now_s: float) -> None:
        """Let time pass with the line as it is."""
        left_ns = int((now_s - self._at_s) * NS_PER_S + 0.5)
        if left_ns <= 0:
            return
        self._at_s = now_s
        self._pass(left_ns / NS_PER_S)

    def _pass(self, left_s: float) -> None:
        if not self._high:
            rest_v = min(self._coupling_v, self._diode_v)
            self._coupling_v = rest_v + (self._coupling_v - rest_v) * math.exp(-left_s * self._refill)
            self._drained(left_s)
            return
        for _ in range(6):  # blocked, pushing, held by the clamp, pushing again: each at most once or twice
            if left_s <= 0:
                return
            over_v = self._driven_v - self._coupling_v - self.store_v
            if over_v < 0:
                left_s -= self._blocked(left_s)
            elif self.store_v >= self._clamp_v - 1e-9 and over_v * self._fill > self.store_v * self._drain:
                left_s -= self._clamped(left_s, over_v)
            else:
                left_s -= self._pushed(left_s, over_v)

    def _drained(self, for_s: float) -> None:
        """C3 alone feeds the coil."""
        before_v, self.store_v = self.store_v, self.store_v * math.exp(-for_s * self._drain)
        self._area_vs += (before_v - self.store_v) / self._drain

    def _blocked(self, left_s: float) -> float:
        """The line is high, but C3 stands above what it could give, until the coil has drawn it down."""
        meets_v = self._driven_v - self._coupling_v
        for_s = left_s if meets_v <= 0 else min(left_s, math.log(self.store_v / meets_v) / self._drain + 1e-9)
        self._drained(for_s)
        return for_s

    def _clamped(self, left_s: float, over_v: float) -> float:
        """D3 takes what the coil does not, until C1 and C2 give no more than the coil draws."""
        keeps_v = self.store_v * self._drain / self._fill
        for_s = min(left_s, math.log(over_v / keeps_v) / self._refill + 1e-9)
        self._coupling_v += over_v * (1 - math.exp(-for_s * self._refill))
        self._area_vs += self.store_v * for_s
        return for_s

    def _pushed(self, left_s: float, over_v: float) -> float:
        """D2 leads: `over_v` drives current through R1, C3's voltage is a sum of two exponentials."""
        fast, slow = self._fast, self._slow
        rise = over_v * self._fill - self.store_v * self._drain
        quick_v = (rise - slow * self.store_v) / (fast - slow)
        lasting_v = self.store_v - quick_v
        for_s = left_s
        if rise > 0:
            top_s = min(math.log(-slow * lasting_v / (fast * quick_v)) / (fast - slow), left_s)
            if quick_v * math.exp(fast * top_s) + lasting_v * math.exp(slow * top_s) > self._clamp_v:
                for_s = self._to_clamp_s(quick_v, lasting_v, top_s)
        quick, lasting = math.exp(fast * for_s), math.exp(slow * for_s)
        area_vs = quick_v * (quick - 1) / fast + lasting_v * (lasting - 1) / slow
        after_v = quick_v * quick + lasting_v * lasting
        # What C3 gained and the coil drew, C1 and C2 gave.
        gave = self._parts.store_f * (after_v - self.store_v) + area_vs / self._parts.coil_ohm
        self._coupling_v += gave / self._parts.coupling_f
        self.store_v = after_v if after_v < self._clamp_v else self._clamp_v
        self._area_vs += area_vs
        return for_s

    def _to_clamp_s(self, quick_v: float, lasting_v: float, top_s: float) -> float:
        """How long until C3, which rises until `top_s`, is held by D3."""
        fast, slow = self._fast, self._slow
        return _first_s(
            lambda after_s: quick_v * math.exp(fast * after_s) + lasting_v * math.exp(slow * after_s),
            self._clamp_v,
            top_s,
        )


def _first_s(rising: Callable[[float], float], level: float, end_s: float) -> float:
    """When something that rises until `end_s` reaches a level below what it has then."""
    low_s, high_s = 0.0, end_s
    for _ in range(HALVINGS):
        middle_s = (low_s + high_s) / 2
        if rising(middle_s) < level:
            low_s = middle_s
        else:
            high_s = middle_s
    return high_s
