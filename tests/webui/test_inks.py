"""The colours of the page as figures: three inks that differ, edges that can be seen, alarm apart from text, no blue.

Contrast is that of WCAG 2.2: its definitions of relative luminance and contrast ratio, its success criteria 1.4.3 and
1.4.11. How far two inks have to lie apart to look like two is common practice, no source; how much blue and green a
safelight may hold is this project's own rule, which `tests/browser/test_look.py` measures on pictures, too.
"""

import re
from itertools import pairwise
from pathlib import Path

import pytest

import sumlight_web

STYLE = (Path(str(sumlight_web.__file__)).parent / "static" / "sumlight.css").read_text(encoding="utf-8")
INKS = ("ink", "soft", "faint")
TEXT, EDGE, APART, ALARM_APART = 4.5, 3.0, 1.3, 1.5
THEMES = {"safelight": r":root", "daylight": r':root\[data-theme="daylight"\]'}


def colours(theme: str) -> dict[str, str]:
    """The variables of a theme, each as #rrggbb."""
    block = re.search(rf"^{THEMES[theme]} \{{(.*?)^\}}", STYLE, re.MULTILINE | re.DOTALL)
    assert block
    found = re.findall(r"--([a-z-]+): #([0-9a-f]{3,6});", block[1])
    return {name: value if len(value) == 6 else "".join(2 * digit for digit in value) for name, value in found}


def parts(colour: str) -> list[float]:
    """Red, green and blue as shares."""
    return [int(colour[at : at + 2], 16) / 255 for at in (0, 2, 4)]


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours."""

    def luminance(colour: str) -> float:
        red, green, blue = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts(colour)]
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    bright, dim = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dim + 0.05)


def test_the_contrast_is_that_of_the_standard() -> None:
    """Black on white is 21 : 1, and #767676 is the lightest grey for text on white (WCAG; from memory)."""
    assert contrast("000000", "ffffff") == pytest.approx(21)
    assert contrast("767676", "ffffff") >= 4.5 > contrast("777777", "ffffff")


@pytest.mark.parametrize("theme", THEMES)
def test_three_inks_can_be_read_everywhere_and_told_apart(theme: str) -> None:
    """On every ground that text stands on, the alarm's own included."""
    known = colours(theme)
    grounds = [known[name] for name in ("ground", "raised", "alarm-ground")]
    for name in (*INKS, "alarm"):
        assert min(contrast(known[name], ground) for ground in grounds) >= TEXT, name
    for stronger, weaker in pairwise(INKS):
        assert contrast(known[stronger], known["ground"]) / contrast(known[weaker], known["ground"]) >= APART, weaker
    assert contrast(known["alarm"], known["ink"]) >= ALARM_APART
    assert contrast(known["on-ink"], known["ink"]) >= TEXT
    assert contrast(known["on-ink"], known["alarm"]) >= TEXT


@pytest.mark.parametrize("theme", THEMES)
def test_the_edge_of_an_input_can_be_seen(theme: str) -> None:
    """Against the page and against itself."""
    known = colours(theme)
    assert min(contrast(known["edge"], known[ground]) for ground in ("ground", "raised")) >= EDGE


def test_no_colour_beside_open_resist_has_blue_or_much_green() -> None:
    """At most 5 % and 55 % of full."""
    for name, colour in colours("safelight").items():
        _red, green, blue = parts(colour)
        assert green <= 0.55, name
        assert blue <= 0.05, name


def test_each_ink_is_used() -> None:
    """A level that nothing stands in is none: heads and numbers, explanations, units and heads of columns."""
    for selector, ink in (("body|html", "ink"), (r"\.help", "soft"), ("footer form", "faint"), ("thead th", "faint")):
        assert re.search(rf"(^|, |\}}\n)[^{{}}]*({selector})[^{{}}]*\{{[^}}]*color: var\(--{ink}\)", STYLE), selector
