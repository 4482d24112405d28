"""The Pi's side: every used place on the header and the part behind it, drawn from box.yaml."""

from sheets import symbols
from sheets.canvas import GREY, PALE, WARN, Sheet, elm
from sheets.header import HEADER, Connection, absent, connections, has_display
from sheets.low import header_wires, three_volt_end
from sheets.numbered import Numbered
from sumlight.box.description import Bank, BoxDescription

ROW = 1.0
CELL = 2.3
"""Height of a row and width of a header cell, in drawing units."""


def draw(box: BoxDescription) -> Sheet:
    """The sheet."""
    sheet = Sheet(
        f"Wiring at the Raspberry Pi A1: {box.name}",
        "Protective extra-low voltage only. Keep these wires apart from mains wires and out of their ducts.",
    )
    drawing = Numbered(sheet, header_wires(box))
    wired = connections(box)
    used = {connection.place for connection in wired}
    for place, name in HEADER.items():
        _cell(sheet, place, name, place in used)
    for connection in wired:
        if connection.place:
            _row(drawing, connection)
    if any(bank.lights_when == "low" for bank in box.banks):
        _relay_supply(drawing)
    if has_display(box):
        _display_supply(drawing, three_volt_end(box))
    top = ROW * 0.75
    sheet.text((0, top), "A1  40-pin header", at="center", size=11)
    caption = "The wire at place 11 has the number 411, and so on. Contacts and their 24 V: control.svg."
    sheet.text((-17, 1.4), caption, size=10)
    bottom = _y(40) - 1.2
    for words in [f"{c.part}: {c.words}, at that bus's own pins" for c in wired if not c.place]:
        sheet.text((-17, bottom), words, size=10)
        bottom -= 0.5
    for line in absent(box):
        sheet.text((-17, bottom), f"LEFT OUT: {line}", size=10, color=WARN)
        bottom -= 0.5
    _channel_detail(sheet, bottom - 0.4)
    for index, bank in enumerate(box.banks):
        _relay_detail(sheet, 4.5 + 7.5 * index, bottom - 0.4, index, bank)
    return sheet


