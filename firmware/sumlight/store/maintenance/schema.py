"""The schema of a logbook against the one that the migrations give. What differs is damage, or was put in by hand."""

import sqlite3
from contextlib import closing
from functools import cache
from pathlib import Path

from sumlight.store.logbook import database
from sumlight.text.message import Message, say

Shape = dict[tuple[bytes, bytes], tuple[bytes, bytes]]

_SCHEMA = (  # as bytes: a damaged name may be no text at all; names with sqlite_ are SQLite's own (indexes, statistics)
    "SELECT CAST(type AS BLOB), CAST(name AS BLOB), CAST(tbl_name AS BLOB), CAST(coalesce(sql, '') AS BLOB)"
    " FROM sqlite_master WHERE name NOT LIKE 'sqlite~_%' ESCAPE '~'"
)


def check_shape(path: Path) -> None:
    """Raises LogbookError: `damaged` where the schema is not that of a logbook of the version that the file names."""
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None)) as link:
            version = int(link.execute("PRAGMA user_version").fetchone()[0])
            found = _shape(link)
    except sqlite3.Error as error:
        raise database.translated(error, path, "reading its schema") from error
    newest = database.migrations()[-1][0]
    if version > newest:
        if found == expected(newest):
            raise database.damaged(path, say("logbook_other_schema", newest=newest, version=version))
        return  # a newer Sumlight wrote it; whoever opens it says so
    if version <= 0:
        if (b"table", b"dose_journal") in found:
            raise database.damaged(path, say("logbook_tables_only", version=version))
        return  # a database of another program; whoever opens it says so
    wrong = _difference(found, expected(version), version)
    if wrong is not None:
        raise database.damaged(path, wrong)


@cache
def expected(version: int) -> Shape:
    """What the migrations up to a version give, made by this SQLite."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as link:
        for number, script in database.migrations():
            if number <= version:
                link.executescript(script)
        return _shape(link)


def _shape(link: sqlite3.Connection) -> Shape:
    return {(kind, name): (table, sql) for kind, name, table, sql in link.execute(_SCHEMA)}


def _difference(found: Shape, wanted: Shape, version: int) -> Message | None:
    """The first difference in words; None when there is none."""
    for kind, name in sorted(found.keys() - wanted.keys()):
        return say("schema_holds", kind=_text(kind), name=_text(name), version=version)
    for kind, name in sorted(wanted.keys() - found.keys()):
        return say("schema_lacks", kind=_text(kind), name=_text(name), version=version)
    for kind, name in sorted(found):
        if found[kind, name] != wanted[kind, name]:
            return say("schema_differs", kind=_text(kind), name=_text(name), version=version)
    return None


def _text(raw: bytes) -> str:
    return raw.decode("utf-8", "backslashreplace")[:60]
