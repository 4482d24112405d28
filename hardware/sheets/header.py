"""What is wired to which place on the Pi's header: worked out from box.yaml, used by drawing and README alike."""

from dataclasses import dataclass

from gpiozero.pins.pi import PiBoardInfo

from sumlight.box.description import Bank, BoxDescription

PI_REVISION = 0xC03114
"""Any board with the 40-pin header will do: all of them share its order of pins."""

HEADER: dict[int, str] = {
    place: pin.name for place, pin in PiBoardInfo.from_revision(PI_REVISION).headers["J8"].pins.items()
}
"""Name of every place on the header, such as 11: GPIO17."""

PLACE_OF = {name: place for place, name in HEADER.items()}

CONTACT, RELAY, PUMP, LOAD, BUS, POWER = "contact", "relay", "pump", "load", "bus", "power"

CONTACTS = {
    ("lid", "shut_pin"): ("S4", "lid: contact closed only while the lid is shut", "lid shut"),
    ("lid", "open_pin"): ("S5", "lid: contact closed only while the lid is open", "lid open"),
    ("signals", "k1_mirror_pin"): ("K1", "mirror contact of K1: closed while K1 has dropped", "K1 dropped"),
    ("signals", "emergency_stop_pin"): ("S2", "emergency stop: second contact, open when pressed", "not pressed"),
    ("signals", "over_temperature_pin"): ("S6", "thermostat in the light box: open when too hot", "cool enough"),
}
"""Part, what its contact does, and what a low pin says. Every contact closes the pin to ground through A3."""

BUTTONS = {
    ("front_panel", "go_pin"): ("S7", "go button of the front panel: closed while it is pressed", "pressed"),
    ("front_panel", "stop_pin"): (
        "S8",
        "stop button of the front panel: open while it is pressed; not an emergency stop",
        "not pressed",
    ),
}
"""The front panel's: through A3 like every contact, but no box is the less safe without them."""

LOADS = {
    ("comforts", "fan_pin"): ("M1", "fan of the light box"),
    ("comforts", "pump_pin"): ("M2", "vacuum pump of the contact frame"),
    ("comforts", "beacon_pin"): ("P1", "beacon: lamps are told to burn, or there is light"),
    ("front_panel", "buzzer_pin"): ("P2", "buzzer of the front panel"),
    ("front_panel", "light_pin"): ("P3", "light of the front panel, amber or red"),
}
"""What A2 switches: the load, and what it is. Each has a channel of its own, in this order."""

DISPLAY = {("front_panel", "display_sda_pin"): "SDA", ("front_panel", "display_scl_pin"): "SCL"}
"""The bus of the text display P4: its own, so that no display ever keeps a light sensor waiting."""


@dataclass(frozen=True)
class Connection:
    """One wire: `place` on the header (0: not on it), `key` in box.yaml, `part`, `meaning` of levels.

    `through` is the terminal at which the wire ends, on the way to `part`.
    """

    place: int
    kind: str
    part: str
    words: str
    key: str = ""
    through: str = ""
    meaning: str = ""

    @property
    def signal(self) -> str:
        """Name of the place on the header."""
        return HEADER.get(self.place, "not on the header")


def pin_of(box: BoxDescription, key: tuple[str, str]) -> int | None:
    """The pin that a block of box.yaml names, or None for what the box does without."""
    pin = getattr(getattr(box, key[0]), key[1], None)
    return pin if isinstance(pin, int) else None


