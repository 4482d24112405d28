"""5 V for the Pi and 12 V for heartbeat, fan, pump and beacon: fuses, strip X4, and what A2 switches."""

from sheets import symbols
from sheets.canvas import WARN, Sheet
from sheets.header import LOADS, PLACE_OF, pin_of
from sheets.low import RETURN, TWELVE, loads, low_wires
from sheets.numbered import Numbered
from sheets.symbols import LONG
from sumlight.box.description import BoxDescription

TOP, BOTTOM = 0.0, -13.4
"""Heights of the 12 V and 0 V rails."""

LOAD_WORDS = {"M1": "fan", "M2": "vacuum\npump", "P1": "beacon", "P2": "buzzer", "P3": "light"}
STEP = 4.2


def draw(box: BoxDescription) -> Sheet:
    """The sheet."""
    sheet = Sheet(
        "5 V and 12 V: Pi, heartbeat, fan, pump, beacon",
        "Unplugged or isolated at S1 before a wire is touched: T1 and T2 carry mains on their other side.",
    )
    drawing = Numbered(sheet, low_wires(box))
    _pi(drawing)
    _supply(drawing)
    right = 7.0
    if box.enable_pin is not None:
        _heartbeat(drawing, right + 1.5)
        right += 4.0
    found = loads(box)
    if found:
        _loads(drawing, box, right + 1.5)
        right += STEP * len(found) + 3.2
    sheet.wire((3.2, TOP), (right, TOP))
    sheet.wire((3.2, BOTTOM), (right, BOTTOM))
    sheet.text((6.4, TOP + 0.4), f"+12 V, {TWELVE}", size=11)
    sheet.text((6.4, BOTTOM - 0.4), f"0 V, {RETURN}", size=11)
    _notes(sheet, BOTTOM - 1.6, [fuse for _load, fuse, _output in found])
    return sheet


def _pi(drawing: Numbered) -> None:
    sheet, x = drawing.sheet, -6.0
    sheet.box(x, -8.0, 2.6, 2.4, fill="white")
    sheet.name((x + 1.0, -6.5), "T1", at="center")
    sheet.text((x + 1.0, -7.1), "5 V DC", at="center", size=9.5)
    sheet.box(x + 6.0, -8.0, 2.6, 2.4, fill="white")
    sheet.name((x + 7.7, -6.5), "A1", at="center")
    sheet.text((x + 7.7, -7.1), "socket", at="center", size=9.5)
    for y, pole, socket in ((-6.2, "+", "DC+"), (-7.5, "-", "DC-")):
        drawing.wire(f"T1:{pole}", f"A1:{socket}", (x + 2.6, y), (x + 6.0, y))
        sheet.text((x + 2.45, y), pole, at="right", size=10)
        sheet.text((x + 6.1, y), socket, size=8.5)
    sheet.text((x, -8.6), "the supply's own lead", size=9.5)


def _supply(drawing: Numbered) -> None:
    sheet, x = drawing.sheet, 5.0
    sheet.dot((x, TOP), (x, BOTTOM))
    drawing.wire("F7:2", TWELVE, (x, -1.1), (x, TOP))
    symbols.fuse(sheet, (x, -1.1))
    drawing.ends(x, -1.1, "2", "1")
    sheet.name((x + 0.5, -1.8), "F7")
    sheet.text((x + 0.5, -2.25), "4 A", size=9.5)
    drawing.wire("T2:+", "F7:1", (x, -4.6), (x, -2.9))
    sheet.box(x - 1.2, -8.0, 2.4, 3.4, fill="white")
    sheet.name((x, -5.7), "T2", at="center")
    sheet.text((x, -6.3), "12 V DC\nSELV", at="center", size=9.5)
    sheet.text((x - 0.15, -4.35), "+", at="right", size=11)
    sheet.text((x - 0.15, -8.3), "-", at="right", size=11)
    drawing.wire(RETURN, "T2:-", (x, BOTTOM), (x, -8.0))


