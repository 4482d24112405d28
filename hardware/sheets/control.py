"""The 24 V DC control circuit: K1's chain, the relays of the banks, the contacts of the inputs."""

from sheets import symbols
from sheets.canvas import WARN, Sheet, elm
from sheets.numbered import Numbered
from sheets.symbols import LONG
from sheets.wires import FIELD, PLUS, ZERO, chain, inputs, wires
from sumlight.box.description import BoxDescription

TOP, BOTTOM = 0.0, -19.0
STEP = 2.9
"""Heights of the 24 V and 0 V rails, and from one symbol of the chain to the next."""

CHAIN_WORDS = {
    "F2": ("fuse", "0.5 A, quick-acting"),
    "F3": ("heat", "thermal cut-out,\nhand reset"),
    "S2": ("mushroom", "emergency stop,\nlatching"),
    "S3": ("roller", "lid, opened by\nthe hinge itself"),
    "K2": ("relay", "relay of the charge\npump (heartbeat.svg)"),
}
INPUT_WORDS = {
    "S4": "closed:\nlid shut",
    "S5": "closed:\nlid open",
    "K1": "mirror:\nK1 dropped",
    "S2": "second\ncontact",
    "S6": "opens\nat 50-55 °C",
    "S7": "go button",
    "S8": "stop button,\nnot an\nemergency stop",
}
OPEN_AT_REST = ("S5", "S7")


def draw(box: BoxDescription) -> Sheet:
    """The sheet."""
    sheet = Sheet(
        "Control circuit 24 V DC: what lets K1 close, and what reports it",
        "Planned, built and tested by a licensed electrician. Unplugged or isolated at S1 before a wire is touched.",
    )
    drawing = Numbered(sheet, wires(box))
    right = _width(box)
    _supply(drawing)
    _chain(drawing, box, 6.5)
    _banks(drawing, box, 13.5)
    _inputs(drawing, box, 13.5 + 5.0 * len(box.banks) + 1.0)
    sheet.wire((0, TOP), (right, TOP))
    sheet.wire((0, BOTTOM), (right, BOTTOM))
    sheet.text((0.3, TOP + 0.4), "+24 V, X3:1", size=11)
    sheet.text((0.3, BOTTOM - 0.4), "0 V, X3:2, earthed at X5 only", size=11)
    _driver(sheet, BOTTOM - 3.0, box)
    _notes(sheet, BOTTOM - 8.2, pump=box.enable_pin is not None)
    return sheet


def _width(box: BoxDescription) -> float:
    return 14.5 + 5.0 * len(box.banks) + 3.4 * len(inputs(box))


def _supply(drawing: Numbered) -> None:
    sheet, x = drawing.sheet, 1.4
    drawing.wire("T3:+", PLUS, (x, TOP), (x, -6.0))
    sheet.box(x - 1.2, -9.4, 2.4, 3.4, fill="white")
    sheet.name((x, -7.2), "T3", at="center")
    sheet.text((x, -7.8), "24 V DC\n2.5 A\nPELV", at="center", size=10)
    sheet.text((x - 0.15, -5.75), "+", at="right", size=11)
    sheet.text((x - 0.15, -9.65), "-", at="right", size=11)
    drawing.wire(ZERO, "T3:-", (x, -9.4), (x, BOTTOM))
    sheet.dot((x, TOP), (x, BOTTOM))
    at = 3.6
    drawing.wire(ZERO, "X5:1", (at, BOTTOM), (at, BOTTOM + 1.4))
    sheet.dot((at, BOTTOM))
    sheet.box(at - 0.3, BOTTOM + 1.4, 0.6, 1.0, fill="white")
    sheet.text((at - 0.45, BOTTOM + 1.6), "1", at="right", size=9.5)
    sheet.text((at - 0.45, BOTTOM + 2.2), "2", at="right", size=9.5)
    sheet.name((at + 0.45, BOTTOM + 2.1), "X5")
    sheet.text((at + 0.45, BOTTOM + 1.6), "link", size=9.5)
    drawing.wire("X1:PE", "X5:2", (at, BOTTOM + 2.4), (at, BOTTOM + 3.6))
    sheet.put(elm.Ground().theta(180), (at, BOTTOM + 3.6))
    sheet.text((at, BOTTOM + 4.7), "X1:PE", at="center", size=9.5)


