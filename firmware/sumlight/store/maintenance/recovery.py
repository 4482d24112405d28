"""A damaged logbook is set aside, a new one is begun, and what can be read is taken over. The box stays usable."""

import sqlite3
import time
import zlib
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from sumlight.store.logbook import database
from sumlight.store.logbook.database import LogbookError
from sumlight.store.maintenance.backup import aside_name, finish_swap, part_of, swap_in
from sumlight.store.maintenance.integrity import check
from sumlight.store.maintenance.schema import check_shape
from sumlight.text.message import Message, as_written, joined, say, stored

START_CHECK_S = 3.0
"""Longest look through the logbook before control starts; the night's look is not limited."""

RESCUE_S = 15.0
"""Longest time for taking rows over, for systemd waits 30 s; what is left then stays in the damaged file."""

BATCH = 500
FARTHEST = 1 << 40

ORDER = ("banks", "panels", "exposures", "sides", "pauses", "faults")
"""Tables that are taken over first: without them the others mean little. Bulky ones come last."""

BULKY = ("dose_journal", "light_stretches", "packed_journals", "traces")


@dataclass
class Recovery:
    """What became of a damaged logbook: where it lies now, and rows taken over and lost by table."""

    aside: Path
    why: Message
    saved: dict[str, int] = field(default_factory=dict)
    gaps: int = 0
    orphans: int = 0
    unread: list[Message] = field(default_factory=list)

    @property
    def words(self) -> Message:
        """For people."""
        counts = self.saved
        rows = [say("rescued_exposures", count=counts["exposures"])] if "exposures" in counts else []
        rows += [say("rescued_sides", count=counts["sides"])] if "sides" in counts else []
        rows += [say("rescued_traces", count=counts["traces"])] if "traces" in counts else []
        told = say("logbook_rescued", why=self.why, file=self.aside.name, rows=rows or [say("rescued_nothing")])
        gaps = say("rescue_gaps", gaps=self.gaps, orphans=self.orphans) if self.gaps or self.orphans else None
        return joined(told, gaps, say("rescue_no_time", tables=self.unread) if self.unread else None)


def make_sound(
    path: Path, utc: datetime, *, durable: bool = True, trial: Callable[[], object] | None = None
) -> Recovery | None:
    """Look at the logbook before it is used; None when it is sound or there is none yet.

    `trial` reads what will be needed first: what stops it in a sound-looking file is damage, too. Raises LogbookError
    for every trouble that is not damage (a newer version, no rights, a full disk).
    """
    finish_swap(path)
    if not path.exists():
        return None
    try:
        check_shape(path)
        database.connect_writer(path, durable=durable).close()
        looked = check(path, thorough=False, limit_s=START_CHECK_S)
        why: Message | None = looked.problems[0] if looked.problems else None
        if why is None and trial is not None:
            trial()
    except LogbookError as error:
        if error.trouble != "damaged":
            raise
        why = error.short
    except (sqlite3.DatabaseError, ValueError) as error:  # UnicodeError is a ValueError
        why = as_written(f"{type(error).__name__}: {error}")
    if why is None:
        return None
    rescued = Recovery(aside_name(path, "damaged", utc), why)
    # The damaged file keeps its place until the new one is whole: a power cut or a full disk only means to begin anew.
    part = part_of(path)
    with (
        closing(database.connect_writer(part, durable=durable)) as fresh,
        database.in_words(part, "saving what is left"),
    ):
        _take_over(rescued, path, fresh)
        fresh.execute(
            "INSERT INTO upkeep (done_utc, what, told) VALUES (?, 'saved', ?)",
            (database.utc_text(utc), stored(rescued.words)),
        )
        fresh.execute("PRAGMA journal_mode = DELETE")  # one file, which can be given another name
    swap_in(part, path, rescued.aside)
    return rescued


