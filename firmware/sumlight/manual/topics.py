"""Topics of the manual, read from the Markdown files beside this module and filled up from the program's own tables.

A file begins with `# Title`, a word of introduction follows, and each `## Heading` begins an entry. An entry is named
by `{#name}` behind its heading, or by the heading itself. The languages have the same topics and names of entries.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from sumlight.manual import tables
from sumlight.manual.entry import Entry, Told, in_english

LANGUAGES = ("en", "de")

TOPICS = (
    *("start", "first-panel", "dose", "pages", "recipes", "light", "lamps", "baths", "records", "faults", "access"),
    *("fleet", "box", "commands", "twin", "words"),
)
"""In the order of the list: what a newcomer needs comes first."""

TYPED = ("recipes", "box", "commands")

TITLE, HEADING = "# ", "## "
NAMED = re.compile(r"(?P<title>.*?)(?: \{#(?P<name>[^}]+)\})?")


@dataclass(frozen=True)
class Topic:
    """One topic: `name` in addresses and on the command line, `title` and `text` (Markdown) for people, its entries."""

    name: str
    title: str
    text: str
    entries: tuple[Entry, ...]

    @property
    def typed(self) -> bool:
        """Whether its headings are what is typed into files and terminals, the same in every language."""
        return self.name in TYPED


def topics(language: str = "en", told: Told = in_english) -> tuple[Topic, ...]:
    """All of the manual. `told` puts a message into words of that language. Raises KeyError for an unknown language."""
    return tuple(topic(name, language, told) for name in TOPICS)


def topic(name: str, language: str = "en", told: Told = in_english) -> Topic:
    """One topic. Raises KeyError for a topic or language that there is not."""
    if name not in TOPICS or language not in LANGUAGES:
        raise KeyError(name)
    written = _written(name, language)
    entries = [Entry(each.name, each.title, tables.with_facts(name, each, told)) for each in written.entries]
    entries += tables.more_entries(name, told)
    if name == "words":
        entries.sort(key=lambda each: each.title.casefold())
    return Topic(name, written.title, written.text, tuple(entries))


@cache
def _written(name: str, language: str) -> Topic:
    """A topic as its file has it."""
    return read(name, files("sumlight.manual").joinpath(language, f"{name}.md").read_text(encoding="utf-8"))


def read(name: str, text: str) -> Topic:
    """A topic from the text of its file. Raises ValueError for one without a title, or with a heading twice."""
    if not text.startswith(TITLE):
        raise ValueError(f"manual/{name}: the first line must be '{TITLE}Title'")
    head, *sections = re.split(rf"^{HEADING}", text, flags=re.MULTILINE)
    title, _, intro = head.removeprefix(TITLE).partition("\n")
    entries = tuple(_entries(sections))
    names = [entry.name for entry in entries]
    if len(set(names)) < len(names):
        raise ValueError(f"manual/{name}: a heading stands twice")
    return Topic(name, title.strip(), intro.strip(), entries)


def _entries(sections: list[str]) -> Iterator[Entry]:
    for section in sections:
        heading, _, body = section.partition("\n")
        found = NAMED.fullmatch(heading.strip())
        title = found["title"] if found else heading
        yield Entry((found and found["name"]) or name_of(title), title, body.strip())


def name_of(title: str) -> str:
    """The name of an entry by its heading: `sumlight panel expose` is `panel-expose`, a key is itself."""
    return re.sub(r"\s+", "-", title.strip().casefold().removeprefix("sumlight "))
