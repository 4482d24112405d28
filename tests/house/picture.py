"""The picture of the house, drawn from the imports: `python -m tests.house.picture` writes tests/house/house.svg.

Every room stands one floor above the highest room that it imports from. Above, arrows lead down to what a room
imports; one that follows from two others is left out, or nobody could follow any. Below, a dot stands for every
import between two rooms, and rooms have the order of the floors: a dot below the diagonal would be an arrow upward.
"""

import sys
from collections.abc import Collection
from functools import cache
from html import escape
from pathlib import Path

from tests.house.imports import arrows

PICTURE = Path(__file__).with_name("house.svg")
Arrow = tuple[str, str]

BOX_H, FLOOR_H, MARGIN, LETTER = 30, 84, 20, 7.4
WIDTH = 1000
ASIDE = 130
CELL = 18
COLOURS = {"control": "#ffe3b3", "store": "#d5ead2", "page": "#d6e4f5", "cli": "#d6e4f5", "twin": "#eadcf0"}
OTHER = "#ececec"


def floors(of: Collection[Arrow]) -> dict[str, int]:
    """The floor of each room, 0 at the bottom; ValueError where arrows run in a circle."""
    rooms = sorted({room for arrow in of for room in arrow})
    below = {room: {other for one, other in of if one == room} for room in rooms}
    found: dict[str, int] = {}
    while len(found) < len(rooms):
        ready = [room for room in rooms if room not in found and below[room] <= found.keys()]
        if not ready:
            raise ValueError(f"arrows run in a circle among {', '.join(sorted(set(rooms) - found.keys()))}")
        found |= {room: 1 + max((found[other] for other in below[room]), default=-1) for room in ready}
    return found


def reached(of: Collection[Arrow]) -> frozenset[Arrow]:
    """Which room is reached from which, over any number of arrows."""
    far = set(of)
    while more := {(a, d) for a, b in far for c, d in far if b == c} - far:
        far |= more
    return frozenset(far)


def needed(of: Collection[Arrow]) -> list[Arrow]:
    """The arrows that follow from no others."""
    far = reached(of)
    between = {(a, d) for a, b in far for c, d in far if b == c}
    return sorted(set(of) - between)


def order(of: Collection[Arrow]) -> list[list[str]]:
    """Rooms floor by floor from the bottom; within a floor each stands about above what it imports."""
    height = floors(of)
    rows = [sorted(room for room in height if height[room] == level) for level in range(max(height.values()) + 1)]
    rows[0].sort(key=lambda room: (room.partition(".")[0] == "store", room))
    drawn = needed(of)
    for _ in range(6):
        for up in (True, False):
            place = {room: (number + 0.5) / len(row) for row in rows for number, room in enumerate(row)}
            for row in rows:
                means = {}
                for room in row:
                    near = (
                        [place[b] for a, b in drawn if a == room] if up else [place[a] for a, b in drawn if b == room]
                    )
                    means[room] = sum(near) / len(near) if near else place[room]
                row.sort(key=lambda room, means=means: (round(means[room], 6), room))  # type: ignore[misc]
    return rows


def words(room: str) -> str:
    """How a room is written."""
    return room.replace(".", " / ")


def _boxes(rows: list[list[str]]) -> dict[str, tuple[float, float, float]]:
    """Left edge, top and width of each room's box."""
    found: dict[str, tuple[float, float, float]] = {}
    for level, row in enumerate(rows):
        widths = [24 + LETTER * len(words(room)) for room in row]
        space = (WIDTH - 2 * MARGIN - sum(widths)) / len(row)
        left = MARGIN + space / 2
        if len(row) == 1:  # lest arrows that pass a floor run behind its only box
            left += ASIDE * (1 if level % 2 else -1)
        for room, width in zip(row, widths, strict=True):
            found[room] = (round(left, 1), 60 + (len(rows) - 1 - level) * FLOOR_H, round(width, 1))
            left += width + space
    return found


