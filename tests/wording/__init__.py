"""What the box says about dose, ± and light meter: `python -m tests.wording` lists every sentence in both languages.

None is longer than 20 words, and none uses a word that nobody at the bench knows.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from babel.messages.pofile import read_po

import sumlight
from sumlight.language import DOMAIN, LANGUAGES, LOCALE

MOST_WORDS = 20
ABOUT = {
    "en": re.compile(r"±|\bdoses?\b|\bmeters?\b|\bsensors?\b|mJ/cm", re.I),
    "de": re.compile(r"±|\bdos(is|en)\b|\w*messer\b|\w*sensor\w*|mJ/cm", re.I),
}
FOREIGN = {
    "en": re.compile(
        r"\bk = 2\b|\babsolute\b|± ?\S+ repeat\b|\brepeat \(|\bits repeat\b|\blegs?\b|\bstack\b|box\.yaml|\bstrikes\b|"
        r"\bset 0\b|left unsure by gaps|true over counted dose|textbook factor|\bp = ",
        re.I,
    ),
    "de": re.compile(r"\bk = 2\b|\babsolut\b|wiederholbar \(|\bbox\.yaml\b|\bset 0\b|\bp = ", re.I),
}
"""Words that a review of the page found without meaning to people who expose panels."""
TO_BUILDERS = {
    "`lights_when`": "names the key that is wrong; whoever reads it has box.yaml open",
    "in box.yaml": "says what to change where; whoever reads it built the box",
    "with k = 2 means 4": "says how to read a certificate, in the certificate's own words",
    "mit k = 2": "the same in German",
}
"""Sentences that need such a word, by a piece of them, and why."""
OTHER_NAMES = re.compile(
    r"\bcontrol (program|process)\b|\bstrikes\b|\banew\b|\bforetold\b|\b[Ll]egs?\b|\b[Aa]bandon|\b[Aa]bort"
)
"""English names that a thing had besides its own (controller, starts, round, give up), and two old words. The German
ones are in `tests.webui.test_language`."""
PROGRAM = Path(str(sumlight.__file__)).parent


@dataclass(frozen=True)
class Sentence:
    """One sentence, and what is wrong with it: nothing, its length, or a word."""

    language: str
    text: str
    wrong: str


def sentences() -> Iterator[Sentence]:
    """Every sentence about dose, ± and meter that page, command line and control can say, in each language."""
    for language, said_so in texts().items():
        for text in sorted(said_so):
            for one in re.split(r"(?<=[.!?:;])\s+", text):
                if ABOUT[language].search(one):
                    yield Sentence(language, one, wrong(language, one))


def texts() -> dict[str, set[str]]:
    """Every text of the catalogue, by language."""
    found: dict[str, set[str]] = {"en": set()}
    for language in LANGUAGES:
        if language == "en":
            continue
        with (LOCALE / language / "LC_MESSAGES" / f"{DOMAIN}.po").open("rb") as file:
            for message in read_po(file, locale=language):
                found["en"] |= _forms(message.id)
                found.setdefault(language, set()).update(_forms(message.string))
    return found


def to_read(language: str) -> dict[str, str]:
    """What is read as a whole in that language, the manual and what has changed: the text by the file's name."""
    changes = PROGRAM / ("changes.md" if language == "en" else f"changes.{language}.md")
    return {
        file.name: file.read_text(encoding="utf-8") for file in [changes, *(PROGRAM / "manual" / language).iterdir()]
    }


def wrong(language: str, sentence: str) -> str:
    """What is wrong with a sentence; empty if nothing is."""
    if any(piece in sentence for piece in TO_BUILDERS):
        return ""
    words = [word for word in sentence.split() if re.search(r"\w", word)]
    if len(words) > MOST_WORDS:
        return f"{len(words)} words"
    found = FOREIGN[language].search(sentence)
    return f"says '{found[0].strip()}'" if found else ""


def _forms(text: object) -> set[str]:
    """A text, or those for one and for several."""
    return (
        {text} if isinstance(text, str) else {str(form) for form in text} if isinstance(text, (tuple, list)) else set()
    )
