"""Old traces go in small steps, each recorded with what it removed; compacting survives every power cut."""

import shutil
from datetime import timedelta
from pathlib import Path
from random import Random
from types import SimpleNamespace

import pytest

from sumlight.store.logbook import pruning
from sumlight.store.logbook.logbook import Logbook, LogbookError
from sumlight.store.logbook.pruning import BATCH, Pruning, compact
from sumlight.store.maintenance.integrity import check
from sumlight.text.message import as_written
from tests.store.crashdisk import CrashDisk
from tests.store.filled import fill
from tests.store.making import START_UTC, ask, held, later, no_room

CUTS = 60


def remove(book: Logbook, work: Pruning) -> int:
    """All of it; returns how many steps it took."""
    steps = 0
    while not work.finished:
        book.care.remove_old_traces(work, later(9999))
        steps += 1
    return steps


def everything(path: Path) -> list[tuple[object, ...]]:
    """Every row of every table."""
    tables = ask(path, "SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
    return [row for (table,) in tables for row in ask(path, f"SELECT '{table}', * FROM {table} ORDER BY 2")]


def test_old_traces_go_and_nothing_else(path: Path) -> None:
    """Doses and journals stay; what is newer stays whole; it is told before as it is done."""
    fill(path, 10)
    with Logbook(path) as book:
        told = book.care.old_traces(later(60 * 5))
        assert (told.removed, len(book.trace(1))) == (5, 100)
        work = Pruning(later(60 * 5))
        remove(book, work)
        assert (work.removed, work.size, work.words) == (5, told.size, told.words)
        assert [len(book.trace(side_id)) for side_id in range(1, 11)] == [0] * 5 + [100] * 5
        assert len(book.journal(1)) == 9
        assert book.recent()[-1]["sides"][0]["dose_mj_cm2"] == 60.0
        assert [(row["what"], row["told"]) for row in book.care.upkeep()] == [("tidied", work.words)]


def test_each_step_is_small_and_recorded_with_what_it_removed(path: Path) -> None:
    """Broken off after any step the record tells what is gone; it goes on in the same row."""
    fill(path, 3 * BATCH)
    work = Pruning(later(10**6))
    with Logbook(path) as book:
        for step in range(1, 4):
            book.care.remove_old_traces(work, later(9999))
            assert work.removed == step * BATCH
            assert ask(path, "SELECT count(*) FROM traces") == [((3 - step) * BATCH,)]
            assert [row["told"] for row in book.care.upkeep()] == [work.words]
        assert not work.finished
        assert remove(book, work) == 1


def test_a_removal_ends_where_the_newer_ones_begin(path: Path) -> None:
    """It does not look through ten years for one night's work."""
    fill(path, 3 * BATCH)
    with Logbook(path) as book:
        book._session.link.execute("UPDATE exposures SET started_utc = ended_utc")
        work = Pruning(later(60 * 5))
        assert remove(book, work) == 1
        assert work.removed == 5


def test_traces_of_unsure_or_unended_exposures_stay(path: Path) -> None:
    """Nobody knows how old they are."""
    fill(path, 4)
    with Logbook(path) as book:
        book._session.link.execute("UPDATE exposures SET utc_unsure = 1 WHERE exposure_id = 2")
        book._session.link.execute("UPDATE exposures SET ended_utc = NULL, outcome = NULL WHERE exposure_id = 3")
        remove(book, Pruning(later(10**6)))
        assert [len(book.trace(side_id)) for side_id in range(1, 5)] == [0, 100, 100, 0]


def test_a_clock_that_runs_ahead_does_not_empty_the_logbook(path: Path) -> None:
    """Age is counted from the newest exposure."""
    fill(path, 2)
    with Logbook(path) as book:
        assert book.care.traces_kept_from(START_UTC + timedelta(days=9000), 100) == START_UTC - timedelta(days=100)
        assert book.care.traces_kept_from(START_UTC - timedelta(days=1), 100) == START_UTC - timedelta(days=101)


def test_of_nightly_looks_only_the_newest_sound_one_is_told(path: Path) -> None:
    """What was removed or found damaged is not pushed out by them."""
    with Logbook(path) as book:
        for number, told in enumerate(["sound", "page 3 makes no sense", "sound", "sound"]):
            book.note_maintenance("checked", as_written(told), later(number))
        book.note_maintenance("tidied", as_written("some"), later(9))
        seen = [(row["done_utc"][17:19], row["told"]) for row in book.care.upkeep()]
    assert seen == [("09", "some"), ("03", "sound"), ("01", "page 3 makes no sense")]


def test_nothing_to_remove_leaves_no_note(path: Path) -> None:
    """The list of what was done tells of things done."""
    fill(path, 2)
    with Logbook(path) as book:
        remove(book, Pruning(later(0)))
        assert book.care.upkeep() == []


@pytest.mark.long
def test_compacting_gives_room_back_and_says_how_much(path: Path) -> None:
    """And changes no row."""
    fill(path, 200)
    with Logbook(path) as book:
        remove(book, Pruning(later(10**6)))
        free = book.care.room().free
        assert free > 40_000
    before = everything(path)
    was, now = compact(path, later(0))
    assert was - now == pytest.approx(free, rel=0.2)
    assert path.stat().st_size == now
    assert [row for row in everything(path) if "compacted" not in row] == before
    with Logbook(path) as book:
        assert book.care.room().free == 0
        assert book.care.upkeep()[0]["told"] == f"From {was / 1e6:.1f} to {now / 1e6:.1f} MB."


def test_compacting_without_room_changes_nothing_and_says_how_much_it_needs(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Looked at before it begins."""
    fill(path, 5)
    before = path.read_bytes()
    monkeypatch.setattr(shutil, "disk_usage", lambda place: SimpleNamespace(free=1_000_000))
    with pytest.raises(LogbookError, match=r"MB free in .*there are 1 MB"):
        compact(path, later(0))
    assert path.read_bytes() == before


def test_a_disk_that_fills_up_while_compacting_changes_no_row(path: Path) -> None:
    """Found too late by the look before: SQLite takes it back."""
    fill(path, 40)
    before = everything(path)
    with no_room(path.stat().st_size // 2), pytest.raises(LogbookError, match=r"disk|full"):
        compact(path, later(0))
    assert everything(path) == before
    assert check(path).problems == ()


def test_compacting_keeps_out_and_is_kept_out(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another program writes to it: told, unchanged. There is none: told."""
    monkeypatch.setattr("sumlight.store.logbook.database.BUSY_S", 0.05)
    fill(path, 5)
    with held(path), pytest.raises(LogbookError, match="another program"):
        compact(path, later(0))
    with pytest.raises(LogbookError, match="none yet"):
        compact(tmp_path / "other.sqlite", later(0))


def test_temporary_files_go_where_sqlite_puts_them(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The order that SQLite documents."""
    monkeypatch.setenv("SQLITE_TMPDIR", str(tmp_path))
    assert pruning._temporary_folder() == tmp_path
    monkeypatch.setenv("SQLITE_TMPDIR", str(tmp_path / "missing"))
    monkeypatch.delenv("TMPDIR", raising=False)
    assert pruning._temporary_folder() == Path("/var/tmp")


@pytest.mark.long
def test_a_power_cut_while_compacting_loses_nothing(tmp_path: Path) -> None:
    """At any write of it: sound, and every row as before."""
    path = tmp_path / "run" / "logbook.sqlite"
    path.parent.mkdir()
    fill(path, 40)
    with Logbook(path) as book:
        remove(book, Pruning(later(60 * 20)))
    before, chance = everything(path), Random(6)
    left: list[Path] = []

    def cut(number: int) -> None:
        if len(left) < CUTS and chance.random() < 0.2:
            left.append(tmp_path / f"cut{len(left)}" / "logbook.sqlite")
            disk.power_cut(left[-1].parent, chance)

    disk = CrashDisk(cut)
    with disk:
        compact(path, later(0))
    assert len(left) > CUTS / 2
    sizes = set()
    for found in left:
        Logbook(found).close()
        assert check(found).problems == ()
        assert [row for row in everything(found) if "compacted" not in row] == before
        sizes.add(found.stat().st_size)
    assert len(sizes) > 1, "no cut came after the file had become shorter"
