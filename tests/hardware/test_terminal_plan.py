"""Drawings, terminal plan and parts list say the same: a wire or a part that one of them lacks turns this red."""

import csv
import json
import re
from collections.abc import Iterable
from pathlib import Path
from xml.etree import ElementTree

import draw
import pytest
from sheets.plan import terminal_plan

from sumlight.box.description import BoxDescription, load_box
from sumlight.twin import demo
from tests.real_box import other_box

from .conftest import ROOT
from .test_legible import unreadable

DRAWINGS = ROOT / "hardware" / "drawings"
PART = re.compile(r"\b[ABCDEFHKMPQRSTUWX]\d{1,2}\b")

INSIDE = {
    "A3": {"R51", "R61", "U21"},
    "A4": {"R11", "R21", "R31", "R41", "Q11", "U11"},
    "A8": {"R1", "R2", "R3", "C1", "C2", "C3", "C4", "C5", "D1", "D2", "D3", "U1"},
}
"""What is soldered onto a board, where no wire of the plan ends; the other way round none of it may be an end."""

NO_WIRE = {"A5"}
"""A case that holds B1: its earth is the bolt X8:sensor."""

PANEL, COMFORTS = {"S7", "S8", "P2", "P3", "P4", "F13", "F14"}, {"M1", "M2", "P1", "F8", "F9", "F10"}
"""In the list for a box that has them. The box beside the drawings has no front panel."""

WHOLE_PANEL = {
    "go_pin": 20,
    "stop_pin": 21,
    "buzzer_pin": 13,
    "light_pin": 19,
    "display_sda_pin": 9,
    "display_scl_pin": 11,
}

SECOND_BANK = {"K12", "R12", "E2", "B2", "R7", "R8", "A16", "A19", "W2"}
"""Further ones of parts that are in the list, as the guide says."""

PLACES = {
    pin: place
    for pins, places in (
        ((2, 3, 4, 17, 27, 22, 10, 9, 11), (3, 5, 7, 11, 13, 15, 19, 21, 23)),
        ((5, 6, 13, 19, 26), (29, 31, 33, 35, 37)),
        ((14, 15, 18, 23, 24, 25, 8, 7), (8, 10, 12, 16, 18, 22, 24, 26)),
        ((12, 16, 20, 21), (32, 36, 38, 40)),
    )
    for pin, place in zip(pins, places, strict=True)
}
"""BCM number to place on the header, as the board's pin-out is published (from memory)."""

GROUNDS, THREE_VOLT = (6, 9, 14, 20, 25, 30, 34, 39), (1, 17)
"""Places that the board itself joins (the same pin-out)."""

Row = dict[str, str]


def texts(svg: str) -> list[str]:
    """Every piece of text of a drawing."""
    return [(element.text or "").strip() for element in ElementTree.fromstring(svg).iter() if element.text]


def rows(text: str) -> list[Row]:
    """The terminal plan."""
    return list(csv.DictReader(text.splitlines()))


def printed(words: Iterable[str]) -> set[str]:
    """Wire numbers among the words of a drawing."""
    return {word for word in words if re.fullmatch(r"[1-6]\d\d", word)}


def pieces(words: Iterable[str]) -> set[str]:
    """The words of a sheet one by one: parts, terminals, numbers."""
    return {piece for word in words for piece in re.split(r"[\s:,;()]+", word)}


def shows(on_sheet: set[str], end: str) -> bool:
    """Whether part and terminal of an end stand on a sheet."""
    return all(piece in on_sheet for piece in end.split(":"))


