"""What a Raspberry Pi's pins do before the program has them: which pin may serve what on a real box.

Pins move while the Pi starts, and have pulls of their own until control claims them. `sumlight setup check` refuses a
box.yaml that builds on the wrong level; the simulated box has no such pins and is not judged.

Pulls after a reset: BCM2835 ARM Peripherals, table 6-31 (alternative functions): GPIO0 to 8 up, GPIO9 to 27 down
(about 50 kΩ). The 1.8 kΩ on GPIO2 and 3 and the console on GPIO14 and 15 are of the board's published pin-out. Both
from memory.
"""

from typing import Self

from pydantic import model_validator

from sumlight.box.description import BUS_PINS, BoxDescription
from sumlight.checkedfile import Location, MistakesError

PI_LIBRARY = "lgpio"
"""The pin library of a real box."""

CONSOLE_PINS = {14: "sends", 15: "receives"}
BOARD_PULLED_UP = (2, 3)
LAST_PULLED_UP = 8
BUTTONS = ("go_pin", "stop_pin")
DISPLAY_BUS = ("display_sda_pin", "display_scl_pin")
"""Pulled up by the display itself, and nothing is switched by them."""

Mistake = tuple[Location, str]


class BoxOnPi(BoxDescription):
    """A box.yaml of a real Pi: all that BoxDescription asks, and pins that rest at dark before the program runs."""

    @model_validator(mode="after")
    def _safe_before_the_program(self) -> Self:
        found = [*_console(self), *_inputs(self), *_outputs(self), *_buses(self)]
        if found:
            raise MistakesError(found)
        return self


def _console(box: BoxDescription) -> list[Mistake]:
    uses = [*box.pins()]
    for index, meter in enumerate(box.meters):
        for field in ("i2c_sda_pin", "i2c_scl_pin"):
            pin = getattr(meter, field)
            if pin is not None:
                uses.append((("meters", index, field), pin))
    return [
        (
            field,
            f"GPIO {pin} {CONSOLE_PINS[pin]} the text of the serial console, so it moves while the Pi starts; "
            "use a pin other than 14 and 15",
        )
        for field, pin in uses
        if pin in CONSOLE_PINS
    ]


def _inputs(box: BoxDescription) -> list[Mistake]:
    """Contacts on the header's bus: its traffic pulls a line low, and low is a contact that is closed, such as shut."""
    return [
        (
            field,
            f"GPIO {pin} belongs to I2C bus 1, which is switched on for the light sensor: its traffic pulls the pin "
            "low, and low reads as a closed contact; use another pin",
        )
        for field, pin in box.pins()
        if (field[0] in ("lid", "signals") or field[-1] in BUTTONS) and pin in BOARD_PULLED_UP
    ]


def _outputs(box: BoxDescription) -> list[Mistake]:
    """Relays, heartbeat and comforts against the level that each pin has before control claims it."""
    on_when_high: list[tuple[Location, int, bool]] = [
        (("banks", index, "relay_pin"), bank.relay_pin, bank.lights_when == "high")
        for index, bank in enumerate(box.banks)
    ]
    on_when_high += [
        (field, pin, True)
        for field, pin in box.pins()
        if field[0] in ("comforts", "front_panel") and field[-1] not in (*BUTTONS, *DISPLAY_BUS)
    ]
    found: list[Mistake] = []
    for place, pin, high in on_when_high:
        if pin in CONSOLE_PINS:
            continue
        if pin in BOARD_PULLED_UP:
            found.append((place, _board_pull(pin)))
        elif high and pin <= LAST_PULLED_UP:
            text = f"GPIO {pin} is pulled up while the Pi starts, and high switches this on; use one of GPIO 9 to 27"
            found.append((place, text))
        elif not high and pin > LAST_PULLED_UP:
            text = (
                f"GPIO {pin} is pulled down while the Pi starts, and low lights the lamps; "
                "use one of GPIO 4 to 8, or a relay with lights_when: high"
            )
            found.append((place, text))
    if box.enable_pin in BOARD_PULLED_UP:
        found.append((("enable_pin",), _board_pull(box.enable_pin)))
    return found


def _board_pull(pin: int) -> str:
    return (
        f"GPIO {pin} belongs to the I2C bus: the board pulls it up with 1.8 kΩ and start-up may move it; "
        "use another pin for an output"
    )


def _buses(box: BoxDescription) -> list[Mistake]:
    found: list[Mistake] = []
    for index, meter in enumerate(box.meters):
        place = ("meters", index, "i2c_bus")
        own = (meter.i2c_sda_pin, meter.i2c_scl_pin)
        fixed = BUS_PINS.get(meter.i2c_bus)
        if fixed is not None:
            if own not in ((None, None), fixed):
                text = f"bus {meter.i2c_bus} is wired to GPIO {fixed[0]} and {fixed[1]}; leave out the two pins"
                found.append((place, text))
        elif meter.i2c_bus == 0:
            text = (
                "bus 0 belongs to the board's identity chip and the camera; use bus 1, or one of 3 to 20 with its pins"
            )
            found.append((place, text))
        elif None in own:
            found.append(
                (
                    place,
                    f"bus {meter.i2c_bus} has no pins of its own on the header; name them as i2c_sda_pin and "
                    "i2c_scl_pin, as they stand in the overlay in config.txt",
                )
            )
        elif own[0] == own[1]:
            found.append((place, f"i2c_sda_pin and i2c_scl_pin are both GPIO {own[0]}; data and clock need a pin each"))
    return found
