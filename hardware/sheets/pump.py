"""The charge pump of the heartbeat: values from charge_pump.NOMINAL, figures from its arithmetic."""

from sheets.canvas import Sheet, elm
from sumlight.box import charge_pump


def draw() -> Sheet:
    """The sheet."""
    pump = charge_pump.NOMINAL
    sheet = Sheet(
        "Heartbeat: only a moving line holds K2, and so lets K1 close",
        "Build it as drawn. A transistor that switches K2 is no substitute: shorted, it holds K2 for ever.",
    )
    y, ground = 0.0, -3.4
    sheet.text((0, y + 0.65), "enable_pin of A1")
    sheet.wire((0, y), (2.0, y))
    sheet.wire((0, -1.2), (0.3, -1.2), (0.3, -0.7), (0.7, -0.7), (0.7, -1.2), (1.1, -1.2), (1.1, -0.7), (1.5, -0.7))
    sheet.text((0, -1.6), "100 Hz, 3.3 V", size=8.5)
    sheet.put(elm.ResistorIEC(), (2.0, y), (4.2, y))
    sheet.name((3.1, y + 0.55), "R2", value="1 kΩ", at="center")
    sheet.dot((4.9, y))
    sheet.wire((4.2, y), (5.8, y))
    sheet.put(elm.ResistorIEC(), (4.9, y), (4.9, ground))
    sheet.name((4.5, -2.0), "R3", value="10 kΩ", at="right")
    sheet.text((4.5, -2.5), "keeps a loose wire still", at="right", size=8.5)
    _driver(sheet, y, ground)
    sheet.put(elm.ResistorIEC(), (8.4, y), (10.4, y))
    sheet.name((9.4, y + 0.55), "R1", value="10 Ω", at="center")
    each_f = 2 * pump.coupling_f
    for start, part in ((10.4, "C1"), (12.4, "C2")):
        sheet.put(elm.Capacitor(polar=True), (start, y), (start + 2.0, y))
        sheet.name((start + 1.0, y + 0.95), part, value=f"{each_f * 1e6:.0f} µF", at="center")
    sheet.text((12.4, y + 1.6), "two in series: if one shorts, the other still blocks", at="center", size=8)
    sheet.wire((14.4, y), (15.2, y))
    sheet.dot((15.2, y))
    sheet.put(elm.Schottky(), (15.2, ground), (15.2, y))
    sheet.name((15.6, -1.7), "D1")
    sheet.put(elm.Schottky(), (15.2, y), (17.6, y))
    sheet.name((16.4, y + 0.6), "D2", at="center")
    sheet.wire((17.6, y), (24.0, y))
    sheet.dot((18.6, y), (21.2, y))
    sheet.put(elm.Capacitor(polar=True), (18.6, y), (18.6, ground))
    sheet.name((19.0, -1.2), "C3")
    sheet.text((19.0, -2.2), f"{pump.store_f * 1e6:.0f} µF")
    sheet.put(elm.Zener(), (21.2, ground), (21.2, y))
    sheet.name((21.7, -1.2), "D3")
    sheet.text((21.7, -2.2), f"{pump.clamp_v:g} V, 3 W")
    _relay(sheet, y, ground)
    sheet.wire((4.9, ground), (24.0, ground))
    sheet.dot((7.1, ground), (15.2, ground), (18.6, ground), (21.2, ground))
    sheet.put(elm.Ground(), (10.4, ground))
    sheet.dot((10.4, ground))
    sheet.text((10.8, ground - 0.45), "0 V of T2, joined with the ground of A1 here and nowhere else", size=8.5)
    _figures(sheet, ground - 1.9)
    return sheet


def _driver(sheet: Sheet, y: float, ground: float) -> None:
    sheet.box(5.8, y - 0.9, 2.6, 1.8, fill="white")
    sheet.name((7.1, y + 0.25), "U1", at="center")
    sheet.text((7.1, y - 0.25), "driver", at="center")
    sheet.wire((7.1, y - 0.9), (7.1, ground))
    sheet.wire((7.1, y + 0.9), (7.1, y + 3.2), (0.6, y + 3.2))
    sheet.text((0.6, y + 3.5), "+12 V of T2")
    sheet.dot((5.0, y + 3.2), (2.6, y + 3.2))
    for x, part, value, polar in ((5.0, "C4", "100 nF", False), (2.6, "C5", "470 µF", True)):
        sheet.put(elm.Capacitor(polar=polar), (x, y + 3.2), (x, y + 1.7))
        sheet.put(elm.Ground(), (x, y + 1.7))
        sheet.name((x + 0.4, y + 2.75), part)
        sheet.text((x + 0.4, y + 2.1), value)


def _relay(sheet: Sheet, y: float, ground: float) -> None:
    sheet.wire((24.0, y), (24.0, -1.1))
    sheet.box(23.3, -2.3, 1.4, 1.2, fill="white")
    sheet.name((24.0, -1.7), "K2", at="center")
    sheet.wire((24.0, -2.3), (24.0, ground))
    sheet.text(
        (25.0, -1.35),
        "5 V coil, 125 Ω;\nits contact stands in the\n24 V circuit, before K1's coil\n(control.svg)",
        size=8.5,
    )


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