def mistakes(plan: list[Row], drawn: dict[str, list[str]], parts: set[str]) -> list[str]:
    """Everything in which drawings, plan and parts list differ."""
    found = []
    whole = {name: pieces(words) for name, words in drawn.items()}
    on = {name: printed(words) for name, words in drawn.items()}
    numbers = [row["wire"] for row in plan]
    found += [f"wire {number} is planned twice" for number in set(numbers) if numbers.count(number) > 1]
    found += [f"wire {number} is drawn but not planned" for number in set().union(*on.values()) - set(numbers)]
    for row in plan:
        ends = (row["from"], row["to"])
        if not any(row["wire"] in on[name] and all(shows(whole[name], end) for end in ends) for name in drawn):
            found.append(f"wire {row['wire']} is on no drawing that shows both its ends")
        found += [f"{end} is no terminal" for end in ends if not re.fullmatch(r"[A-Z]\d+:\S+", end)]
    for name, words in drawn.items():
        for end in {word for word in words if re.fullmatch(r"[A-Z]\d+:\S+", word)}:
            if not {row["wire"] for row in plan if end in (row["from"], row["to"])} & on[name]:
                found.append(f"{name} shows {end}, but the number of no wire that ends there")
    named = set().union(*(PART.findall(" ".join(words)) for words in drawn.values()))
    ending = {end.split(":")[0] for row in plan for end in (row["from"], row["to"])}
    ending |= {row["cable"].split()[0] for row in plan if row["cable"]}
    inside = set().union(*INSIDE.values())
    found += [f"{part} is drawn but not in the list" for part in named - parts]
    found += [f"{part} is in the list but not drawn" for part in parts - named]
    found += [f"{part} has wires but no row in the list" for part in ending - parts]
    found += [f"{part} is in the list, but no wire ends there" for part in parts - ending - inside - NO_WIRE]
    found += [f"{part} sits on a board and has wires of the plan too" for part in ending & inside]
    return found


PLAN = rows((DRAWINGS / "terminals.csv").read_text(encoding="utf-8"))
DRAWN = {path.name: texts(path.read_text(encoding="utf-8")) for path in sorted(DRAWINGS.glob("*.svg"))}
with (ROOT / "hardware" / "parts.csv").open(encoding="utf-8", newline="") as _file:
    RATINGS = {part["designator"]: part["rating"] for part in csv.DictReader(_file)}
LISTED = set(RATINGS)
PARTS = LISTED - PANEL


def test_drawings_plan_and_parts_list_agree() -> None:
    """Numbers, terminals and designators, read from the files as a builder gets them."""
    assert len(PLAN) > 120
    assert mistakes(PLAN, DRAWN, PARTS) == []


def test_a_wire_taken_out_of_the_plan_is_noticed() -> None:
    """Each in turn."""
    assert [row["wire"] for row in PLAN if not mistakes([kept for kept in PLAN if kept != row], DRAWN, PARTS)] == []


def test_a_wire_taken_out_of_the_drawings_is_noticed() -> None:
    """Each in turn, from every sheet that shows it."""
    unseen = []
    for row in PLAN:
        less = {name: [word for word in words if word != row["wire"]] for name, words in DRAWN.items()}
        if not mistakes(PLAN, less, PARTS):
            unseen.append(row["wire"])
    assert unseen == []


def test_a_part_taken_out_of_list_or_drawings_is_noticed() -> None:
    """Each in turn."""
    unseen = []
    for part in sorted(PARTS):
        less = {name: [re.sub(rf"\b{part}\b", "", word) for word in words] for name, words in DRAWN.items()}
        if not mistakes(PLAN, DRAWN, PARTS - {part}) or not mistakes(PLAN, less, PARTS):
            unseen.append(part)
    assert unseen == []


def test_no_two_wires_join_the_same_terminals() -> None:
    """And a terminal of a device, unlike one of a strip, takes at most two wires (IEC 60204-1, 13.1.1; from memory)."""
    pairs = [frozenset((row["from"], row["to"])) for row in PLAN]
    assert len(pairs) == len(set(pairs))
    assert all(len(pair) == 2 for pair in pairs)
    for variant in ("tubes", "LEDs"):
        ends = [end for row in PLAN for end in (row["from"], row["to"]) if row["variant"] in ("", variant)]
        for end in set(ends):
            if not end.startswith("X"):
                assert ends.count(end) <= 2, end


def test_earth_is_green_and_yellow_and_nothing_else_is() -> None:
    """IEC 60204-1 clause 13.2 (from memory): earth, neutral, DC control."""
    for row in PLAN:
        assert row["colour"]
        assert (row["colour"] == "green and yellow") == row["wire"].startswith("3")
        assert ("dark blue" in row["colour"]) == row["wire"].startswith("1")


def test_cross_sections_are_no_smaller_than_the_standard_asks() -> None:
    """IEC 60204-1 table 5 (from memory): 0.2 mm² for control inside the enclosure, 0.75 mm² for power."""
    for row in PLAN:
        least = 0.2 if row["wire"][0] in "146" else 0.75
        assert float(row["mm2"]) >= least, row


