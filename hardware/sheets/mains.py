"""The mains side, as what a licensed electrician builds under the local code."""

from collections.abc import Callable

from sheets import symbols
from sheets.canvas import INK, PALE, WARN, Sheet, elm
from sheets.numbered import Numbered
from sheets.symbols import LONG
from sheets.wires import wires
from sumlight.box.description import BoxDescription

TOP, BOTTOM = 0.0, -11.0
"""Heights of the line's and the neutral's bar behind S1."""

Wire = Callable[..., None]
"""Draws a wire of the plan: `Numbered.wire` of this sheet."""


def draw(box: BoxDescription) -> Sheet:
    """The sheet."""
    sheet = Sheet(
        "Mains side: built by a licensed electrician, under your local code",
        "DANGER, MAINS. The electrician decides ratings, earthing, protection and switching of the neutral. "
        "Drawn: off, without voltage.",
    )
    wire = Numbered(sheet, wires(box)).wire
    right = 13.5 + 5.0 * len(box.banks)
    sheet.wire((0, TOP), (11.6, TOP))
    sheet.wire((0, BOTTOM), (11.6, BOTTOM))
    sheet.text((0.3, TOP + 0.4), "X6:L", size=11)
    sheet.text((0.3, BOTTOM - 0.4), "X6:N", size=11)
    _incoming(sheet, wire)
    for x, part, words in ((2.0, "T1", "5 V\nfor A1"), (5.0, "T2", "12 V\nfor A2, U1"), (8.0, "T3", "24 V\ncontrol")):
        _supply(sheet, wire, x, part, words)
    _contactor(sheet, wire, 11.6)
    _lamps(sheet, wire, box, 14.6)
    sheet.wire((11.6, -3.8), (right, -3.8))
    sheet.wire((11.6, -8.0), (right, -8.0))
    sheet.text((right + 0.1, -3.8), "X7:L", size=11)
    sheet.text((right + 0.1, -8.0), "X7:N", size=11)
    _earth(sheet, wire, box)
    _notes(sheet)
    return sheet


def _incoming(sheet: Sheet, wire: Wire) -> None:
    """Residual-current device in the fixed wiring, terminals, fuse, main switch; from left to right."""
    line, neutral = 2.6, 1.0
    sheet.text((-16.6, line), "L", at="right", size=11)
    sheet.text((-16.6, neutral), "N", at="right", size=11)
    for y in (line, neutral):
        sheet.wire((-16.4, y), (-15.4, y))
        _pole(sheet, -15.4, y)
    sheet.wire((-14.5, line - 0.1), (-14.5, neutral + 0.25), dashed=True, width=0.8)
    sheet.shape([(-13.45, 0.6), (-13.25, 0.6), (-13.25, 3.0), (-13.45, 3.0)])
    sheet.name((-14.4, 3.6), "F6", at="center", value="30 mA, type A")
    for y, terminal, end in ((line, "2", "X1:L"), (neutral, "4", "X1:N")):
        sheet.text((-13.1, y + 0.22), terminal, size=9.5)
        wire(f"F6:{terminal}", end, (-13.0, y), (-10.6, y))
        sheet.wire((-13.4, y), (-13.0, y))
    sheet.box(-10.6, -0.6, 1.4, 4.0, fill=PALE)
    sheet.name((-9.9, 3.7), "X1", at="center")
    for y, words in ((line, "L"), (neutral, "N"), (-0.2, "PE")):
        sheet.text((-9.9, y), words, at="center", size=10)
    wire("X1:L", "F1:1", (-9.2, line), (-7.6, line))
    sheet.put(elm.FuseIEC(), (-7.6, line), (-5.8, line))
    sheet.name((-6.7, line + 0.55), "F1", at="center")
    sheet.text((-7.6, line - 0.35), "1", size=9.5)
    sheet.text((-5.8, line - 0.35), "2", at="right", size=9.5)
    wire("F1:2", "S1:1", (-5.8, line), (-4.2, line))
    wire("X1:N", "S1:3", (-9.2, neutral), (-4.2, neutral))
    for y, left, out in ((line, "1", "2"), (neutral, "3", "4")):
        _pole(sheet, -4.2, y)
        sheet.text((-4.2, y - 0.35), left, size=9.5)
        sheet.text((-2.3, y - 0.35), out, size=9.5)
    sheet.wire((-3.3, line - 0.1), (-3.3, neutral + 0.25), dashed=True, width=0.8)
    sheet.name((-3.2, line + 0.65), "S1", at="center")
    wire("S1:2", "X6:L", (-2.2, line), (0, line), (0, TOP))
    wire("S1:4", "X6:N", (-2.2, neutral), (-1.2, neutral), (-1.2, BOTTOM), (0, BOTTOM))


def _pole(sheet: Sheet, x: float, y: float) -> None:
    """One make contact, lying, 2 long."""
    sheet.wire((x, y), (x + 0.5, y), (x + 1.5, y + 0.45))
    sheet.wire((x + 1.5, y), (x + 2.0, y))


