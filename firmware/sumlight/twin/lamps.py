"""Simulated UV-A lamps of one bank: strike, warm-up, temperature, age, mains, ripple, afterglow.

Light is integrated in closed form where one exists and by Simpson's rule over short pieces otherwise, only
when somebody asks. Outputs are relative: 1 is the settled mean of a nominal bank of its kind.
"""

import math
from random import Random

from sumlight.twin import optics
from sumlight.twin.events import TUBES_PER_BANK
from sumlight.twin.scenario import Scenario
from sumlight.twin.sources import LAMP_TYPES, Fade

BEST_WALL_C = 42.0
"""Wall temperature of most light; with the rise below, room air of 25 °C (trade value for T8 tubes)."""
WALL_WIDTH_C = 28.0
"""Gives the trade's −12 % at 10 K and −25 % at 15 K away from the best temperature."""
WALL_RISE_C = 17.0
WALL_TAU_S = 150.0
"""Rise of the wall while lit and its time constant (common practice, no source: about 3 min to settle)."""
AFTERGLOW_TAU_S = 0.002
"""Decay of the phosphor after power is gone (from memory)."""
MAINS_POWER = 1.3
"""Light follows mains voltage to this power on a magnetic ballast (common practice, no source)."""
LED_RISE_C = 25.0
LED_TAU_S = 60.0
LED_DROOP_PER_K = 0.004
"""Heating of an LED bank, and what each kelvin costs (from memory)."""
LED_START_S = 0.05
AIR_SHARE = 0.3
"""The air in the box, and the sensor in it, warm up by this share of what the lamps' walls do (invented)."""
SHORTEST_STRIKE_S = 0.6
LONGEST_STRIKE_S = 1.3
LIT_SHARE = 0.001
"""An afterglow below this share of a nominal bank's light counts as dark."""
LONGEST_PIECE_S = 0.25
"""Over such a piece the slow part of the light is a parabola to better than 1e-9."""


def temperature_factor(wall_c: float) -> float:
    """Light at a wall temperature, 1 at the best one."""
    return math.exp(-(((wall_c - BEST_WALL_C) / WALL_WIDTH_C) ** 2))


