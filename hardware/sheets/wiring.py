"""The Pi's side: every used place on the header and the part behind it, drawn from box.yaml."""

from sheets import symbols
from sheets.canvas import GREY, PALE, WARN, Sheet, elm
from sheets.header import CONTACT, HEADER, LOAD, Connection, absent, connections
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
    wired = connections(box)
    used = {connection.place for connection in wired}
    for place, name in HEADER.items():
        _cell(sheet, place, name, place in used)
    for connection in wired:
        if connection.place:
            _row(sheet, connection)
    top = ROW * 0.75
    sheet.text((0, top), "A1  40-pin header", at="center", size=11)
    caption = "Contacts: lid shut, box cool, stop not pressed, K1 dropped. Their 24 V is that of control.svg."
    sheet.text((-15, 1.4), caption, size=9.5)
    bottom = _y(40) - 1.2
    rest = [f"{c.part}: {c.words}, at that bus's own pins" for c in wired if not c.place]
    for line in rest:
        sheet.text((-15, bottom), line)
        bottom -= 0.5
    for line in absent(box):
        sheet.text((-15, bottom), f"LEFT OUT: {line}", color=WARN)
        bottom -= 0.5
    _channel_detail(sheet, bottom - 0.4)
    for index, bank in enumerate(box.banks):
        _relay_detail(sheet, 5.0 + 7.5 * index, bottom - 0.4, index, bank)
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


def _row(sheet: Sheet, connection: Connection) -> None:
    side, y = _side(connection.place), _y(connection.place)
    outer = "left" if side > 0 else "right"

    def x(distance: float) -> float:
        return side * (CELL + distance)

    def block(start: float, width: float, words: str) -> None:
        sheet.box(min(x(start), x(start + width)), y - 0.3, width, 0.6, fill="white")
        sheet.text((x(start + width / 2), y), words, at="center", size=10)

    if connection.key:
        sheet.text((x(0.15), y + 0.2), connection.key, at=outer, size=8.5)
    if connection.kind == CONTACT:
        sheet.wire((x(0), y), (x(3.9), y))
        block(3.9, 1.3, connection.through)
        sheet.wire((x(5.2), y), (x(5.8), y))
        symbols.lying(sheet, (x(5.8), y), (x(7.4), y), closed=connection.normally_closed)
        sheet.text((x(7.5), y), "24 V", at=outer, size=8)
        aside = 0.55 if connection.normally_closed else 0.58
        sheet.name((x(6.6), y + aside), connection.part, at="center")
        sheet.text((x(8.6), y + 0.13), f"{connection.words}\n{connection.meaning}", at=outer, size=8.5)
        return
    sheet.wire((x(0), y), (x(3.9), y))
    words = f"{connection.words}\n{connection.meaning}".strip()
    if connection.kind == LOAD:
        block(3.9, 1.3, connection.through)
        sheet.wire((x(5.2), y), (x(5.8), y))
        block(5.8, 1.3, connection.part)
    else:
        block(3.9, 1.3 if len(connection.part) < 4 else 2.8, connection.part)
    lift = 0.13 if "\n" in words else 0.0
    sheet.text((x(8.6), y + lift), words, at=outer, size=8.5)


def _channel_detail(sheet: Sheet, top: float) -> None:
    """One input of A3, beside one output that drives a relay."""
    left, y = -15.0, top - 1.6
    sheet.text((left, top), "One channel of A3 (all are alike): a closed contact pulls its pin to ground", size=10.5)
    sheet.text((left, y), "24 V, X3:3")
    sheet.wire((left + 2.2, y), (left + 2.6, y))
    symbols.lying(sheet, (left + 2.6, y), (left + 4.4, y), closed=True)
    sheet.text((left + 3.5, y + 0.5), "contact", at="center")
    sheet.put(elm.ResistorIEC(), (left + 4.4, y), (left + 6.8, y))
    sheet.text((left + 5.6, y + 0.5), "2.2 kΩ, 10 mA", at="center")
    sheet.put(elm.LED(), (left + 7.6, y), (left + 7.6, y - 1.8))
    sheet.wire((left + 6.8, y), (left + 7.6, y))
    sheet.wire((left + 7.6, y - 1.8), (left + 2.2, y - 1.8))
    sheet.text((left, y - 1.8), "0 V, X3:2")
    sheet.box(left + 6.9, y - 1.65, 4.2, 1.5, dashed=True)
    sheet.text((left + 8.8, y - 1.95), "opto-coupler", at="center")
    sheet.wire((left + 9.8, y - 0.5), (left + 9.8, y - 1.3), width=2.5)
    sheet.wire((left + 9.8, y - 0.75), (left + 10.2, y - 0.4), (left + 10.2, y))
    sheet.arrow((left + 9.8, y - 1.05), (left + 10.2, y - 1.4))
    sheet.wire((left + 10.2, y - 1.4), (left + 10.2, y - 1.8))
    sheet.wire((left + 10.2, y - 1.8), (left + 13.4, y - 1.8))
    sheet.text((left + 13.6, y - 1.8), "ground, place 14")
    sheet.wire((left + 10.2, y), (left + 13.4, y))
    sheet.text((left + 13.6, y), "pin of A1")
    sheet.dot((left + 12.2, y))
    sheet.put(elm.ResistorIEC(), (left + 12.2, y), (left + 12.2, y + 1.8))
    sheet.text((left + 12.6, y + 1.1), "2.2 kΩ to 3.3 V, place 17")


def _relay_detail(sheet: Sheet, left: float, top: float, index: int, bank: Bank) -> None:
    """The pull that makes a loose or floating pin mean dark."""
    y, number = top - 1.6, 11 + index
    high = bank.lights_when == "high"
    sheet.text((left, top), f"Input of A4 for relay K{number}", size=10.5)
    sheet.text((left, y + 0.35), f"GPIO{bank.relay_pin}")
    sheet.wire((left, y), (left + 3.4, y))
    sheet.dot((left + 1.8, y))
    end = y - 1.8 if high else y + 1.2
    sheet.put(elm.ResistorIEC(), (left + 1.8, y), (left + 1.8, end))
    middle = (y + end) / 2
    sheet.name((left + 2.2, middle + 0.15), f"R{number}", value="4.7 kΩ")
    sheet.text((left + 2.2, middle - 0.3), "at A4, to 0 V" if high else "at A4, to 3.3 V", size=8.5)
    sheet.box(left + 3.4, y - 0.35, 1.5, 0.7, fill="white")
    sheet.name((left + 4.15, y), "A4", at="center")
