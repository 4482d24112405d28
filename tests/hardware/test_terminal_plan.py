"""Drawings and terminal plan say the same: every wire printed has both ends there, and no planned one is undrawn."""

import csv
import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
from sheets.control import draw as draw_control
from sheets.mains import draw as draw_mains
from sheets.wires import terminal_plan

from sumlight.box.description import load_box
from sumlight.twin import demo

from .conftest import ROOT

DRAWINGS = ROOT / "hardware" / "drawings"
SHEETS = {"1": "control.svg", "2": "mains.svg", "3": "mains.svg"}
"""Where a wire is drawn, by the first digit of its number."""


def texts(svg: str) -> list[str]:
    """Every piece of text of a drawing."""
    return [(element.text or "").strip() for element in ElementTree.fromstring(svg).iter() if element.text]


def rows(text: str) -> list[dict[str, str]]:
    """The terminal plan."""
    return list(csv.DictReader(text.splitlines()))


def numbers(svg: str) -> set[str]:
    """Wire numbers printed in a drawing."""
    return {words for words in texts(svg) if re.fullmatch(r"[1-3]\d\d", words)}


PLAN = rows((DRAWINGS / "terminals.csv").read_text(encoding="utf-8"))


def test_every_wire_of_the_drawings_has_both_ends_in_the_plan_and_the_other_way_round() -> None:
    """Numbers read from the drawings' own text."""
    drawn = {name: numbers((DRAWINGS / name).read_text(encoding="utf-8")) for name in set(SHEETS.values())}
    planned = [row["wire"] for row in PLAN]
    assert len(planned) == len(set(planned)) > 50
    assert drawn["control.svg"] | drawn["mains.svg"] == set(planned)
    for row in PLAN:
        assert row["wire"] in drawn[SHEETS[row["wire"][0]]]
        assert re.fullmatch(r"[A-Z]\d+:\S+", row["from"]), row
        assert re.fullmatch(r"[A-Z]\d+:\S+", row["to"]), row
        assert row["from"] != row["to"]
        assert row["colour"]


@pytest.mark.parametrize("row", PLAN, ids=lambda row: row["wire"])
def test_both_ends_of_a_wire_stand_in_its_drawing_and_in_the_parts_list(row: dict[str, str]) -> None:
    """Part and terminal of each end, as words of the sheet; the part as a row of parts.csv."""
    with (ROOT / "hardware" / "parts.csv").open(encoding="utf-8", newline="") as file:
        parts = {part["designator"] for part in csv.DictReader(file)}
    words = " ".join(texts((DRAWINGS / SHEETS[row["wire"][0]]).read_text(encoding="utf-8")))
    for end in (row["from"], row["to"]):
        part, terminal = end.split(":")
        assert part in parts
        assert re.search(rf"(?<!\w){part}(?!\w)", words), end
        assert re.search(rf"(?<!\w){re.escape(terminal)}(?!\w)", words), end


def test_no_two_wires_join_the_same_terminals() -> None:
    """And a terminal of a device, unlike one of a strip, takes at most two wires (IEC 60204-1, 13.1.1; from memory)."""
    pairs = [frozenset((row["from"], row["to"])) for row in PLAN]
    assert len(pairs) == len(set(pairs))
    ends = [end for row in PLAN for end in (row["from"], row["to"])]
    for end in set(ends):
        if not end.startswith("X"):
            assert ends.count(end) <= 2, end


def test_earth_is_green_and_yellow_and_nothing_else_is() -> None:
    """IEC 60204-1 clause 13.2 (from memory): earth, neutral, DC control."""
    for row in PLAN:
        assert (row["colour"] == "green and yellow") == row["wire"].startswith("3")
        assert ("dark blue" in row["colour"]) == row["wire"].startswith("1")


def test_a_box_with_two_banks_has_its_wires_drawn_too() -> None:
    """From the simulation's box."""
    box = load_box(demo.TWO_BANK_BOX)
    drawn = numbers(draw_control(box).svg()) | numbers(draw_mains(box).svg())
    plan = rows(terminal_plan(box))
    assert drawn == {row["wire"] for row in plan}
    assert {"K12:A1", "E2:L"} <= {row["to"] for row in plan}


@pytest.mark.parametrize("path", sorted(DRAWINGS.glob("*.svg")), ids=lambda path: path.stem)
def test_every_sheet_has_a_title_block_and_claims_nothing(path: Path) -> None:
    """Sheet, revision, kind of symbols; letters of 8 points or more."""
    words = " ".join(texts(path.read_text(encoding="utf-8")))
    assert re.search(r"Sheet \d of 7\s+Revision [A-Z]\s+Symbols: IEC 60617", words)
    assert "no certification is claimed" in words
    sizes = [float(size) for size in re.findall(r'font-size="([\d.]+)"', path.read_text(encoding="utf-8"))]
    assert sizes
    assert min(sizes) >= 8