def _y(place: int) -> float:
    return -ROW * ((place - 1) // 2)


def _side(place: int) -> int:
    return -1 if place % 2 else 1


def _cell(sheet: Sheet, place: int, name: str, used: bool) -> None:
    side, y = _side(place), _y(place)
    left = 0 if side > 0 else -CELL
    sheet.box(left, y - 0.36, CELL, 0.72, fill=PALE if used else "white", color="#1a1a1a" if used else GREY)
    color = "#1a1a1a" if used else GREY
    sheet.text((side * 0.15, y), str(place), at="left" if side > 0 else "right", size=9.5, color=color)
    sheet.text((side * (CELL - 0.15), y), name, at="right" if side > 0 else "left", size=9.5, color=color)


def _row(drawing: Numbered, wired: Connection) -> None:
    """The wire, the terminal where it ends, and what for."""
    sheet, side, y = drawing.sheet, _side(wired.place), _y(wired.place)
    outer = "left" if side > 0 else "right"

    def x(distance: float) -> float:
        return side * (CELL + distance)

    if wired.key:
        sheet.text((x(0.15), y + 0.2), wired.key, at=outer, size=8.5)
    drawing.wire(f"A1:{wired.place}", wired.through, (x(0), y), (x(5.6), y), at=(x(5.0) - 0.4, y + 0.22))
    sheet.box(min(x(5.6), x(7.6)), y - 0.3, 2.0, 0.6, fill="white")
    sheet.text((x(6.6), y), wired.through, at="center", size=10)
    words = f"{wired.part}: {wired.words}\n{wired.meaning}".strip()
    sheet.text((x(7.9), y + (0.16 if "\n" in words else 0.0)), words, at=outer, size=9)


def _relay_supply(drawing: Numbered) -> None:
    """A relay input that closes on low is fed with 3.3 V from A3's terminal."""
    y = _y(17)
    drawing.wire(
        "A3:V", "A4:V", (-CELL - 6.6, y - 0.3), (-CELL - 6.6, y - 0.62), (-CELL - 5.4, y - 0.62), at=(-9.7, y - 0.5)
    )
    drawing.sheet.text((-CELL - 5.3, y - 0.62), "A4:V", size=9)


def _display_supply(drawing: Numbered, start: str) -> None:
    """The display's 3.3 V, from where those of place 17 end."""
    y = _y(17) - 0.62
    left = -CELL - 6.6 if start == "A3:V" else -CELL - 4.5
    places = [(left, y), (-CELL - 1.4, y)]
    if start == "A3:V":
        places.insert(0, (left, y + 0.32))
    drawing.wire(start, "P4:3V3", *places, at=(-CELL - 3.0, y + 0.18))
    drawing.sheet.text((-CELL - 1.3, y), "P4:3V3", size=9)


def _channel_detail(sheet: Sheet, top: float) -> None:
    """One input of A3, from its contact to the Pi."""
    left, y = -17.0, top - 1.6
    sheet.text((left, top), "Channel 1 of A3 (all are alike): a closed contact pulls its pin to ground", size=10.5)
    sheet.text((left, y), "24 V, X3:3", size=9.5)
    sheet.wire((left + 2.2, y), (left + 2.6, y))
    symbols.lying(sheet, (left + 2.6, y), (left + 4.4, y), closed=True)
    sheet.name((left + 3.5, y + 0.6), "S4", at="center")
    sheet.put(elm.ResistorIEC(), (left + 5.0, y), (left + 7.0, y))
    sheet.wire((left + 4.4, y), (left + 5.0, y))
    sheet.name((left + 6.0, y + 0.6), "R51", value="2.2 kΩ", at="center")
    sheet.put(elm.LED(), (left + 7.8, y), (left + 7.8, y - 1.8))
    sheet.wire((left + 7.0, y), (left + 7.8, y))
    sheet.wire((left + 7.8, y - 1.8), (left + 2.2, y - 1.8))
    sheet.text((left, y - 1.8), "0 V, X3:2", size=9.5)
    sheet.box(left + 7.1, y - 1.6, 4.2, 1.4, dashed=True)
    sheet.name((left + 9.2, y - 2.15), "U21", value="opto-coupler", at="center")
    sheet.wire((left + 10.0, y - 0.5), (left + 10.0, y - 1.3), width=2.5)
    sheet.wire((left + 10.0, y - 0.75), (left + 10.4, y - 0.4), (left + 10.4, y))
    sheet.arrow((left + 10.0, y - 1.05), (left + 10.4, y - 1.4))
    sheet.wire((left + 10.4, y - 1.4), (left + 10.4, y - 1.8), (left + 13.4, y - 1.8))
    sheet.text((left + 13.6, y - 1.8), "A3:G", size=9.5)
    sheet.wire((left + 10.4, y), (left + 13.4, y))
    sheet.text((left + 13.6, y), "A3:O1", size=9.5)
    sheet.dot((left + 12.2, y))
    sheet.put(elm.ResistorIEC(), (left + 12.2, y), (left + 12.2, y + 1.8))
    sheet.name((left + 12.6, y + 1.15), "R61", value="2.2 kΩ, to A3:V")


def _relay_detail(sheet: Sheet, left: float, top: float, index: int, bank: Bank) -> None:
    """The pull that makes a loose or floating pin mean dark."""
    y, number = top - 1.6, 11 + index
    high = bank.lights_when == "high"
    sheet.text((left, top if high else top + 0.9), f"Input of A4 for relay K{number}", size=10.5)
    sheet.text((left, y + 0.35), f"A4:I{1 + index}", size=9.5)
    sheet.wire((left, y), (left + 3.4, y))
    sheet.dot((left + 1.8, y))
    end = y - 1.8 if high else y + 1.8
    sheet.put(elm.ResistorIEC(), (left + 1.8, y), (left + 1.8, end))
    middle = (y + end) / 2
    sheet.name((left + 2.2, middle + 0.15), f"R{number}", value="4.7 kΩ")
    sheet.text((left + 2.2, middle - 0.3), "at A4, to 0 V" if high else "at A4, to 3.3 V", size=9)
    sheet.box(left + 3.4, y - 0.35, 1.5, 0.7, fill="white")
    sheet.name((left + 4.15, y), "A4", at="center")
