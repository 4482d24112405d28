"""The mains side, as what a licensed electrician builds under the code of the place."""

from sheets.canvas import INK, PALE, WARN, Sheet, elm
from sumlight.box.description import BoxDescription

TOP, BOTTOM = 0.0, -15.0
"""Heights of the line's and the neutral's bar."""


def draw(box: BoxDescription) -> Sheet:
    """The sheet."""
    dropped = "K1 dropped" if box.enable_pin is None else "K1 and K2 dropped"
    sheet = Sheet(
        "Mains side: built by a licensed electrician, under the code of your place",
        "DANGER, MAINS. The electrician decides ratings, earthing, protection and switching of the neutral. "
        f"Drawn: switched on, lid shut, stop not pressed, {dropped}.",
    )
    _incoming(sheet)
    right = 18.0 + 4.2 * len(box.banks)
    sheet.wire((0, TOP), (right, TOP))
    sheet.wire((0, BOTTOM), (right, BOTTOM))
    sheet.text((0.3, TOP + 0.35), "L, behind S1")
    sheet.text((0.3, BOTTOM + 0.35), "N, behind S1")
    relays = ", ".join(f"K{11 + index}" for index in range(len(box.banks)))
    for x, part, words in ((2.0, "T1", "5 V\nfor A1"), (5.0, "T2", f"12 V\nfor A2, A3,\nU1,\n{relays}")):
        _supply(sheet, x, part, words)
    _control(sheet, 9.5, pump=box.enable_pin is not None)
    _lamps(sheet, box)
    if box.signals is not None and isinstance(box.signals.k1_mirror_pin, int):
        _mirror(sheet, right + 1.6)
    _notes(sheet, box)
    return sheet


def _incoming(sheet: Sheet) -> None:
    y, x = 2.6, 0.0
    sheet.box(-8.6, 0.3, 1.6, 3.4, fill=PALE)
    sheet.name((-7.8, 3.3), "X1", at="center")
    for height, terminal in ((y, "L"), (1.8, "N"), (0.8, "PE")):
        sheet.text((-7.8, height), terminal, at="center")
    sheet.wire((-7.0, 0.8), (-6.4, 0.8))
    sheet.put(elm.GroundChassis(), (-6.4, 0.8))
    sheet.wire((-7.0, y), (-6.4, y))
    sheet.put(elm.FuseIEC(), (-6.4, y), (-4.2, y))
    sheet.name((-5.3, y + 0.5), "F1", at="center")
    sheet.put(elm.Switch(nc=True), (-4.2, y), (-2.2, y))
    sheet.name((-3.2, y + 0.55), "S1", at="center")
    sheet.wire((-2.2, y), (x, y), (x, TOP))
    sheet.wire((-7.0, 1.8), (-5.8, 1.8), (-5.8, 1.0), (-4.2, 1.0))
    sheet.put(elm.Switch(nc=True), (-4.2, 1.0), (-2.2, 1.0))
    sheet.wire((-3.2, y - 0.05), (-3.2, 1.1), dashed=True, width=0.8)
    sheet.wire((-2.2, 1.0), (-1.6, 1.0), (-1.6, BOTTOM), (0, BOTTOM))
    words = (
        "X1 supply with protective earth,\nbehind a residual-current\ndevice of 30 mA",
        "F1 fuse for the whole box",
        "S1 main switch, both poles,\nlockable when off",
        "PE goes to every metal part:\ncase, lid, reflector, ballasts.\nIt is never switched or fused.",
    )
    down = -1.0
    for paragraph in words:
        sheet.text((-8.6, down), paragraph, size=8.5)
        down -= 0.35 * paragraph.count("\n") + 0.8


def _supply(sheet: Sheet, x: float, part: str, words: str) -> None:
    sheet.wire((x, TOP), (x, -6.2))
    sheet.dot((x, TOP), (x, BOTTOM))
    sheet.box(x - 0.9, -8.6, 1.8, 2.4, fill="white")
    sheet.name((x, -6.65), part, at="center")
    sheet.text((x, -7.2), words, at="center", size=8)
    sheet.wire((x, -8.6), (x, BOTTOM))


