"""Every wire of the mains side and of the 24 V circuit; `plan` puts those of the Pi's side to them.

A wire runs between two terminals, each written part:terminal. Wires 101 and up carry 24 V DC, 201 and up mains,
301 and up protective earth, 501 and up the DC side of LEDs. Cross-sections are least values in mm² for copper
(IEC 60204-1 table 5: 0.75 mm² outside, 0.2 mm² for control circuits inside; from memory). The electrician decides on
larger ones.
"""

from dataclasses import dataclass

from sheets.header import pin_of
from sumlight.box.description import BoxDescription

BLUE, BLUE_WHITE, BROWN, GREEN_YELLOW, BLACK = "dark blue", "dark blue and white", "brown", "green and yellow", "black"
"""Colours as IEC 60204-1 has them: DC control dark blue, its earthed conductor marked, earth green and yellow, power
black."""

CONTROL_MM2, MAINS_MM2, EARTH_MM2 = 0.75, 1.5, 1.5
PLUS, ZERO, FIELD = "X3:1", "X3:2", "X3:3"
"""Terminals: 24 V behind T3, the earthed 0 V, and 24 V of the inputs behind F5."""

INPUTS = (
    ("S4", "13", "14", ("lid", "shut_pin")),
    ("S5", "13", "14", ("lid", "open_pin")),
    ("K1", "21", "22", ("signals", "k1_mirror_pin")),
    ("S2", "21", "22", ("signals", "emergency_stop_pin")),
    ("S6", "11", "12", ("signals", "over_temperature_pin")),
    ("S7", "13", "14", ("front_panel", "go_pin")),
    ("S8", "11", "12", ("front_panel", "stop_pin")),
)
"""Contacts of the inputs: part, its two terminals, key in box.yaml; in the order of A3's channels."""


@dataclass(frozen=True)
class Wire:
    """One wire with its number, both ends, least cross-section and colour; `cable` names its cable and twisted pair."""

    number: int
    start: str
    end: str
    area_mm2: float
    colour: str
    cable: str = ""


def inputs(box: BoxDescription) -> list[tuple[str, str, str, str]]:
    """Contact part, its two terminals, and the channel of A3, for the signals this box has."""
    found: list[tuple[str, str, str, str]] = []
    for part, upper, lower, key in INPUTS:
        if pin_of(box, key) is not None:
            found.append((part, upper, lower, str(len(found) + 1)))
    return found


def chain(box: BoxDescription) -> list[tuple[str, str, str]]:
    """The unearthed conductor of K1's coil from 24 V to the coil: part, incoming and outgoing terminal."""
    parts = [("F2", "1", "2"), ("F3", "11", "12"), ("S2", "11", "12"), ("S3", "11", "12")]
    return parts if box.enable_pin is None else [*parts, ("K2", "11", "14")]


def wires(box: BoxDescription) -> list[Wire]:
    """Every wire of a box."""
    return [*_control(box), *_mains(box), *_earth(box)]


def _control(box: BoxDescription) -> list[Wire]:
    number = 100
    found: list[Wire] = []

    def run(start: str, end: str, colour: str = BLUE) -> None:
        nonlocal number
        number += 1
        found.append(Wire(number, start, end, CONTROL_MM2, colour))

    run("T3:+", PLUS)
    at = PLUS
    for part, incoming, outgoing in chain(box):
        run(at, f"{part}:{incoming}")
        at = f"{part}:{outgoing}"
    run(at, "K1:A1")
    run("K1:A2", ZERO, BLUE_WHITE)
    run(ZERO, "T3:-", BLUE_WHITE)
    run(ZERO, "X5:1", BLUE_WHITE)
    run("D4:1", "K1:A1")
    run("D4:2", "K1:A2", BLUE_WHITE)
    number = 120
    run(PLUS, "F5:1")
    run("F5:2", FIELD)
    run("A3:0", ZERO, BLUE_WHITE)
    number = 130
    for part, upper, lower, channel in inputs(box):
        run(FIELD, f"{part}:{upper}")
        run(f"{part}:{lower}", f"A3:{channel}")
    number = 150
    run(PLUS, "F4:1")
    run("F4:2", "A4:+")
    run("A4:0", ZERO, BLUE_WHITE)
    for index in range(len(box.banks)):
        number = 160 + 10 * index
        relay = f"K{11 + index}"
        run(f"A4:{1 + index}", f"{relay}:A1")
        run(f"{relay}:A2", ZERO, BLUE_WHITE)
        run(f"D{11 + index}:1", f"{relay}:A1")
        run(f"D{11 + index}:2", f"{relay}:A2", BLUE_WHITE)
    return found