# -- what is joined with what -------------------------------------------------------------------------------------


class Nets:
    """Which terminals are one conductor."""

    def __init__(self, plan: list[Row], joined: Iterable[tuple[str, str]] = ()) -> None:
        self._above: dict[str, str] = {}
        for row in plan:
            self.join(row["from"], row["to"])
        for one, other in joined:
            self.join(one, other)

    def join(self, one: str, other: str) -> None:
        """From now on these are one."""
        self._above[self._top(one)] = self._top(other)

    def same(self, one: str, other: str) -> bool:
        """Whether current can go from one to the other."""
        return self._top(one) == self._top(other)

    def _top(self, end: str) -> str:
        while end in self._above and self._above[end] != end:
            end = self._above[end]
        return end


PI = [(f"A1:{GROUNDS[0]}", f"A1:{place}") for place in GROUNDS[1:]] + [("A1:1", "A1:17"), ("A1:DC-", "A1:9")]
CLOSED = [(f"F{number}:1", f"F{number}:2") for number in (2, 4, 5, 7, 8, 9, 10)]
EXTENDED = [
    (f"{board}:{line}", f"{board}:{core}")
    for board in ("A6", "A9")
    for line, core in (("SDA", "D"), ("SCL", "C"), ("3V3", "V"), ("GND", "G1"), ("GND", "G2"), ("GND", "G3"))
]
DAMPED = [("R5:1", "R5:2"), ("R6:1", "R6:2")]
ON_A8 = [("A8:G", "A8:0")]


def test_every_pin_of_box_yaml_has_its_wire_at_the_place_that_the_header_has_for_it() -> None:
    """And no other place of the header has one but 3.3 V and ground."""
    box = load_box(ROOT / "hardware" / "box.yaml")
    pins = [pin for _field, pin in box.pins()] + [pin for meter in box.meters for pin in meter.bus_pins]
    wired = [row["from"].split(":")[1] for row in PLAN if row["from"].startswith("A1:") and "DC" not in row["from"]]
    signals = [int(place) for place in wired if int(place) not in (*GROUNDS, *THREE_VOLT)]
    assert sorted(signals) == sorted(PLACES[pin] for pin in pins)
    assert len(wired) == len(set(wired))
    for row in PLAN:
        if row["from"].startswith("A1:") and "DC" not in row["from"]:
            assert row["wire"] == f"4{int(row['from'].split(':')[1]):02d}"


def test_neither_5_nor_12_nor_24_v_ever_reaches_the_header() -> None:
    """With every fuse whole and every relay's contact taken as closed."""
    contacts = [("K2:11", "K2:14"), ("S2:11", "S2:12"), ("S2:21", "S2:22"), ("S3:11", "S3:12"), ("S4:13", "S4:14")]
    nets = Nets(PLAN, [*PI, *CLOSED, *EXTENDED, *DAMPED, *ON_A8, *contacts])
    for source in ("T1:+", "T2:+", "T3:+", "X4:1", "X3:1", "X3:3"):
        assert [place for place in range(1, 41) if nets.same(f"A1:{place}", source)] == [], source


def test_the_pis_ground_meets_0_v_of_12_v_on_one_board_and_that_of_24_v_nowhere() -> None:
    """The pump's board is the only bridge; protective earth reaches 24 V alone, over X5."""
    apart = Nets(PLAN, [*PI, *CLOSED, *EXTENDED])
    together = Nets(PLAN, [*PI, *CLOSED, *EXTENDED, *ON_A8])
    assert not apart.same("A1:9", "X4:2")
    assert together.same("A1:9", "X4:2")
    for other in ("X3:2", "X1:PE", "X8:sensor"):
        assert not together.same("A1:9", other), other


