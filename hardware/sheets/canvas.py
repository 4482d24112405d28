"""A sheet to draw on: schemdraw with absolute places, and SVG that comes out the same every time."""

import itertools
import re
from typing import Any

import schemdraw
import schemdraw.elements
from schemdraw.backends import svg as backend
from schemdraw.segments import SegmentCircle, SegmentPoly, SegmentText

Place = tuple[float, float]

elm: Any = schemdraw.elements
"""The library's elements; most of them carry no types."""

schemdraw.use("svg")  # never another back end that happens to be installed
backend.config.text = "text"  # never outlines, which would depend on an optional package

INK, GREY, WARN, PALE = "#1a1a1a", "#8a8a8a", "#a01010", "#f2f2f2"
DESIGNATOR = re.compile(r"\b[ABCDEFHKMPQRSTUWX]\d{1,2}\b")
"""How parts are called: a letter for the kind of part and a number."""


NUMBER = re.compile(r"-?\d+\.\d+(?:e-?\d+)?")

REVISION = "C"
"""Of the drawings: a letter further with every change of a wire or a part."""

NO_CLAIM = "Electrician and local code decide; no certification is claimed"

WIDE = 0.62
"""Width of a letter as a share of its size, on the generous side, so that no font's words are cut off."""


class Sheet:
    """One drawing. Places are in drawing units (half an inch), x to the right, y upwards."""

    def __init__(self, title: str, warning: str = "") -> None:
        self.title = title
        self.number = ""
        self.warning = warning
        self._reach = [0.0, 0.0]
        self._drawing = schemdraw.Drawing(show=False)
        self._drawing.config(unit=2, fontsize=11, font="sans-serif", color=INK, bgcolor="white", lw=1.5, margin=0.4)

    def put(self, element: Any, start: Place, end: Place | None = None) -> None:
        """Place one of schemdraw's elements, stretched from `start` to `end`."""
        placed = element.at(start)
        self._drawing.add(placed if end is None else placed.to(end))

    def wire(self, *places: Place, color: str = INK, dashed: bool = False, width: float = 1.5) -> None:
        """A line through all places."""
        style = "--" if dashed else "-"
        for start, end in itertools.pairwise(places):
            self._drawing.add(elm.Line().at(start).to(end).color(color).linestyle(style).linewidth(width))

    def dot(self, *places: Place) -> None:
        """Joints, where crossing lines are connected."""
        for place in places:
            self._drawing.add(elm.Dot(radius=0.06).at(place))

    def arrow(self, start: Place, end: Place, *, both: bool = False, color: str = INK) -> None:
        """A line with a head at its end, or at both for a dimension."""
        heads = "<->" if both else "->"
        self._drawing.add(elm.Arrow(double=both, arrow=heads).at(start).to(end).color(color).linewidth(1))

    def shape(self, corners: list[Place], *, fill: str = "none", color: str = INK, dashed: bool = False) -> None:
        """A closed shape."""
        self._segment(SegmentPoly(corners, fill=fill, color=color, ls="--" if dashed else "-", lw=1.2))

    def box(self, left: float, bottom: float, width: float, height: float, **style: Any) -> None:
        """A rectangle."""
        right, top = left + width, bottom + height
        self.shape([(left, bottom), (right, bottom), (right, top), (left, top)], **style)

    def circle(self, centre: Place, radius: float, fill: str = "none") -> None:
        """A circle."""
        self._segment(SegmentCircle(centre, radius, fill=fill, color=INK, lw=1.2))

    def text(self, place: Place, words: str, *, at: str = "left", size: float = 9, color: str = INK) -> None:
        """Words with their left end, centre or right end at a place; lines are split at newlines."""
        for row, line in enumerate(words.split("\n")):
            where = (place[0], place[1] - row * size * 1.35 / 36)
            align: Any = (at, "center")
            segment = SegmentText(where, line, align=align, fontsize=size, color=color, rotation_global=False)
            self._segment(segment)
            width = len(line) * size * WIDE / 36
            left = where[0] - {"left": 0.0, "center": width / 2, "right": width}[at]
            self._reach = [min(self._reach[0], left), max(self._reach[1], left + width)]

    def name(self, place: Place, designator: str, *, at: str = "left", value: str = "") -> None:
        """What a part is called, and its value."""
        self.text(place, f"{designator} {value}".strip(), at=at, size=10.5)

    def svg(self) -> str:
        """The finished drawing. The same parts give the same text: no dates, no generated ids, rounded numbers."""
        box = self._drawing.get_bbox()
        left = min(box.xmin, self._reach[0])
        self.text((left, box.ymax + 0.9), self.title, size=15)
        if self.warning:
            self.text((left, box.ymax + 0.4), self.warning, size=10.5, color=WARN)
        self._title_block(max(box.xmax, self._reach[1]), box.ymin - 0.6)
        for x in self._reach:
            self.wire((x, box.ymin), (x + 0.01, box.ymin), color="white")
        text = self._drawing.get_imagedata("svg").decode("utf-8")
        text = re.sub(r'="[^"]*"', lambda found: NUMBER.sub(_rounded, found.group()), text)
        text = text.replace("stroke-dasharray:-;", "")  # what the library writes for a solid line is no SVG
        return text.replace("><", ">\n<").strip() + "\n"

    def _title_block(self, right: float, top: float) -> None:
        """Sheet, revision, kind of symbols and what is not claimed, in a frame at the lower right."""
        rows = (self.title, f"Sheet {self.number}   Revision {REVISION}   Symbols: IEC 60617   Not to scale", NO_CLAIM)
        width = max(len(row) for row in rows) * 9.5 * WIDE / 36 + 0.6
        self.box(right - width, top - 2.1, width, 2.1)
        for row, words in enumerate(rows):
            self.text((right - width + 0.3, top - 0.4 - 0.62 * row), words, size=9.5)

    def _segment(self, segment: Any) -> None:
        element = elm.Element()
        element.segments.append(segment)
        self._drawing.add(element.at((0, 0)).theta(0))


def designators(svg: str) -> set[str]:
    """Every part named in a drawing's text."""
    words = " ".join(re.findall(r">([^<>]+)<", svg))
    return set(DESIGNATOR.findall(words))


def _rounded(found: re.Match[str]) -> str:
    text = f"{float(found.group()):.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


__all__ = ["GREY", "INK", "PALE", "WARN", "Place", "Sheet", "designators", "elm"]
