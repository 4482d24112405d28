"""What every part of a logbook stands on: one connection, its transactions, its rows.

The logbook is read and written by several parts (exposures, lamp register, stretches of light, metrology), each in a
module of its own; this is the ground they share.
"""

import sqlite3
from collections.abc import Iterable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

from sumlight.light.sample import Sample
from sumlight.store.codecs import traces
from sumlight.store.logbook import database


class BookReading:
    """The ground of all reading parts. `_all`, `_one` and `_value` belong inside `_reading`."""

    path: Path
    _link: sqlite3.Connection

    def _reading(self, doing: str) -> AbstractContextManager[None]:
        return database.transaction(self._link, self.path, doing, write=False)

    def _all(self, sql: str, *values: object) -> list[sqlite3.Row]:
        return self._link.execute(sql, values).fetchall()

    def _one(self, sql: str, *values: object) -> Any:
        return self._link.execute(sql, values).fetchone()

    def _value(self, sql: str, *values: object) -> Any:
        return self._one(sql, *values)[0]

    def _unpacked(self, rows: Iterable[sqlite3.Row], whose: str) -> list[Sample]:
        """The samples in rows of `traces`; LogbookError names the row that cannot be unpacked."""
        samples: list[Sample] = []
        for row in rows:
            try:
                samples += traces.decode(row["packed"])
            except traces.TraceError as error:
                message = f"logbook {self.path}: trace {row['trace_id']} of {whose}: {error}."
                raise database.LogbookError(message, may_pass=False) from error
        return samples


class BookWriting(BookReading):
    """The ground of all writing parts. `_insert` and `_know_bank` belong inside `_writing`."""

    def _writing(self, doing: str) -> AbstractContextManager[None]:
        return database.transaction(self._link, self.path, doing, write=True)

    def _know_bank(self, bank: str) -> None:
        self._link.execute("INSERT INTO banks (bank) VALUES (?) ON CONFLICT DO NOTHING", (bank,))

    def _insert(self, table: str, **values: object) -> int:
        """Add a row. Table and column names come from these modules only."""
        marks = ", ".join("?" * len(values))
        sql = f"INSERT INTO {table} ({', '.join(values)}) VALUES ({marks})"  # noqa: S608 - no foreign text in it
        row_id = self._link.execute(sql, tuple(values.values())).lastrowid
        if row_id is None:
            raise sqlite3.InternalError(f"no row number after writing to {table}")
        return row_id