class Lamp:
    """The tubes (or rows of LEDs) of one bank, switched and aged together.

    Time only moves forward: every method that takes `t_s` must be called in order of time. `phosphor_s` and
    `lines_s` are the light so far of each component in seconds of a nominal bank; they go on counting when the lamps
    are swapped for others of any `kind`.
    """

    def __init__(self, scenario: Scenario, rng: Random, start_s: float) -> None:
        self.phosphor_s = 0.0
        self.lines_s = 0.0
        self.powered = False
        self.powered_since_s = start_s
        self.striking = False
        self.burning = False
        self.strikes = scenario.strikes
        self.tubes = TUBES_PER_BANK
        self._left_in = 1.0
        self.kind = LAMP_TYPES[scenario.lamp_type]
        self._ageing = scenario.ageing
        self._fades = self.kind.fades(scenario.ageing)
        self._earlier_mj_cm2 = 0.0  # true dose of earlier lamps, less what these would have given for the same seconds
        self._rng = rng
        self._room_c = scenario.room_c
        self._mains_factor = scenario.mains_factor
        self._omega = 2 * math.pi * scenario.ripple_hz
        self._depth = scenario.ripple_depth
        self._phase = rng.uniform(0, 2 * math.pi)
        self._t_s = start_s
        self._hours = scenario.lamp_hours
        self._warmed = (-math.inf, 0.0)  # a moment, and the warmth then
        self._since_s = start_s  # beginning of the present stretch of warming or cooling
        self._since_c = scenario.room_c
        self._rest_c = scenario.room_c
        self._glow = (0.0, 0.0)
        self._flicker = (0.0, 0.0)  # depth of one tube's flicker, 2π times its frequency

    @property
    def actinic_mj_cm2(self) -> float:
        """True dose in the middle of the glass, up to the last integration."""
        answer = optics.actinic(self.kind.name)
        return self._earlier_mj_cm2 + answer.phosphor * self.phosphor_s + answer.lines * self.lines_s

    @property
    def hours(self) -> float:
        """Hours of burning, up to the last integration."""
        return self._hours + (self._t_s - self._since_s) / 3600.0 if self.burning else self._hours

    def wall_c(self, t_s: float) -> float:
        """Temperature of the tubes' wall at `t_s`."""
        tau_s = LED_TAU_S if self.kind.is_led else WALL_TAU_S
        return self._rest_c + (self._since_c - self._rest_c) * math.exp((self._since_s - t_s) / tau_s)

    def air_c(self, t_s: float) -> float:
        """Temperature of the air in the box, and so of the sensor, at `t_s`."""
        return self._room_c + AIR_SHARE * (self.wall_c(t_s) - self._room_c)

    def left(self) -> tuple[float, float]:
        """Light of band and lines over that of seasoned lamps, at their present age."""
        return self._left(self.hours)

    def power_on(self, t_s: float) -> float:
        """Give the bank power; returns the moment at which it will strike if the power stays."""
        self.integrate_to(t_s)
        self.powered = self.striking = True
        self.powered_since_s = t_s
        if self.kind.is_led:
            return t_s + LED_START_S
        cold = max(0.0, BEST_WALL_C - WALL_RISE_C - self.wall_c(t_s))
        delay_s = 0.7 + 0.014 * cold + 1.2e-4 * self._hours + self._rng.uniform(-0.08, 0.08)
        return t_s + min(LONGEST_STRIKE_S, max(SHORTEST_STRIKE_S, delay_s))

    def strike(self, t_s: float) -> None:
        """Begin to burn."""
        self.integrate_to(t_s)
        self._turn(t_s, self._room_c + self._rise_c)
        self.striking = False
        self.burning = True
        self.strikes += 1
        self._glow = (0.0, 0.0)

    def power_off(self, t_s: float) -> None:
        """Take the power away; a burning bank leaves its afterglow."""
        self.integrate_to(t_s)
        if self.burning:
            self._hours = self.hours
            self._glow = (0.0, 0.0) if self.kind.is_led else self._components(t_s)
        self.powered = self.striking = self.burning = False
        self._turn(t_s, self._room_c)

    def set_mains_factor(self, t_s: float, factor: float) -> None:
        """Change the mains voltage to `factor` × nominal."""
        self.integrate_to(t_s)
        self._mains_factor = factor

    def set_room(self, t_s: float, room_c: float) -> None:
        """Change the air around the box to `room_c`; the walls follow slowly."""
        self.integrate_to(t_s)
        if self.burning:
            self._hours = self.hours
        self._room_c = room_c
        self._turn(t_s, room_c + self._rise_c if self.burning else room_c)

    def swap(self, t_s: float, kind: str, hours: float) -> None:
        """Put in other lamps, as cold as the room, while the bank has no power."""
        self.integrate_to(t_s)
        before_mj_cm2 = self.actinic_mj_cm2
        self.kind = LAMP_TYPES[kind]
        self._fades = self.kind.fades(self._ageing)
        self._earlier_mj_cm2 += before_mj_cm2 - self.actinic_mj_cm2
        self._hours, self.strikes, self.tubes = hours, 0, TUBES_PER_BANK
        self._since_s, self._since_c, self._rest_c = t_s, self._room_c, self._room_c
        self._warmed = (-math.inf, 0.0)
        self._glow = (0.0, 0.0)
        self._flicker = (0.0, 0.0)

    def add_hours(self, t_s: float, hours: float) -> None:
        """Let the lamps age by so many hours of burning at once."""
        self.integrate_to(t_s)
        self._hours += hours

    def wear(self, band: Fade, lines: Fade) -> None:
        """These lamps age by laws of their own: one set of tubes is not like another. Only while they are dark."""
        before_mj_cm2 = self.actinic_mj_cm2
        self._fades = (band, lines)
        self._earlier_mj_cm2 += before_mj_cm2 - self.actinic_mj_cm2

    def fail_tubes(self, t_s: float, tubes: int) -> None:
        """Let this many more tubes go out for good."""
        self.integrate_to(t_s)
        self.tubes = max(0, self.tubes - tubes)

    def tubes_out(self, t_s: float, left: float) -> None:
        """Tubes are taken out or put in; `left` is what those that are in give in the middle of the glass, of 1."""
        self.integrate_to(t_s)
        self._left_in = left

    def flicker(self, t_s: float, depth: float, hz: float) -> None:
        """Let the light of one tube swing by `depth` of itself, `hz` times a second; its mean stays."""
        self.integrate_to(t_s)
        self._flicker = (depth, 2 * math.pi * hz)

    def output(self, t_s: float) -> float:
        """Actinic light at `t_s` (the moment integrated to, or a little later), ripple included."""
        answer = optics.actinic(self.kind.name)
        phosphor, lines = self._components(t_s)
        return (answer.phosphor * phosphor + answer.lines * lines) / self.kind.nominal_mw_cm2

    def _components(self, t_s: float) -> tuple[float, float]:
        if self.burning:
            ripple = 1 + sum(depth * math.cos(omega * t_s + phase) for depth, omega, phase in self._swings())
            light = self._drive() * self._warmth(self.wall_c(t_s)) * ripple
            phosphor, lines = self.left()
            return light * phosphor, light * lines
        fallen = math.exp((self._t_s - t_s) / AFTERGLOW_TAU_S) if self._glow[0] else 0.0
        return self._glow[0] * fallen, self._glow[1] * fallen

    def is_lit(self, t_s: float) -> bool:
        """Whether light comes out at `t_s`, whatever the ripple does at that very instant."""
        return self.tubes * self._left_in > 0 if self.burning else self.output(t_s) >= LIT_SHARE

    def integrate_to(self, t_s: float) -> None:
        """Add up the light until `t_s`; a moment already passed changes nothing."""
        if t_s <= self._t_s:
            return
        if self.burning:
            while self._t_s < t_s:
                self._add_burning(min(t_s, self._t_s + LONGEST_PIECE_S))
        elif self._glow[0]:
            fallen = math.exp((self._t_s - t_s) / AFTERGLOW_TAU_S)
            self.phosphor_s += self._glow[0] * AFTERGLOW_TAU_S * (1 - fallen)
            self.lines_s += self._glow[1] * AFTERGLOW_TAU_S * (1 - fallen)
            phosphor = self._glow[0] * fallen
            self._glow = (phosphor, self._glow[1] * fallen) if phosphor > 1e-12 else (0.0, 0.0)
        self._t_s = t_s

    def _add_burning(self, end_s: float) -> None:
        """One piece: Simpson for the slow part, closed form for the ripple riding on its tangent."""
        begin_s = self._t_s
        span_s = end_s - begin_s
        middle_s = begin_s + span_s / 2
        at_s, first = self._warmed  # one piece mostly begins where the last one ended
        if at_s != begin_s:
            first = self._warmth(self.wall_c(begin_s))
        middle = self._warmth(self.wall_c(middle_s))
        last = self._warmth(self.wall_c(end_s))
        self._warmed = (end_s, last)
        slow = span_s / 6 * (first + 4 * middle + last)
        slope = (last - first) / span_s
        for depth, omega, phase in self._swings():
            a = omega * begin_s + phase
            b = omega * end_s + phase
            sin_a, sin_b = math.sin(a), math.sin(b)
            slow += depth * (
                middle * (sin_b - sin_a) / omega
                + slope * (span_s / 2 * (sin_b + sin_a) / omega + (math.cos(b) - math.cos(a)) / omega**2)
            )
        light_s = self._drive() * slow
        phosphor, lines = self._left(self._hours + (middle_s - self._since_s) / 3600.0)
        self.phosphor_s += light_s * phosphor
        self.lines_s += light_s * lines
        self._t_s = end_s

    @property
    def _rise_c(self) -> float:
        return LED_RISE_C if self.kind.is_led else WALL_RISE_C

    def _swings(self) -> list[tuple[float, float, float]]:
        """What rides on the mean light, as (depth, 2π times frequency, phase): mains ripple and one tube's flicker."""
        found = [(self._ripple_depth, self._omega, self._phase)]
        depth, omega = self._flicker
        if depth and self.tubes:
            found.append((depth / self.tubes, omega, 0.0))
        return found

    @property
    def _ripple_depth(self) -> float:
        return 0.0 if self.kind.is_led else self._depth

    def _left(self, hours: float) -> tuple[float, float]:
        band, lines = self._fades
        phosphor = band.left(hours) / band.seasoned
        return phosphor, phosphor if lines is band else lines.left(hours) / lines.seasoned

    def _warmth(self, wall_c: float) -> float:
        if self.kind.is_led:
            return math.exp(LED_DROOP_PER_K * (BEST_WALL_C - WALL_RISE_C + LED_RISE_C - wall_c))
        return temperature_factor(wall_c)

    def _drive(self) -> float:
        share = self.tubes / TUBES_PER_BANK * self._left_in
        return share if self.kind.is_led else share * math.pow(self._mains_factor, MAINS_POWER)

    def _turn(self, t_s: float, rest_c: float) -> None:
        """Begin to warm or cool towards `rest_c`."""
        self._since_c = self.wall_c(t_s)
        self._warmed = (-math.inf, 0.0)
        self._since_s = t_s
        self._rest_c = rest_c
