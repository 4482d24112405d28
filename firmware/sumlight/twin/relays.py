"""Simulated switchgear: a bank's relay, and contactor K1 that a charge pump holds closed."""

import math
import threading
from collections.abc import Callable
from random import Random
from typing import Protocol

from sumlight.box.description import BoxDescription
from sumlight.twin.coil import HardWired, Mirror
from sumlight.twin.pump import PumpCircuit, PumpParts, parts_of
from sumlight.twin.scenario import Scenario

DROP_S = 0.02
"""Time K1 takes to open once its coil has no power, and to close once it has."""


class Relay:
    """The relay of a bank. `closed` is its contact; `energised` what the pin asks for."""

    def __init__(self, lights_when: str, pull_in_s: float, release_s: float, jitter_s: float, rng: Random) -> None:
        self.closed = False
        self.energised = False
        self.welded = False
        self.token = 0
        self._lights_high = lights_when == "high"
        self._pull_in_s = pull_in_s
        self._release_s = release_s
        self._jitter_s = jitter_s
        self._rng = rng

    def asked(self, level: bool | None) -> bool:
        """Whether a level of the pin asks for light; floating (None) does not, by the board's own pull."""
        return level is not None and level == self._lights_high

    def delay_s(self) -> float:
        """How long the contact takes to follow its coil this time."""
        usual_s = self._pull_in_s if self.energised else self._release_s
        return max(0.0, usual_s + self._rng.gauss(0.0, self._jitter_s))

    def follow(self) -> bool:
        """Let the contact follow the coil; returns whether it moved."""
        if self.energised == self.closed or (self.closed and self.welded):
            return False
        self.closed = self.energised
        return True


class ChargePump:
    """What keeps K1 closed: the circuit of K2. Without an enable line K1 is taken as always closed."""

    def __init__(self, present: bool, parts: PumpParts, now_s: float) -> None:
        self.present = present
        self.k1_closed = not present
        self.k1_welded = False
        self.closing = False
        self.look_s = math.inf
        self.circuit = PumpCircuit(*parts_of(parts), now_s)
        self.high = False


class _Clock(Protocol):
    now_s: float


class Stage(Protocol):
    """What the switchgear needs of the world around it."""

    lock: threading.RLock

    @property
    def clock(self) -> _Clock:
        """The simulated time."""

    def later(self, at_s: float, action: Callable[[float], None]) -> None:
        """Let something happen at a moment."""

    def note(self, at_s: float, words: str) -> None:
        """Write the log."""

    def rng(self, part: str) -> Random:
        """A source of chance for a part."""

    def supply(self, at_s: float) -> None:
        """A contact of a relay or of K1 has moved."""


class Switchgear:
    """All relays of a box and K1, between their pins and the lamps."""

    def __init__(self, box: BoxDescription, scenario: Scenario, stage: Stage) -> None:
        self._stage = stage
        self._lock, self._clock = stage.lock, stage.clock
        self.wired = HardWired(scenario)
        self._mirror = Mirror(scenario.k1_mirror_bridged)
        self.pump = ChargePump(box.enable_pin is not None, scenario.pump_parts, stage.clock.now_s)
        self.relays = {
            bank.name: Relay(
                bank.lights_when,
                scenario.relay_pull_in_s,
                scenario.relay_release_s,
                scenario.release_jitter_s,
                stage.rng(f"relay {bank.name}"),
            )
            for bank in box.banks
        }

    def relay_level(self, bank: str, level: bool | None) -> None:
        """Take the level of a bank's relay pin."""
        relay = self.relays[bank]
        energised = relay.asked(level)
        if energised == relay.energised:
            return
        with self._stage.lock:
            relay.energised = energised
            self._relay_later(bank)

    def enable_level(self, level: bool | None) -> None:
        """Take the level of the enable pin (None: floating, which R3 pulls low)."""
        pump, high = self.pump, bool(level)
        with self._lock:
            if high is not pump.high:
                pump.high = high
                pump.circuit.edge(high, self._clock.now_s)
                if pump.look_s == math.inf or not pump.circuit.closed:  # else the look that is planned stands
                    self._look_at_k2_later()

    def _look_at_k2_later(self) -> None:
        pump = self.pump
        next_s = pump.circuit.look_next_s()
        if next_s < pump.look_s:
            pump.look_s = next_s
            self._stage.later(next_s, self._look_at_k2)

    def _look_at_k2(self, at_s: float) -> None:
        pump = self.pump
        if at_s < pump.look_s:  # an earlier look has taken this one's place
            return
        pump.look_s = math.inf
        was = pump.circuit.closed
        pump.circuit.look(at_s)
        if pump.circuit.closed and not was:
            self._close_k1_later(at_s)
        elif was and not pump.circuit.closed:
            self._stage.later(at_s + DROP_S, self._k1_drops_if_unfed)
        self._look_at_k2_later()

    def _relay_later(self, bank: str) -> None:
        relay = self.relays[bank]
        relay.token += 1
        token = relay.token

        def follow(at_s: float) -> None:
            if token == relay.token and relay.follow():
                self._stage.note(at_s, f"relay of {bank} {'closes' if relay.closed else 'opens'}")
                self._stage.supply(at_s)

        self._stage.later(self._stage.clock.now_s + relay.delay_s(), follow)

    @property
    def gives_power(self) -> bool:
        """Whether the bank relays get mains: K1 is closed; in a box without K1 the wired contacts cut by themselves."""
        return self.pump.k1_closed and (self.pump.present or self.wired.closed)

    @property
    def mirror_closed(self) -> bool:
        """What the input behind K1's mirror contact sees."""
        return self._mirror.closed(self.pump.k1_closed)

    def wired_acts(self, at_s: float, contact: str, opens: bool) -> None:
        """The lid switch S3, the stop S2 or the cut-out F3 opens or closes: contacts in series with the coil of K1."""
        self.wired.acts(contact, opens)
        if not self.pump.present:
            self._stage.supply(at_s)
        elif self.pump.k1_closed:
            self._stage.later(at_s + DROP_S, self._k1_drops_if_unfed)
        else:
            self._close_k1_later(at_s)

    def weld_k1(self, at_s: float, welded: bool) -> None:
        """Weld the contacts of K1, or free them: they then go where the coil has been all along."""
        self.pump.k1_welded = welded
        if not welded and self.pump.present:
            self._k1_drops_if_unfed(at_s)

    def _coil_fed(self) -> bool:
        return self.pump.circuit.closed and self.wired.closed

    def _close_k1_later(self, at_s: float) -> None:
        if not self.pump.k1_closed and not self.pump.closing and self._coil_fed():
            self.pump.closing = True
            self._stage.later(at_s + DROP_S, self._k1_closes)

    def _k1_closes(self, at_s: float) -> None:
        pump = self.pump
        pump.closing = False
        if self._coil_fed():
            pump.k1_closed = True
            self._stage.note(at_s, "K1 closes")
            self._stage.supply(at_s)

    def _k1_drops_if_unfed(self, at_s: float) -> None:
        if self._coil_fed() or self.pump.k1_welded or not self.pump.k1_closed:
            return
        self.pump.k1_closed = False
        self._stage.note(at_s, "K1 opens")
        self._stage.supply(at_s)
