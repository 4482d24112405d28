"""The pin library's pins with one thing mended: an output starts at its level.

The library's own pin first becomes a low output and then takes its level, which is a flash for a relay that closes on
low. The kernel can do both in one step, and tests/guest reads in its record that it does.
"""

from typing import Any

from gpiozero.pins import lgpio as library


class OneStepPin(library.LGPIOPin):  # type: ignore[misc]
    """A pin of the Pi's header."""

    def output_with_state(self, state: bool) -> None:
        """Become an output at this level in one step."""
        library.lgpio.gpio_claim_output(self.factory._handle, self._number, int(bool(state)))


def pin_factory() -> Any:
    """The factory for all pins. Raises what the library raises if it or the GPIO chip is missing."""
    factory = library.LGPIOFactory()
    factory.pin_class = OneStepPin
    return factory
