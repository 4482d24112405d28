"""The charge pump of the heartbeat: values from charge_pump.NOMINAL, figures from its arithmetic."""

from sheets.canvas import Sheet, elm
from sheets.header import PLACE_OF
from sheets.low import low_wires
from sheets.numbered import Numbered
from sumlight.box import charge_pump
from sumlight.box.description import BoxDescription

OUTLINE_LEFT, OUTLINE_RIGHT = 0.2, 23.0
"""Edges of board A8: what lies between is on it, what crosses them is a wire of the terminal plan."""


def draw(box: BoxDescription) -> Sheet:
    """The sheet."""
    pump = charge_pump.NOMINAL
    sheet = Sheet(
        "Heartbeat: only a moving line holds K2, and so lets K1 close",
        "Build it as drawn. A transistor that switches K2 is no substitute: shorted, it holds K2 for ever.",
    )
    y, ground = 0.0, -3.4
    _terminals(Numbered(sheet, low_wires(box)), box, y, ground)
    sheet.wire((OUTLINE_LEFT, y), (2.0, y))
    sheet.put(elm.ResistorIEC(), (2.0, y), (4.2, y))
    sheet.name((3.1, y + 0.55), "R2", value="1 kΩ", at="center")
    sheet.dot((4.9, y))
    sheet.wire((4.2, y), (5.8, y))
    sheet.put(elm.ResistorIEC(), (4.9, y), (4.9, ground))
    sheet.name((4.5, -1.6), "R3", value="10 kΩ", at="right")
    sheet.text((4.5, -2.1), "keeps a loose\nwire still", at="right", size=9)
    _driver(sheet, y, ground)
    sheet.put(elm.ResistorIEC(), (8.4, y), (10.4, y))
    sheet.name((9.4, y + 0.55), "R1", value="10 Ω", at="center")
    each_f = 2 * pump.coupling_f
    for start, part in ((10.4, "C1"), (12.4, "C2")):
        sheet.put(elm.Capacitor(polar=True), (start, y), (start + 2.0, y))
        sheet.name((start + 1.0, y + 0.95), part, value=f"{each_f * 1e6:.0f} µF", at="center")
    sheet.text((12.4, y + 1.6), "two in series: if one shorts, the other still blocks", at="center", size=9)
    sheet.wire((14.4, y), (15.2, y))
    sheet.dot((15.2, y))
    sheet.put(elm.Schottky(), (15.2, ground), (15.2, y))
    sheet.name((15.6, -1.7), "D1")
    sheet.put(elm.Schottky(), (15.2, y), (17.6, y))
    sheet.name((16.4, y + 0.6), "D2", at="center")
    sheet.wire((17.6, y), (OUTLINE_RIGHT, y))
    sheet.dot((18.6, y), (21.2, y))
    sheet.put(elm.Capacitor(polar=True), (18.6, y), (18.6, ground))
    sheet.name((19.0, -1.2), "C3")
    sheet.text((19.0, -2.2), f"{pump.store_f * 1e6:.0f} µF", size=9.5)
    sheet.put(elm.Zener(), (21.2, ground), (21.2, y))
    sheet.name((21.7, -1.2), "D3")
    sheet.text((21.7, -2.2), f"{pump.clamp_v:g} V,\n3 W", size=9.5)
    sheet.wire((OUTLINE_LEFT, ground), (OUTLINE_RIGHT, ground))
    sheet.dot((4.9, ground), (7.1, ground), (10.4, ground), (15.2, ground), (18.6, ground), (21.2, ground))
    _figures(sheet, ground - 3.6)
    return sheet


