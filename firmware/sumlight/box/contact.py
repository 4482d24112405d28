"""A switch to ground, read as a level: what lid and signals are made of."""

from typing import Any

from gpiozero import InputDevice
from gpiozero.pins import Factory


class Contact:
    """One contact between a pin and ground. Fail-safe: a broken wire reads as not closed.

    Wiring: the Pi's pull-up makes an open contact read high, a closed one low. The level is asked of the pin itself,
    `not contact.pin.state` is closed: five contacts are read two hundred times a second, and the library's device would
    ask five questions before it does the same. Once let go there is no pin, and reading it raises AttributeError.
    """

    def __init__(self, pin: int, pin_factory: Factory) -> None:
        self._device = InputDevice(pin, pull_up=True, pin_factory=pin_factory)
        self.pin: Any = self._device.pin

    def close(self) -> None:
        """Release the pin."""
        self.pin = None
        self._device.close()
