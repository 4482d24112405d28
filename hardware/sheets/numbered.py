"""Wires on a sheet: each drawn with its number from the plan, so that none is drawn that nobody planned."""

from collections.abc import Iterable

from sheets.canvas import Place, Sheet
from sheets.symbols import LONG
from sheets.wires import Wire


class Numbered:
    """A sheet, and the numbers of the wires by their ends."""

    def __init__(self, sheet: Sheet, known: Iterable[Wire]) -> None:
        self.sheet = sheet
        self._numbers = {frozenset((wire.start, wire.end)): wire.number for wire in known}

    def wire(self, start: str, end: str, *places: Place, at: Place | None = None) -> None:
        """Draw the wire between two terminals and print its number. Raises KeyError for a wire nobody planned."""
        number = self._numbers[frozenset((start, end))]
        self.sheet.wire(*places)
        (x, y), (to_x, to_y) = places[0], places[1]
        lying = y == to_y
        middle = ((x + to_x) / 2, (y + to_y) / 2 + (0.24 if lying else 0.0))
        place = at or middle
        where = "center" if lying and at is None else "left"
        self.sheet.text((place[0] + (0.0 if where == "center" else 0.15), place[1]), str(number), at=where, size=9.5)

    def ends(self, x: float, top: float, upper: str, lower: str) -> None:
        """Print the terminals of an upright symbol."""
        self.sheet.text((x - 0.15, top - 0.18), upper, at="right", size=9.5)
        self.sheet.text((x - 0.15, top - LONG + 0.18), lower, at="right", size=9.5)
