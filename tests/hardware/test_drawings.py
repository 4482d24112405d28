"""The drawings come from box.yaml, are never stale, and name exactly the parts of the list."""

import csv
import math
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import draw
import pytest
from sheets import symbols
from sheets.canvas import Sheet, designators
from sheets.header import HEADER, connections

from sumlight.box.description import BoxDescription, load_box
from sumlight.twin import demo
from tests.real_box import other_box

from .conftest import ROOT

HARDWARE = ROOT / "hardware"
DRAWINGS = sorted((HARDWARE / "drawings").glob("*.svg"))
NAMES = {
    *("wiring-pi.svg", "heartbeat.svg", "mains.svg", "sensor.svg", "lamps.svg", "control.svg", "lid.svg"),
    *("led.svg", "supplies.svg"),
}

PANEL = (
    "front_panel: {go_pin: 20, stop_pin: 21, buzzer_pin: 13, light_pin: 19, "
    "display_sda_pin: 9, display_scl_pin: 11}\nlimits:\n"
)
"""In place of the line `limits:`: the block that the box beside the drawings does without."""


@pytest.fixture
def box() -> BoxDescription:
    """The box beside the drawings."""
    return load_box(HARDWARE / "box.yaml")


def words_of(svg: str) -> str:
    """All text of a drawing, line by line."""
    return "\n".join(re.findall(r">([^<>\n]+)<", svg))


