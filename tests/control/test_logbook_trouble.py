"""A disk that is full, or a logbook that cannot be written: clear words, dark lamps, and nothing recorded is lost."""

import sqlite3
from pathlib import Path

import pytest

from sumlight.store.logbook import file_identity
from sumlight.store.logbook.logbook import LogbookError
from sumlight.text.message import say
from tests.control.bench_box import BenchBox, demo_box
from tests.control.conftest import MakeBench
from tests.store.making import ask, no_room, without_rights


def read_only(bench: BenchBox, on: bool) -> None:
    """The card turns read-only, as a worn one does, or is writable again."""
    book = bench.daemon.writer._logbook
    assert book is not None
    book._session.link.execute(f"PRAGMA query_only = {'ON' if on else 'OFF'}")


class BadCard:
    """The connection to a logbook whose file SQLite finds broken."""

    def __init__(self, link: sqlite3.Connection) -> None:
        self.link = link

    def execute(self, *_: object) -> None:
        """Refuses, as SQLite does when a page makes no sense."""
        error = sqlite3.DatabaseError("database disk image is malformed")
        error.sqlite_errorname = "SQLITE_CORRUPT"
        raise error

    def close(self) -> None:
        """Let the real connection go."""
        self.link.close()

    @property
    def in_transaction(self) -> bool:
        """Never gets that far."""
        return False


def test_a_disk_that_fills_up_under_light_darkens_with_a_fault_of_its_own(bench: BenchBox) -> None:
    """SQLite itself finds no room; with room again everything that waited is written and the panel goes on."""
    bench.light_up(dose_mj_cm2=400, time_guard_s=500)
    book = bench.daemon.writer._logbook
    assert book is not None
    book._session.link.execute("PRAGMA max_page_count = 1")  # SQLite makes that the present size
    bench.until(lambda: bool(bench.faults))
    assert bench.faults == ["disk_full"]
    assert not bench.any_relay_lights()
    assert "disk is full" in bench.loop.desk.standing()[0].detail
    assert bench.ask("acknowledge") == {"cleared": [], "standing": ["disk_full"]}
    dose = bench.side().dose_mj_cm2
    book._session.link.execute("PRAGMA max_page_count = 1000000")
    assert bench.daemon.writer.drain(0)
    assert bench.ask("acknowledge") == {"cleared": ["disk_full"], "standing": []}
    with bench.logbook() as reader:
        assert reader.recent()[0]["sides"][0]["dose_mj_cm2"] == dose
    bench.ask("go")
    bench.until(bench.any_light)
    assert bench.daemon.writer.lost_count == 0


def test_a_logbook_damaged_under_light_darkens_with_a_fault_of_its_own(bench: BenchBox) -> None:
    """Told apart from a full card: here the remedy is a backup."""
    bench.light_up()
    book = bench.daemon.writer._logbook
    assert book is not None
    sound = book._session.link
    book._session.link = BadCard(sound)  # type: ignore[assignment]
    at_s = bench.clock.now_s
    bench.run(1.0)
    assert bench.faults == ["logbook_damaged"]
    assert bench.switched_off_after(at_s) <= 0.3
    assert "put back a backup" in bench.loop.desk.standing()[0].detail
    book._session.link = sound
    assert bench.daemon.writer.drain(0)
    assert bench.ask("acknowledge") == {"cleared": ["logbook_damaged"], "standing": []}


def test_a_full_disk_at_the_start_of_control_is_told(tmp_path: Path) -> None:
    """Before any pin is touched."""
    (tmp_path / "recipes").mkdir()
    with no_room(), pytest.raises(LogbookError, match=r"logbook\.sqlite.*disk"):
        BenchBox(tmp_path)


def test_a_read_only_logbook_at_the_start_of_control_is_told_and_kept(open_folder: Path) -> None:
    """What it holds is still there."""
    first = BenchBox(open_folder).start()
    first.until_state("done")
    first.close()
    path = open_folder / "logbook.sqlite"
    path.chmod(0o444)
    (open_folder / ".in-use").chmod(0o644)  # the lock is no hindrance here
    open_folder.chmod(0o555)
    box = demo_box()
    with without_rights(), pytest.raises(LogbookError, match="cannot be written"):
        BenchBox(open_folder, box=box)
    open_folder.chmod(0o755)
    path.chmod(0o644)
    again = BenchBox(open_folder)
    with again.logbook() as book:
        assert [row["outcome"] for row in book.recent()] == ["completed"]
    again.close()


@pytest.mark.parametrize("trouble", ["full", "read-only"])
def test_a_start_that_cannot_be_recorded_lights_nothing(bench: BenchBox, trouble: str) -> None:
    """A fault with the reason; once there is room, acknowledged and started anew."""
    bench.ready()
    if trouble == "full":
        with no_room():
            bench.ask("start", recipe="quick")
            bench.run(2.0)
            snapshot = bench.snapshot()
    else:
        read_only(bench, True)
        bench.ask("start", recipe="quick")
        bench.run(2.0)
        snapshot = bench.snapshot()
        read_only(bench, False)
    assert bench.faults == ["logbook_failed"]
    assert snapshot["logbook"]["ok"] is False
    assert "logbook.sqlite" in snapshot["faults"][0]["detail"]
    assert [level for _, level in bench.pin(17).history] == [None, True]
    bench.daemon.writer.drain(0)  # with a thread of its own the writer tries again by itself
    bench.ask("acknowledge")
    bench.start().until_state("done")
    assert bench.true_dose() == pytest.approx(20, rel=0.003)


