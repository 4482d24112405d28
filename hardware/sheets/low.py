"""Every wire of the Pi's side: header, sensor buses, heartbeat, 5 V and 12 V.

A wire at place 11 of the header has the number 411, and so on up to 440. Wires 441 and up lead on from there, 601 and
up are the bus of a second sensor, 641 and up what a front panel has. Least cross-sections in mm² (IEC
60204-1 table 5 asks for 0.2 inside; from memory).
"""

from sheets.header import LOADS, POWER, Connection, connections, has_display, pin_of
from sheets.wires import Wire
from sumlight.box.description import BoxDescription

SIGNAL_MM2, TWELVE_MM2 = 0.25, 0.75
WHITE, GREY, PINK = "white", "grey", "pink"
VIOLET, VIOLET_WHITE = "violet", "violet and white"
"""Signals, ground of A1, 3.3 V; 12 V and its return. None of them is a colour of mains, earth or 24 V."""

TWELVE, RETURN = "X4:1", "X4:2"
"""12 V behind F7, and 0 V of T2."""

FUSE_OF = {"M1": "F8", "M2": "F9", "P1": "F10", "P2": "F13", "P3": "F14"}
FIRST_OF_LOAD = {"M1": 458, "M2": 461, "P1": 464, "P2": 641, "P3": 644}
"""Fuse of each load, and the first of its three wires. F11 and F12 are those of LEDs."""

FIRST_OF_BUS = (471, 601)
"""Number of the first wire of each sensor's bus beyond the header."""

PAIRS = (("D", "G1", 1), ("C", "G2", 2), ("V", "G3", 3))
"""Twisted pairs between the extenders: data, clock and 3.3 V, each with a ground of its own."""

LINES = ("SDA", "SCL", "3V3", "GND")


def low_wires(box: BoxDescription) -> list[Wire]:
    """All of them, by number."""
    found = [*header_wires(box), *pump_wires(box), *supply_wires(box)]
    for index in range(len(box.meters)):
        found += bus_wires(box, index)
    return sorted(found, key=lambda wire: wire.number)


def header_wires(box: BoxDescription) -> list[Wire]:
    """From each used place of the header to the next terminal."""
    found = [
        Wire(400 + wired.place, f"A1:{wired.place}", wired.through, SIGNAL_MM2, _colour(wired))
        for wired in connections(box)
        if wired.place
    ]
    if any(bank.lights_when == "low" for bank in box.banks):
        found.append(Wire(467, "A3:V", "A4:V", SIGNAL_MM2, PINK))
    if has_display(box):
        found.append(Wire(647, three_volt_end(box), "P4:3V3", SIGNAL_MM2, PINK))
    return found


def three_volt_end(box: BoxDescription) -> str:
    """The last terminal of the 3.3 V from place 17, where one more wire may begin."""
    return "A4:V" if any(bank.lights_when == "low" for bank in box.banks) else "A3:V"


def pump_wires(box: BoxDescription) -> list[Wire]:
    """12 V to the heartbeat's board, and from there to the coil of K2."""
    if box.enable_pin is None:
        return []
    return [
        Wire(441, TWELVE, "A8:+", TWELVE_MM2, VIOLET),
        Wire(442, "A8:0", RETURN, TWELVE_MM2, VIOLET_WHITE),
        Wire(443, "A8:K+", "K2:A1", SIGNAL_MM2, VIOLET),
        Wire(444, "K2:A2", "A8:K-", SIGNAL_MM2, VIOLET_WHITE),
    ]


def loads(box: BoxDescription) -> list[tuple[str, str, str]]:
    """What A2 switches on this box: the load, its fuse, the output of A2."""
    return [
        (part, FUSE_OF[part], str(number))
        for number, (key, (part, _words)) in enumerate(LOADS.items(), start=1)
        if pin_of(box, key) is not None
    ]


def supply_wires(box: BoxDescription) -> list[Wire]:
    """5 V to the Pi; 12 V over F7 to the strip X4 and a fuse for each load."""
    found = [
        Wire(451, "T1:+", "A1:DC+", TWELVE_MM2, "lead of T1"),
        Wire(452, "T1:-", "A1:DC-", TWELVE_MM2, "lead of T1"),
        Wire(453, "T2:+", "F7:1", TWELVE_MM2, VIOLET),
        Wire(454, "F7:2", TWELVE, TWELVE_MM2, VIOLET),
        Wire(455, RETURN, "T2:-", TWELVE_MM2, VIOLET_WHITE),
    ]
    if loads(box):
        found.append(Wire(456, TWELVE, "A2:+", TWELVE_MM2, VIOLET))
        found.append(Wire(457, "A2:0", RETURN, TWELVE_MM2, VIOLET_WHITE))
    for load, fuse, output in loads(box):
        first = FIRST_OF_LOAD[load]
        found.append(Wire(first, TWELVE, f"{fuse}:1", TWELVE_MM2, VIOLET))
        found.append(Wire(first + 1, f"{fuse}:2", f"{load}:+", TWELVE_MM2, VIOLET))
        found.append(Wire(first + 2, f"{load}:-", f"A2:{output}", TWELVE_MM2, VIOLET_WHITE))
    return found


def bus_parts(index: int) -> dict[str, str]:
    """Parts on a sensor's bus: extender at the Pi's end, extender at the sensor's end, resistors, sensor, cable."""
    return {
        "near": f"A{6 + 10 * index}",
        "far": f"A{9 + 10 * index}",
        "data": f"R{5 + 2 * index}",
        "clock": f"R{6 + 2 * index}",
        "sensor": f"B{1 + index}",
        "cable": f"W{1 + index}",
    }


def on_the_bus(index: int) -> list[str]:
    """Boards at the sensor's end, one after the other: thermometer and UV meter share the first sensor's bus."""
    return ["B1", "B4", "B3"] if index == 0 else [f"B{1 + index}"]


def bus_wires(box: BoxDescription, index: int) -> list[Wire]:
    """The bus of a sensor, from the header's side over resistors, extender, cable and extender to the last board."""
    part, found = bus_parts(index), list[Wire]()

    def run(start: str, end: str, line: str, cable: str = "") -> None:
        colour = {"3V3": PINK, "GND": GREY}.get(line, WHITE)
        found.append(Wire(FIRST_OF_BUS[index] + len(found), start, end, SIGNAL_MM2, colour, cable))

    for line, resistor in (("SDA", part["data"]), ("SCL", part["clock"])):
        first = f"A7:{line}" if index == 0 else f"{resistor}:1"
        if len(box.meters[index].bus_pins) < 2:
            run(f"A1:{line}{box.meters[index].i2c_bus}", first, line)
        if index == 0:
            run(first, f"{resistor}:1", line)
        run(f"{resistor}:2", f"{part['near']}:{line}", line)
    for line in ("3V3", "GND"):
        run(f"{'A7' if index == 0 else 'A6'}:{line}", f"{part['near']}:{line}", line)
    for core, ground, number in PAIRS:
        cable = f"{part['cable']} pair {number}"
        run(f"{part['near']}:{core}", f"{part['far']}:{core}", "3V3" if core == "V" else core, cable)
        run(f"{part['near']}:{ground}", f"{part['far']}:{ground}", "GND", cable)
    at = part["far"]
    for board in on_the_bus(index):
        for line in LINES:
            run(f"{at}:{line}", f"{board}:{line}", line)
        at = board
    return found


def _colour(wired: Connection) -> str:
    if wired.kind != POWER:
        return WHITE
    return GREY if wired.signal == "GND" else PINK