def connections(box: BoxDescription) -> list[Connection]:
    """Every wire between header and parts, by place on the header."""
    found = [*_supplies(box)]
    for index, bank in enumerate(box.banks):
        found.append(_relay(index, bank))
    channel = 0
    for key, (part, words, low) in {**CONTACTS, **BUTTONS}.items():
        pin = pin_of(box, key)
        if pin is not None:
            channel += 1
            place = PLACE_OF[f"GPIO{pin}"]
            found.append(Connection(place, CONTACT, part, words, ".".join(key), f"A3:O{channel}", f"low: {low}"))
    if box.enable_pin is not None:
        words = "charge pump of K2, see heartbeat.svg"
        place = PLACE_OF[f"GPIO{box.enable_pin}"]
        found.append(
            Connection(place, PUMP, "U1", words, "enable_pin", "A8:IN", "100 Hz: K1 may close; still: K1 drops")
        )
    for number, (key, (part, words)) in enumerate(LOADS.items(), start=1):
        pin = pin_of(box, key)
        if pin is not None:
            place = PLACE_OF[f"GPIO{pin}"]
            found.append(Connection(place, LOAD, part, words, ".".join(key), f"A2:I{number}", "high: on"))
    for key, line in DISPLAY.items():
        pin = pin_of(box, key)
        if pin is not None:
            words = f"{line} of the text display, a bus of its own"
            found.append(Connection(PLACE_OF[f"GPIO{pin}"], BUS, "P4", words, ".".join(key), f"P4:{line}"))
    return sorted(found, key=lambda connection: connection.place or 99)


def has_display(box: BoxDescription) -> bool:
    """Whether the box names the bus of a text display."""
    return any(pin_of(box, key) is not None for key in DISPLAY)


def absent(box: BoxDescription) -> list[str]:
    """Safety signals this box does without, in words."""
    missing = (
        [] if box.enable_pin is not None else ["enable_pin: no charge pump, nothing drops K1 if the program hangs"]
    )
    for (block, field), (_part, words, _low) in CONTACTS.items():
        if pin_of(box, (block, field)) is None:
            missing.append(f"{block}.{field}: no {words.split(':')[0]} signal")
    return missing


def _relay(index: int, bank: Bank) -> Connection:
    number = 11 + index
    words = f"relay of lamp bank '{bank.name}', side {bank.side}"
    place = PLACE_OF[f"GPIO{bank.relay_pin}"]
    return Connection(
        place,
        RELAY,
        f"K{number}",
        words,
        f"banks[{index}].relay_pin",
        f"A4:I{1 + index}",
        f"{bank.lights_when}: lit; loose: dark (R{number})",
    )


def _supplies(box: BoxDescription) -> list[Connection]:
    """Places that power and ground take, and the buses of the meters."""
    relays = " and ".join(f"K{11 + index}" for index in range(len(box.banks)))
    sensors = " and ".join(f"B{1 + index}" for index in range(len(box.meters)))
    found = [
        Connection(1, POWER, sensors, "3.3 V of the light sensor", through="A7:3V3"),
        Connection(9, POWER, sensors, "ground of the light sensor", through="A7:GND"),
        Connection(14, POWER, "A3", "ground of the outputs to the Pi", through="A3:G"),
        Connection(39, POWER, relays, "ground of the relay inputs", through="A4:G"),
    ]
    if any(bank.lights_when == "low" for bank in box.banks):
        words = "3.3 V for pull-ups and relay inputs; never 5 V"
        found.append(Connection(17, POWER, f"A3, {relays}", words, through="A3:V"))
    else:
        found.append(Connection(17, POWER, "A3", "3.3 V for its pull-ups", through="A3:V"))
    if box.enable_pin is not None:
        found.append(Connection(20, POWER, "U1", "ground of the charge pump", through="A8:G"))
    if any(pin_of(box, key) is not None for key in LOADS):
        found.append(Connection(34, POWER, "A2", "ground of its inputs", through="A2:G"))
    if has_display(box):
        found.append(Connection(25, POWER, "P4", "ground of the text display", through="P4:GND"))
    for number, meter in enumerate(box.meters, start=1):
        pins = meter.bus_pins if len(meter.bus_pins) == 2 else (0, 0)
        for row, (pin, line) in enumerate(zip(pins, ("SDA", "SCL"), strict=True)):
            place = PLACE_OF[f"GPIO{pin}"] if pin else 0
            words = f"{line} of light sensor '{meter.name}' (I2C bus {meter.i2c_bus})"
            first = f"A7:{line}" if number == 1 else f"R{5 + 2 * (number - 1) + row}:1"
            found.append(Connection(place, BUS, f"B{number}", words, f"meters[{number - 1}].i2c_bus", first))
    return found
