"""Lets the migrations run once a process: each new logbook of a test is then a copy of what they made.

Thousands are begun, and a score of scripts costs each ten times what the copy does; `test_migrated_once.py` compares.
"""

import sqlite3
import threading
from collections.abc import Callable
from pathlib import Path

from sumlight.store.logbook import database

Migrate = Callable[[sqlite3.Connection, Path, int], None]

plain_migrate: Migrate = database._migrate


def migrate_once(migrate: Migrate) -> Migrate:
    """Fill a new file from a kept one; an older file, and other scripts than the program's own, go the long way."""
    own, lock = database.migrations, threading.Lock()
    kept = sqlite3.connect(":memory:", check_same_thread=False)
    made = False

    def copied(link: sqlite3.Connection, path: Path, version: int) -> None:
        nonlocal made
        if version or database.migrations is not own:
            migrate(link, path, version)
            return
        with lock:
            if not made:
                plain_migrate(kept, path, 0)
                made = True
            with database.in_words(path, f"bringing it to version {own()[-1][0]}"):
                kept.backup(link)

    return copied
