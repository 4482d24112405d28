"""Where the tubes stand: two cuts through the bank, with figures from lampfield's arithmetic."""

import lampfield

from sheets.canvas import GREY, PALE, Sheet

HALF_WIDTH_MM, LIT_LENGTH_MM = 150.0, 410.0
"""The bank of the example figures: six tubes of 15 W size, 50 mm apart."""


def draw() -> Sheet:
    """The sheet."""
    sheet = Sheet(
        "Lamps: spacing, height, and how much of the plate is even",
        "Tube ends get hot and carry mains. Mains wiring of ballasts and holders: licensed electrician.",
    )
    _across(sheet)
    _along(sheet)
    _figures(sheet)
    return sheet


def _across(sheet: Sheet) -> None:
    sheet.text((0, 5.2), "Cut across the tubes", size=11)
    for number in range(6):
        sheet.circle((1.0 + 1.8 * number, 0), 0.42, fill=PALE)
    sheet.box(-0.2, 3.6, 11.4, 0.22, fill="white")
    sheet.text((11.4, 3.7), "glass, resist side", size=9)
    sheet.arrow((4.6, -0.9), (6.4, -0.9), both=True)
    sheet.text((5.5, -1.25), "s  pitch", at="center", size=9.5)
    sheet.arrow((11.9, 0), (11.9, 3.6), both=True)
    sheet.wire((10.5, 0), (12.1, 0), color=GREY, width=0.8)
    sheet.text((12.1, 1.8), "h  tube axis to glass", size=9.5)
    sheet.arrow((-0.2, -1.9), (11.2, -1.9), both=True)
    sheet.text((5.5, -2.25), "2a  lit width: six tubes, s each", at="center", size=9.5)
    sheet.arrow((2.4, 4.3), (8.6, 4.3), both=True)
    sheet.text((5.5, 4.6), "even field", at="center", size=9.5)
    sheet.name((5.5, 0.75), "E1", at="center")


def _along(sheet: Sheet) -> None:
    left = 17.0
    sheet.text((left, 5.2), "Cut along a tube", size=11)
    sheet.box(left + 0.6, -0.35, 9.8, 0.7, fill="white")
    for x in (left, left + 10.4):
        sheet.box(x, -0.5, 0.6, 1.0, fill=GREY)
    sheet.box(left - 0.2, 3.6, 11.4, 0.22, fill="white")
    sheet.arrow((left + 0.6, -0.9), (left + 10.4, -0.9), both=True)
    sheet.text((left + 5.5, -1.25), "lit length", at="center", size=9.5)
    sheet.arrow((left + 2.6, 4.3), (left + 8.4, 4.3), both=True)
    sheet.text((left + 5.5, 4.6), "even field", at="center", size=9.5)


def _figures(sheet: Sheet) -> None:
    y = -3.4
    sheet.text((0, y), "Ripple between tubes, ± share of the mean (endless bank, no reflector)", size=10)
    for column, relative in enumerate((0.5, 0.75, 1.0, 1.5)):
        x = 0.2 + 3.0 * column
        sheet.text((x, y - 0.6), f"h = {relative:g} s", size=9.5)
        sheet.text((x, y - 1.1), f"± {lampfield.ripple(relative, 1):.2%}", size=9.5)
    sheet.text(
        (17, y), f"Size of the even field above a bank of {2 * HALF_WIDTH_MM:.0f} x {LIT_LENGTH_MM:.0f} mm", size=10
    )
    for column, height_mm in enumerate((60.0, 80.0, 100.0)):
        x = 17.2 + 3.6 * column
        across_mm = lampfield.useful_width_mm(HALF_WIDTH_MM, height_mm)
        along_mm = lampfield.useful_length_mm(LIT_LENGTH_MM, height_mm)
        sheet.text((x, y - 0.6), f"h = {height_mm:.0f} mm", size=9.5)
        sheet.text((x, y - 1.1), f"{across_mm:.0f} x {along_mm:.0f} mm", size=9.5)
    words = "Half-way along its edges 90 % of the middle's light, in its corners about 80 %."
    sheet.text((17, y - 1.7), words, size=9.5)
    lines = (
        "Start with h from 1.5 s to 2 s, and a bank that reaches h beyond the panel on every side; then measure.",
        "White or mirror side walls lift the edges. Replace the tubes of a bank together, after the same burn-in.",
        "Two banks: the same on both sides. Air must pass the tubes: they are brightest near 40 °C at the wall.",
    )
    for row, line in enumerate(lines):
        sheet.text((0, y - 2.0 - 0.5 * row), line, size=9.5)
