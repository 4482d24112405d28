"""Removes traces that nobody wants to keep any longer, and makes the file shorter; both are told and recorded.

A box that was given no rule keeps everything. Samples alone ever go; doses, journals and all else stay.
"""

import os
import shutil
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import TypedDict

from sumlight.store.logbook import database
from sumlight.store.logbook.database import unusable, utc_from, utc_text
from sumlight.store.logbook.session import Session
from sumlight.text.message import Message, read_stored, say, stored

BATCH = 50
"""Traces looked at in one transaction, so that control never waits long for its turn."""

SPARE_BYTES = 16 * 1024 * 1024
"""Room that compacting leaves to others."""


@dataclass
class Pruning:
    """How far the removal of traces of exposures that ended before a time has come; `removed` pieces, `size` bytes."""

    before: datetime
    removed: int = 0
    size: int = 0
    finished: bool = False
    last_id: int = 0
    upkeep_id: int | None = None

    @property
    def words(self) -> Message:
        """For people."""
        return say("pruned_traces", count=self.removed, size_mb=self.size / 1e6, day=f"{self.before:%Y-%m-%d}")


class MaintenanceNote(TypedDict):
    """Something that was done to the logbook itself."""

    done_utc: str
    what: str
    told: Message


def care_told(text: str) -> Message:
    """Read what is kept of such care: one word for a sound logbook, else what `stored` wrote, or an earlier version."""
    return say("logbook_is_sound") if text == "sound" else read_stored(text)


@dataclass(frozen=True)
class Room:
    """What the file takes, and how much of that is free for what comes next."""

    size: int
    free: int