def _arrow(one: tuple[float, float, float], other: tuple[float, float, float]) -> str:
    x0, y0, x1, y1 = one[0] + one[2] / 2, one[1] + BOX_H, other[0] + other[2] / 2, other[1]
    bend = (y1 - y0) * 0.45
    return f"M{x0:.1f} {y0:.1f} C{x0:.1f} {y0 + bend:.1f} {x1:.1f} {y1 - bend:.1f} {x1:.1f} {y1 - 5:.1f}"


def _floors_drawn(of: Collection[Arrow], rows: list[list[str]]) -> list[str]:
    boxes = _boxes(rows)
    out = ['<g id="arrows" fill="none" stroke="#777" stroke-width="1.2" marker-end="url(#head)">']
    for one, other in needed(of):
        out.append(f'<path data-from="{one}" data-to="{other}" d="{_arrow(boxes[one], boxes[other])}"/>')
    out.append('</g>\n<g id="rooms" stroke="#555">')
    for room, (left, top, width) in sorted(boxes.items()):
        colour = COLOURS.get(room.partition(".")[0], OTHER)
        out.append(
            f'<rect data-room="{room}" x="{left}" y="{top}" width="{width}" height="{BOX_H}" rx="5" fill="{colour}"/>'
        )
        middle = left + width / 2
        out.append(
            f'<text x="{middle:.1f}" y="{top + 20}" text-anchor="middle" stroke="none">{escape(words(room))}</text>'
        )
    return [*out, "</g>"]


def _table_drawn(of: Collection[Arrow], rows: list[list[str]], top: float) -> list[str]:
    rooms = [room for row in reversed(rows) for room in row]
    left, size = MARGIN + 210, CELL * len(rooms)
    out = ['<g id="table" font-size="12" stroke="none">']
    out += [f'<rect x="{left}" y="{top}" width="{size}" height="{size}" fill="#f6f6f6"/>']
    for number, room in enumerate(rooms):
        y = top + CELL * number
        out.append(f'<text x="{left - 8}" y="{y + 13}" text-anchor="end">{escape(words(room))}</text>')
        x = left + CELL * number
        out.append(f'<text transform="translate({x + 13} {top - 6}) rotate(-60)">{escape(words(room))}</text>')
        out.append(f'<rect x="{x}" y="{y}" width="{CELL}" height="{CELL}" fill="#ccc"/>')
    for one, other in sorted(of):
        column, row = (CELL * (rooms.index(room) + 0.5) for room in (other, one))
        out.append(f'<circle data-from="{one}" data-to="{other}" cx="{left + column}" cy="{top + row}" r="5"/>')
    return [*out, "</g>"]


@cache
def drawing(of: frozenset[Arrow]) -> str:
    """The whole picture as SVG."""
    rows = order(of)
    table_top = 60 + len(rows) * FLOOR_H + 170
    height = table_top + CELL * sum(map(len, rows)) + MARGIN
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" width="{WIDTH}" height="{height}" '
        'font-family="DejaVu Sans, Verdana, sans-serif" font-size="13">\n'
        "<title>Rooms of Sumlight and what each imports</title>\n"
        '<defs><marker id="head" viewBox="0 0 8 8" refX="6" refY="4" markerWidth="7" markerHeight="7" orient="auto">'
        '<path d="M0 0 L8 4 L0 8 z" fill="#777"/></marker></defs>\n'
        f'<rect width="{WIDTH}" height="{height}" fill="#fff"/>\n'
        f'<text x="{MARGIN}" y="28" font-weight="bold">What each room imports: arrows lead down; one that follows from'
        " two others is left out</text>\n"
        f'<text x="{MARGIN}" y="{table_top - 148}" font-weight="bold">Every import: the row imports from the column;'
        " below the diagonal stands none</text>"
    )
    return "\n".join([head, *_floors_drawn(of, rows), *_table_drawn(of, rows, table_top), "</svg>\n"])


if __name__ == "__main__":
    PICTURE.write_text(drawing(arrows()), encoding="utf-8")
    sys.stdout.write(f"{PICTURE}\n")
