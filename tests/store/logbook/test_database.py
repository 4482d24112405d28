"""Opening, migrating and refusing logbook files."""

import os
import random
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from sumlight.light.sample import Sample
from sumlight.store.logbook import database
from sumlight.store.logbook.logbook import Logbook, LogbookError
from sumlight.store.logbook.records import TraceChunk
from tests.store.making import ask, held, later, new_exposure, no_room, state, without_rights
from tests.store.migrated_once import plain_migrate

TABLES = {
    "banks",
    "bath_panels",
    "baths",
    "calibrations",
    "changes",
    "commissioning_overrides",
    "commissionings",
    "confirmed_causes",
    "dose_journal",
    "emptied_containers",
    "exposures",
    "faults",
    "findings",
    "gain_steps",
    "job_panels",
    "job_steps",
    "jobs",
    "lamp_changes",
    "lamp_days",
    "lamp_readings",
    "lamp_sets",
    "light_stretches",
    "measurements",
    "network_darks",
    "packed_journals",
    "panels",
    "pauses",
    "self_checks",
    "shifts",
    "sides",
    "stock",
    "stock_uses",
    "tablet_readings",
    "taken_doses",
    "timers",
    "traces",
    "tubes",
    "upkeep",
}


def test_a_new_logbook_is_made_with_all_tables(path: Path) -> None:
    """Migration from nothing, to the newest version."""
    Logbook(path).close()
    names = {row[0] for row in ask(path, "SELECT name FROM sqlite_master WHERE type = 'table'")}
    assert names - {"sqlite_sequence"} == TABLES
    assert ask(path, "PRAGMA user_version") == [(database.migrations()[-1][0],)]


def test_opening_again_changes_nothing(path: Path) -> None:
    """The second opening finds what the first one left."""
    with Logbook(path) as book:
        begun = book.begin(new_exposure())
    with Logbook(path) as book:
        assert [row["exposure_id"] for row in book.recent()] == [begun.exposure_id]


def test_migrations_are_numbered_from_one_on_and_each_number_once() -> None:
    """0001, 0002 and so on; a number may be missing while two branches of the work are apart."""
    numbers = [number for number, _ in database.migrations()]
    assert numbers[0] == 1
    assert numbers == sorted(set(numbers))


def test_a_newer_logbook_is_refused_and_left_alone(path: Path) -> None:
    """An older program must not write into a shape it does not know."""
    Logbook(path).close()
    with closing(sqlite3.connect(path)) as link:
        link.execute("PRAGMA user_version = 9000")
    before = path.read_bytes()
    known = database.migrations()[-1][0]
    message = f"its version is 9000, this Sumlight knows up to {known}. Update Sumlight, or use another file"
    with pytest.raises(LogbookError, match=message):
        Logbook(path)
    with pytest.raises(LogbookError, match=message):
        Logbook.open_reader(path)
    assert path.read_bytes() == before


