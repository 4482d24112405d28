"""A logbook whose schema is damaged or was tampered with: set aside at the start of control, refused as a backup."""

import sqlite3
from contextlib import closing
from pathlib import Path
from random import Random

import pytest

from sumlight.cli import main
from sumlight.store.logbook.database import LogbookError
from sumlight.store.maintenance.backup import put_back
from sumlight.store.maintenance.recovery import make_sound
from sumlight.store.maintenance.schema import check_shape
from tests.control.bench_box import BenchBox
from tests.store.filled import fill
from tests.store.making import START_UTC, ask


def change(path: Path, sql: str) -> None:
    """By SQLite itself, past the store."""
    with closing(sqlite3.connect(path, isolation_level=None)) as link:
        link.executescript(sql)


def rewrite(path: Path, old: bytes, new: bytes) -> None:
    """Bytes of the file, which must be as many."""
    with closing(sqlite3.connect(path, isolation_level=None)) as link:
        link.execute("PRAGMA journal_mode = DELETE")  # everything in the one file
    raw = path.read_bytes()
    assert old in raw
    assert len(old) == len(new)
    path.write_bytes(raw.replace(old, new))


DAMAGE = {
    "a byte in a column's name": lambda path: rewrite(path, b"pauses INTEGER NOT NULL", b"pauzes INTEGER NOT NULL"),
    "a byte that is no text": lambda path: rewrite(path, b"longest_gap_s REAL", b"longest\xffgap_s REAL"),
    "a byte in a table's name": lambda path: rewrite(path, b"CREATE TABLE faults", b"CREATE TABLE fau!ts"),
    "a dropped table": lambda path: change(path, "DROP TABLE upkeep"),
    "a dropped index": lambda path: change(path, "DROP INDEX exposures_unfinished"),
    "a version below none": lambda path: change(path, "PRAGMA user_version = -5"),
    "no version": lambda path: change(path, "PRAGMA user_version = 0"),
    "a version that it is not": lambda path: change(path, "PRAGMA user_version = 200"),
    "a version before": lambda path: change(path, "PRAGMA user_version = 2"),
    "a trigger": lambda path: change(
        path, "CREATE TRIGGER t AFTER UPDATE ON sides BEGIN UPDATE sides SET dose_mj_cm2 = 0; END"
    ),
    "a view": lambda path: change(path, "CREATE VIEW v AS SELECT * FROM sides"),
    "a foreign table": lambda path: change(path, "CREATE TABLE guests (name TEXT)"),
    "a name that is no text": lambda path: change(
        path, "UPDATE exposures SET recipe_text = CAST(x'66ff66' AS TEXT), ended_utc = NULL, outcome = NULL"
    ),
}


@pytest.mark.parametrize("what", DAMAGE)
def test_the_box_starts_with_what_can_be_saved(tmp_path: Path, what: str) -> None:
    """It never stands still for a damaged schema; the damaged file is kept beside."""
    first = BenchBox(tmp_path).start()
    first.until_state("done")
    first.close()
    DAMAGE[what](tmp_path / "logbook.sqlite")
    again = BenchBox(tmp_path)
    again.run(0.5)
    assert "logbook_unsound" in [fault["name"] for fault in again.snapshot()["faults"]]
    assert len(list(tmp_path.glob("logbook.damaged-*.sqlite"))) == 1
    again.ask("acknowledge")
    again.start(panel="P2").until_state("done")
    with again.logbook() as book:
        assert book.recent()[0]["sides"][0]["dose_mj_cm2"] == pytest.approx(20, rel=0.003)
        if what not in ("a byte that is no text", "a byte in a table's name", "a name that is no text"):
            assert len(book.recent()) == 2
    again.close()


def test_no_single_byte_of_the_schema_keeps_the_box_from_starting(tmp_path: Path) -> None:
    """Sixty bytes of the first page, each made another one: a logbook comes of it, or a word, never a bare error."""
    path = tmp_path / "logbook.sqlite"
    fill(path, 1)
    rewrite(path, b"pauses INTEGER", b"pauses INTEGER")
    whole, chance = path.read_bytes(), Random(7)
    for _ in range(60):
        raw = bytearray(whole)
        raw[chance.randrange(100, 4096)] ^= 1 << chance.randrange(8)
        for old in tmp_path.iterdir():
            old.unlink()
        path.write_bytes(bytes(raw))
        make_sound(path, START_UTC, durable=False)
        check_shape(path)
        assert ask(path, "PRAGMA integrity_check") == [("ok",)]


@pytest.mark.parametrize(
    "what", ["a trigger", "a view", "a foreign table", "a dropped table", "a byte in a column's name"]
)
def test_a_backup_that_is_no_logbook_of_ours_is_refused(
    tmp_path: Path, what: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """In words, and the logbook that stands there stays."""
    path, copy = tmp_path / "data" / "logbook.sqlite", tmp_path / "copy.sqlite"
    path.parent.mkdir()
    fill(path, 2)
    fill(copy, 1)
    DAMAGE[what](copy)
    before = ask(path, "SELECT count(*) FROM exposures")
    with pytest.raises(LogbookError, match="this is not one of our logbooks"):
        put_back(path, copy, START_UTC)
    assert main(["records", "restore", str(copy), "--data", str(path.parent)]) == 2
    assert {"a trigger": "the trigger 't'", "a view": "the view 'v'"}.get(what, "") in capsys.readouterr().err
    assert ask(path, "SELECT count(*) FROM exposures") == before
    assert [each.name for each in path.parent.glob("logbook*")] == ["logbook.sqlite"]


def test_a_sound_logbook_is_left_alone(tmp_path: Path) -> None:
    """Also one that SQLite keeps statistics in, and one that was compacted."""
    path = tmp_path / "logbook.sqlite"
    fill(path, 2)
    change(path, "ANALYZE; VACUUM")
    assert make_sound(path, START_UTC, durable=False) is None