def _control(sheet: Sheet, x: float, *, pump: bool) -> None:
    """Fuse, thermal cut-out, stop, lid and pump relay in series with the coil of K1."""
    sheet.dot((x, TOP), (x, BOTTOM))
    y = TOP
    chain = [
        (elm.FuseIEC(), "F2", "fuse of this branch"),
        (elm.Switch(nc=True), "F3", "thermal cut-out, hand reset"),
        (elm.Switch(nc=True), "S2", "emergency stop, direct opening"),
        (elm.Switch(nc=True), "S3", "lid, direct opening:\nthe opening lid pushes it open"),
    ]
    if pump:
        chain.append((elm.Switch(), "K2", "contact of the charge pump's relay"))
    for element, part, words in chain:
        sheet.wire((x, y), (x, y - 0.3))
        sheet.put(element, (x, y - 0.3), (x, y - 2.1))
        sheet.name((x + 0.55, y - 0.9), part)
        sheet.text((x + 0.55, y - 1.35), words, size=8.5)
        y -= 2.3
        sheet.wire((x, y + 0.2), (x, y))
    sheet.wire((x, y), (x, y - 0.3))
    sheet.box(x - 0.8, y - 1.5, 1.6, 1.2, fill="white")
    sheet.name((x, y - 0.9), "K1", at="center")
    sheet.text((x + 1.05, y - 0.7), "coil of the contactor,\nwith its own suppressor", size=8.5)
    sheet.wire((x, y - 1.5), (x, BOTTOM))


def _lamps(sheet: Sheet, box: BoxDescription) -> None:
    """Main contacts of K1 in both poles, then one relay a bank."""
    x = 18.5
    last = x + 4.2 * (len(box.banks) - 1)
    sheet.dot((x, TOP), (x, BOTTOM))
    sheet.put(elm.Switch(), (x, TOP), (x, -2.4))
    sheet.name((x + 0.55, -1.0), "K1")
    sheet.text((x + 0.55, -1.45), "main contact", size=8.5)
    sheet.wire((x, -2.4), (x, -3.4))
    if last > x:
        sheet.wire((x, -3.4), (last, -3.4))
        sheet.wire((x, -11.4), (last, -11.4))
        sheet.dot((x, -3.4), (x, -11.4))
    for index, bank in enumerate(box.banks):
        at = x + 4.2 * index
        sheet.put(elm.Switch(), (at, -3.4), (at, -5.6))
        sheet.name((at + 0.55, -4.3), f"K{11 + index}")
        sheet.text((at + 0.55, -4.75), f"relay of bank\n'{bank.name}'", size=8.5)
        sheet.wire((at, -5.6), (at, -6.4))
        sheet.box(at - 0.9, -9.0, 1.8, 2.6, fill="white")
        sheet.name((at, -6.9), f"E{1 + index}", at="center")
        sheet.text((at, -7.5), "ballasts\nand UV\ntubes", at="center", size=8.5)
        sheet.wire((at, -9.0), (at, -11.4))
    sheet.wire((x, -11.4), (x, -12.2))
    sheet.put(elm.Switch(), (x, -12.2), (x, -14.4))
    sheet.name((x + 0.55, -13.1), "K1")
    sheet.text((x + 0.55, -13.55), "main contact", size=8.5)
    sheet.wire((x, -14.4), (x, BOTTOM))


def _mirror(sheet: Sheet, x: float) -> None:
    """The one contact of K1 that belongs to the Pi's side."""
    sheet.wire((x - 1.0, TOP + 1.0), (x - 1.0, BOTTOM - 0.3), dashed=True, color=WARN)
    sheet.text((x - 0.6, TOP + 1.2), "extra-low voltage", size=9.5)
    sheet.text((x, -4.6), "+12 V of T2", at="center")
    sheet.wire((x, -4.9), (x, -5.4))
    sheet.put(elm.Switch(nc=True), (x, -5.4), (x, -7.4))
    sheet.name((x + 0.55, -6.2), "K1")
    sheet.text((x + 0.55, -6.65), "mirror contact, on the\nsame contactor", size=8.5)
    sheet.wire((x, -7.4), (x, -8.2))
    sheet.box(x - 0.8, -9.2, 1.6, 1.0, fill="white")
    sheet.name((x, -8.7), "A3", at="center")


def _notes(sheet: Sheet, box: BoxDescription) -> None:
    y = BOTTOM - 1.1
    cuts = "S2, S3 and F3" if box.enable_pin is None else "S2, S3, F3 and K2"
    sheet.text(
        (-8.6, y),
        "UV-A light: nobody looks into burning tubes, not even the electrician. Test with dummy loads first.",
        color=WARN,
        size=9.5,
    )
    lines = (
        f"Stop function: {cuts} each take the coil of K1 away (stop category 0 of IEC 60204-1: power off at once).",
        "Closing the lid alone never brings light back: the program then needs a person's word.",
        "K1 carries a mirror contact (IEC 60947-4-1 annex F): closed only while every main contact is open.",
        "S3 carries the direct-opening mark of IEC 60947-5-1 annex K. S4 and S5 are separate, low-voltage switches.",
        "T1 and T2 stay on with K1 dropped, so that the box can tell what happened; they give extra-low voltage.",
    )
    for row, line in enumerate(lines):
        sheet.text((-8.6, y - 0.7 - 0.5 * row), line, size=9, color=INK)