def _mains(box: BoxDescription) -> list[Wire]:
    pairs = [("F6:2", "X1:L"), ("F6:4", "X1:N"), ("X1:L", "F1:1"), ("F1:2", "S1:1"), ("X1:N", "S1:3")]
    pairs += [("S1:2", "X6:L"), ("S1:4", "X6:N")]
    for supply in ("T1", "T2", "T3"):
        pairs += [("X6:L", f"{supply}:L"), ("X6:N", f"{supply}:N")]
    pairs += [("X6:L", "K1:1"), ("X6:N", "K1:3"), ("K1:2", "X7:L"), ("K1:4", "X7:N")]
    for index in range(len(box.banks)):
        relay, lamps = f"K{11 + index}", f"E{1 + index}"
        pairs += [("X7:L", f"{relay}:1"), (f"{relay}:2", f"{lamps}:L"), (f"{lamps}:N", "X7:N")]
    found = []
    for number, (start, end) in enumerate(pairs, start=201):
        neutral = start.endswith(":N") or end.endswith(":N") or "K1:4" in (start, end) or "K1:3" in (start, end)
        colour = "light blue" if neutral else BROWN
        found.append(Wire(number, start, end, MAINS_MM2, colour))
    return found


def _earth(box: BoxDescription) -> list[Wire]:
    points = ["X5:2", "X8:case", "X8:lid", "X8:sensor", *(f"E{1 + index}:PE" for index in range(len(box.banks)))]
    return [Wire(301 + index, "X1:PE", point, EARTH_MM2, GREEN_YELLOW) for index, point in enumerate(points)]


def led_wires(box: BoxDescription) -> list[Wire]:
    """What a bank of LEDs has in place of its tubes: driver, fuse, K21 on the DC side."""
    found: list[Wire] = []
    for index in range(len(box.banks)):
        driver, fuse, relay, leds = f"T{11 + index}", f"F{11 + index}", f"K{21 + index}", f"E{11 + index}"
        limiter, control, earth, power = f"D{21 + index}", 181 + 10 * index, 321 + 10 * index, 501 + 20 * index
        found += [
            Wire(control, f"A4:{1 + index}", f"{relay}:A1", CONTROL_MM2, BLUE),
            Wire(control + 1, f"{relay}:A2", ZERO, CONTROL_MM2, BLUE_WHITE),
            Wire(control + 2, f"{limiter}:1", f"{relay}:A1", CONTROL_MM2, BLUE),
            Wire(control + 3, f"{limiter}:2", f"{relay}:A2", CONTROL_MM2, BLUE_WHITE),
            Wire(earth, "X1:PE", f"{driver}:PE", EARTH_MM2, GREEN_YELLOW),
            Wire(earth + 1, "X1:PE", f"{leds}:PE", EARTH_MM2, GREEN_YELLOW),
            Wire(power, "X7:L", f"{driver}:L", MAINS_MM2, BROWN),
            Wire(power + 1, "X7:N", f"{driver}:N", MAINS_MM2, "light blue"),
            Wire(power + 2, f"{driver}:+", f"{fuse}:1", MAINS_MM2, BLACK),
            Wire(power + 3, f"{fuse}:2", f"{relay}:1", MAINS_MM2, BLACK),
            Wire(power + 4, f"{relay}:2", f"{relay}:3", MAINS_MM2, BLACK),
            Wire(power + 5, f"{relay}:4", f"{leds}:+", MAINS_MM2, BLACK),
            Wire(power + 6, f"{leds}:-", f"{driver}:-", MAINS_MM2, BLACK),
        ]
    return found