def _heartbeat(drawing: Numbered, x: float) -> None:
    sheet = drawing.sheet
    sheet.dot((x, TOP), (x, BOTTOM))
    drawing.wire(TWELVE, "A8:+", (x, TOP), (x, -5.6))
    sheet.box(x - 1.2, -8.0, 2.4, 2.4, fill="white")
    sheet.name((x, -6.5), "A8", at="center")
    sheet.text((x, -7.1), "heartbeat", at="center", size=9.5)
    sheet.text((x - 0.15, -5.35), "+", at="right", size=11)
    sheet.text((x - 0.15, -8.3), "0", at="right", size=9.5)
    drawing.wire("A8:0", RETURN, (x, -8.0), (x, BOTTOM))


def _loads(drawing: Numbered, box: BoxDescription, x: float) -> None:
    sheet, found = drawing.sheet, loads(box)
    pins = {part: pin_of(box, key) for key, (part, _words) in LOADS.items()}
    last = x + STEP * (len(found) - 1)
    for index, (load, fuse, output) in enumerate(found):
        at = x + STEP * index
        sheet.dot((at, TOP))
        drawing.wire(TWELVE, f"{fuse}:1", (at, TOP), (at, -1.1))
        symbols.fuse(sheet, (at, -1.1))
        drawing.ends(at, -1.1, "1", "2")
        sheet.name((at + 0.5, -1.8), fuse)
        drawing.wire(f"{fuse}:2", f"{load}:+", (at, -1.1 - LONG), (at, -4.4))
        sheet.circle((at, -5.3), 0.9, fill="white")
        sheet.name((at, -5.3), load, at="center")
        sheet.text((at + 1.1, -5.1), LOAD_WORDS[load], size=9.5)
        sheet.text((at - 0.15, -4.2), "+", at="right", size=10)
        sheet.text((at - 0.15, -6.4), "-", at="right", size=10)
        drawing.wire(f"{load}:-", f"A2:{output}", (at, -6.2), (at, -8.2))
        sheet.text((at + 0.15, -8.45), output, size=9.5)
        place = PLACE_OF[f"GPIO{pins[load]}"]
        drawing.wire(f"A1:{place}", f"A2:I{output}", (at + 1.4, -12.4), (at + 1.4, -10.8))
        sheet.text((at + 1.25, -10.55), f"I{output}", at="right", size=9.5)
        sheet.text((at + 1.4, -12.7), f"A1:{place}", at="center", size=9.5)
    sheet.box(x - 1.2, -10.8, last - x + 4.2, 2.6, fill="none")
    sheet.name((x - 0.9, -9.5), "A2", value="output module: low-side switches")
    plus = last + 2.4
    sheet.dot((plus, TOP), (x - 0.6, BOTTOM))
    drawing.wire(TWELVE, "A2:+", (plus, TOP), (plus, -8.2))
    sheet.text((plus - 0.15, -8.45), "+", at="right", size=10)
    drawing.wire("A2:0", RETURN, (x - 0.6, -10.8), (x - 0.6, BOTTOM))
    sheet.text((x - 0.45, -10.55), "0", size=9.5)
    drawing.wire("A1:34", "A2:G", (plus, -12.4), (plus, -10.8))
    sheet.text((plus - 0.15, -10.55), "G", at="right", size=9.5)
    sheet.text((plus, -12.7), "A1:34", at="center", size=9.5)


def _notes(sheet: Sheet, y: float, fuses: list[str]) -> None:
    lines = (
        f"F7 protects the wires of X4. As each load's maker asks, 2 A at most: {', '.join(fuses) or 'none here'}.",
        "0 V of T2 meets the ground of A1 on board A8 only. It is not joined with 0 V of T3, nor with earth.",
        "Plus of a load goes to its fuse, minus to A2. What A2 switches serves no safety: nothing here lets K1 close.",
    )
    for row, line in enumerate(lines):
        sheet.text((-6.0, y - 0.55 * row), line, size=10)
    words = "Never feed the header of A1 with 5 V or 12 V: it destroys pins, and a dead pin may stay high or low."
    sheet.text((-6.0, y - 1.9), words, size=10, color=WARN)
