"""Copies of the logbook: taken while control goes on writing, put back, moved to another card."""

import os
import sqlite3
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path

from sumlight.store.files import sync_folder
from sumlight.store.logbook import database
from sumlight.store.logbook.database import LogbookError
from sumlight.store.maintenance.integrity import check
from sumlight.store.maintenance.schema import check_shape
from sumlight.text.message import say

PAGES_A_STEP = 2000
"""Copied at a time; between steps the disk belongs to others."""


def back_up(path: Path, target: Path) -> int:
    """Copy a logbook as it stands at this moment, also while control writes to it; returns the bytes of the copy.

    The copy is looked through before it gets its name. Raises LogbookError, also if `target` exists already.
    """
    if target.exists():
        raise LogbookError(say("copy_name_taken", file=str(target)))
    part = part_of(target)
    with closing(database.connect_reader(path)) as source:
        _copy(source, path, part)
    _must_be_sound(part)
    os.replace(part, target)
    sync_folder(target.parent)
    return target.stat().st_size


def put_back(path: Path, source: Path, utc: datetime) -> Path | None:
    """Make a copy the logbook again; what stood there is kept under another name, which is returned.

    Control must not be running. Raises LogbookError; the logbook that stood there is then still in its place.
    """
    if not source.is_file():
        raise LogbookError(say("copy_not_there", file=str(source)))
    part = part_of(path)
    with closing(database.connect_reader_of_any_version(source)) as link:
        _copy(link, source, part)
    _must_be_sound(part)
    try:
        check_shape(part)
    except LogbookError as error:
        part.unlink()
        raise LogbookError(say("copy_foreign", file=str(source), why=error.short)) from error
    kept = aside_name(path, "replaced", utc) if path.exists() else None
    swap_in(part, path, kept)
    return kept


def swap_in(part: Path, path: Path, aside: Path | None) -> None:
    """Let a whole new file take the logbook's place; what stands there gets the name `aside`. Raises LogbookError."""
    if aside is not None:
        move_aside(path, aside)
    os.replace(part, path)
    sync_folder(path.parent)


def finish_swap(path: Path) -> None:
    """Carry `swap_in` to its end if the power went in the middle: the old one is away, the new one without its name.

    A copy that was not whole yet stays without. Raises LogbookError.
    """
    part = _part_name(path)
    if path.exists() or not part.exists():
        return
    with database.in_words(part, "looking at it"), closing(sqlite3.connect(part, isolation_level=None)) as link:
        link.execute("PRAGMA journal_mode = DELETE")  # one file, to which no other belongs
        whole = link.execute("PRAGMA user_version").fetchone()[0] > 0
    if whole and not check(part).problems:
        os.replace(part, path)
        sync_folder(path.parent)


def aside_name(path: Path, why: str, utc: datetime) -> Path:
    """A free name to set a logbook aside under, e.g. logbook.damaged-20261125T080000Z.sqlite."""
    stamp = utc.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    aside = path.with_name(f"{path.stem}.{why}-{stamp}{path.suffix}")
    number = 1
    while aside.exists():
        number += 1
        aside = path.with_name(f"{path.stem}.{why}-{stamp}-{number}{path.suffix}")
    return aside


def move_aside(path: Path, aside: Path) -> None:
    """Give a logbook and what belongs to it another name. Raises LogbookError if that is not possible."""
    try:
        for tail in ("-wal", "-shm", ""):  # the file itself last: until then it is found where it was
            with suppress(FileNotFoundError):
                os.rename(f"{path}{tail}", f"{aside}{tail}")
        sync_folder(path.parent)
    except OSError as error:
        raise database.unusable(path, say("set_aside_failed", why=str(error))) from error


def _part_name(target: Path) -> Path:
    return target.with_name(target.name + ".part")


def part_of(target: Path) -> Path:
    """The name a file has until it is whole; what was left under it is removed."""
    part = _part_name(target)
    _remove(part)
    return part


def _remove(part: Path) -> None:
    for tail in ("", "-journal", "-wal", "-shm"):
        with suppress(FileNotFoundError):
            os.remove(f"{part}{tail}")


def _copy(source: sqlite3.Connection, path: Path, part: Path) -> None:
    try:
        with closing(sqlite3.connect(part, isolation_level=None)) as copy:
            # One read transaction over all steps: without it, every write of control would begin the copy anew.
            source.execute("BEGIN")
            source.execute("SELECT count(*) FROM sqlite_master").fetchone()
            source.backup(copy, pages=PAGES_A_STEP)
            source.execute("ROLLBACK")
            copy.execute("PRAGMA journal_mode = DELETE")  # one file that can be carried away
        with part.open("rb+") as file:
            os.fsync(file.fileno())
    except sqlite3.Error as error:
        _remove(part)
        raise database.translated(error, path, f"copying it to {part}") from error
    except OSError as error:
        _remove(part)
        raise LogbookError(say("copy_not_written", file=str(part), why=str(error))) from error


def _must_be_sound(part: Path) -> None:
    found = check(part)
    if found.problems:
        part.unlink()
        raise LogbookError(say("copy_unsound", file=str(part), problems=found.problems[:3]))
