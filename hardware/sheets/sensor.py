"""Where the light sensor sits, what it sees, how it is built, and the wires of its bus."""

import lampfield

from sheets.canvas import GREY, INK, PALE, WARN, Sheet, elm
from sheets.header import PLACE_OF
from sheets.low import LINES, bus_parts, low_wires, on_the_bus
from sheets.numbered import Numbered
from sumlight.box.description import BoxDescription, Sight
from sumlight.light.tubesight import MARGIN_DEG

EXAMPLE = Sight(tubes=6, pitch_mm=50, height_mm=80, accepts_deg=63)
"""The bank of the example: six tubes of 15 W size, and the head as drawn."""

BOARD_WORDS = {"B3": "UV meter", "B4": "thermometer"}

SEEN_WIDTH_MM, COLLAR_WIDTH_MM, COLLAR_DEPTH_MM = 10.0, 20.0, 2.5
"""Window of the diffuser that the chip sees, free width of the collar, how far it stands before the diffuser."""


def draw(box: BoxDescription) -> Sheet:
    """The sheet; its angles are those of the first sensor's `sight`, or of the example's bank."""
    sight = box.meters[0].sight or EXAMPLE
    looks = sight.of_tubes()
    title = "it sees every tube" if not looks.unseen else f"it sees {looks.seen} of {looks.tubes} tubes"
    if box.meters[0].sight is None:
        title = "it has to see every tube (example bank: box.yaml has no sight)"
    sheet = Sheet(
        f"Light sensor: {title}, and never the panel",
        "Work on it with the plug pulled and the tubes cold. Not to scale.",
    )
    _across(sheet, sight)
    _from_above(sheet, sight.tubes)
    _head(sheet)
    drawing = Numbered(sheet, low_wires(box))
    for index in range(len(box.meters)):
        _bus(drawing, box, index)
    _notes(sheet, BUS_TOP - BUS_STEP * len(box.meters) + 0.6)
    return sheet


def _across(sheet: Sheet, sight: Sight) -> None:
    """Each tube with its share of the light, or as one that is not seen."""
    looks, tubes = sight.of_tubes(), sight.tubes
    step = 10.0 / max(1, tubes - 1)
    middle = 6.0 + 10.0 * sight.across_mm / max(1.0, (tubes - 1) * sight.pitch_mm)
    sheet.text((0, 5.6), "Cut across the tubes, at the sensor", size=11)
    for number in range(tubes):
        x, seen = 1.0 + step * number, number + 1 not in looks.unseen
        sheet.circle((x, 0), min(0.45, 0.4 * step), fill=PALE if seen else INK)
        sheet.wire((x, 0.45), (middle, 3.5), color=GREY, dashed=not seen, width=0.9)
        share = lampfield.tube_share(number, tubes, sight.pitch_mm, sight.height_mm, sight.across_mm)
        sheet.text((x, -0.75), f"{share:.0%}" if seen else "unseen", at="center", size=9.5)
    sheet.text((12.8, -0.75), "of the light, tube by tube", size=9.5)
    sheet.name((12.8, 0), "E1", value="tubes, and an earthed reflector behind them")
    sheet.box(0, 4.1, 12.0, 0.25, fill="white")
    sheet.text((0.2, 4.7), "rim before the glass, front edge", size=9.5)
    sheet.box(middle - 0.7, 3.5, 1.4, 0.6, fill="white")
    sheet.name((middle, 3.8), "A5", at="center")
    sheet.wire((middle, 3.5), (middle, 0.9), dashed=True)
    sheet.text((12.8, 3.2), f"farthest tube: {looks.farthest_deg:.0f}° from upright,", size=9.5)
    needed = f"so A5 takes light up to {looks.farthest_deg + MARGIN_DEG:.0f}° or more"
    if looks.unseen:
        needed = f"A5 takes {sight.accepts_deg:g}°: nothing is claimed about the unseen"
    sheet.text((12.8, 2.7), needed, size=9.5, color=WARN if looks.unseen else INK)