def test_drawings_and_readme_are_up_to_date() -> None:
    """What `python hardware/draw.py --check` tells."""
    done = subprocess.run([sys.executable, "hardware/draw.py", "--check"], cwd=ROOT, capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")
    assert {path.name for path in DRAWINGS} == NAMES


def test_a_changed_pin_makes_the_check_fail(tmp_path: Path) -> None:
    """Drawn from one box, checked against another."""
    out = tmp_path / "drawings"
    assert draw.main(["--box", str(other_box(tmp_path)), "--out", str(out)]) == 0
    assert draw.main(["--box", str(other_box(tmp_path)), "--out", str(out), "--check"]) == 0
    changed = other_box(tmp_path, ("relay_pin: 17", "relay_pin: 6"))
    assert draw.main(["--box", str(changed), "--out", str(out), "--check"]) == 1


def test_a_drawing_too_many_makes_the_check_fail(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file that is no longer drawn would mislead a builder."""
    out = tmp_path / "drawings"
    arguments = ["--box", str(other_box(tmp_path)), "--out", str(out)]
    assert draw.main(arguments) == 0
    (out / "old.svg").write_text("<svg/>")
    assert draw.main([*arguments, "--check"]) == 1
    assert "old.svg is no longer drawn" in capsys.readouterr().err


def test_a_stale_table_in_the_readme_is_seen(box: BoxDescription) -> None:
    """The table is rebuilt between its marks, and only there."""
    text = (HARDWARE / "README.md").read_text()
    assert draw.with_blocks(text, {"wiring": draw.table(box), "heartbeat": draw.pump_figures()}) == text
    assert draw.with_blocks(text, {"wiring": "nothing"}) != text
    with pytest.raises(ValueError, match="needs the lines"):
        draw.with_blocks("no marks", {"wiring": "x"})


def test_an_unusable_box_is_told_and_nothing_is_drawn(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same message as `sumlight setup check` gives."""
    out = tmp_path / "drawings"
    clash = other_box(tmp_path, ("relay_pin: 17", "relay_pin: 23"))
    assert draw.main(["--box", str(clash), "--out", str(out)]) == 2
    assert "GPIO 23 already serves" in capsys.readouterr().err
    assert not out.exists()


def test_two_runs_draw_the_same_bytes(tmp_path: Path) -> None:
    """In fresh processes with different hash seeds: no dates, no generated names."""
    for seed in ("1", "2"):
        environment = {**os.environ, "PYTHONHASHSEED": seed}
        command = [sys.executable, str(HARDWARE / "draw.py"), "--out", str(tmp_path / seed)]
        command += ["--box", str(other_box(tmp_path))]
        subprocess.run(command, check=True, env=environment, cwd=tmp_path)
    for name in NAMES:
        assert (tmp_path / "1" / name).read_bytes() == (tmp_path / "2" / name).read_bytes()
        assert "20" + "26" not in (tmp_path / "1" / name).read_text()


@pytest.mark.parametrize("path", DRAWINGS, ids=lambda path: path.stem)
def test_every_drawing_is_sound_svg_that_keeps_its_words_inside(path: Path) -> None:
    """Parsed as XML; every word's place lies in the view box."""
    root = ElementTree.parse(path).getroot()
    left, top, width, height = map(float, root.attrib["viewBox"].split())
    texts = [element for element in root.iter() if element.tag.endswith("text")]
    assert len(texts) > 10
    for element in texts:
        assert left <= float(element.attrib["x"]) <= left + width
        assert top <= float(element.attrib["y"]) <= top + height


def test_the_drawings_name_exactly_the_parts_of_the_list(tmp_path: Path) -> None:
    """Both ways: nothing drawn that nobody buys, nothing bought that nobody finds. A front panel is in the list too."""
    with (HARDWARE / "parts.csv").open(encoding="utf-8", newline="") as file:
        parts = list(csv.DictReader(file))
    listed = [part["designator"] for part in parts]
    drawn = set().union(*(designators(path.read_text()) for path in DRAWINGS))
    assert sorted(set(listed)) == sorted(listed)
    assert drawn <= set(listed)
    with_panel = load_box(other_box(tmp_path, ("limits:\n", PANEL)))
    assert set().union(*(designators(sheet.svg()) for sheet in draw.sheets(with_panel).values())) == set(listed)


def test_every_part_of_the_list_has_rating_quantity_and_reason() -> None:
    """A row with a hole would send somebody shopping twice."""
    with (HARDWARE / "parts.csv").open(encoding="utf-8", newline="") as file:
        for part in csv.DictReader(file):
            assert list(part) == ["designator", "part", "rating", "quantity", "why"]
            assert all(value and value.strip() for value in part.values()), part
            assert int(part["quantity"]) >= 1


def test_values_in_the_list_are_those_of_the_arithmetic() -> None:
    """C1, C2, C3 and D3 decide when K2 drops."""
    from sumlight.box import charge_pump

    with (HARDWARE / "parts.csv").open(encoding="utf-8", newline="") as file:
        rating = {part["designator"]: part["rating"] for part in csv.DictReader(file)}
    pump = charge_pump.NOMINAL
    assert rating["C1"] == rating["C2"]
    assert rating["C1"].startswith(f"{2 * pump.coupling_f * 1e6:.0f} µF ±20 %")
    assert rating["C3"].startswith(f"{pump.store_f * 1e6:.0f} µF ±20 %")
    assert rating["D3"].startswith(f"{pump.clamp_v:g} V ±5 %")
    assert f"{pump.coil_ohm:.0f} Ω" in rating["K2"]


@pytest.mark.parametrize(
    ("place", "name"),
    [
        *((1, "3V3"), (2, "5V"), (3, "GPIO2"), (5, "GPIO3"), (6, "GND"), (11, "GPIO17"), (16, "GPIO23")),
        *((18, "GPIO24"), (22, "GPIO25"), (29, "GPIO5"), (32, "GPIO12"), (36, "GPIO16"), (37, "GPIO26")),
        *((39, "GND"), (40, "GPIO21")),
    ],
)
def test_the_header_is_that_of_a_raspberry_pi(place: int, name: str) -> None:
    """Spot checks against the board's published pin-out (from memory)."""
    assert HEADER[place] == name
    assert len(HEADER) == 40


def test_every_pin_of_box_yaml_is_wired_once(box: BoxDescription) -> None:
    """From the description's own list of pins; also no place serves twice."""
    wired = connections(box)
    for location, pin in box.pins():
        key = "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in location).lstrip(".")
        assert [wire.signal for wire in wired if wire.key == key] == [f"GPIO{pin}"]
    places = [wire.place for wire in wired]
    assert len(places) == len(set(places))


def test_a_front_panel_is_wired_like_every_contact_and_load(tmp_path: Path) -> None:
    """Of a box that has one, every pin stands on the sheet of the Pi with its place on the header."""
    box = load_box(other_box(tmp_path, ("limits:\n", PANEL)))
    found = {wire.key: (wire.place, wire.through) for wire in connections(box) if wire.key.startswith("front_panel")}
    assert {key.partition(".")[2]: place for key, (place, _) in found.items()} == {
        name: next(place for place, signal in HEADER.items() if signal == f"GPIO{pin}")
        for name, pin in (
            *(("go_pin", 20), ("stop_pin", 21), ("buzzer_pin", 13), ("light_pin", 19)),
            *(("display_sda_pin", 9), ("display_scl_pin", 11)),
        )
    }
    assert len({through for _, through in found.values()}) == 6
    drawn = words_of(draw.sheets(box)["wiring-pi.svg"].svg())
    ends = [end for _, end in found.values()]
    assert all(words in drawn for words in ("not an emergency stop", "amber or red", *ends))


def test_power_wires_end_at_power_places(box: BoxDescription) -> None:
    """3.3 V is 3.3 V, ground is ground, and nothing of ours ever meets 5 V."""
    for wire in connections(box):
        if wire.kind == "power":
            assert wire.signal == ("3V3" if "3.3 V" in wire.words else "GND")
        assert wire.signal != "5V"


def test_a_relay_that_closes_on_low_is_drawn_with_its_pull_upwards(tmp_path: Path) -> None:
    """The pull must lead to dark for either polarity."""
    high = draw.sheets(load_box(other_box(tmp_path)))["wiring-pi.svg"].svg()
    low_box = load_box(other_box(tmp_path, ("lights_when: high", "lights_when: low ")))
    low = draw.sheets(low_box)["wiring-pi.svg"].svg()
    assert "at A4, to 0 V" in words_of(high)
    assert "at A4, to 3.3 V" in words_of(low)
    assert "never 5 V" in words_of(low)


def test_a_second_bank_and_its_sensor_are_drawn(tmp_path: Path) -> None:
    """From the simulation's box, whose second sensor sits on a bus that is not on the header's own pins."""
    drawn = draw.sheets(load_box(demo.DEMO / "box-two-banks.yaml"))
    wiring, mains = drawn["wiring-pi.svg"].svg(), drawn["mains.svg"].svg()
    assert {"K11", "K12", "B1", "B2", "R12"} <= designators(wiring)
    assert {"K11", "K12", "E1", "E2"} <= designators(mains)
    assert "I2C bus 3" in words_of(wiring)


def test_a_sensor_that_does_not_see_every_tube_is_drawn_so(tmp_path: Path) -> None:
    """The sheet never promises more than box.yaml says; the tubes at the sides are those of a narrow angle."""
    narrow = other_box(tmp_path, ("accepts_deg: 63", "accepts_deg: 45"))
    words = words_of(draw.sheets(load_box(narrow))["sensor.svg"].svg())
    assert "it sees 2 of 6 tubes" in words
    assert words.splitlines().count("unseen") == 4
    assert "sees every tube" not in words
    silent = load_box(demo.TWO_BANK_BOX)
    words = words_of(draw.sheets(silent)["sensor.svg"].svg())
    assert "example bank: box.yaml has no sight" in words
    assert "it sees every tube" not in words


def test_what_a_box_leaves_out_is_said_in_red(tmp_path: Path) -> None:
    """No silent gap: a missing safety signal stands on the sheet."""
    box_file = other_box(
        tmp_path, ("k1_mirror_pin: 22", "k1_mirror_pin: left_out"), ("enable_pin: 25", "enable_pin: null")
    )
    drawn = draw.sheets(load_box(box_file))
    assert "heartbeat.svg" not in drawn
    text = words_of(drawn["wiring-pi.svg"].svg())
    assert "LEFT OUT: signals.k1_mirror_pin" in text
    assert "LEFT OUT: enable_pin" in text
    assert "K2" not in words_of(drawn["control.svg"].svg())


def test_every_drawing_of_danger_carries_its_caution() -> None:
    """Cautions stand where the danger is."""
    text = {path.name: words_of(path.read_text()) for path in DRAWINGS}
    assert "DANGER, MAINS" in text["mains.svg"]
    assert "licensed electrician" in text["mains.svg"]
    assert "licensed electrician" in text["lamps.svg"]
    assert "plug pulled" in text["sensor.svg"]
    assert "apart from mains" in text["wiring-pi.svg"]
    assert "no substitute" in text["heartbeat.svg"]
    assert "DANGER, MAINS" in text["led.svg"]
    assert "licensed electrician" in text["led.svg"]
    assert "burn eyes" in text["led.svg"]
    assert "Unplugged or isolated" in text["supplies.svg"]
    assert "Never feed the header of A1 with 5 V" in text["supplies.svg"]


Place = tuple[float, float]
COMPONENTS = ("ResistorIEC", "Capacitor", "LED", "Zener", "Schottky", "FuseIEC")
NEAR = 2.0
"""Drawing units from a symbol's middle to the words that name it."""


def test_every_symbol_has_its_name_beside_it(box: BoxDescription, monkeypatch: pytest.MonkeyPatch) -> None:
    """A resistor, contact or coil without a designator would have no row in the list and nobody would notice."""
    seen: list[tuple[Sheet, str, Place]] = []
    names: list[tuple[Sheet, str, tuple[float, float, float, float]]] = []
    put, text = Sheet.put, Sheet.text

    def spy_put(sheet: Sheet, element: Any, start: Place, end: Place | None = None) -> None:
        if type(element).__name__ in COMPONENTS and end is not None:
            seen.append((sheet, type(element).__name__, ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)))
        put(sheet, element, start, end)

    def spy_text(sheet: Sheet, place: Place, words: str, **style: Any) -> None:
        width = len(words) * style.get("size", 9) * 0.5 / 36
        left = place[0] - {"left": 0.0, "center": width / 2, "right": width}[style.get("at", "left")]
        if re.match(r"[A-Z]\d{1,2}( |$)", words):
            names.append((sheet, words, (left, left + width, place[1] - 0.15, place[1] + 0.15)))
        text(sheet, place, words, **style)

    monkeypatch.setattr(Sheet, "put", spy_put)
    monkeypatch.setattr(Sheet, "text", spy_text)
    for kind in ("contact", "coil"):
        monkeypatch.setattr(symbols, kind, _spied(getattr(symbols, kind), kind, seen))
    draw.sheets(box)
    assert len(seen) > 40
    taken: dict[int, str] = {}
    for sheet, kind, (x, y) in seen:
        gap, number = min(
            (math.hypot(max(left - x, 0, x - right), max(low - y, 0, y - high)), number)
            for number, (on, _words, (left, right, low, high)) in enumerate(names)
            if on is sheet
        )
        assert gap <= NEAR, (sheet.title, kind, x, y)
        assert number not in taken, (sheet.title, kind, names[number][1], taken[number])
        taken[number] = kind


def _spied(drawn: Any, kind: str, seen: list[tuple[Sheet, str, Place]]) -> Any:
    def spy(sheet: Sheet, top: Place, **style: Any) -> Any:
        seen.append((sheet, kind, (top[0], top[1] - symbols.LONG / 2)))
        return drawn(sheet, top, **style)

    return spy
