"""What every part of a logbook holds: one connection, its transactions, its rows.

The logbook is read and written by several parts (exposures, lamp register, stretches of light, calibrations, care),
each a class in a module of its own; this is the ground they share.
"""

import sqlite3
from collections.abc import Iterable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

from sumlight.light.sample import Sample
from sumlight.store.codecs import traces
from sumlight.store.logbook import database
from sumlight.text.message import Message, say


class Session:
    """One connection to a logbook. `all`, `one` and `value` belong inside `reading` or `writing`.

    On a connection that only reads, whatever writes raises LogbookError.
    """

    def __init__(self, link: sqlite3.Connection, path: Path) -> None:
        self.link = link
        self.path = path
        link.row_factory = sqlite3.Row

    def reading(self, doing: str) -> AbstractContextManager[None]:
        """Questions that are answered from one moment; `doing` says in an error what failed."""
        return database.transaction(self.link, self.path, doing, write=False)

    def all(self, sql: str, *values: object) -> list[sqlite3.Row]:
        """Every row of an answer."""
        return self.link.execute(sql, values).fetchall()

    def one(self, sql: str, *values: object) -> Any:
        """Its first row; None where there is none."""
        return self.link.execute(sql, values).fetchone()

    def value(self, sql: str, *values: object) -> Any:
        """The first value of its first row."""
        return self.one(sql, *values)[0]

    def unpacked(self, rows: Iterable[sqlite3.Row], whose: str) -> list[Sample]:
        """The samples in rows of `traces`; LogbookError names the row that cannot be unpacked."""
        samples: list[Sample] = []
        for row in rows:
            try:
                samples += traces.decode(row["packed"])
            except traces.TraceError as error:
                why = say("trace_of_exposure", trace=row["trace_id"], whose=whose, why=str(error))
                raise self.unfit(why) from error
        return samples

    def writing(self, doing: str) -> AbstractContextManager[None]:
        """Changes that are made together or not at all; `insert` and `know_bank` belong inside."""
        return database.transaction(self.link, self.path, doing, write=True)

    def unfit(self, why: Message) -> database.LogbookError:
        """Make the error of a record that will never fit, or can never be read."""
        return database.unusable(self.path, why, may_pass=False)

    def know_bank(self, bank: str) -> None:
        """Make sure that a bank has a row."""
        self.link.execute("INSERT INTO banks (bank) VALUES (?) ON CONFLICT DO NOTHING", (bank,))

    def put(self, table: str, key: dict[str, int], values: dict[str, Any]) -> None:
        """Add a row or replace what it holds. Table and column names come from these modules only."""
        columns = {**key, **values}
        marks = ", ".join("?" * len(columns))
        changes = ", ".join(f"{name} = excluded.{name}" for name in values)
        sql = (
            f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({marks})"  # noqa: S608 - no foreign text in it
            f" ON CONFLICT ({', '.join(key)}) DO UPDATE SET {changes}"
        )
        self.link.execute(sql, tuple(columns.values()))

    def insert(self, table: str, **values: object) -> int:
        """Add a row. Table and column names come from these modules only."""
        marks = ", ".join("?" * len(values))
        sql = f"INSERT INTO {table} ({', '.join(values)}) VALUES ({marks})"  # noqa: S608 - no foreign text in it
        row_id = self.link.execute(sql, tuple(values.values())).lastrowid
        if row_id is None:
            raise sqlite3.InternalError(f"no row number after writing to {table}")
        return row_id