def _chain(drawing: Numbered, box: BoxDescription, x: float) -> None:
    sheet, y, at = drawing.sheet, TOP, PLUS
    sheet.dot((x, TOP), (x, BOTTOM))
    for part, incoming, outgoing in chain(box):
        top = y - (STEP - LONG)
        drawing.wire(at, f"{part}:{incoming}", (x, y), (x, top))
        how, words = CHAIN_WORDS[part]
        if how == "fuse":
            symbols.fuse(sheet, (x, top))
        else:
            blade = symbols.contact(sheet, (x, top), closed=part != "K2")
            if how != "relay":
                symbols.operated(sheet, blade, how)
            if part in ("S2", "S3"):
                symbols.direct_opening(sheet, (x - 1.75, top - 0.95))
        drawing.ends(x, top, incoming, outgoing)
        sheet.name((x + 0.6, top - 0.55), part)
        sheet.text((x + 0.6, top - 1.0), words, size=9.5)
        y, at = top - LONG, f"{part}:{outgoing}"
    top = BOTTOM + 1.1 + LONG
    drawing.wire(at, "K1:A1", (x, y), (x, top))
    _coil(drawing, x, top, "K1", "D4")


def _coil(drawing: Numbered, x: float, top: float, relay: str, limiter: str) -> None:
    sheet = drawing.sheet
    symbols.coil(sheet, (x, top))
    sheet.name((x, top - 0.9), relay, at="center")
    drawing.ends(x, top, "A1", "A2")
    drawing.wire(f"{relay}:A2", ZERO, (x, top - LONG), (x, BOTTOM))
    aside = x + 1.5
    drawing.wire(f"{limiter}:1", f"{relay}:A1", (x, top), (aside, top), at=(x + 0.4, top + 0.25))
    drawing.wire(f"{limiter}:2", f"{relay}:A2", (x, top - LONG), (aside, top - LONG), at=(x + 0.4, top - LONG - 0.25))
    sheet.dot((x, top), (x, top - LONG))
    symbols.suppressor(sheet, (aside, top), (aside, top - LONG))
    sheet.name((aside + 0.4, top - 0.9), limiter)
    sheet.text((aside + 0.12, top - 0.25), "1", size=9.5)
    sheet.text((aside + 0.12, top - LONG + 0.25), "2", size=9.5)


def _banks(drawing: Numbered, box: BoxDescription, x: float) -> None:
    sheet = drawing.sheet
    last = x + 5.0 * (len(box.banks) - 1)
    drawing.wire(PLUS, "F4:1", (x, TOP), (x, -1.1))
    symbols.fuse(sheet, (x, -1.1))
    drawing.ends(x, -1.1, "1", "2")
    sheet.name((x + 0.5, -1.7), "F4")
    sheet.text((x + 0.5, -2.15), "1 A", size=9.5)
    drawing.wire("F4:2", "A4:+", (x, -2.9), (x, -5.0))
    sheet.text((x - 0.15, -4.75), "+", at="right", size=11)
    sheet.box(x - 1.2, -7.4, last - x + 4.6, 2.4, fill="white")
    sheet.name((x + 0.5, -5.6), "A4", at="center")
    sheet.text((x + 0.5, -6.2), "driver of K11, K12" if len(box.banks) > 1 else "driver of K11", at="center", size=9.5)
    zero = last + 2.9
    drawing.wire("A4:0", ZERO, (zero, -7.4), (zero, BOTTOM), at=(zero, -8.6))
    sheet.text((zero - 0.15, -7.15), "0", size=9.5)
    sheet.dot((x, TOP), (zero, BOTTOM))
    for index in range(len(box.banks)):
        at, top = x + 5.0 * index, BOTTOM + 1.1 + LONG
        sheet.text((at - 0.15, -7.15), str(1 + index), at="right", size=9.5)
        drawing.wire(f"A4:{1 + index}", f"K{11 + index}:A1", (at, -7.4), (at, top))
        sheet.dot((at, BOTTOM))
        _coil(drawing, at, top, f"K{11 + index}", f"D{11 + index}")


def _inputs(drawing: Numbered, box: BoxDescription, x: float) -> None:
    sheet, found = drawing.sheet, inputs(box)
    last = x + 3.4 * (len(found) - 1)
    sheet.dot((x, TOP), (x, BOTTOM))
    drawing.wire(PLUS, "F5:1", (x, TOP), (x, -1.1))
    symbols.fuse(sheet, (x, -1.1))
    drawing.ends(x, -1.1, "1", "2")
    sheet.name((x + 0.5, -1.7), "F5")
    sheet.text((x + 0.5, -2.15), "0.5 A", size=9.5)
    drawing.wire("F5:2", FIELD, (x, -2.9), (x, -4.4))
    sheet.wire((x, -4.4), (last, -4.4))
    sheet.text((x + 1.0, -4.05), f"{FIELD}, 24 V of the inputs", size=9.5)
    for index, (part, upper, lower, channel) in enumerate(found):
        at = x + 3.4 * index
        sheet.dot((at, -4.4))
        drawing.wire(FIELD, f"{part}:{upper}", (at, -4.4), (at, -6.2))
        symbols.contact(sheet, (at, -6.2), closed=part not in OPEN_AT_REST)
        drawing.ends(at, -6.2, upper, lower)
        sheet.name((at + 0.6, -6.9), part)
        sheet.text((at + 0.6, -7.4), INPUT_WORDS[part], size=9.5)
        drawing.wire(f"{part}:{lower}", f"A3:{channel}", (at, -8.0), (at, -10.2))
        sheet.text((at, -10.5), channel, at="center", size=9.5)
    sheet.box(x - 1.2, -12.4, last - x + 2.4, 2.2)
    sheet.name((x + 0.2, -11.3), "A3", value="opto-isolated inputs, 2.2 kΩ each")
    sheet.text((x, -12.15), "0", at="center", size=9.5)
    drawing.wire("A3:0", ZERO, (x, -12.4), (x, BOTTOM))