def _take_over(rescued: Recovery, damaged: Path, fresh: sqlite3.Connection) -> None:
    until_s = time.monotonic() + RESCUE_S
    try:
        old = _open_damaged(damaged)
    except sqlite3.Error:
        return
    fresh.execute("PRAGMA foreign_keys = OFF")
    # What is taken over keeps the numbers that it had, or a collector would be sent all of it again as new.
    triggers = fresh.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in triggers:
        fresh.execute(f"DROP TRIGGER {name}")
    with closing(old):
        known = [row[0] for row in fresh.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        ordered = [t for t in ORDER if t in known]
        ordered += [t for t in known if t not in ORDER + BULKY and not t.startswith("sqlite_")]
        for table in [*ordered, *(t for t in BULKY if t in known)]:
            if time.monotonic() > until_s:
                rescued.unread.append(as_written(table.replace("_", " ")))
                continue
            _take_table(rescued, old, fresh, table, until_s)
    _drop_orphans(rescued, fresh)
    for _, sql in triggers:
        fresh.execute(sql)
    fresh.execute("PRAGMA foreign_keys = ON")


def _open_damaged(path: Path) -> sqlite3.Connection:
    """For reading; past the write-ahead log if that, too, is damaged."""
    for how in ("mode=ro", "immutable=1"):
        link = sqlite3.connect(f"{path.absolute().as_uri()}?{how}", uri=True, isolation_level=None)
        try:
            link.execute("PRAGMA writable_schema = ON")  # then a malformed entry of the schema hides only itself
            link.execute("SELECT count(*) FROM sqlite_master").fetchone()
        except sqlite3.Error:
            link.close()
        else:
            return link
    raise sqlite3.DatabaseError("it cannot be opened at all")


def _take_table(
    rescued: Recovery, old: sqlite3.Connection, fresh: sqlite3.Connection, table: str, until_s: float
) -> None:
    """Rows with the columns that both know. Names come from the new logbook's own shape, or are quoted."""
    try:
        there = [str(row[1]) for row in old.execute(f"PRAGMA table_info({table})")]
    except sqlite3.Error:
        rescued.gaps += 1
        return
    known = [row[1] for row in fresh.execute(f"PRAGMA table_info({table})")]
    # A damaged name does not lose its column: as many columns as there should be are taken in their order.
    named_there = dict(zip(known, there, strict=True)) if len(there) == len(known) else {name: name for name in there}
    columns = [name for name in known if name in named_there]
    if not columns:
        return
    named, marks = ", ".join(columns), ", ".join("?" * (len(columns) + 1))
    sources = ", ".join(_quoted(named_there[name]) for name in columns)
    insert = f"INSERT OR IGNORE INTO {table} (rowid, {named}) VALUES ({marks})"  # noqa: S608 - see above
    select = f"SELECT rowid, {sources} FROM {table} WHERE rowid > ? ORDER BY rowid LIMIT ?"  # noqa: S608 - see above
    blob = columns.index("packed") + 1 if "packed" in columns else None
    count = 0
    fresh.execute("BEGIN")
    for row in _readable_rows(rescued, old, select, until_s):
        if blob is not None and not _unpacks(row[blob]):
            rescued.gaps += 1
            continue
        try:
            count += fresh.execute(insert, row).rowcount
        except (sqlite3.IntegrityError, sqlite3.DataError):
            rescued.gaps += 1
    fresh.execute("COMMIT")
    rescued.saved[table] = count
    if time.monotonic() > until_s:
        rescued.unread.append(say("rescue_rest_of", table=table.replace("_", " ")))


def _readable_rows(
    rescued: Recovery, old: sqlite3.Connection, select: str, until_s: float
) -> Iterator[tuple[object, ...]]:
    """Every row that can be read, jumping over places that cannot."""
    last = -1

    def rows_after(rowid: int, limit: int) -> list[tuple[object, ...]] | None:
        try:
            return old.execute(select, (rowid, limit)).fetchall()
        except sqlite3.Error:
            return None

    while time.monotonic() < until_s:
        rows = rows_after(last, BATCH)
        if rows is None:
            rows = rows_after(last, 1)
        if rows is None:
            rescued.gaps += 1
            near, far = last, last + 1
            while rows_after(far, 1) is None:
                near, far = far, last + 2 * (far - last)
                if far > FARTHEST:
                    return
            while far - near > 1:
                middle = (near + far) // 2
                near, far = (middle, far) if rows_after(middle, 1) is None else (near, middle)
            last = far
            continue
        if not rows:
            return
        yield from rows
        last = int(str(rows[-1][0]))


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def _unpacks(packed: object) -> bool:
    """Whether a trace or journal is whole; its checksum tells."""
    try:
        return isinstance(packed, bytes) and bool(zlib.decompress(packed[1:]))
    except zlib.error:
        return False


def _drop_orphans(rescued: Recovery, fresh: sqlite3.Connection) -> None:
    """Rows whose exposure or side is lost stay in the damaged file only."""
    for _ in range(6):
        orphans = {(row[0], row[1]) for row in fresh.execute("PRAGMA foreign_key_check")}
        if not orphans:
            return
        rescued.orphans += len(orphans)
        fresh.execute("BEGIN")
        for table, rowid in orphans:
            fresh.execute(f"DELETE FROM {table} WHERE rowid = ?", (rowid,))  # noqa: S608 - a name from SQLite itself
        fresh.execute("COMMIT")
