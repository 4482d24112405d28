"""What registers of the logbook share when they write and read rows: times that may be missing, rows made by hand."""

import contextlib
from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Any, TypeVar

from sumlight.store.logbook.database import utc_from, utc_text

Made = TypeVar("Made")


def readable(read: Callable[[Any], Made], rows: Iterable[Any]) -> tuple[Made, ...]:
    """What can be made of rows; a line that somebody changed by hand must not keep a box from starting."""
    made = []
    for row in rows:
        with contextlib.suppress(ValueError, TypeError, KeyError):
            made.append(read(row))
    return tuple(made)


def utc_or_none(utc: datetime | None) -> str | None:
    """A time for a row; None stays None."""
    return None if utc is None else utc_text(utc)


def when_or_none(text: str | None) -> datetime | None:
    """A time from a row; None stays None."""
    return None if text is None else utc_from(text)
