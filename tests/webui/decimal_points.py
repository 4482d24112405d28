"""Finds decimal points in what a person sees of a page."""

import re
from html.parser import HTMLParser

POINT = re.compile(r"(?<![\w.-])\d+\.\d+(?![\w.])")
"""A number with a decimal point: not a version, an address or a date, which have more points, nor part of a name."""

TYPED = re.compile("„[^“]*“")
"""What somebody typed is repeated as it was."""

AS_THEY_STAND = {"pre", "code", "script", "style"}
"""Files and commands are shown as they are; so is a text that nobody can translate, which is marked as English."""

EMPTY = {"meta", "link", "input", "img", "br", "hr", "path", "circle", "rect"}


class Reading(HTMLParser):
    """Collects what a person sees, text on drawings included, without what is quoted from files."""

    def __init__(self) -> None:
        super().__init__()
        self.inside: list[tuple[str, bool]] = []
        self.seen: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Also what is read aloud or stands beside an input."""
        if tag not in EMPTY:
            self.inside.append((tag, tag in AS_THEY_STAND or ("lang", "en") in attrs))
        self.seen += [value for name, value in attrs if name in ("title", "aria-label", "alt") and value]

    def handle_endtag(self, tag: str) -> None:
        """Whatever was left open within it ends as well."""
        while any(tag == each for each, _quoted in self.inside) and self.inside.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        """Text."""
        if not any(quoted for _tag, quoted in self.inside):
            self.seen.append(data)


def points_in(page: str) -> list[str]:
    """Pieces of visible text with a decimal point in a number."""
    reading = Reading()
    reading.feed(page)
    return [piece.strip() for piece in reading.seen if POINT.search(TYPED.sub("", piece))]
