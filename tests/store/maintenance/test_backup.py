"""Backups while the box writes, restoring them, and refusing what would lose something."""

import os
import threading
from contextlib import closing
from pathlib import Path

import pytest

from sumlight.store.logbook import database
from sumlight.store.logbook.logbook import Logbook, LogbookError
from sumlight.store.maintenance.backup import back_up, put_back
from sumlight.store.maintenance.recovery import make_sound
from tests.store.filled import fill
from tests.store.making import START_UTC, ask, later, new_exposure, no_room, state


def test_a_backup_taken_while_the_box_writes_is_whole(path: Path, tmp_path: Path) -> None:
    """Of one moment: no journal row is newer than the side it belongs to."""
    fill(path, 120)
    stop = threading.Event()
    wrote: list[int] = []

    def write() -> None:
        with Logbook(path, durable=False) as book:
            side_id = book.begin(new_exposure(sides="A")).side_ids["A"]
            while not stop.is_set():
                wrote.append(len(wrote) + 1)
                book.put_sides([state(side_id, float(len(wrote)))], later(len(wrote)))

    thread = threading.Thread(target=write)
    thread.start()
    try:
        for number in range(3):
            target = tmp_path / f"copy-{number}.sqlite"
            size = back_up(path, target)
            assert size == target.stat().st_size > 100_000
            assert ask(target, "PRAGMA integrity_check") == [("ok",)]
            with Logbook.open_reader(target) as book:
                side = book.recent(1)[0]["sides"][0]
                journal = book.journal(side["side_id"])
                assert (journal[-1]["dose_mj_cm2"] if journal else 0.0) == side["dose_mj_cm2"]
    finally:
        stop.set()
        thread.join()
    assert len(wrote) > 10


def test_a_backup_put_back_is_the_logbook_again_and_the_other_is_kept(path: Path, tmp_path: Path) -> None:
    """Also on another card, where there was none."""
    fill(path, 3)
    back_up(path, tmp_path / "copy.sqlite")
    with Logbook(path) as book:
        book.begin(new_exposure(panel="later"))
    kept = put_back(path, tmp_path / "copy.sqlite", START_UTC)
    assert kept is not None
    with Logbook(path) as book, Logbook(kept) as other:
        assert [row["panel"] for row in book.recent()] == ["P3", "P2", "P1"]
        assert other.recent()[0]["panel"] == "later"
    (tmp_path / "card").mkdir()
    assert put_back(tmp_path / "card" / "logbook.sqlite", tmp_path / "copy.sqlite", START_UTC) is None
    with Logbook(tmp_path / "card" / "logbook.sqlite") as book:
        assert len(book.recent()) == 3


def test_no_backup_overwrites_a_file_or_is_left_half(path: Path, tmp_path: Path) -> None:
    """A full disk leaves no copy under its name."""
    fill(path, 40)
    (tmp_path / "there").touch()
    with pytest.raises(LogbookError, match="already"):
        back_up(path, tmp_path / "there")
    with no_room(100_000), pytest.raises(LogbookError, match=r"copying it to .*disk"):
        back_up(path, tmp_path / "copy.sqlite")
    assert [p.name for p in tmp_path.glob("copy*")] == []


def test_a_backup_of_a_damaged_logbook_gets_no_name(path: Path, tmp_path: Path) -> None:
    """It would be taken for a sound one on the day it is needed."""
    fill(path, 30)
    with closing(database.connect_writer(path, durable=False)) as link:
        link.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    with path.open("rb+") as file:
        file.seek(4096 * 8)
        file.write(b"\xff" * 4096 * 4)
    with pytest.raises(LogbookError, match="the copy is damaged"):
        back_up(path, tmp_path / "copy.sqlite")
    assert [p.name for p in tmp_path.glob("copy*")] == []


def test_a_damaged_or_foreign_file_is_not_put_back(path: Path, tmp_path: Path) -> None:
    """The logbook stays where it is."""
    fill(path, 30)
    back_up(path, tmp_path / "copy.sqlite")
    with (tmp_path / "copy.sqlite").open("rb+") as file:
        file.seek(4096 * 8)
        file.write(b"\xff" * 4096 * 4)
    (tmp_path / "text.txt").write_text("not a logbook")
    for wrong in ("copy.sqlite", "text.txt", "missing"):
        with pytest.raises(LogbookError):
            put_back(path, tmp_path / wrong, START_UTC)
    with Logbook(path) as book:
        assert len(book.recent(50)) == 30
    assert list(tmp_path.glob("*.part")) == []


def test_a_power_cut_within_a_restore_is_carried_to_its_end(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The old one is away, the new one without its name: the next start gives it. Half a copy never becomes one."""
    fill(path, 3)
    back_up(path, tmp_path / "copy.sqlite")

    def cut(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", cut)
        with pytest.raises(KeyboardInterrupt):
            put_back(path, tmp_path / "copy.sqlite", START_UTC)
    assert not path.exists()
    assert make_sound(path, START_UTC) is None
    with Logbook(path) as book:
        assert len(book.recent()) == 3
    half = tmp_path / "card" / "logbook.sqlite"
    half.parent.mkdir()
    (half.parent / "logbook.sqlite.part").touch()
    assert make_sound(half, START_UTC) is None
    assert not half.exists()
