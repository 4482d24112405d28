"""One entry of the manual, and how messages get into it."""

from collections.abc import Callable
from dataclasses import dataclass

from sumlight.text.message import Message

Told = Callable[[Message], str]
"""Puts a message into the words of a language."""


@dataclass(frozen=True)
class Entry:
    """What is said of one thing: `name` after the `#` of an address, `title` and `text` (Markdown) for people."""

    name: str
    title: str
    text: str


def in_english(message: Message) -> str:
    """A message as it stands in a log or a terminal."""
    return str(message)
