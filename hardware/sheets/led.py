"""The LED variant of a bank: K21 switches the DC side, so that what the driver still holds never reaches the LEDs."""

from sheets import symbols
from sheets.canvas import WARN, Sheet, elm
from sheets.numbered import Numbered
from sheets.symbols import LONG
from sheets.wires import ZERO, led_wires
from sumlight.box.description import BoxDescription

STEP = 15.0
"""From one bank to the next."""


def draw(box: BoxDescription) -> Sheet:
    """The sheet."""
    sheet = Sheet(
        "LED variant: K21 switches the DC side of the driver",
        "DANGER, MAINS at T11: licensed electrician, local code. Never look into UV LEDs, not even dimmed ones.",
    )
    drawing = Numbered(sheet, led_wires(box))
    for index in range(len(box.banks)):
        _power(drawing, index, STEP * index)
        _coil(drawing, index, STEP * index)
    _notes(sheet, -12.4, several=len(box.banks) > 1)
    return sheet


def _power(drawing: Numbered, index: int, x: float) -> None:
    """From K1 over driver, fuse and both poles of K21 to the LEDs."""
    sheet = drawing.sheet
    driver, fuse, relay, leds = f"T{11 + index}", f"F{11 + index}", f"K{21 + index}", f"E{11 + index}"
    for terminal, y in (("L", -0.8), ("N", -4.4)):
        drawing.wire(f"X7:{terminal}", f"{driver}:{terminal}", (x - 2.6, y), (x, y))
        sheet.text((x - 2.8, y), f"X7:{terminal}", at="right", size=10)
        sheet.text((x + 0.15, y), terminal, size=9.5)
    drawing.wire("X1:PE", f"{driver}:PE", (x + 1.2, -6.8), (x + 1.2, -5.2))
    sheet.text((x + 1.05, -4.95), "PE", at="right", size=9.5)
    sheet.text((x + 1.2, -7.1), "X1:PE", at="center", size=10)
    sheet.box(x, -5.2, 2.8, 5.2)
    sheet.name((x + 1.4, -1.7), driver, at="center")
    sheet.text((x + 1.4, -2.3), "constant\nvoltage,\nSELV", at="center", size=9.5)
    sheet.text((x + 2.65, -0.8), "+", at="right", size=11)
    sheet.text((x + 2.65, -4.4), "-", at="right", size=11)
    drawing.wire(f"{driver}:+", f"{fuse}:1", (x + 2.8, -0.8), (x + 4.2, -0.8))
    sheet.put(elm.FuseIEC(), (x + 4.2, -0.8), (x + 5.8, -0.8))
    sheet.name((x + 5.0, -0.2), fuse, at="center")
    sheet.text((x + 4.15, -1.1), "1", at="right", size=9)
    sheet.text((x + 5.85, -1.1), "2", size=9)
    top = -1.4
    drawing.wire(f"{fuse}:2", f"{relay}:1", (x + 5.8, -0.8), (x + 7.4, -0.8), (x + 7.4, top))
    symbols.contact(sheet, (x + 7.4, top), closed=False)
    drawing.ends(x + 7.4, top, "1", "2")
    sheet.name((x + 7.7, top - 0.5), relay)
    low = top - LONG
    over = [(x + 7.4, low - 0.6), (x + 9.1, low - 0.6), (x + 9.1, top + 0.6), (x + 9.9, top + 0.6), (x + 9.9, top)]
    drawing.wire(f"{relay}:2", f"{relay}:3", (x + 7.4, low), *over, at=(x + 7.7, low - 0.85))
    symbols.contact(sheet, (x + 9.9, top), closed=False)
    sheet.text((x + 10.05, top - 0.18), "3", size=9.5)
    sheet.text((x + 10.05, low + 0.18), "4", size=9.5)
    sheet.name((x + 10.2, top - 0.75), relay)
    sheet.wire((x + 7.2, top - 0.9), (x + 9.7, top - 0.9), dashed=True, width=0.8)
    drawing.wire(f"{relay}:4", f"{leds}:+", (x + 9.9, low), (x + 9.9, low - 0.8))
    sheet.box(x + 8.6, low - 3.2, 2.6, 2.4, fill="white")
    sheet.name((x + 9.9, low - 1.7), leds, at="center")
    sheet.text((x + 9.9, low - 2.3), "UV LEDs", at="center", size=9.5)
    sheet.text((x + 9.75, low - 0.6), "+", at="right", size=10)
    sheet.text((x + 8.75, -5.4), "-", size=11)
    back = [(x + 8.6, -5.4), (x + 5.0, -5.4), (x + 5.0, -4.4), (x + 2.8, -4.4)]
    drawing.wire(f"{leds}:-", f"{driver}:-", *back, at=(x + 6.2, -5.15))
    drawing.wire("X1:PE", f"{leds}:PE", (x + 9.9, -7.6), (x + 9.9, low - 3.2))
    sheet.text((x + 9.75, low - 3.4), "PE", at="right", size=9.5)
    sheet.text((x + 9.9, -7.9), "X1:PE, heat sink", at="center", size=10)


