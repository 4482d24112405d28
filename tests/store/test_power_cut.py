"""Power cuts on a disk that loses, tears and spoils what was not synced; and a proof that the disk does so."""

import sqlite3
from contextlib import closing
from pathlib import Path
from random import Random

from tests.store.crashdisk import CrashDisk
from tests.store.powercuts import cut_power


def test_sixty_power_cuts_corrupt_nothing_lose_nothing_double_nothing() -> None:
    """Every record that was told to be written is there, the one under way is there wholly or not at all."""
    found = cut_power(60, seed=1)
    assert found.cuts == 60
    assert (found.corrupt, found.missing, found.doubled) == ([], [], [])


def test_without_syncs_the_same_power_cuts_lose_records() -> None:
    """The looking would notice: a logbook opened as the stepped twin does, which promises nothing."""
    found = cut_power(25, seed=1, durable=False)
    assert len(found.missing) + len(found.corrupt) > 5


def test_the_crash_disk_does_corrupt_a_database_that_does_not_sync(tmp_path: Path) -> None:
    """The same disk under a program that syncs nothing: otherwise it would prove nothing."""
    broken = 0
    for seed in range(12):
        path = tmp_path / f"{seed}.sqlite"
        with CrashDisk() as disk, closing(sqlite3.connect(path, isolation_level=None)) as link:
            link.execute("PRAGMA journal_mode = OFF")
            link.execute("PRAGMA synchronous = OFF")
            link.execute("CREATE TABLE t (a INTEGER PRIMARY KEY, b TEXT)")
            link.execute("CREATE INDEX i ON t (b)")
            for number in range(300):
                link.execute("INSERT INTO t (b) VALUES (?)", (f"{number * 7919 % 997:060d}",))
            disk.power_cut(tmp_path / f"cut{seed}", Random(seed))
        with closing(sqlite3.connect(tmp_path / f"cut{seed}" / path.name)) as link:
            try:
                broken += link.execute("PRAGMA integrity_check").fetchone()[0] != "ok"
                broken += link.execute("SELECT count(*) FROM t").fetchone()[0] != 300
            except sqlite3.DatabaseError:
                broken += 1
    assert broken >= 8