def _from_above(sheet: Sheet, tubes: int) -> None:
    left = 24.0
    sheet.text((left, 5.6), "From above", size=11)
    sheet.box(left, -1.0, 7.0, 6.0)
    sheet.box(left + 0.9, 0.6, 5.2, 4.0, fill=PALE)
    sheet.text((left + 7.3, 2.6), "glass, panel", size=9.5)
    sheet.wire((left + 7.2, 2.6), (left + 5.7, 2.6), color=GREY, width=0.9)
    for number in range(tubes):
        x = left + 1.0 + 5.0 * number / max(1, tubes - 1)
        sheet.wire((x, -0.7), (x, 4.8), color=GREY, dashed=True, width=0.9)
    sheet.box(left + 3.2, -0.35, 0.6, 0.6, fill="white")
    sheet.name((left + 4.2, -0.05), "A5")
    sheet.text((left + 3.5, -1.4), "middle of the front edge, over the lit length", at="center", size=9.5)


def _head(sheet: Sheet) -> None:
    y = -4.4
    sheet.text((0, y + 1.6), "Sensor head A5, larger, facing the tubes (downwards)", size=11)
    sheet.box(2.0, y, 5.0, 0.25, fill="#2f6b3a")
    sheet.box(4.1, y - 0.35, 0.8, 0.35, fill=INK)
    sheet.text((8.0, y + 0.1), "B1 sensor board, its own LED towards the diffuser", size=9.5)
    sheet.box(2.0, y - 1.0, 5.0, 0.25, fill="#b9a0dc")
    sheet.text(
        (8.0, y - 0.85), "violet filter glass, 2 mm: passes 360 to 430 nm, at most a fifth above 520 nm", size=9.5
    )
    sheet.box(2.0, y - 2.2, 5.0, 0.3, fill="#dddddd")
    sheet.text((8.0, y - 2.05), "opal diffuser, 1 to 2 mm of white PTFE or opal acrylic that passes 365 nm", size=9.5)
    for x in (1.75, 7.0):
        sheet.box(x, y - 2.8, 0.25, 3.05, fill=INK)
    words = f"collar, matt black, {COLLAR_WIDTH_MM:g} mm wide, at most {COLLAR_DEPTH_MM:g} mm before the diffuser"
    sheet.text((8.0, y - 2.7), words, size=9.5)
    sheet.arrow((1.2, y - 0.35), (1.2, y - 1.9), both=True)
    sheet.text((1.0, y - 1.1), "5 to 8 mm", at="right", size=9.5)


BUS_TOP, BUS_STEP = -10.6, 8.0
"""Height of the first sensor's bus, and how far below it the second one's lies."""

ROW = 0.85
CORES = ("D", "G1", "C", "G2", "V", "G3")
AT_ROW = {"SDA": 0, "SCL": 2, "3V3": 4, "GND": 5}
"""Rows of the cable's cores from above; the lines of the boards lie level with theirs."""


def _bus(drawing: Numbered, box: BoxDescription, index: int) -> None:
    """The bus of one sensor from the Pi to its last board, every wire with its number."""
    sheet, part, y = drawing.sheet, bus_parts(index), BUS_TOP - BUS_STEP * index
    if index == 0:
        sheet.text((0, y + 2.0), "I2C in a hot, noisy box: the Pi and its end of the bus stay outside of it", size=11)
    height = {line: y - ROW * row for line, row in AT_ROW.items()}
    _from_the_pi(drawing, box, index, height)
    _board(sheet, 14.0, y, 2.8, part["near"])
    _board(sheet, 23.2, y, 2.8, part["far"])
    for row, core in enumerate(CORES):
        at = y - ROW * row
        drawing.wire(f"{part['near']}:{core}", f"{part['far']}:{core}", (16.8, at), (23.2, at), at=(18.2, at + 0.2))
        sheet.text((16.7, at), core, at="right", size=9)
        sheet.text((23.3, at), core, size=9)
    for pair in range(3):
        at = y - 2 * ROW * pair
        sheet.wire((20.4, at + 0.15), (20.8, at - ROW - 0.15), width=1.0)
        sheet.text((21.0, at - ROW / 2), f"pair {pair + 1}", size=9)
    sheet.name((20.0, y + 0.75), part["cable"], at="center", value="three twisted pairs")
    before, left = part["far"], 26.0
    for board in on_the_bus(index):
        _board(sheet, left + 2.2, y, 1.8, board)
        sheet.text((left + 3.1, y - ROW * 6 - 0.1), BOARD_WORDS.get(board, "light sensor"), at="center", size=9)
        for line in LINES:
            drawing.wire(f"{before}:{line}", f"{board}:{line}", (left, height[line]), (left + 2.2, height[line]))
            sheet.text((left + 3.1, height[line]), line, at="center", size=9)
            if board == on_the_bus(index)[0]:
                sheet.text((25.9, height[line]), line, at="right", size=9)
        before, left = board, left + 4.0


