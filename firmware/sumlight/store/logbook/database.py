"""The SQLite file under the logbook: opening, migrations, transactions, and errors in plain words."""

import contextlib
import os
import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Literal

from sumlight.store.files import sync_folder
from sumlight.text.message import Message, as_written, say

BUSY_S = 2.0
"""How long one statement waits for another program's lock before it gives up."""

CACHE_KIB = 256
"""Of the file one connection keeps so much in memory; the system keeps it anyway, where there is room."""

JOURNAL_LIMIT_BYTES = 4 * 1024 * 1024
"""The write-ahead log is cut back to this size after it was copied into the main file."""

ROOM_PAGES, ROOM_BYTES = 256, 320 * (4096 + 24)
"""A frame is a page and its header; a checkpoint comes with the first record after so many, hence some more room."""

_FAILURES = {
    "SQLITE_FULL": (say("disk_is_full"), say("free_some_space")),
    "SQLITE_READONLY": (say("file_not_writable"), say("check_owner")),
    "SQLITE_NOTADB": (say("not_a_logbook"), say("move_file_away")),
    "SQLITE_CORRUPT": (say("file_is_damaged"), say("put_back_backup")),
    "SQLITE_CANTOPEN": (say("file_not_opened"), say("check_folder")),
    "SQLITE_IOERR": (say("disk_refused"), say("check_disk_health")),
    "SQLITE_BUSY": (say("file_held"), say("close_that_program")),
    "SQLITE_LOCKED": (say("file_held"), say("close_that_program")),
    "SQLITE_CONSTRAINT": (say("record_does_not_fit"), say("report_program_fault")),
}
_OTHER_FAILURE = (say("it_failed"), say("look_at_the_log"))

Trouble = Literal["full", "damaged", "other"]

_TROUBLES: dict[str, Trouble] = {"SQLITE_FULL": "full", "SQLITE_CORRUPT": "damaged", "SQLITE_NOTADB": "damaged"}

_NEVER_FITS = (
    sqlite3.IntegrityError,
    sqlite3.DataError,
    sqlite3.ProgrammingError,
    sqlite3.InterfaceError,
)


class LogbookError(RuntimeError):
    """The logbook could not do what was asked; `told` says what failed and what to do.

    `may_pass` is true for troubles of the disk, after which the same record may be tried again, and false for
    a record that will never fit. `trouble` is full for a disk without space, damaged for a broken file, else other;
    `short` is SQLite's own reason.
    """

    def __init__(
        self, message: Message, *, may_pass: bool = True, trouble: Trouble = "other", short: Message | None = None
    ) -> None:
        self.may_pass = may_pass
        self.trouble: Trouble = trouble
        self.short = short or message
        self.told = message
        super().__init__(message)


def damaged(path: Path, why: Message) -> LogbookError:
    """Make the error of a file that is broken; `why` without a full stop."""
    told = say("logbook_at", path=str(path), why=say("logbook_put_back", why=why))
    return LogbookError(told, trouble="damaged", short=why)


def unusable(path: Path, why: Message, *, may_pass: bool = True) -> LogbookError:
    """Make the error of a file with which something cannot be done; `why` says what helps, too."""
    return LogbookError(say("logbook_at", path=str(path), why=why), may_pass=may_pass)


def utc_text(utc: datetime) -> str:
    """ISO 8601 in UTC, of fixed width so that text sorts as time does.

    Raises ValueError for a time without a zone, which could mean anything.
    """
    if utc.tzinfo is None:
        raise ValueError(f"the time {utc.isoformat()} has no time zone; give it in UTC")
    if utc.tzinfo is not UTC:
        utc = utc.astimezone(UTC)
    return utc.replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


def utc_from(text: str) -> datetime:
    """The time that `utc_text` wrote."""
    return datetime.fromisoformat(text)