def test_a_beginning_that_was_lost_is_told_although_the_next_record_is_written(bench: BenchBox) -> None:
    """The card has room again before control looks: what was refused lights nothing all the same, and says so."""
    bench.ready()
    read_only(bench, True)
    bench.ask("start", recipe="quick")
    read_only(bench, False)
    bench.daemon.writer.add(
        "a word", lambda book: book.note_maintenance("checked", say("logbook_is_sound"), bench.clock.utc())
    )
    assert bench.daemon.writer.error is None
    bench.run(0.1)
    assert bench.faults == ["logbook_failed"]
    assert [level for _, level in bench.pin(17).history] == [None, True]


@pytest.mark.parametrize("trouble", ["full", "read-only"])
def test_a_logbook_that_fails_under_light_darkens_and_loses_nothing(bench: BenchBox, trouble: str) -> None:
    """Dark within a journal's interval; what was written stays, what waits is written later; the panel goes on."""
    bench.light_up(dose_mj_cm2=40)
    rows = len(ask(bench.data / "logbook.sqlite", "SELECT * FROM dose_journal"))
    at_s = bench.clock.now_s
    if trouble == "full":
        with no_room():
            bench.run(2.0)
    else:
        read_only(bench, True)
        bench.run(2.0)
        read_only(bench, False)
    assert bench.faults == ["logbook_failed"]
    assert bench.switched_off_after(at_s) <= 0.26
    assert bench.ask("acknowledge") == {"cleared": [], "standing": ["logbook_failed"]}
    assert len(ask(bench.data / "logbook.sqlite", "SELECT * FROM dose_journal")) >= rows
    bench.daemon.writer.drain(0)
    assert bench.daemon.writer.lost_count == 0
    with bench.logbook() as book:
        row = book.recent()[0]
        full = book.exposure(row["exposure_id"])
    assert row["sides"][0]["dose_mj_cm2"] == pytest.approx(bench.side().dose_mj_cm2)
    assert full is not None
    assert [fault["name"] for fault in full["faults"]] == ["logbook_failed"]
    assert bench.ask("acknowledge") == {"cleared": ["logbook_failed"], "standing": []}
    bench.ask("go")
    bench.until_state("done")
    assert abs(bench.true_dose() - 40) <= bench.side().sum.doubt_mj_cm2 + 0.12
    with bench.logbook() as book:
        trace = book.trace(1)
        assert book.recent()[0]["outcome"] == "completed"
    assert [sample.end_s for sample in trace] == sorted({sample.end_s for sample in trace})


def test_no_start_while_the_logbook_cannot_be_written(bench: BenchBox) -> None:
    """Refused with the reason, without a fault."""
    bench.ready()
    read_only(bench, True)
    bench.daemon.writer.add_lamp_use("lower", 0.0, 0)
    error = bench.refused("start", recipe="quick")
    assert error.code == "refused"
    assert "cannot be written" in error.message
    assert error.message.endswith(".")
    assert not error.message.endswith("..")
    read_only(bench, False)
    bench.daemon.writer.drain(0)
    bench.start().until_state("done")


def test_a_kill_while_the_disk_is_full_still_offers_what_was_written(make_bench: MakeBench) -> None:
    """No corrupt file, the dose up to the trouble."""
    bench = make_bench().light_up(dose_mj_cm2=40)
    dose = bench.side().dose_mj_cm2
    with no_room():
        bench.run(1.0)
        bench.kill()
    after = make_bench()
    assert after.state == "paused"
    assert abs(dose - after.side().dose_mj_cm2) <= 0.5 * 4.6
    assert ask(after.data / "logbook.sqlite", "PRAGMA integrity_check") == [("ok",)]


def test_a_writer_with_its_own_thread_records_the_same(make_bench: MakeBench) -> None:
    """As on a real box: nothing is lit before the beginning is on disk, and all is there in the end."""
    bench = make_bench(threaded=True)
    bench.ready()
    bench.ask("start", recipe="quick", panel="P7")
    while bench.state != "done":
        bench.step()
        assert not bench.any_relay_lights() or bench.exposure.record_ready
    assert bench.daemon.writer.drain(10.0)
    with bench.logbook() as book:
        row = book.recent()[0]
        assert (row["panel"], row["outcome"]) == ("P7", "completed")
        assert row["sides"][0]["dose_mj_cm2"] == pytest.approx(bench.side().dose_mj_cm2)
        assert len(book.trace(row["sides"][0]["side_id"])) > 100


def test_a_logbook_moved_away_under_light_ends_the_light(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """As with any logbook that cannot be written; back in its place, the panel goes on."""
    monkeypatch.setattr(file_identity, "LOOK_S", 0.0)  # the bench is faster than real time, by which that is counted
    bench.light_up(dose_mj_cm2=40)
    path = bench.data / "logbook.sqlite"
    path.rename(path.with_name("away.sqlite"))
    bench.run(0.4)
    assert bench.faults == ["logbook_failed"]
    assert not bench.any_relay_lights()
    assert "it is gone from its place" in bench.snapshot()["faults"][0]["detail"]
    path.with_name("away.sqlite").rename(path)
    bench.daemon.writer.drain(0)
    bench.run(1.0)
    bench.ask("acknowledge")
    bench.ask("go")
    bench.until_state("done")
    assert bench.side().dose_mj_cm2 == pytest.approx(40, rel=0.003)
