"""`sumlight help`: the manual in the terminal, in its width."""

import argparse
import io
import re
import shutil
import sys
from collections.abc import Iterable, Sequence

from rich.console import Console, RenderableType
from rich.markdown import Markdown
from rich.padding import Padding
from rich.text import Text

from sumlight.cli.answer import Answer
from sumlight.language import _, reader, text_of
from sumlight.manual.entry import Told, in_english
from sumlight.manual.search import Place, find, named
from sumlight.manual.topics import TOPICS, Topic, topic, topics

NOTHING_FOUND = 1
WIDEST = 100
"""Longer lines are hard to read, however wide the terminal is."""

LINK = re.compile(r"\[([^\]]+)\]\([^)]+\)")


def add(command: argparse.ArgumentParser) -> None:
    """Declare what may be asked."""
    words = _("a topic; or a key, a fault, a command, a word")
    command.add_argument("about", nargs="*", default=[], metavar="TOPIC", help=words)
    command.set_defaults(carry_out=carry_out, offered=TOPICS)


def carry_out(options: argparse.Namespace) -> Answer:
    """Print the list of topics, one topic, or every place that tells of what was asked."""
    about = " ".join(options.about)
    if not about:
        return _list(_language(options))
    if about in TOPICS:
        one = topic(about, *_language(options))
        return Answer(_found(one), _printed(_of_topic(one)))
    return _places(about, _language(options))


def _language(options: argparse.Namespace) -> tuple[str, Told]:
    """The manual's language, and how it says messages: English for programs, which read it as --json."""
    return ("en", in_english) if options.json else (reader().language, text_of)


def _list(language: tuple[str, Told]) -> Answer:
    everything = topics(*language)
    widest = max(map(len, TOPICS))
    lines = [f"{each.name:{widest}}  {each.title}" for each in everything]
    lines += ["", _("sumlight help TOPIC prints one. A key, a fault, a command or a word will do as well.")]
    told = [
        {"topic": each.name, "title": each.title, "entries": [entry.name for entry in each.entries]}
        for each in everything
    ]
    return Answer({"topics": told}, lines)


def _places(about: str, language: tuple[str, Told]) -> Answer:
    """Entries of that name in full; for other words only where they stand."""
    everything = topics(*language)
    exact = named(everything, about)
    places = exact or find(everything, about)
    found = {"about": about, "places": [_place(place) for place in places]}
    if exact:
        return Answer(found, _printed(part for place in exact for part in _of_place(place)))
    if places:
        lines = [f"{place.topic.name}: {place.title}" for place in places]
        return Answer(found, [_("'{about}' is mentioned in:", about=about), *lines])
    lines = [_("The manual says nothing about '{about}'. Its topics: {topics}.", about=about, topics=", ".join(TOPICS))]
    return Answer(found, lines, NOTHING_FOUND)


def _found(one: Topic) -> dict[str, object]:
    entries = [{"name": each.name, "title": each.title, "text": each.text} for each in one.entries]
    return {"topic": one.name, "title": one.title, "text": one.text, "entries": entries}


def _place(place: Place) -> dict[str, str]:
    name = place.entry.name if place.entry else ""
    return {"topic": place.topic.name, "name": name, "title": place.title, "text": place.text}


def _of_topic(one: Topic) -> Iterable[RenderableType]:
    yield Text(one.title.upper(), "bold")
    yield _text(one.text)
    for entry in one.entries:
        yield from _of_place(Place(one, entry))


def _of_place(place: Place) -> Iterable[RenderableType]:
    yield Text(f"\n{place.title}", "bold")
    yield Padding(_text(place.text), (0, 0, 0, 2))


def _text(text: str) -> Markdown:
    return Markdown(LINK.sub(r"\1", text), code_theme="bw", hyperlinks=False)


def _printed(parts: Iterable[RenderableType]) -> Sequence[str]:
    """As lines of the terminal; in colour only where one is looking."""
    width = min(WIDEST, shutil.get_terminal_size().columns)
    console = Console(file=io.StringIO(), width=width, force_terminal=sys.stdout.isatty(), highlight=False)
    for part in parts:
        console.print(part)
    written: io.StringIO = console.file  # type: ignore[assignment]
    return [line.rstrip() for line in written.getvalue().splitlines()]
