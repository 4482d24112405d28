"""Lamp banks and the enable line of contactor K1. Dark is the rest state of everything here."""

from collections.abc import Callable
from contextlib import suppress

from gpiozero import OutputDevice
from gpiozero.pins import Factory

from sumlight.box.description import Bank


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
        """Close the relay. Raises LightRefusedError, with the bank dark, if there is no leave or the bank is closed."""
        if self._relay is None or not self._may_light():
            self.dark()
            raise LightRefusedError(f"bank '{self.name}' was asked to light without leave")
        if not self._commanded:
            self._commanded = True
            self._relay.on()

    def dark(self) -> None:
        """Open the relay. May be called at any time, from any thread, also on a closed bank."""
        self._commanded = False
        if self._relay is not None:
            self._relay.off()

    def close(self) -> None:
        """Dark first, then release the pin; the second call does nothing."""
        relay, self._relay, self._commanded = self._relay, None, False
        if relay is not None:
            try:
                relay.off()
            finally:
                relay.close()


class EnableLine:
    """Feeds the charge pump that holds contactor K1. Fail-safe: a line that does not move, either way, drops K1.

    Wiring: the pin goes through a capacitor to the pump, so that only a changing level carries charge.
    """

    def __init__(self, pin: int, pin_factory: Factory) -> None:
        self._line: OutputDevice | None = OutputDevice(pin, initial_value=False, pin_factory=pin_factory)
        self._level = False

    def beat(self) -> None:
        """Turn the level over once; called once a tick while light is permitted."""
        if self._line is not None:
            self._level = not self._level
            if self._level:
                self._line.on()
            else:
                self._line.off()

    def rest(self) -> None:
        """Leave the line low and still."""
        if self._level and self._line is not None:
            self._level = False
            self._line.off()

    def close(self) -> None:
        """Still first, then release the pin; the second call does nothing."""
        line, self._line = self._line, None
        if line is not None:
            try:
                line.off()
            finally:
                line.close()


def close_all(parts: list[LampBank | EnableLine]) -> None:
    """Close every part even if some fail to; whatever can be made dark is made dark before anything is released."""
    for part in parts:
        if isinstance(part, LampBank):
            with suppress(Exception):  # pin libraries raise errors of their own kind
                part.dark()
    for part in parts:
        with suppress(Exception):
            part.close()