class LogbookMaintenance:
    """The part of a logbook that knows its own size, and what was done to it."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def room(self) -> Room:
        """How large the file is inside."""
        with self._session.reading("measuring it"):
            return _room(self._session.link)

    def upkeep(self, limit: int = 10) -> list[MaintenanceNote]:
        """What was done to the logbook itself, newest first: `done_utc`, `what`, `told`.

        Of the nightly looks that found it sound only the newest, which would hide all else.
        """
        with self._session.reading("reading what was done to it"):
            rows = self._session.all(
                "SELECT done_utc, what, told FROM upkeep WHERE what <> 'checked' OR told <> 'sound' OR upkeep_id ="
                " (SELECT max(upkeep_id) FROM upkeep WHERE what = 'checked' AND told = 'sound')"
                " ORDER BY upkeep_id DESC LIMIT ?",
                max(0, limit),
            )
        return [
            MaintenanceNote(done_utc=row["done_utc"], what=row["what"], told=care_told(row["told"])) for row in rows
        ]

    def traces_kept_from(self, now: datetime, days: int) -> datetime:
        """From when on traces are kept by a rule of so many days.

        Counted from the newest exposure whose time is sure: a clock that runs ahead must not empty the logbook.
        """
        with self._session.reading("looking for the newest exposure"):
            newest = self._session.value("SELECT max(started_utc) FROM exposures WHERE NOT utc_unsure")
        return min(now, utc_from(newest) if newest else now) - timedelta(days=days)

    def old_traces(self, before: datetime) -> Pruning:
        """What a removal would remove."""
        found = Pruning(before)
        with self._session.reading("looking for old traces"):
            found.removed, found.size = self._session.one(
                "SELECT count(*), coalesce(sum(length(packed)), 0) FROM traces JOIN sides USING (side_id)"
                " JOIN exposures USING (exposure_id) WHERE ended_utc < ? AND NOT utc_unsure",
                utc_text(before),
            )
        return found

    def remove_old_traces(self, work: Pruning, now: datetime) -> None:
        """Remove some traces for good and take `work` further; what was removed is recorded in the same transaction.

        A trace whose exposure has no end or an unsure time stays.
        """
        with self._session.writing("removing old traces"):
            rows = self._session.all(
                "SELECT trace_id, length(packed) AS size, NOT utc_unsure AND started_utc >= ?1 AS too_new,"
                " ended_utc < ?1 AND NOT utc_unsure AS old FROM traces JOIN sides USING (side_id)"
                " JOIN exposures USING (exposure_id) WHERE trace_id > ?2 ORDER BY trace_id LIMIT ?3",
                utc_text(work.before),
                work.last_id,
                BATCH,
            )
            old = [row for row in rows if row["old"]]
            self._session.link.executemany("DELETE FROM traces WHERE trace_id = ?", [(row["trace_id"],) for row in old])
            further = Pruning(
                before=work.before,
                removed=work.removed + len(old),
                size=work.size + sum(row["size"] for row in old),
                # rows go on in the order of time where it is sure: what follows is newer still
                finished=len(rows) < BATCH or bool(rows[-1]["too_new"]),
                last_id=rows[-1]["trace_id"] if rows else work.last_id,
                upkeep_id=work.upkeep_id,
            )
            if old and work.upkeep_id is None:
                further.upkeep_id = self._session.insert(
                    "upkeep", done_utc=utc_text(now), what="tidied", told=stored(further.words)
                )
            elif old:
                self._session.link.execute(
                    "UPDATE upkeep SET done_utc = ?, told = ? WHERE upkeep_id = ?",
                    (utc_text(now), stored(further.words), work.upkeep_id),
                )
        vars(work).update(vars(further))


def compact(path: Path, now: datetime) -> tuple[int, int]:
    """Give the room of what was removed back to the card; returns the bytes of the file before and after.

    SQLite's VACUUM in its place: it is one transaction, so that a power cut leaves the file as it was or as it should
    be, and its lock keeps out whoever else would write. A copy that takes the file's name would need our own care for
    both. Control must not be running. Raises LogbookError; nothing is lost then.
    """
    if not path.exists():
        raise unusable(path, say("logbook_not_there"))
    with closing(database.connect_writer(path, durable=True)) as link:
        _check_room(link, path)
        before = path.stat().st_size
        with database.in_words(path, "compacting it"):
            link.execute("VACUUM")
            busy = link.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
        if busy:
            raise unusable(path, say("compacted_later"))
        after = path.stat().st_size
        with database.transaction(link, path, "noting that it was compacted", write=True):
            link.execute(
                "INSERT INTO upkeep (done_utc, what, told) VALUES (?, 'compacted', ?)",
                (utc_text(now), stored(say("compacted_from_to", before_mb=before / 1e6, after_mb=after / 1e6))),
            )
    return before, after


def _room(link: sqlite3.Connection) -> Room:
    page, pages, free = (
        int(link.execute(f"PRAGMA {name}").fetchone()[0]) for name in ("page_size", "page_count", "freelist_count")
    )
    return Room(page * pages, page * free)


def _check_room(link: sqlite3.Connection, path: Path) -> None:
    """SQLite writes the new content beside its temporary files first, then into the write-ahead log."""
    with database.in_words(path, "measuring it"):
        room = _room(link)
    needed = room.size - room.free
    places = [path.parent, _temporary_folder()]
    same = os.stat(places[0]).st_dev == os.stat(places[1]).st_dev
    for place in places:
        wanted = needed * (2 if same else 1) + SPARE_BYTES
        there = shutil.disk_usage(place).free
        if there < wanted:
            why = say("compact_needs_room", wanted_mb=wanted / 1e6, place=str(place), free_mb=there / 1e6)
            raise unusable(path, why)


def _temporary_folder() -> Path:
    """Where SQLite puts its temporary files: the first of these that it may write to ("Temporary Files Used By
    SQLite", section 5)."""
    named = [os.environ.get("SQLITE_TMPDIR"), os.environ.get("TMPDIR"), "/var/tmp", "/usr/tmp", "/tmp"]  # noqa: S108
    usable = (Path(name) for name in named if name and os.path.isdir(name) and os.access(name, os.W_OK | os.X_OK))
    return next(usable, Path("."))