def test_the_bus_reaches_every_board_through_its_series_resistors() -> None:
    """Data to data, clock to clock, and nothing gets around R5 or R6."""
    whole, without = Nets(PLAN, [*EXTENDED, *DAMPED]), Nets(PLAN, EXTENDED)
    for board in ("B1", "B3", "B4"):
        for place, line in (("3", "SDA"), ("5", "SCL"), ("1", "3V3"), ("9", "GND")):
            assert whole.same(f"A1:{place}", f"{board}:{line}")
        assert not without.same("A1:3", f"{board}:SDA")
        assert not without.same("A1:5", f"{board}:SCL")
    for one, other in (("SDA", "SCL"), ("SDA", "GND"), ("SCL", "GND"), ("3V3", "GND"), ("3V3", "SDA")):
        assert not whole.same(f"B1:{one}", f"B1:{other}")


def test_each_pair_of_the_sensors_cable_is_one_core_and_its_ground() -> None:
    """A pair of data and clock would couple the one into the other."""
    nets = Nets(PLAN, EXTENDED)
    for pair in ("W1 pair 1", "W1 pair 2", "W1 pair 3"):
        cores = [row for row in PLAN if row["cable"] == pair]
        assert sorted(nets.same(row["from"], "A1:9") for row in cores) == [False, True], pair


def test_k21_stands_between_driver_and_leds_with_both_poles() -> None:
    """The LED variant: open, nothing of the driver's plus is left at the LEDs; one pole alone is not enough."""
    leds = [row for row in PLAN if row["variant"] != "tubes"]
    poles = [("K21:1", "K21:2"), ("K21:3", "K21:4")]
    fuse = ("F11:1", "F11:2")
    assert Nets(leds, [fuse, *poles]).same("T11:+", "E11:+")
    for closed in ([], poles[:1], poles[1:]):
        assert not Nets(leds, [fuse, *closed]).same("T11:+", "E11:+")
    assert not any(Nets(leds, [fuse, *poles]).same(end, "X1:PE") for end in ("T11:+", "T11:-"))
    assert {"K11", "E1"} & {end.split(":")[0] for row in leds for end in (row["from"], row["to"])} == set()


def drawn_and_planned(box: BoxDescription, parts: set[str] | None = None) -> list[Row]:
    """The terminal plan of a box, each of whose wires stands once, with both its ends, on a sheet that can be read.

    With `parts` it has these to the last one.
    """
    svgs = {name: sheet.svg() for name, sheet in draw.sheets(box).items()}
    plan = rows(terminal_plan(box))
    numbers = [row["wire"] for row in plan]
    assert len(set(numbers)) == len(numbers)
    drawn = [texts(svg) for svg in svgs.values()]
    assert set().union(*(printed(words) for words in drawn)) == set(numbers)
    whole = [pieces(words) for words in drawn]
    for row in plan:
        assert any(shows(words, row["from"]) and shows(words, row["to"]) for words in whole), row
    assert {name: unreadable(svg) for name, svg in svgs.items() if unreadable(svg)} == {}
    assert parts is None or mistakes(plan, {name: texts(svg) for name, svg in svgs.items()}, parts) == []
    return plan


def test_a_box_with_two_banks_that_light_on_low_has_its_wires_drawn_too() -> None:
    """From the simulation's box."""
    box = load_box(demo.TWO_BANK_BOX)
    assert {bank.lights_when for bank in box.banks} == {"low"}
    plan = drawn_and_planned(box)
    assert {"K12:A1", "E2:L", "B2:SDA", "K22:A1"} <= {row["to"] for row in plan}


def last_channel(plan: list[Row], prefix: str) -> int:
    """The highest number among the terminals with this prefix."""
    ends = {end for row in plan for end in (row["from"], row["to"])}
    return max(int(end.removeprefix(prefix)) for end in ends if re.fullmatch(rf"{prefix}\d", end))