def translated(error: sqlite3.Error, path: Path, doing: str) -> LogbookError:
    """SQLite's error as a LogbookError: what was being done, why it failed, what to do."""
    name = getattr(error, "sqlite_errorname", None) or ""
    family = "_".join(name.split("_")[:2])
    if not name.startswith(("SQLITE_B", "SQLITE_L")) and "decode to UTF-8" in str(error):
        family = "SQLITE_CORRUPT"  # Python's own error: text in it that is no text
    elif family == "SQLITE_ERROR" and "malformed" in str(error):
        family = "SQLITE_CORRUPT"
    what, remedy = _FAILURES.get(family, _OTHER_FAILURE)
    detail = f"{doing}: {name}: {error}" if name else f"{doing}: {error}"
    return LogbookError(
        say("logbook_failed", path=str(path), what=what, detail=detail, remedy=remedy),
        may_pass=not isinstance(error, _NEVER_FITS),
        trouble=_TROUBLES.get(family, "other"),
        short=as_written(str(error)),
    )


def connect_writer(path: Path, *, durable: bool) -> sqlite3.Connection:
    """Open or create the file for writing and bring it to the newest shape; an older one is copied before that.

    With `durable` every commit is on the disk before it returns. Raises LogbookError.
    """
    link = _connect(path, str(path), uri=False)
    try:
        version = _known_version(link, path)
        with in_words(path, "opening it for writing"):
            _use_write_ahead_log(link, path)
            link.execute(f"PRAGMA synchronous = {'FULL' if durable else 'OFF'}")
            link.execute(f"PRAGMA cache_size = -{CACHE_KIB}")
            link.execute(f"PRAGMA journal_size_limit = {JOURNAL_LIMIT_BYTES}")
            link.execute("BEGIN IMMEDIATE")  # a read-only file is found here, not at the first exposure
            link.execute(f"PRAGMA user_version = {version}")
            link.execute("ROLLBACK")
        if 0 < version < migrations()[-1][0]:
            _keep_copy(link, path, version)
        if version < migrations()[-1][0]:
            _migrate(link, path, version)
    except BaseException:
        link.close()
        raise
    return link


def make_room(link: sqlite3.Connection, path: Path) -> None:
    """Let the write-ahead log begin anew after `ROOM_PAGES`, and fill its file up to there, beyond whatever it holds.

    SQLite ends reading the log at the first frame that is not of its present round, and zeros are of none.
    """
    link.execute(f"PRAGMA wal_autocheckpoint = {ROOM_PAGES}")
    with contextlib.suppress(OSError), path.with_name(f"{path.name}-wal").open("r+b") as file:
        there = file.seek(0, os.SEEK_END)
        file.write(bytes(max(0, ROOM_BYTES - there)))
        file.flush()
        os.fsync(file.fileno())


def connect_reader(path: Path) -> sqlite3.Connection:
    """Open the file for reading only; raises LogbookError, also when it does not exist yet."""
    link = connect_reader_of_any_version(path)
    try:
        version = _known_version(link, path)
        newest = migrations()[-1][0]
        if version < newest:
            raise unusable(path, say("logbook_outdated", version=version, newest=newest))
        with in_words(path, "opening it"):
            link.execute(f"PRAGMA cache_size = -{CACHE_KIB}")
    except BaseException:
        link.close()
        raise
    return link


def connect_reader_of_any_version(path: Path) -> sqlite3.Connection:
    """Open a file for reading only, if it is a logbook of this version or an older one; raises LogbookError."""
    if not path.exists():
        raise unusable(path, say("logbook_not_there"))
    address = f"{path.absolute().as_uri()}?mode=ro"
    try:
        return _checked(_connect(path, address, uri=True), path)
    except LogbookError as error:
        if not _only_shared_memory_is_missing(error, path):
            raise
    return _checked(_connect(path, f"{address}&immutable=1", uri=True), path)


def _checked(link: sqlite3.Connection, path: Path) -> sqlite3.Connection:
    try:
        _known_version(link, path)
    except BaseException:
        link.close()
        raise
    return link


def _only_shared_memory_is_missing(error: LogbookError, path: Path) -> bool:
    """Whether the file is at rest: nobody has it open, and this account may not make what a reader of a WAL needs.

    Then nothing changes under a reader, which SQLite has to be told. A program that writes keeps a -wal beside it.
    """
    cause = error.__cause__
    name = getattr(cause, "sqlite_errorname", "") or ""
    may_not = name in ("SQLITE_READONLY_DIRECTORY", "SQLITE_CANTOPEN")
    return may_not and not path.with_name(f"{path.name}-wal").exists()