def _driver(sheet: Sheet, y: float, box: BoxDescription) -> None:
    """One channel of A4, from the Pi's pin to the relay's coil."""
    high = box.banks[0].lights_when == "high"
    sheet.text((0, y + 1.4), _channel_words(box), size=11)
    source, sink = ("A4:I1, from A1", "A4:G, from A1") if high else ("A4:V, from A3", "A4:I1, from A1")
    sheet.text((0, y), source, size=9.5)
    sheet.wire((2.6, y), (3.2, y))
    sheet.put(elm.ResistorIEC(), (3.2, y), (5.4, y))
    sheet.name((4.3, y + 0.5), "R21", value="430 Ω", at="center")
    sheet.wire((5.4, y), (6.4, y))
    sheet.put(elm.LED(), (6.4, y), (6.4, y - 2.4))
    sheet.wire((6.4, y - 2.4), (2.6, y - 2.4))
    sheet.text((0, y - 2.4), sink, size=9.5)
    sheet.box(5.7, y - 2.7, 3.7, 3.0, dashed=True)
    sheet.name((7.5, y - 3.05), "U11", at="center")
    sheet.text((7.6, y - 1.2), "4 mA", size=9.5)
    sheet.wire((8.6, y - 0.8), (8.6, y - 1.6), width=2.5)
    sheet.wire((8.6, y - 1.05), (9.0, y - 0.7), (9.0, y), (9.8, y))
    sheet.arrow((8.6, y - 1.35), (9.0, y - 1.7))
    sheet.wire((9.0, y - 1.7), (9.0, y - 3.8), (13.0, y - 3.8))
    sheet.text((13.2, y - 3.8), "A4:0", size=9.5)
    sheet.put(elm.ResistorIEC(), (9.8, y), (12.0, y))
    sheet.name((10.9, y + 0.5), "R41", value="4.7 kΩ", at="center")
    sheet.wire((12.0, y), (14.2, y))
    sheet.dot((13.0, y))
    sheet.put(elm.ResistorIEC(), (13.0, y), (13.0, y + 2.0))
    sheet.name((12.6, y + 1.1), "R31", value="4.7 kΩ", at="right")
    sheet.wire((13.0, y + 2.0), (15.2, y + 2.0))
    sheet.box(14.2, y - 0.7, 2.0, 1.4, fill="white")
    sheet.name((15.2, y + 0.2), "Q11", at="center")
    sheet.text((15.2, y - 0.3), "P-MOSFET", at="center", size=8.5)
    sheet.wire((15.2, y + 0.7), (15.2, y + 2.0), (17.0, y + 2.0))
    sheet.text((17.2, y + 2.0), "A4:+  (24 V behind F4)", size=9.5)
    sheet.wire((15.2, y - 0.7), (15.2, y - 1.6), (17.0, y - 1.6))
    sheet.text((17.2, y - 1.6), "A4:1 to K11:A1", size=9.5)


def _channel_words(box: BoxDescription) -> str:
    return "One channel of A4" + (" (bank 2: R22, R32, R42, U12, Q12)" if len(box.banks) > 1 else "")


def _notes(sheet: Sheet, y: float, *, pump: bool) -> None:
    apart, cuts = ("A3, A4 and K2 part", "S2, S3, F3 or K2") if pump else ("A3 and A4 part", "S2, S3 or F3")
    lines = (
        "Every contact of the chain stands in the unearthed conductor, and K1:A2 goes straight to the earthed one:",
        "an earth fault before the coil takes its voltage and blows F2 (IEC 60204-1, 9.4.3; from memory).",
        "X5 is the only connection of 0 V and earth. Take the link out to measure insulation, and put it back.",
        f"0 V of this circuit and the ground of A1 are not joined: {apart} them.",
    )
    for row, line in enumerate(lines):
        sheet.text((0, y - 0.55 * row), line, size=10)
    words = f"Never bridge {cuts}. Your local code and the electrician decide; no certification is claimed."
    sheet.text((0, y - 2.4), words, size=10, color=WARN)
