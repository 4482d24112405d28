"""Lamp banks and the enable line of contactor K1. Dark is the rest state of everything here."""

import logging
import threading
from collections.abc import Callable, Iterable, Sequence

from gpiozero import OutputDevice
from gpiozero.pins import Factory

from sumlight.box.description import Bank

log = logging.getLogger(__name__)

LOCK_WAIT_S = 0.05
"""How long a word for dark waits for another thread's write before it writes all the same."""


Failure = tuple[str, Exception]
"""A part by its name, and what it raised."""


class LightRefusedError(RuntimeError):
    """Somebody asked a bank to light without leave; the bank was switched dark instead."""


class LampBank:
    """Switches one relay of lamps. Fail-safe: dark, from construction on, after `dark`, and before the pin is let go.

    Wiring: the pin drives a relay input whose own pull keeps it at the level that does *not* light
    (`lights_when` in box.yaml names the other one), because a released or unpowered pin floats.

    `may_light` is asked at every `light`; a bank without it cannot be built.
    """

    def __init__(self, description: Bank, pin_factory: Factory, may_light: Callable[[], bool]) -> None:
        self.name = description.name
        self.side = description.side
        self._may_light = may_light
        self._commanded = False
        self._asked_dark = True  # until somebody asks for light
        self._lock = threading.Lock()
        self._relay: OutputDevice | None = OutputDevice(
            description.relay_pin,
            active_high=description.lights_when == "high",
            initial_value=False,
            pin_factory=pin_factory,
        )

    @property
    def commanded(self) -> bool:
        """Whether the relay is told to light; what the lamps really do is the light meter's to say."""
        return self._commanded

    def light(self) -> None:
        """Close the relay. Raises LightRefusedError, with the bank dark, if there is no leave or the bank is closed.

        Leave and the word for dark are looked at again once the pin is written: a write may take long.
        """
        with self._lock:
            self._asked_dark = False
            if self._relay is not None and self._may_light():
                if not self._commanded:
                    self._commanded = True
                    self._relay.on()
                if self._may_light() and not self._asked_dark:
                    return
            self._write_off()
        raise LightRefusedError(f"bank '{self.name}' was asked to light without leave")

    def dark(self) -> None:
        """Open the relay. May be called at any time, from any thread, also on a closed bank.

        The pin is written whatever was written before: an earlier write may have come late or not at all.
        """
        self._asked_dark = True
        if not self._lock.acquire(timeout=LOCK_WAIT_S):  # another thread hangs in its write; it looks again after it
            self._write_off()
            return
        try:
            self._write_off()
        finally:
            self._lock.release()

    def close(self) -> None:
        """Dark first, then release the pin; the second call does nothing."""
        relay = self._relay
        if relay is not None:
            try:
                self.dark()
            finally:
                self._relay = None
                relay.close()

    def _write_off(self) -> None:
        self._commanded = False
        if self._relay is not None:
            self._relay.off()


class EnableLine:
    """Feeds the charge pump that holds contactor K1. Fail-safe: a line that does not move, either way, drops K1.

    Wiring: the pin goes through a capacitor to the pump, so that only a changing level carries charge. `may_hold` is
    asked after every move; a line without it cannot be built. Levels are set at the pin itself, for this is done two
    hundred times a second.
    """

    def __init__(self, pin: int, pin_factory: Factory, may_hold: Callable[[], bool]) -> None:
        self.name = "enable line"
        self._line: OutputDevice | None = OutputDevice(pin, initial_value=False, pin_factory=pin_factory)
        self._pin = self._line.pin
        self._may_hold = may_hold
        self._level = False
        self._lock = threading.Lock()

    def beat(self) -> None:
        """Turn the level over once; called once a tick while K1 is held. Without leave the line is left at rest."""
        with self._lock:
            if self._line is None:
                return
            self._level = not self._level
            self._pin.state = self._level
            if self._level and not self._may_hold():  # also one that ran out, or was withdrawn, during the write
                self._write_low()

    def rest(self) -> None:
        """Leave the line low and still; the pin is written whatever was written before."""
        if not self._lock.acquire(timeout=LOCK_WAIT_S):
            self._write_low()
            return
        try:
            self._write_low()
        finally:
            self._lock.release()

    def close(self) -> None:
        """Still first, then release the pin; the second call does nothing."""
        line = self._line
        if line is not None:
            try:
                self.rest()
            finally:
                self._line = self._pin = None
                line.close()

    def _write_low(self) -> None:
        self._level = False
        if self._line is not None:
            self._line.off()


def try_each(acts: Iterable[tuple[str, Callable[[], object]]]) -> list[Failure]:
    """Do all of them, whichever fail; returns what failed by name, in the order it was tried."""
    failed: list[Failure] = []
    for name, act in acts:
        try:
            act()
        except Exception as error:  # noqa: BLE001 - pin libraries raise errors of their own kind
            failed.append((name, error))
    return failed


def tell_unclosed(failed: Iterable[Failure]) -> None:
    """Log what could not be closed, and why."""
    for name, error in failed:
        log.error("closing %s: %s: %s", name, type(error).__name__, error)


def close_all(banks: Sequence[LampBank], enable: EnableLine | None) -> list[Failure]:
    """Make everything dark that can be made dark, then release everything; returns what failed."""
    parts: list[LampBank | EnableLine] = [*banks, *([enable] if enable is not None else [])]
    failed = try_each((part.name, part.dark if isinstance(part, LampBank) else part.rest) for part in parts)
    return failed + try_each((part.name, part.close) for part in parts)
