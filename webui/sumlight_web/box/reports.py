"""The dated reports of commissioning: found by name in control's folder, and shown as part of a page.

A report is a whole HTML file with styles of its own, white as paper. The page shows its words in its own colours, so
that it may be opened beside resist; only what is named here gets through, whatever stands in the file.
"""

import re
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path

from markupsafe import Markup, escape

NAME = re.compile(r"commissioning-(\d{4})(\d{2})(\d{2})-(\d{2})(\d{2})(\d{2})\.html\Z", re.ASCII)
KEPT = frozenset({"h1", "h2", "p", "table", "tr", "th", "td", "strong"})
LONGEST_BYTES = 1_000_000
MOST_LISTED = 30


@dataclass(frozen=True)
class Report:
    """One report in the list: `name` of its file, `begun` in words (UTC), and its `verdict` as it stands in it."""

    name: str
    begun: str
    verdict: str


def listed(folder: Path) -> list[Report]:
    """The newest reports, newest first; empty when there is no folder yet."""
    try:
        names = sorted((path.name for path in folder.iterdir() if NAME.match(path.name)), reverse=True)
    except OSError:
        return []
    return [Report(name, begun(name), _verdict(folder, name)) for name in names[:MOST_LISTED]]


def begun(name: str) -> str:
    """When the run of a report began, as its name tells: `2026-11-25 08:15 UTC`."""
    found = NAME.match(name)
    return "" if found is None else "{}-{}-{} {}:{} UTC".format(*found.groups()[:5])


def text_of(folder: Path, name: str) -> str | None:
    """The file's text; None unless `name` is that of a report which is a plain file in the folder itself."""
    path = folder / name
    if NAME.match(name) is None or path.is_symlink():
        return None
    try:
        with path.open("rb") as file:
            body = file.read(LONGEST_BYTES + 1)
    except OSError:
        return None
    return None if len(body) > LONGEST_BYTES else body.decode("utf-8", "replace")


def _verdict(folder: Path, name: str) -> str:
    reader = _Reader("")
    reader.feed(text_of(folder, name) or "")
    return reader.verdict.strip()


def as_markup(text: str, table_name: str) -> Markup:
    """What a report says, without any style, script, link or attribute of its own; tables scroll by themselves."""
    reader = _Reader(table_name)
    reader.feed(text)
    reader.close()
    return reader.markup()


class _Reader(HTMLParser):
    """Takes the words of the body and the kept tags, always closed in order."""

    def __init__(self, table_name: str) -> None:
        super().__init__(convert_charrefs=True)
        self.verdict = ""
        self._table_name = table_name
        self._parts: list[Markup] = []
        self._open: list[str] = []
        self._in_body = self._in_verdict = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Open a kept tag."""
        if tag == "body":
            self._in_body = True
        elif self._in_body and tag == "br":
            self._parts.append(Markup("<br>"))
        elif self._in_body and tag in KEPT:
            self._in_verdict = tag == "p" and ("class", "verdict") in attrs
            self._open.append(tag)
            if tag == "table":
                box = Markup('<div class="scroll" tabindex="0" role="group" aria-label="{}">')
                self._parts.append(box.format(self._table_name))
            self._parts.append(Markup('<p class="sentence">') if self._in_verdict else Markup(f"<{tag}>"))  # noqa: S704

    def handle_endtag(self, tag: str) -> None:
        """Close it, and whatever was left open inside."""
        if tag in self._open:
            while self._close_last() != tag:
                pass

    def handle_data(self, data: str) -> None:
        """Words."""
        if self._in_body and not self._within_foreign():
            self._parts.append(escape(data))
            self.verdict += data if self._in_verdict else ""

    def markup(self) -> Markup:
        """All of it; what the file left open is closed."""
        while self._open:
            self._close_last()
        return Markup("").join(self._parts)

    def _within_foreign(self) -> bool:
        return self.cdata_elem is not None  # the text of a script or style is no word for a reader

    def _close_last(self) -> str:
        tag = self._open.pop()
        self._in_verdict = False
        self._parts.append(Markup(f"</{tag}>" + ("</div>" if tag == "table" else "")))  # noqa: S704 - a kept tag
        return tag