def _terminals(drawing: Numbered, box: BoxDescription, y: float, ground: float) -> None:
    """The board's outline, its terminals, and the wires that end there."""
    sheet, left, right = drawing.sheet, OUTLINE_LEFT, OUTLINE_RIGHT
    bottom, out = ground - 1.0, 3.6
    sheet.box(left, bottom, right - left, y + 4.4 - bottom, dashed=True)
    sheet.name((right - 0.3, y + 4.0), "A8", at="right", value="board of the charge pump")
    pin = PLACE_OF[f"GPIO{box.enable_pin}"]
    ends = (("IN", f"A1:{pin}", y), ("G", "A1:20", ground), ("+", "X4:1", y + 3.2))
    for terminal, other, height in ends:
        drawing.wire(other, f"A8:{terminal}", (left - out, height), (left, height))
        sheet.text((left - out - 0.2, height), other, at="right", size=10)
        sheet.text((left + 0.15, height + 0.25), terminal, size=9.5)
    step = ((0.0, -1.3), (0.4, -1.3), (0.4, -0.8), (0.8, -0.8), (0.8, -1.3), (1.2, -1.3), (1.2, -0.8), (1.6, -0.8))
    sheet.wire(*((left - out + dx, y + dy) for dx, dy in step), width=1.0)
    sheet.text((left - out, y - 1.75), "100 Hz, 3.3 V", size=9)
    sheet.wire((10.4, ground), (10.4, bottom))
    drawing.wire("A8:0", "X4:2", (10.4, bottom), (10.4, bottom - 1.0))
    sheet.text((10.55, bottom + 0.25), "0", size=9.5)
    sheet.text((10.4, bottom - 1.25), "X4:2", at="center", size=10)
    words = "0 V of T2 and the ground of A1 meet on this board and nowhere else"
    sheet.text((11.6, bottom - 0.5), words, size=9.5)
    x = right + 2.6
    for terminal, relay, height in (("K+", "A1", y), ("K-", "A2", ground)):
        inward = -1.0 if height == y else 1.0
        drawing.wire(f"A8:{terminal}", f"K2:{relay}", (right, height), (x, height), (x, height + inward))
        sheet.text((right - 0.15, height + 0.25), terminal, at="right", size=9.5)
        sheet.text((x - 0.15, height + inward * 0.8), relay, at="right", size=9.5)
    sheet.box(x - 0.7, ground + 1.0, 1.4, y - ground - 2.0, fill="white")
    sheet.name((x, (y + ground) / 2), "K2", at="center")
    words = "5 V coil, 125 Ω;\nits contact stands in the\n24 V circuit, before K1's coil\n(control.svg)"
    sheet.text((x + 1.0, -1.1), words, size=9)


def _driver(sheet: Sheet, y: float, ground: float) -> None:
    sheet.box(5.8, y - 0.9, 2.6, 1.8, fill="white")
    sheet.name((7.1, y + 0.25), "U1", at="center")
    sheet.text((7.1, y - 0.25), "driver", at="center")
    sheet.wire((7.1, y - 0.9), (7.1, ground))
    sheet.wire((7.1, y + 0.9), (7.1, y + 3.2), (OUTLINE_LEFT, y + 3.2))
    sheet.text((0.8, y + 3.6), "+12 V of T2", size=9.5)
    sheet.dot((5.0, y + 3.2), (2.2, y + 3.2))
    for x, part, value, polar in ((5.0, "C4", "100 nF", False), (2.2, "C5", "470 µF", True)):
        sheet.put(elm.Capacitor(polar=polar), (x, y + 3.2), (x, y + 1.7))
        sheet.text((x, y + 1.45), "0", at="center", size=9.5)
        sheet.name((x + 0.4, y + 2.85), part)
        sheet.text((x + 0.4, y + 2.0), value, size=9.5)


def _figures(sheet: Sheet, top: float) -> None:
    lines = charge_pump.figures()
    sheet.text((0, top), "Worked out for 100 Hz; in brackets the worst corner of all tolerances:", size=10)
    for row, (name, text) in enumerate(lines.items()):
        y = top - 0.55 - 0.45 * (row % 5)
        x = 0.0 if row < 5 else 14.0
        sheet.text((x, y), name, size=9)
        sheet.text((x + 7.2, y), text, size=9)
    words = "Stuck high, stuck low, unplugged, crashed: no edge, so C3 empties into the coil and K2 drops."
    sheet.text((0, top - 3.05), words, size=10)