def _coil(drawing: Numbered, index: int, x: float) -> None:
    """K21 in the place of K11 at the driver board A4."""
    sheet, relay, limiter, top = drawing.sheet, f"K{21 + index}", f"D{21 + index}", -9.0
    output = f"A4:{1 + index}"
    drawing.wire(output, f"{relay}:A1", (x + 0.6, top), (x + 3.6, top))
    sheet.text((x + 0.4, top), output, at="right", size=10)
    symbols.coil(sheet, (x + 3.6, top))
    sheet.name((x + 3.6, top - 0.9), relay, at="center")
    sheet.text((x + 3.45, top - 0.28), "A1", at="right", size=9.5)
    sheet.text((x + 3.45, top - LONG + 0.28), "A2", at="right", size=9.5)
    drawing.wire(f"{relay}:A2", ZERO, (x + 3.6, top - LONG), (x + 0.6, top - LONG))
    sheet.text((x + 0.4, top - LONG), ZERO, at="right", size=10)
    drawing.wire(f"{limiter}:1", f"{relay}:A1", (x + 3.6, top), (x + 6.0, top))
    drawing.wire(f"{limiter}:2", f"{relay}:A2", (x + 3.6, top - LONG), (x + 6.0, top - LONG))
    sheet.dot((x + 3.6, top), (x + 3.6, top - LONG))
    symbols.suppressor(sheet, (x + 6.0, top), (x + 6.0, top - LONG))
    sheet.name((x + 6.4, top - 0.9), limiter)
    sheet.text((x + 6.15, top - 0.25), "1", size=9.5)
    sheet.text((x + 6.15, top - LONG + 0.25), "2", size=9.5)


def _notes(sheet: Sheet, y: float, *, several: bool) -> None:
    lines = (
        "Takes the place of K11, D11 and E1 in control.svg and mains.svg; all else stays, K1 before the driver too.",
        "T11 gives a constant voltage, and the LED boards hold their own current. A constant-current driver must not",
        "be switched on its DC side: without load its output climbs, and the surge at closing destroys LEDs.",
        "LEDs of 385 to 405 nm: B1 is nearly blind to 365 nm. F3 and S6 sit on the heat sink of E11.",
        "Where driver and LEDs are one piece, K11 has to stay on the mains side. Then measure what the driver still",
        "gives, at E11:+ and E11:- and with B1 at the glass: open K1 alone while K11 is held, and let the electrician",
        "write down how long B1 reads more than dark_limit_mw_cm2. Over 0.5 s: this driver is not for this box.",
        "The same with K21 bridged by the electrician tells how long light lasts should K21 weld.",
    )
    for row, line in enumerate(lines):
        sheet.text((-4.0, y - 0.55 * row), line, size=10)
    words = "UV LEDs burn eyes without dazzling them: lid shut, or the maker's goggles for this wavelength."
    if several:
        words = f"Bank 2: T12, F12, K22, D22, E12. {words}"
    sheet.text((-4.0, y - 0.55 * len(lines)), words, size=10, color=WARN)