@pytest.mark.parametrize("comforts", [True, False])
def test_a_front_panel_has_its_wires_beyond_the_header_too(comforts: bool, tmp_path: Path) -> None:
    """Buttons get the 24 V of the inputs, go and stop each on a channel of A3; buzzer and light 12 V behind a fuse."""
    wired = load_box(other_box(tmp_path, ("limits:\n", f"front_panel: {json.dumps(WHOLE_PANEL)}\nlimits:\n")))
    box, parts = (wired, LISTED) if comforts else (wired.model_copy(update={"comforts": None}), LISTED - COMFORTS)
    plan = drawn_and_planned(box, parts)
    for board, outer in (("A2", "I"), ("A3", "O")):
        (bare, more) = re.findall(r"(\d) (?:channels|with a front panel)", RATINGS[board])
        assert last_channel(plan, f"{board}:{outer}") == int(more)
        assert last_channel(PLAN, f"{board}:{outer}") == int(bare)
    nets = Nets(plan, [("F13:1", "F13:2"), ("F14:1", "F14:2")])
    for one, other, channel, pin in (("S7:13", "S7:14", "6", 20), ("S8:11", "S8:12", "7", 21)):
        assert nets.same("X3:3", one)
        assert nets.same(other, f"A3:{channel}")
        assert not nets.same(one, other)
        assert nets.same(f"A3:O{channel}", f"A1:{PLACES[pin]}")
    for load, channel, pin in (("P2", "4", 13), ("P3", "5", 19)):
        assert nets.same("X4:1", f"{load}:+")
        assert not Nets(plan).same("X4:1", f"{load}:+")
        assert nets.same(f"{load}:-", f"A2:{channel}")
        assert nets.same(f"A2:I{channel}", f"A1:{PLACES[pin]}")
    assert nets.same("A2:+", "X4:1")
    assert nets.same("A2:G", "A1:34")


@pytest.mark.parametrize("part", sorted(PANEL))
def test_a_part_of_the_panel_that_the_list_lacks_is_noticed(part: str, tmp_path: Path) -> None:
    """Each in turn, on a box that has them all."""
    box = load_box(other_box(tmp_path, ("limits:\n", f"front_panel: {json.dumps(WHOLE_PANEL)}\nlimits:\n")))
    drawn = {name: texts(sheet.svg()) for name, sheet in draw.sheets(box).items()}
    found = mistakes(rows(terminal_plan(box)), drawn, LISTED - {part})
    assert f"{part} is drawn but not in the list" in found


@pytest.mark.parametrize(("level", "relay_pin"), [("high", 17), ("low", 8)])
def test_a_display_has_a_bus_of_its_own_and_3_3_volts(level: str, relay_pin: int, tmp_path: Path) -> None:
    """Neither line of it meets the sensor's bus or a supply, whatever the relays close on."""
    display = "front_panel: {display_sda_pin: 9, display_scl_pin: 11}\nlimits:\n"
    relay = ("relay_pin: 17\n    lights_when: high", f"relay_pin: {relay_pin}\n    lights_when: {level}")
    box = load_box(other_box(tmp_path, ("limits:\n", display), relay))
    plan = drawn_and_planned(box, LISTED - (PANEL - {"P4"}))
    nets = Nets(plan, [*PI, *CLOSED, *EXTENDED, *DAMPED, *ON_A8])
    for place, line in ((PLACES[9], "SDA"), (PLACES[11], "SCL"), (THREE_VOLT[0], "3V3"), (GROUNDS[0], "GND")):
        assert nets.same(f"A1:{place}", f"P4:{line}"), line
    for line in ("SDA", "SCL"):
        for other in ("B1:SDA", "B1:SCL", "P4:3V3", "P4:GND", "X4:1", "X3:1", "T1:+"):
            assert not nets.same(f"P4:{line}", other), other
    ends = [end for row in plan for end in (row["from"], row["to"])]
    assert [end for end in ("A3:V", "A4:V", "P4:3V3") if ends.count(end) > 2] == []


def test_every_part_that_the_guide_names_has_its_row() -> None:
    """Of a second bank's parts it says what they are like."""
    guide = (ROOT / "hardware" / "README.md").read_text(encoding="utf-8")
    assert set(PART.findall(guide)) - LISTED == SECOND_BANK


@pytest.mark.parametrize("path", sorted(DRAWINGS.glob("*.svg")), ids=lambda path: path.stem)
def test_every_sheet_has_a_title_block_and_claims_nothing(path: Path) -> None:
    """Sheet, revision, kind of symbols; letters of 8 points or more."""
    words = " ".join(texts(path.read_text(encoding="utf-8")))
    assert re.search(rf"Sheet \d of {len(DRAWN)}\s+Revision [A-Z]\s+Symbols: IEC 60617", words)
    assert "no certification is claimed" in words
    sizes = [float(size) for size in re.findall(r'font-size="([\d.]+)"', path.read_text(encoding="utf-8"))]
    assert sizes
    assert min(sizes) >= 8
