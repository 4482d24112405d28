"""How the light sensor is mounted: a cut through the box at the sensor's place."""

from sheets.canvas import GREY, PALE, WARN, Sheet


def draw() -> Sheet:
    """The sheet."""
    sheet = Sheet(
        "Light sensor: it sees the lamps, never the panel",
        "Work on it with the plug pulled and the tubes cold. Not to scale.",
    )
    _bank(sheet)
    _glass(sheet)
    _holder(sheet)
    _detail(sheet)
    return sheet


def _bank(sheet: Sheet) -> None:
    for number in range(7):
        sheet.circle((1.2 + 2.0 * number, 0), 0.45, fill=PALE)
    sheet.wire((0, -0.9), (14.6, -0.9))
    sheet.text((0.2, -1.25), "reflector, earthed", size=8.5)
    sheet.name((7.2, -1.3), "E1", at="center", value="UV tubes")
    sheet.wire((0, -0.9), (0, 5.6), color=GREY)
    sheet.wire((14.6, -0.9), (14.6, 5.6), color=GREY)


def _glass(sheet: Sheet) -> None:
    sheet.box(0.6, 4.0, 9.6, 0.25, fill="white")
    sheet.text((0.8, 3.7), "glass", size=8.5)
    sheet.box(1.6, 4.25, 7.0, 0.12, fill=GREY)
    sheet.box(1.6, 4.42, 7.0, 0.3, fill="#d9c08a")
    sheet.text((1.6, 5.1), "panel with resist, on artwork and cover sheet", size=8.5)
    sheet.box(10.2, 4.0, 4.0, 0.35, fill=PALE)
    sheet.text((12.2, 4.75), "rim beside the glass", at="center", size=8.5)
    sheet.arrow((-0.5, 0.45), (-0.5, 4.0), both=True)
    sheet.text((-0.7, 2.2), "h", at="right", size=10)


def _holder(sheet: Sheet) -> None:
    sheet.box(11.6, 3.2, 1.6, 0.8, fill="white")
    sheet.name((12.4, 3.62), "B1", at="center")
    sheet.shape([(11.6, 3.2), (11.6, 2.2), (11.75, 2.2), (11.75, 3.2)], fill="#1a1a1a")
    sheet.shape([(13.05, 3.2), (13.05, 2.2), (13.2, 2.2), (13.2, 3.2)], fill="#1a1a1a")
    sheet.box(11.75, 2.95, 1.3, 0.14, fill="#dddddd")
    sheet.box(10.3, 2.4, 0.15, 1.6, fill="#1a1a1a")
    for end in (9.2, 11.2, 13.2):
        sheet.arrow((end, 0.5), (12.4 + (end - 12.4) * 0.12, 2.75), color=GREY)
    sheet.wire((8.4, 4.0), (10.3, 3.35), dashed=True, color=WARN)
    sheet.text((8.9, 3.15), "light from the panel\nstops at the shade", at="right", size=8.5, color=WARN)
    sheet.text((15.0, 3.2), "collar: black, keeps daylight and the side out", size=8.5)
    sheet.wire((14.9, 3.2), (13.2, 2.6), color=GREY, width=0.8)
    sheet.text((10.0, 2.3), "shade, as deep as the collar", at="right", size=8.5)
    sheet.text((15.0, 4.2), "same height as the glass, same way up\nas the resist: facing the tubes", size=8.5)


def _detail(sheet: Sheet) -> None:
    left, y = 0.0, -4.6
    sheet.text((left, y + 1.6), "Holder, larger", size=11)
    sheet.box(left + 2.0, y, 5.0, 0.25, fill="#2f6b3a")
    sheet.box(left + 4.1, y - 0.35, 0.8, 0.35, fill="#1a1a1a")
    sheet.text((left + 7.7, y + 0.1), "B1 sensor board, its own LED towards the diffuser", size=9)
    sheet.box(left + 2.0, y - 2.2, 5.0, 0.3, fill="#dddddd")
    sheet.text(
        (left + 7.7, y - 2.05),
        "opal diffuser, 1 to 2 mm of white PTFE or opal acrylic that passes 365 to 420 nm",
        size=9,
    )
    for x in (left + 1.75, left + 7.0):
        sheet.box(x, y - 4.4, 0.25, 4.65, fill="#1a1a1a")
    sheet.text((left + 7.6, y - 3.6), "collar, matt black inside, 15 to 25 mm below the diffuser", size=9)
    sheet.arrow((left + 1.2, y - 0.35), (left + 1.2, y - 1.9), both=True)
    sheet.text((left + 1.0, y - 1.1), "5 to 8 mm", at="right", size=9)
    sheet.arrow((left + 2.0, y - 4.8), (left + 7.0, y - 4.8), both=True)
    sheet.text((left + 4.5, y - 5.15), "free width 12 to 20 mm", at="center", size=9)
    notes = (
        "Sizes are common practice, no source. What counts: it sees several tubes, never the panel, and nothing moves.",
        "At full light the 415 nm channel should read 20 to 60 % of full scale at 16x gain: add or take diffuser.",
        "Glue nothing that yellows into the light's way. Cable: under 30 cm, four wires, away from tubes and ballasts.",
        "A sensor moved by a millimetre, a new diffuser or other tubes: calibrate anew.",
    )
    for row, line in enumerate(notes):
        sheet.text((left, y - 6.2 - 0.5 * row), line, size=9)
