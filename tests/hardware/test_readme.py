"""The builder's guide: its links lead somewhere, its cautions stand where the danger is."""

import re
import shlex
import subprocess
import sys
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import pytest
import wheels

from tests.guest.inside import typed as in_guest
from tests.userlands import booted

from .conftest import ROOT
from .guide import PLACES, TEXT, commands, commands_for


def section(title: str) -> str:
    """The text under a heading."""
    return TEXT.split(f"\n## {title}\n", 1)[1].split("\n## ", 1)[0]


def test_every_link_leads_to_a_file_or_a_heading() -> None:
    """Relative links only; headings by their GitHub anchor."""
    anchors = {
        re.sub(r"[^a-z0-9 -]", "", title.lower()).replace(" ", "-") for title in re.findall(r"^#+ (.+)$", TEXT, re.M)
    }
    links = re.findall(r"\]\(([^)]+)\)", TEXT)
    assert len(links) > 8
    for link in links:
        assert (link[1:] in anchors) if link.startswith("#") else (ROOT / "hardware" / link).exists(), link


@pytest.mark.parametrize(
    ("title", "words"),
    [
        ("Wiring at the Pi", "Unplug lamps and Pi"),
        ("Light sensor", "Unplug the box"),
        ("Lamps and light box", "carry mains"),
        ("Software", "Unplug the lamps"),
    ],
)
def test_a_section_with_danger_begins_with_its_caution(title: str, words: str) -> None:
    """Before the first instruction, not in an appendix."""
    first = section(title).strip().split("\n\n")[0]
    assert first.startswith(">")
    assert words in first


def test_the_guide_defers_to_people_who_may_decide() -> None:
    """Electrician and local code for mains, the waste authority for tubes and chemicals, no certification claimed."""
    opening = TEXT.split("\n## ")[0].replace("\n> ", " ")
    assert "licensed electrician under your local code" in opening
    assert "certification to any safety standard is claimed" in opening
    assert "waste authority" in section("Lamps and light box")
    assert "electrician present" in section("Commissioning")


def test_every_hard_wired_cut_is_commissioned() -> None:
    """Lid, stop, cut-out, heartbeat, mirror contact, sensor, leak: each has a box to tick."""
    steps = section("Commissioning")
    for word in ("lifted", "S2 pressed", "F3 opened", "-s KILL", "-s STOP", "K1 held", "Sensor covered", "leaks"):
        assert word in steps, word


def test_the_header_is_measured_before_it_is_plugged() -> None:
    """No wire above 3.4 V (the pins bear 3.3 V and a little; from memory), and it comes before anything is powered."""
    part = section("Commissioning").split("**Part 2.")[0]
    assert "none above 3.4 V" in part
    assert part.index("none above 3.4 V") < part.index("Page shows the lid shut")


MAY_REWRITE = {"python hardware/draw.py": ["--check"]}
"""Here it must not write what other tests read."""
INSTALLS = ("pip install", "python hardware/wheels.py")
"""Needs a network; the README's own test command does the first, `python -m tests.userlands` both."""


def test_every_command_says_where_it_works() -> None:
    """In a clone, on a Linux with systemd, or at the box only."""
    found = commands(TEXT)
    assert [line for line, place in found if place not in PLACES] == []
    assert {place for _, place in found} == set(PLACES)
    assert len(found) > 15


def test_a_command_without_its_place_is_seen() -> None:
    """In the line and in a block of its own; the bare name of a command is none."""
    assert commands("Type `sudo rm it` and `sumlight records show`; `python x.py` *(tree)*.") == [
        ("sudo rm it", ""),
        ("python x.py", "tree"),
    ]
    assert commands("x\n\n    sudo a  # box: why\n    sudo b\n") == [("sudo a", "box"), ("sudo b", "")]


def untyped(typed: Iterable[booted.Typed], lines: list[str]) -> set[str]:
    """What the guide has and nobody types under systemd as it stands, or the other way round."""
    return {each.line for each in typed if each.tag} ^ set(lines)


def test_every_command_for_a_guest_is_typed_under_systemd() -> None:
    """By `python -m tests.userlands systemd`, which types nothing as the guide's that the guide does not have."""
    for tag in ("guest", "fleet"):
        assert untyped([each for each in booted.TYPED if each.tag == tag], commands_for(tag)) == set()


def test_every_command_for_a_guest_is_typed_in_the_emulated_machine_too() -> None:
    """By `python -m tests.guest`, on real pins; its last check compares with what was really typed."""
    own = (in_guest.line_of_guide(in_guest.KILL), in_guest.line_of_guide(in_guest.UNINSTALL))
    assert untyped([*in_guest.INSTALLING, *in_guest.RUNNING, *own], commands_for("guest")) == set()
    assert [each.line for each in in_guest.RUNNING][:1] == [in_guest.FIRST_OF_RUNNING]


def test_a_command_that_nobody_types_is_seen() -> None:
    """In the guide, in the list, and one that is typed in another way than the guide has it."""
    lines = [*commands_for("guest"), *commands_for("fleet")]
    assert untyped(booted.TYPED, [*lines, "sudo a"]) == {"sudo a"}
    assert untyped([*booted.TYPED, booted.guide("sudo b")], lines) == {"sudo b"}
    assert untyped([replace(each, tag="") for each in booted.TYPED], lines) == set(lines)


@pytest.mark.parametrize("line", commands_for("tree"))
@pytest.mark.long
def test_a_command_for_the_tree_works_in_it(line: str) -> None:
    """As it stands there, with this Python."""
    if line.startswith("python hardware/wheels.py"):
        assert wheels.parser().parse_args(shlex.split(line)[2:]).machine == "aarch64"
        return
    if line.startswith(INSTALLS):
        assert re.findall(r"\[(\w+)\]", line) == ["hardware"]
        assert "hardware = [" in (ROOT / "pyproject.toml").read_text(encoding="utf-8")
        return
    program, *rest = shlex.split(line)
    words = [sys.executable if program == "python" else str(Path(sys.executable).with_name(program)), *rest]
    done = subprocess.run([*words, *MAY_REWRITE.get(line, [])], cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert (done.returncode, done.stderr) == (0, "")
