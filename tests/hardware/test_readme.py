"""The builder's guide: its links lead somewhere, its cautions stand where the danger is."""

import re

import pytest

from .conftest import ROOT

TEXT = (ROOT / "hardware" / "README.md").read_text(encoding="utf-8")


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
    assert "licensed electrician under the code of your place" in opening
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
