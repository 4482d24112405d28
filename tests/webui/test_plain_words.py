"""Words that mean nothing at the bench, or that are wrong in German, stay away from page and manual.

The lists are those of a review of the page by a newcomer and by a German reader; that they are wrong is common practice,
no source.
"""

import re
from functools import cache
from pathlib import Path

import pytest

import sumlight_web
from sumlight.language import LOCALE
from tests.catalogue import load

PAGE = Path(str(sumlight_web.__file__)).parent
MANUAL = LOCALE.parent / "manual" / "de"
SAID = re.compile(r"""\b[Nn]?_\(\s*(?:"((?:[^"\\]|\\.)*)"|'((?:[^'\\]|\\.)*)')""")

NOT_FOR_THE_BENCH = (
    r"absolute|\bstack\b|unsure by gaps|true over counted|textbook|\bset 0\b|\bk = 2|\bboxes'? own scale"
)
ON_A_CERTIFICATE = "Standard uncertainty. A certificate that says ± 8 % with k = 2 means 4 here."
"""The one place that has to say it: it is what the certificate in the reader's hand says."""

WRONG_IN_GERMAN = {
    r"\bMesser\b": "Lichtmesser; mit einem Messer schneidet man",
    r"Einbrennzeit": "Aufwärmzeit",
    r"\bFassung(en)?\b": "Version; Fassungen halten Lampen",
    r"Lesung": "Messwert, Ablesung",
    r"statt dessen": "stattdessen",
    r"Diffusor": "Streuscheibe",
    r"Befinden": "Zustand",
    r"\b[Gg]eduldet": "zulässig",
    r"Gegebene Dosis": "abgegebene Dosis",
    r"(%|Prozent) von neu\b|\} von neu\b": "vom Neuwert",
    r"\bTelefon": "Handy",
    r"(Röhre|Lampe|Seite|Platte) hat (seine|ihren) ": "das Wort dazu ist weiblich",
    r"\b[Bb]elichtungsbox\b|\bdie Box\b|\bder Box\b": "der Kasten",
}


@cache
def german() -> dict[str, str]:
    """Every sentence of page and command line in German, and every line of the manual, by what it translates."""
    found = {}
    for message in load("de"):
        if message.id:
            words = message.string if isinstance(message.string, str) else " | ".join(message.string)
            found[str(message.id)] = words
    for file in sorted(MANUAL.glob("*.md")):
        found |= {f"{file.name}:{n}": line for n, line in enumerate(file.read_text(encoding="utf-8").splitlines(), 1)}
    return found


def test_the_page_says_nothing_that_only_its_makers_understand() -> None:
    """What is measured for and written into records keeps its exact words, on the terminal and in files."""
    told = {
        text
        for file in sorted([*PAGE.rglob("*.py"), *PAGE.rglob("*.html")])
        for match in SAID.finditer(file.read_text(encoding="utf-8"))
        if (text := match[1] or match[2] or "")
    }
    assert len(told) > 1000
    assert ON_A_CERTIFICATE in told
    assert {text for text in told - {ON_A_CERTIFICATE} if re.search(NOT_FOR_THE_BENCH, text, re.IGNORECASE)} == set()


@pytest.mark.parametrize("wrong", WRONG_IN_GERMAN)
def test_no_word_that_is_wrong_in_german_comes_back(wrong: str) -> None:
    """Each was on the page once, or is what a translation by the word would make of it."""
    assert {key: said for key, said in german().items() if re.search(wrong, said)} == {}, WRONG_IN_GERMAN[wrong]
