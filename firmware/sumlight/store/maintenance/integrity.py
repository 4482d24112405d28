"""Looks through a logbook for damage, without changing it and without holding up whoever writes."""

import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from sumlight.store.logbook import database
from sumlight.text.message import Message, as_written, say

STEPS = 1000
"""Instructions of SQLite between two looks at the clock."""

MOST_PROBLEMS = 20


@dataclass(frozen=True)
class IntegrityReport:
    """What was found; `finished` is false when it was broken off, and nothing bad had been found until then."""

    problems: tuple[Message, ...]
    finished: bool


def check(
    path: Path, *, thorough: bool = True, limit_s: float | None = None, give_up: Callable[[], bool] | None = None
) -> IntegrityReport:
    """Read every page; `thorough` also compares tables with their indexes and references.

    Breaks off after `limit_s` of real time or when `give_up` says so. Raises LogbookError if the file cannot be opened
    for another reason than damage.
    """
    until_s = None if limit_s is None else time.monotonic() + limit_s

    def enough() -> int:
        return int((until_s is not None and time.monotonic() > until_s) or (give_up is not None and give_up()))

    problems: list[Message] = []
    try:
        with closing(database.connect_reader_of_any_version(path)) as link:
            link.set_progress_handler(enough, STEPS)
            pragma = "integrity_check" if thorough else "quick_check"
            for row in link.execute(f"PRAGMA {pragma}({MOST_PROBLEMS})"):
                if row[0] != "ok":
                    problems.append(as_written(" ".join(str(row[0]).split())))
            if thorough and not problems:
                for row in link.execute("PRAGMA foreign_key_check"):
                    problems.append(say("row_without_owner", row=row[1], table=row[0], missing=row[2]))
                    if len(problems) >= MOST_PROBLEMS:
                        break
    except sqlite3.OperationalError as error:
        if getattr(error, "sqlite_errorname", "") != "SQLITE_INTERRUPT":
            raise database.translated(error, path, "looking through it") from error
        return IntegrityReport(tuple(problems), finished=False)
    except sqlite3.DatabaseError as error:
        problems.append(as_written(str(error)))
    except database.LogbookError as error:
        if error.trouble != "damaged":
            raise
        problems.append(error.told)
    return IntegrityReport(tuple(problems), finished=True)