def test_a_later_migration_is_applied_to_an_older_logbook(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is in it stays; a semicolon within text or a remark does not split a statement."""
    with Logbook(path) as book:
        book.begin(new_exposure())
    script = "-- one; two\nALTER TABLE panels ADD COLUMN shelf TEXT\n DEFAULT 'a;b';\nDROP TABLE faults;\n"
    both = [*database.migrations(), (database.migrations()[-1][0] + 1, script)]
    monkeypatch.setattr(database, "migrations", lambda: both)
    Logbook(path).close()
    assert ask(path, "SELECT label, shelf FROM panels") == [("P12", "a;b")]
    assert ask(path, "PRAGMA user_version") == [(both[-1][0],)]
    assert ask(path, "SELECT count(*) FROM sqlite_master WHERE name = 'faults'") == [(0,)]


def test_an_older_file_is_copied_before_it_is_brought_to_a_newer_version(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The copy is whole, one file, of the old version; only the logbook has what is new. Other starts copy nothing."""
    Logbook(path).close()
    Logbook(path).close()
    assert list(path.parent.glob("*.version-*")) == []
    before = database.migrations()
    newest = before[-1][0]
    more = [*before, (newest + 1, "CREATE TABLE added (id INTEGER) STRICT;")]
    monkeypatch.setattr(database, "migrations", lambda: more)
    Logbook(path).close()
    (copy,) = path.parent.glob("*.version-*")
    assert copy == database.copy_before_migration(path, newest)
    assert ask(copy, "PRAGMA user_version") == [(newest,)]
    assert ask(copy, "PRAGMA integrity_check") == [("ok",)]
    tables = "SELECT count(*) FROM sqlite_master WHERE name = 'added'"
    assert (ask(copy, tables), ask(path, tables)) == ([(0,)], [(1,)])
    assert not list(path.parent.glob("*.part*"))


def test_a_file_that_cannot_be_copied_is_not_migrated(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It stays as it is, and the error says what would have been done."""
    Logbook(path).close()
    before = database.migrations()
    newest = before[-1][0]
    monkeypatch.setattr(database, "migrations", lambda: [*before, (newest + 1, "CREATE TABLE added (id INTEGER);")])
    database.copy_before_migration(path, newest).mkdir()
    with pytest.raises(LogbookError, match=f"could not be copied to {path.name}.version-{newest} before"):
        Logbook(path)
    assert ask(path, "PRAGMA user_version") == [(newest,)]


def test_a_migration_that_fails_leaves_the_version_before(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What went before it is taken back together with the version number: its own statements and whole scripts."""
    Logbook(path).close()
    newest = database.migrations()[-1][0]
    script = "CREATE TABLE half (done TEXT);\nCREATE TABLE panels (again TEXT);\n"
    more = [*database.migrations(), (newest + 1, "CREATE TABLE whole (done TEXT);\n"), (newest + 2, script)]
    monkeypatch.setattr(database, "migrations", lambda: more)
    with pytest.raises(LogbookError, match=f"bringing it to version {newest + 2}: .*panels already exists"):
        Logbook(path)
    assert ask(path, "PRAGMA user_version") == [(newest,)]
    assert ask(path, "SELECT count(*) FROM sqlite_master WHERE name IN ('half', 'whole')") == [(0,)]


def test_a_new_logbook_waits_for_the_disk_once_for_all_its_versions(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A commit for each would make the first start on a slow card a score of syncs longer."""
    told: list[str] = []
    monkeypatch.setattr(database, "_migrate", plain_migrate)
    link = sqlite3.connect(path, isolation_level=None)
    link.set_trace_callback(told.append)
    monkeypatch.setattr(database, "_connect", lambda *_given, **_more: link)
    with closing(database.connect_writer(path, durable=True)):
        assert told.count("COMMIT") == 1


def test_write_ahead_log_and_foreign_keys_are_on(path: Path) -> None:
    """Asked of the open connection itself."""
    with Logbook(path) as book:
        assert book._session.link.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
        assert book._session.link.execute("PRAGMA foreign_keys").fetchone()[0] == 1


@pytest.mark.parametrize(("durable", "level"), [(True, 2), (False, 0)])
def test_every_commit_reaches_the_disk_only_when_durable(path: Path, durable: bool, level: int) -> None:
    """SQLite: synchronous 2 is FULL, 0 is OFF (documentation of PRAGMA synchronous)."""
    with Logbook(path, durable=durable) as book:
        assert book._session.link.execute("PRAGMA synchronous").fetchone()[0] == level


def test_a_file_that_is_no_database_is_refused_and_left_alone(path: Path) -> None:
    """Somebody's text file is not overwritten."""
    path.write_text("dear diary, " * 200)
    before = path.read_bytes()
    for opening in (Logbook, Logbook.open_reader):
        with pytest.raises(LogbookError, match=r"this is not a logbook .* Move the file away"):
            opening(path)
    assert path.read_bytes() == before


def test_a_database_of_another_program_is_refused_and_left_alone(path: Path) -> None:
    """Its tables must not be mixed with ours."""
    with closing(sqlite3.connect(path)) as link:
        link.execute("CREATE TABLE stamps (country TEXT)")
    before = path.read_bytes()
    with pytest.raises(LogbookError, match=r"a database of another program. Use another file"):
        Logbook(path)
    assert path.read_bytes() == before


def test_a_folder_that_does_not_exist_is_named(tmp_path: Path) -> None:
    """The message carries the path and what to do."""
    path = tmp_path / "nowhere" / "logbook.sqlite"
    with pytest.raises(LogbookError) as caught:
        Logbook(path)
    assert str(caught.value) == (
        f"logbook {path}: the file cannot be opened"
        " (opening it: SQLITE_CANTOPEN: unable to open database file). Check that its folder exists and may be written."
    )


def test_a_reader_of_no_logbook_says_that_control_makes_it(path: Path) -> None:
    """And does not make one itself."""
    with pytest.raises(LogbookError, match=r"there is none yet. Start the controller first"):
        Logbook.open_reader(path)
    assert not path.exists()


def test_a_reader_of_an_older_logbook_says_that_control_updates_it(path: Path) -> None:
    """A file of zero bytes is the oldest there is."""
    path.touch()
    newest = database.migrations()[-1][0]
    with pytest.raises(LogbookError, match=rf"its version is 0, needed is {newest}. Start the controller first"):
        Logbook.open_reader(path)


def test_a_read_only_logbook_is_refused_at_opening(open_folder: Path) -> None:
    """It is found before the first exposure, and can still be read."""
    path = open_folder / "logbook.sqlite"
    with Logbook(path) as book:
        book.begin(new_exposure())
        path.chmod(0o444)
        open_folder.chmod(0o555)
        with without_rights():
            with pytest.raises(LogbookError, match=r"the file cannot be written .* Check owner"):
                Logbook(path)
            with Logbook.open_reader(path) as reader:
                assert [row["panel"] for row in reader.recent()] == ["P12"]


def test_a_logbook_in_a_folder_without_rights_is_refused_at_opening(open_folder: Path) -> None:
    """The write-ahead log needs the folder; the message says so."""
    path = open_folder / "logbook.sqlite"
    Logbook(path).close()
    open_folder.chmod(0o555)
    with without_rights(), pytest.raises(LogbookError, match="permissions of it and its folder"):
        Logbook(path)


def test_a_reader_cannot_write(path: Path) -> None:
    """The page's connection is read only by the way it is opened."""
    Logbook(path).close()
    with Logbook.open_reader(path) as reader:
        with pytest.raises(LogbookError, match="the file cannot be written") as caught:
            reader.begin(new_exposure())
        assert reader.recent() == []
    assert "Check owner and permissions of it and its folder" in str(caught.value)


def test_a_path_with_signs_that_mean_something_in_an_address_can_be_read(tmp_path: Path) -> None:
    """A question mark, a hash and a space are ordinary letters of a folder's name."""
    folder = tmp_path / "what? #1 50%20"
    folder.mkdir()
    Logbook(folder / "logbook.sqlite").close()
    with Logbook.open_reader(folder / "logbook.sqlite") as reader:
        assert reader.recent() == []


def test_a_reader_sees_whole_records_while_another_connection_writes(path: Path) -> None:
    """Neither waits for the other: the reader keeps its moment, the writer goes on."""
    with Logbook(path) as book, Logbook.open_reader(path) as reader:
        side_id = book.begin(new_exposure(sides="A")).side_ids["A"]
        with reader._session.reading("looking on"):
            before = reader._session.value("SELECT count(*) FROM dose_journal")
            for second in range(50):
                book.put_sides([state(side_id, float(second))], later(second))
            assert reader._session.value("SELECT count(*) FROM dose_journal") == before == 0
        assert len(reader.journal(side_id)) == 50


def test_a_refused_write_loses_nothing_and_the_logbook_goes_on(path: Path) -> None:
    """A full disk, made by the kernel's own limit on file sizes: clear message, then everything as before."""
    with Logbook(path) as book:
        side_id = book.begin(new_exposure(sides="A")).side_ids["A"]
        book.put_sides([state(side_id, 1.0)], later(1))
        with no_room(), pytest.raises(LogbookError, match="the disk refused to read or write") as caught:
            book.put_sides([state(side_id, 2.0)], later(2))
        assert caught.value.may_pass
        assert [line["dose_mj_cm2"] for line in book.journal(side_id)] == [1.0]
        book.put_sides([state(side_id, 3.0)], later(3))
        assert [line["dose_mj_cm2"] for line in book.journal(side_id)] == [1.0, 3.0]
    assert ask(path, "PRAGMA integrity_check") == [("ok",)]


def test_a_full_disk_is_called_full(path: Path) -> None:
    """SQLite's own word for it, by its limit on pages."""
    with Logbook(path) as book:
        side_id = book.begin(new_exposure(sides="A")).side_ids["A"]
        book._session.link.execute("PRAGMA max_page_count = 1")
        rng = random.Random(1)
        noise = [Sample(rng.random(), rng.random(), (1, 2, 3, 4, 5, 6), 5, 0) for _ in range(2000)]
        with pytest.raises(LogbookError, match=r"the disk is full .* Free some space") as caught:
            book.add_trace(TraceChunk(side_id, tuple(noise)))
        assert caught.value.may_pass
        assert book.trace(side_id) == []


def test_a_damaged_logbook_is_called_damaged(path: Path) -> None:
    """Pages overwritten with noise: the message tells what to do, nothing is made up."""
    with Logbook(path, durable=False) as book:
        for number in range(40):
            book.begin(new_exposure(f"P{number}"))
    raw = bytearray(path.read_bytes())
    raw[4096:] = os.urandom(len(raw) - 4096)
    path.write_bytes(raw)
    with (
        pytest.raises(LogbookError, match=r"the file is damaged .* put back a backup"),
        Logbook.open_reader(path) as reader,
    ):
        reader.recent()


def test_a_logbook_held_by_another_program_says_so(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Waiting for it is bounded."""
    monkeypatch.setattr(database, "BUSY_S", 0.05)
    with Logbook(path) as book:
        with held(path), pytest.raises(LogbookError, match="another program holds the file") as caught:
            book.begin(new_exposure())
        assert caught.value.may_pass
        book.begin(new_exposure())


def test_a_logbook_of_the_first_shape_is_brought_to_the_newest_with_its_panels(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As a box that is updated in the middle of its life finds it."""
    newest = database.migrations()
    monkeypatch.setattr(database, "migrations", lambda: newest[:1])
    database.connect_writer(path, durable=False).close()
    with closing(sqlite3.connect(path)) as link:
        link.execute("INSERT INTO panels (label, created_utc) VALUES ('P1', '2026-11-25T08:00:00.000000Z')")
        link.commit()
    monkeypatch.setattr(database, "migrations", lambda: newest)
    with Logbook(path) as book:
        assert book.calibrations.kept().calibrations == []
    assert ask(path, "SELECT label FROM panels") == [("P1",)]