def _from_the_pi(drawing: Numbered, box: BoxDescription, index: int, height: dict[str, float]) -> None:
    """Header, clock and series resistors up to the extender at the Pi's end."""
    sheet, part = drawing.sheet, bus_parts(index)
    y = height["SDA"]
    _board(sheet, 0.0, y, 2.2, "A1")
    if index == 0:
        _board(sheet, 4.8, y, 2.2, "A7")
        sheet.text((5.9, y - ROW * 6 - 0.1), "real-time clock", at="center", size=9)
    pins = box.meters[index].bus_pins
    for number, line in enumerate(LINES):
        at = height[line]
        bus = f"{line}{box.meters[index].i2c_bus}"
        place = str(PLACE_OF[f"GPIO{pins[number]}"]) if number < 2 and len(pins) == 2 else bus
        if number >= 2:
            place = {"3V3": "1", "GND": "9"}[line]
        resistor = part["data"] if line == "SDA" else part["clock"]
        start = "A7:" + line
        if index == 0:
            drawing.wire(f"A1:{place}", start, (2.2, at), (4.8, at))
            sheet.text((5.9, at), line, at="center", size=9)
        if number < 2 or index == 0:
            sheet.text((2.1, at), place, at="right", size=9)
        if number < 2:
            come = start if index == 0 else f"A1:{place}"
            drawing.wire(come, f"{resistor}:1", (7.0 if index == 0 else 2.2, at), (9.4, at))
            sheet.put(elm.ResistorIEC(), (9.4, at), (11.4, at))
            sheet.name((10.4, at + 0.55), resistor, value="47 Ω", at="center")
            sheet.text((9.35, at - 0.25), "1", at="right", size=9)
            sheet.text((11.45, at - 0.25), "2", size=9)
            drawing.wire(f"{resistor}:2", f"{part['near']}:{line}", (11.4, at), (14.0, at))
        else:
            come = start if index == 0 else f"A6:{line}"
            drawing.wire(come, f"{part['near']}:{line}", (7.0, at), (14.0, at))
            if index:
                sheet.text((6.9, at), come, at="right", size=9)
        sheet.text((14.1, at), line, size=9)


def _board(sheet: Sheet, left: float, y: float, width: float, name: str) -> None:
    sheet.box(left, y - ROW * 5 - 0.5, width, ROW * 5 + 1.0)
    sheet.name((left + width / 2, y + 0.85), name, at="center")


def _notes(sheet: Sheet, y: float) -> None:
    notes = (
        "A6 and A9 from 30 cm of cable on. Below that leave them out: each core then goes straight on, in its pair.",
        "A5 holds B1; its case is metal, earthed (wire 304), on the screen of W1, joined with no core of it.",
        "Keep W1 away from tube wires. B4 hangs in the air beside the tubes, B3 in A5 beside B1.",
        "A7, B3 and B4 are options: where one is left out, join its wires through.",
        "A share below the box's drop limit: that tube's loss may pass unseen. Take out each tube in turn once.",
        "Height level with the glass: the panel lies at 90° and is not seen. Check: bright and dark panel within 1 %.",
        "A sensor moved by a millimetre, a new diffuser, filter or other tubes: calibrate anew.",
    )
    for row, line in enumerate(notes):
        sheet.text((0, y - 0.55 * row), line, size=9.5)
    words = "Sizes of head and bus are common practice, no source; angles are worked out by lampfield.py."
    sheet.text((0, y - 0.55 * len(notes)), words, size=9.5, color=WARN)
