"""Finds places of the manual: by the name of a thing, or by words that stand there."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from sumlight.manual.entry import Entry
from sumlight.manual.topics import Topic, name_of

LONGEST_QUERY = 80


@dataclass(frozen=True)
class Place:
    """A place of the manual: an entry, or the beginning of its topic (`entry` None)."""

    topic: Topic
    entry: Entry | None

    @property
    def title(self) -> str:
        """What stands above it."""
        return self.topic.title if self.entry is None else self.entry.title

    @property
    def text(self) -> str:
        """What stands there, as Markdown."""
        return self.topic.text if self.entry is None else self.entry.text

    @property
    def address(self) -> str:
        """Where it is below the address of the manual."""
        return self.topic.name if self.entry is None else f"{self.topic.name}#{self.entry.name}"


def places(topics: Iterable[Topic]) -> Iterator[Place]:
    """Every place there is, in order."""
    for topic in topics:
        yield Place(topic, None)
        yield from (Place(topic, entry) for entry in topic.entries)


def named(topics: Iterable[Topic], name: str) -> list[Place]:
    """Entries of exactly that name: a key, the name of a fault, a command, a word. The last part of a key will do."""
    wanted = name_of(name)
    found = [place for place in places(topics) if place.entry is not None]
    exact = [each for each in found if each.entry and wanted in (each.entry.name.casefold(), name_of(each.title))]
    return exact or [each for each in found if each.entry and each.entry.name.casefold().endswith(f".{wanted}")]


def find(topics: Iterable[Topic], query: str) -> list[Place]:
    """Places that hold every word of `query`, those first that have them in their title. Nothing for no words."""
    words = re.findall(r"[^\s,;]+", query[:LONGEST_QUERY].casefold())
    if not words:
        return []
    found = [(place, _where(place, words)) for place in places(topics)]
    return [place for wanted in (0, 1) for place, where in found if where == wanted]


def _where(place: Place, words: list[str]) -> int | None:
    """0 where the title holds all the words, 1 where title and text do; None where they do not."""
    title = f"{place.title} {place.entry.name if place.entry else place.topic.name}".casefold()
    whole = f"{title} {place.text.casefold()}"
    return 0 if all(word in title for word in words) else 1 if all(word in whole for word in words) else None