def _supply(sheet: Sheet, wire: Wire, x: float, part: str, words: str) -> None:
    wire("X6:L", f"{part}:L", (x, TOP), (x, -4.0))
    wire("X6:N", f"{part}:N", (x, BOTTOM), (x, -6.8))
    sheet.dot((x, TOP), (x, BOTTOM))
    sheet.box(x - 1.1, -6.8, 2.2, 2.8, fill="white")
    sheet.name((x, -4.9), part, at="center")
    sheet.text((x, -5.5), words, at="center", size=9.5)
    sheet.text((x - 0.15, -3.8), "L", at="right", size=9.5)
    sheet.text((x - 0.15, -7.0), "N", at="right", size=9.5)


def _contactor(sheet: Sheet, wire: Wire, x: float) -> None:
    """Main contacts of K1 in both poles."""
    poles = ((-1.0, "1", "2", "L", TOP, -3.8), (-8.9, "4", "3", "N", BOTTOM, -8.0))
    for top, upper, lower, pole, bar, out in poles:
        symbols.contact(sheet, (x, top), closed=False)
        sheet.name((x + 0.5, top - 0.8), "K1")
        sheet.text((x - 0.15, top - 0.15), upper, at="right", size=9.5)
        sheet.text((x - 0.15, top - LONG + 0.15), lower, at="right", size=9.5)
        if pole == "L":
            wire("X6:L", "K1:1", (x, bar), (x, top))
            wire("K1:2", "X7:L", (x, top - LONG), (x, out))
        else:
            wire("K1:4", "X7:N", (x, top), (x, out))
            wire("X6:N", "K1:3", (x, top - LONG), (x, bar))
    sheet.wire((x - 0.9, -1.9), (x - 0.9, -9.8), dashed=True, width=0.8)


def _lamps(sheet: Sheet, wire: Wire, box: BoxDescription, x: float) -> None:
    """One relay a bank, behind K1."""
    for index in range(len(box.banks)):
        at, relay, lamps = x + 5.0 * index, f"K{11 + index}", f"E{1 + index}"
        sheet.dot((at, -3.8), (at + 2.2, -8.0))
        wire("X7:L", f"{relay}:1", (at, -3.8), (at, -2.9), (at - 0.0, -2.9))
        raised = -0.9
        sheet.wire((at, -2.9), (at, raised - LONG))
        symbols.contact(sheet, (at, raised), closed=False)
        sheet.name((at - 0.6, raised - 0.5), relay, at="right")
        sheet.text((at - 0.15, raised - 0.05), "2", at="right", size=9.5)
        sheet.text((at + 0.15, raised - LONG + 0.15), "1", size=9.5)
        wire(f"{relay}:2", f"{lamps}:L", (at, raised), (at, -0.2), (at + 2.2, -0.2), (at + 2.2, -4.6))
        sheet.box(at + 1.1, -6.8, 2.2, 2.2, fill="white")
        sheet.name((at + 2.2, -5.2), lamps, at="center")
        sheet.text((at + 2.2, -5.8), "ballasts,\nUV tubes", at="center", size=9.5)
        sheet.text((at + 2.05, -4.4), "L", at="right", size=9.5)
        sheet.text((at + 2.05, -7.0), "N", at="right", size=9.5)
        wire(f"{lamps}:N", "X7:N", (at + 2.2, -6.8), (at + 2.2, -8.0))


def _earth(sheet: Sheet, wire: Wire, box: BoxDescription) -> None:
    """Protective earth, never switched or fused."""
    x = -9.9
    points = [("X5:2", "X5:2 (0 V of T3)"), ("X8:case", "X8: case"), ("X8:lid", "X8: lid")]
    points += [
        ("X8:sensor", "X8: sensor, case of A5"),
        *((f"E{1 + n}:PE", f"E{1 + n}: ballasts, reflector") for n in range(len(box.banks))),
    ]
    sheet.wire((x, -0.6), (x, -1.6 - 1.3 * (len(points) - 1)))
    for row, (end, words) in enumerate(points):
        y = -1.6 - 1.3 * row
        sheet.dot((x, y))
        wire("X1:PE", end, (x, y), (x + 2.4, y))
        sheet.text((x + 2.6, y), words, size=9.5)


def _notes(sheet: Sheet) -> None:
    y = BOTTOM - 1.6
    words = "UV-A light: nobody looks into burning tubes, not even the electrician. Test with dummy loads first."
    sheet.text((-16.6, y), words, color=WARN, size=10)
    lines = (
        "X1: fixed connection, or a plug that cannot be turned round. No mains wire crosses the hinge.",
        "F6: residual-current device, 30 mA, type A; F or B where a ballast's or driver's maker asks.",
        "K1: coil and mirror contact stand in control.svg. Stop category 0 of IEC 60204-1 (from memory).",
        "E1: electronic ballasts, warm start, cut-off at end of life. PE is never switched or fused.",
        "LED variant: led.svg. K21 switches the DC side, since a driver's capacitors keep light after K1 has dropped.",
    )
    for row, line in enumerate(lines):
        sheet.text((-16.6, y - 0.7 - 0.55 * row), line, size=10, color=INK)
