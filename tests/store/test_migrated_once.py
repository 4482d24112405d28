"""What these tests copy is what the migrations make."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from sumlight.store.logbook import database
from tests.store.migrated_once import plain_migrate


def told(path: Path) -> list[object]:
    """All that a file says of itself, and all that it holds."""
    with closing(sqlite3.connect(path)) as link:
        pragmas = ("user_version", "journal_mode", "page_size", "auto_vacuum", "encoding", "application_id")
        said: list[object] = [link.execute(f"PRAGMA {name}").fetchone() for name in pragmas]
        return [*said, *link.iterdump()]


@pytest.mark.parametrize("durable", [True, False])
def test_a_copied_logbook_is_the_one_that_the_migrations_make(
    durable: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Tables, triggers, rows, and how the file is kept."""
    copied, made = tmp_path / "copied.sqlite", tmp_path / "made.sqlite"
    assert database._migrate is not plain_migrate
    database.connect_writer(copied, durable=durable).close()
    monkeypatch.setattr(database, "_migrate", plain_migrate)
    database.connect_writer(made, durable=durable).close()
    assert told(copied) == told(made)
    assert len(told(made)) > 50
