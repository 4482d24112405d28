"""Every sheet can be read: no words over words, none struck through by a line.

Widths are those of a wide sans-serif letter, 0.55 of its size on the average (from memory); the letters stand central
to their place, as the drawings ask.
"""

import itertools
import re
from pathlib import Path
from typing import NamedTuple
from xml.etree import ElementTree

import pytest

from .conftest import ROOT

DRAWINGS = sorted((ROOT / "hardware" / "drawings").glob("*.svg"))
LETTER, HALF_HEIGHT = 0.55, 0.36
"""Mean width of a letter, and half of its height, as shares of its size."""

TOUCH = 0.5
"""Points by which two may overlap."""


class Words(NamedTuple):
    """A line of text and the room it takes, in points, y downwards."""

    text: str
    left: float
    right: float
    top: float
    bottom: float


def words_in(svg: str) -> list[Words]:
    """Every line of text with its room."""
    found = []
    for element in ElementTree.fromstring(svg).iter():
        if not element.tag.endswith("text"):
            continue
        size, anchor = float(element.attrib["font-size"]), element.attrib["text-anchor"]
        for span in element:
            text = (span.text or "").strip()
            width = len(text) * size * LETTER
            left = float(span.attrib["x"]) - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
            y = float(element.attrib["y"]) + float(span.attrib["dy"])
            found.append(Words(text, left, left + width, y - size * HALF_HEIGHT, y + size * HALF_HEIGHT))
    return found


def lines_in(svg: str) -> list[tuple[float, float, float, float]]:
    """Every straight piece of paths and shapes."""
    found = []
    for element in ElementTree.fromstring(svg).iter():
        kind = element.tag.split("}")[-1]
        if kind not in ("path", "polygon", "polyline"):
            continue
        for piece in element.attrib.get("d", element.get("points", "")).split("M"):
            numbers = [float(number) for number in re.findall(r"-?\d+\.?\d*", piece)]
            places = list(zip(numbers[::2], numbers[1::2], strict=True))
            if kind == "polygon":
                places.append(places[0])
            found += [(*start, *end) for start, end in itertools.pairwise(places)]
    return found


def unreadable(svg: str) -> list[str]:
    """Words that lie on other words or on a level or upright line."""
    words, lines, found = words_in(svg), lines_in(svg), []
    for index, one in enumerate(words):
        for other in words[index + 1 :]:
            across = min(one.right, other.right) - max(one.left, other.left)
            if across > TOUCH and min(one.bottom, other.bottom) - max(one.top, other.top) > TOUCH:
                found.append(f"{one.text!r} and {other.text!r}")
        for x1, y1, x2, y2 in lines:
            upright = x1 == x2 and one.left + 1 < x1 < one.right - 1
            level = y1 == y2 and one.top + 1 < y1 < one.bottom - 1
            if upright and min(one.bottom, max(y1, y2)) - max(one.top, min(y1, y2)) > 2:
                found.append(f"{one.text!r} is struck through upright")
            if level and min(one.right, max(x1, x2)) - max(one.left, min(x1, x2)) > 2:
                found.append(f"{one.text!r} is struck through")
    return found


@pytest.mark.parametrize("path", DRAWINGS, ids=lambda path: path.stem)
def test_no_words_lie_on_words_or_lines(path: Path) -> None:
    """The sheets as they are handed out."""
    svg = path.read_text(encoding="utf-8")
    assert len(words_in(svg)) > 10
    assert len(lines_in(svg)) > 10
    assert unreadable(svg) == []


def test_words_that_are_moved_onto_others_are_seen() -> None:
    """The check itself: the first words put where the second stand, and onto a wire."""
    svg = (ROOT / "hardware" / "drawings" / "control.svg").read_text(encoding="utf-8")
    name = next(words for words in words_in(svg) if words.text == "F2")
    moved = svg.replace(
        "</svg>",
        f'<text x="{name.left}" y="{(name.top + name.bottom) / 2}" font-size="10" '
        'text-anchor="start"><tspan x="{}" dy="0">over</tspan></text></svg>'.format(name.left),
    )
    assert unreadable(moved) != []
    x1, y1, x2, _y2 = next(line for line in lines_in(svg) if line[1] == line[3] and abs(line[0] - line[2]) > 100)
    struck = svg.replace(
        "</svg>",
        f'<text x="{(x1 + x2) / 2}" y="{y1}" font-size="10" text-anchor="middle">'
        f'<tspan x="{(x1 + x2) / 2}" dy="0">on a wire</tspan></text></svg>',
    )
    assert any("on a wire" in found for found in unreadable(struck))
