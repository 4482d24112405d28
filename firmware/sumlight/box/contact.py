"""A switch to ground, read as a level: what lid and signals are made of."""

from gpiozero import InputDevice
from gpiozero.pins import Factory


class Contact:
    """One contact between a pin and ground. Fail-safe: a broken wire reads as not closed.

    Wiring: the Pi's pull-up makes an open contact read high, a closed one low. The level is asked of the pin itself:
    it is read two hundred times a second, and the library's device would ask five questions before it does the same.
    """

    def __init__(self, pin: int, pin_factory: Factory) -> None:
        self._device = InputDevice(pin, pull_up=True, pin_factory=pin_factory)
        self._pin = self._device.pin

    def closed(self) -> bool:
        """Whether the contact is closed now. Raises what the pin library raises, or AttributeError once let go."""
        return not self._pin.state

    def close(self) -> None:
        """Release the pin."""
        self._pin = None
        self._device.close()
