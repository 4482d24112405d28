"""Where the light sensor sits, what it sees, how it is built, and the wires of its bus."""

import lampfield

from sheets.canvas import GREY, INK, PALE, WARN, Sheet, elm

TUBES, PITCH_MM, HEIGHT_MM, LENGTH_MM = 6, 50.0, 80.0, 410.0
"""The bank of the example: six tubes of 15 W size."""

SEEN_WIDTH_MM, COLLAR_WIDTH_MM, COLLAR_DEPTH_MM = 10.0, 20.0, 2.5
"""Window of the diffuser that the chip sees, free width of the collar, how far it stands before the diffuser."""


def draw() -> Sheet:
    """The sheet."""
    sheet = Sheet(
        "Light sensor: it sees every tube, and never the panel",
        "Work on it with the plug pulled and the tubes cold. Not to scale.",
    )
    _across(sheet)
    _from_above(sheet)
    _head(sheet)
    _bus(sheet)
    _notes(sheet)
    return sheet


def _across(sheet: Sheet) -> None:
    farthest = lampfield.farthest_tube_deg(TUBES, PITCH_MM, HEIGHT_MM, 0.0)
    sheet.text((0, 5.6), "Cut across the tubes, at the sensor", size=11)
    for number in range(TUBES):
        sheet.circle((1.0 + 2.0 * number, 0), 0.45, fill=PALE)
        sheet.wire((1.0 + 2.0 * number, 0.45), (6.0, 3.5), color=GREY, width=0.9)
        share = lampfield.tube_share(number, TUBES, PITCH_MM, HEIGHT_MM, 0.0)
        sheet.text((1.0 + 2.0 * number, -0.75), f"{share:.0%}", at="center", size=9.5)
    sheet.text((12.8, -0.75), "of the light, tube by tube", size=9.5)
    sheet.name((12.8, 0), "E1", value="tubes, and an earthed reflector behind them")
    sheet.box(0, 4.1, 12.0, 0.25, fill="white")
    sheet.text((0.2, 4.7), "rim before the glass, front edge", size=9.5)
    sheet.box(5.3, 3.5, 1.4, 0.6, fill="white")
    sheet.name((6.0, 3.8), "A5", at="center")
    sheet.wire((6.0, 3.5), (6.0, 0.9), dashed=True)
    sheet.text((12.8, 3.2), f"farthest tube: {farthest:.0f}° from upright,", size=9.5)
    sheet.text((12.8, 2.7), f"so A5 takes light up to {farthest + 5:.0f}° or more", size=9.5)


def _from_above(sheet: Sheet) -> None:
    left = 22.0
    sheet.text((left, 5.6), "From above", size=11)
    sheet.box(left, -1.0, 7.0, 6.0)
    sheet.box(left + 0.9, 0.6, 5.2, 4.0, fill=PALE)
    sheet.text((left + 3.5, 2.6), "glass, panel", at="center", size=9.5)
    for number in range(TUBES):
        x = left + 1.0 + number
        sheet.wire((x, -0.7), (x, 4.8), color=GREY, dashed=True, width=0.9)
    sheet.box(left + 3.2, -0.35, 0.6, 0.6, fill="white")
    sheet.name((left + 4.1, -0.05), "A5")
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


def _bus(sheet: Sheet) -> None:
    y = -10.2
    sheet.text((0, y + 1.5), "I2C in a hot, noisy box", size=11)
    sheet.box(0, y - 2.2, 1.8, 2.8, fill="white")
    sheet.name((0.9, y - 0.8), "A1", at="center")
    for row, (line, part) in enumerate((("SDA", "R5"), ("SCL", "R6"))):
        at = y - 1.6 * row
        sheet.wire((1.8, at), (2.4, at))
        sheet.put(elm.ResistorIEC(), (2.4, at), (4.4, at))
        sheet.name((3.4, at + 0.45), part, value="47 Ω", at="center")
        sheet.wire((4.4, at), (9.0, at))
        sheet.wire((1.8, at - 0.35), (9.0, at - 0.35), color=GREY)
        sheet.text((6.0, at + 0.3), f"{line} twisted with ground", at="center", size=9.5)
    sheet.wire((0.9, y - 2.2), (0.9, y - 2.8))
    sheet.box(0.1, y - 3.5, 1.6, 0.7, fill="white")
    sheet.name((0.9, y - 3.15), "A7", at="center")
    sheet.text((2.0, y - 3.15), "real-time clock with its own cell, on the same bus beside A1", size=9.5)
    sheet.box(9.0, y - 2.2, 1.8, 2.8, fill="white")
    sheet.name((9.9, y - 0.8), "A6", at="center")
    sheet.wire((10.8, y - 0.8), (12.0, y - 0.8))
    for row, (part, words) in enumerate(
        (
            ("B1", "light sensor"),
            ("B3", "UV meter, if fitted"),
            ("B4", "thermometer at the tubes' air"),
        )
    ):
        at = y + 0.3 - 1.1 * row
        sheet.wire((12.0, y - 0.8), (12.0, at), (12.6, at))
        sheet.box(12.6, at - 0.35, 1.6, 0.7, fill="white")
        sheet.name((13.4, at), part, at="center")
        sheet.text((14.5, at), words, size=9.5)


def _notes(sheet: Sheet) -> None:
    y = -15.0
    notes = (
        "A6, a pair of bus extenders, from 30 cm of cable on; below that leave it out. A1 stays out of the hot box.",
        "Case of A5: metal, earthed (wire 304), joined with no wire of the bus. Keep the cable away from tube wires.",
        "A share below the box's drop limit: that tube's loss may pass unseen. Take out each tube in turn once.",
        "Height level with the glass: the panel lies at 90° and is not seen. Check: bright and dark panel within 1 %.",
        "A sensor moved by a millimetre, a new diffuser, filter or other tubes: calibrate anew.",
    )
    for row, line in enumerate(notes):
        sheet.text((0, y - 0.55 * row), line, size=9.5)
    words = "Sizes of head and bus are common practice, no source; angles are worked out by lampfield.py."
    sheet.text((0, y - 0.55 * len(notes)), words, size=9.5, color=WARN)
