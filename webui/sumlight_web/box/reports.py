"""The reports of commissioning: read from the logbook's records, and the files that control wrote beside it.

Page and file are two views of one record (`protocol.walk`); the page says it in the reader's language and never looks
into the file, which is white as paper and in English.
"""

import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sumlight.protocol.walk import Report, report_of
from sumlight.store.logbook.reading import LogbookReader
from sumlight_web.language import _
from sumlight_web.texts import text_of

NAME = re.compile(r"commissioning-\d{8}-\d{6}\.html\Z", re.ASCII)
LONGEST_BYTES = 1_000_000
MOST_LISTED = 30


@dataclass(frozen=True)
class Listed:
    """One report in the list: `name` of its file, `begun` in words (UTC), and its `verdict` in the reader's words."""

    name: str
    begun: str
    verdict: str


def listed(logbook: LogbookReader) -> list[Listed]:
    """The newest reports, newest first."""
    found = []
    for record in logbook.commissionings(MOST_LISTED):
        try:
            verdict = text_of(report_of(record).verdict)
        except ValueError:
            verdict = _("This record cannot be read.")
        found.append(Listed(_name(record.began_utc), _begun(record.began_utc), verdict))
    return found


def report_named(logbook: LogbookReader, name: str) -> tuple[Report, str] | None:
    """What the report of that name says, and when its run began; None when no record has it, or one that is broken."""
    for record in logbook.commissionings() if NAME.match(name) else ():
        if _name(record.began_utc) == name:
            try:
                return report_of(record), _begun(record.began_utc)
            except ValueError:
                return None
    return None


def file_text(folder: Path, name: str) -> str | None:
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


def _name(began_utc: datetime) -> str:
    return f"commissioning-{began_utc:%Y%m%d-%H%M%S}.html"


def _begun(began_utc: datetime) -> str:
    return f"{began_utc:%Y-%m-%d %H:%M} UTC"