@contextmanager
def transaction(link: sqlite3.Connection, path: Path, doing: str, *, write: bool) -> Iterator[None]:
    """All or nothing; every error of SQLite leaves as a LogbookError."""
    with in_words(path, doing):
        link.execute("BEGIN IMMEDIATE" if write else "BEGIN")
        try:
            yield
            link.execute("COMMIT")
        finally:
            if link.in_transaction:
                link.execute("ROLLBACK")


@cache
def migrations() -> list[tuple[int, str]]:
    """The numbered scripts that exist, in order, as (number, SQL)."""
    found = []
    for file in resources.files("sumlight.store.logbook").joinpath("migrations").iterdir():
        match = re.fullmatch(r"(\d{4})_\w+\.sql", file.name)
        if match:
            found.append((int(match[1]), file.read_text(encoding="utf-8")))
    return sorted(found)


@contextmanager
def in_words(path: Path, doing: str) -> Iterator[None]:
    """Every error of SQLite leaves as a LogbookError."""
    try:
        yield
    except sqlite3.Error as error:
        raise translated(error, path, doing) from error


def _connect(path: Path, target: str, *, uri: bool) -> sqlite3.Connection:
    with in_words(path, "opening it"):
        link = sqlite3.connect(target, timeout=BUSY_S, isolation_level=None, uri=uri)
        link.execute("PRAGMA foreign_keys = ON")
    return link


def _known_version(link: sqlite3.Connection, path: Path) -> int:
    """The file's version; refuses a newer one than this program knows, and a database of another program."""
    with in_words(path, "opening it"):
        version = int(link.execute("PRAGMA user_version").fetchone()[0])
        foreign = version == 0 and link.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    newest = migrations()[-1][0]
    if version < 0:
        raise damaged(path, say("logbook_calls_itself", version=version))
    if version > newest:
        raise unusable(path, say("logbook_too_new", version=version, newest=newest))
    if foreign:
        raise unusable(path, say("logbook_foreign"))
    return version


def _use_write_ahead_log(link: sqlite3.Connection, path: Path) -> None:
    mode = link.execute("PRAGMA journal_mode = WAL").fetchone()[0]
    if mode != "wal":
        raise unusable(path, say("logbook_no_wal", mode=str(mode)))


def copy_before_migration(path: Path, version: int) -> Path:
    """Where the file lies as it was in that version: for whoever has to go back to the program that wrote it."""
    return path.with_name(f"{path.name}.version-{version}")


def _keep_copy(link: sqlite3.Connection, path: Path, version: int) -> None:
    """Copy the file as it stands; the copy has its name only once it is whole and on the disk. Raises LogbookError."""
    copy = copy_before_migration(path, version)
    part = copy.with_name(f"{copy.name}.part")
    try:
        part.unlink(missing_ok=True)
        doing = f"copying it to {copy.name} before it is brought to a newer version"
        with in_words(path, doing), closing(sqlite3.connect(part, isolation_level=None)) as target:
            link.backup(target)
            target.execute("PRAGMA journal_mode = DELETE")  # one file, which can be carried elsewhere
        with part.open("rb") as file:
            os.fsync(file.fileno())
        part.replace(copy)
        sync_folder(path.parent)
    except OSError as error:
        raise unusable(path, say("logbook_not_copied", copy=copy.name, why=error.strerror or str(error))) from error


def _migrate(link: sqlite3.Connection, path: Path, version: int) -> None:
    """Run every script that a file of this version lacks, as one transaction, which the disk is waited for once.

    A file is of its old version or of the newest, whatever ends it meanwhile.
    """
    missing = [each for each in migrations() if each[0] > version]
    with transaction(link, path, f"bringing it to version {missing[-1][0]}", write=True):
        for number, script in missing:
            with in_words(path, f"bringing it to version {number}"):
                for statement in _statements(script):
                    link.execute(statement)
                link.execute(f"PRAGMA user_version = {number}")


@cache
def _statements(script: str) -> list[str]:
    """A script's statements one by one; a trigger holds semicolons of its own."""
    statements, statement = [], ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            statements.append(statement)
            statement = ""
    return statements
