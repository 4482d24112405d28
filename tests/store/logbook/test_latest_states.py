"""The newest states beside the logbook: believed after a kill of the process, never after a power cut."""

import hashlib
import json
import shutil
import sqlite3
import threading
import tracemalloc
from collections.abc import Iterator
from contextlib import AbstractContextManager, closing, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from sumlight.store.logbook import database, latest_states
from sumlight.store.logbook.latest_states import LatestStates, path_beside, take_up
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.records import SideState, TraceChunk
from sumlight.store.logbook.writer import LogWriter
from tests.store.making import ask, later, new_exposure, sample, state

SOON_S = 20.0


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A logbook in a folder of its own."""
    return tmp_path / "logbook.sqlite"


@pytest.fixture(autouse=True)
def boot(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A start of the computer that the test can repeat."""
    found = tmp_path / "boot_id"
    found.write_text("first")
    monkeypatch.setattr(latest_states, "BOOT", found)
    return found


def lit(side_id: int, dose_mj_cm2: float) -> SideState:
    """A side under 10 mW/cm²."""
    return replace(state(side_id, dose_mj_cm2), state="lit", lit_s=dose_mj_cm2 / 10)


def killed(path: Path) -> int:
    """A side that the logbook knows up to 1 mJ/cm², and the file beside it up to 3."""
    with closing(Logbook(path)) as book:
        side_id = book.begin(new_exposure(sides="A")).side_ids["A"]
        book.put_sides([lit(side_id, 1.0)], later(1))
    beside = LatestStates(path)
    for dose in (1.0, 1.5, 3.0):
        assert beside.put([(lit(side_id, dose), later(2))])
    beside.close()
    return side_id


def known_mj_cm2(path: Path) -> float:
    """The dose that the logbook knows of."""
    ((found,),) = ask(path, "SELECT dose_mj_cm2 FROM sides")
    assert isinstance(found, float)
    return found


def test_after_a_kill_the_newest_state_is_taken_up(path: Path) -> None:
    """With the longest light between two of its states; doing it twice changes nothing."""
    killed(path)
    with closing(Logbook(path)) as book:
        assert take_up(book, path) == {"A": pytest.approx(0.15)}
        left = book.interrupted()
        assert left is not None
        assert left.sides[0][1].dose_mj_cm2 == 3.0
        assert left.last_known_utc == later(2)
        assert take_up(book, path) == {"A": pytest.approx(0.15)}
    assert ask(path, "SELECT dose_mj_cm2 FROM dose_journal") == [(1.0,), (3.0,)]


def test_after_a_power_cut_it_is_not_believed(path: Path, boot: Path) -> None:
    """The computer was started anew: what the disk holds of the file may be of any moment."""
    killed(path)
    boot.write_text("second")
    with closing(Logbook(path)) as book:
        assert take_up(book, path) == {}
    assert known_mj_cm2(path) == 1.0


def test_beside_another_logbook_it_is_not_believed(path: Path) -> None:
    """A backup was put back, whose side of that number is another one."""
    killed(path)
    shutil.copy(path, path.with_name("copy"))
    path.with_name("copy").replace(path)
    with closing(Logbook(path)) as book:
        assert take_up(book, path) == {}
    assert known_mj_cm2(path) == 1.0


def spoilt(raw: bytes) -> Iterator[bytes]:
    """Damage of every kind."""
    yield b""
    yield raw.replace(b'"dose_mj_cm2": 3.0', b'"dose_mj_cm2": 9.0')
    yield raw[:100]
    yield b"\xff" * 4096
    body = json.loads(raw.split(b"\n", 1)[1])
    for side in ({"side_id": 1}, {**body["sides"][0], "lit_s": float("inf")}, {**body["sides"][0], "utc": "soon"}, 5):
        text = json.dumps({**body, "sides": [side]}).encode()
        yield hashlib.sha256(text).hexdigest().encode() + b"\n" + text


def test_a_damaged_file_is_as_good_as_none(path: Path) -> None:
    """Cut short, changed, foreign, or with figures that cannot be."""
    killed(path)
    beside = path_beside(path)
    raw = beside.read_bytes()
    for damage in spoilt(raw):
        beside.write_bytes(damage)
        with closing(Logbook(path)) as book:
            assert take_up(book, path) == {}, damage[:90]
    beside.unlink()
    with closing(Logbook(path)) as book:
        assert take_up(book, path) == {}
    assert known_mj_cm2(path) == 1.0


def test_it_never_takes_a_side_back(path: Path) -> None:
    """A record that is newer, a side that is not under light any more, an exposure that has ended: all stay."""
    side_id = killed(path)
    for newer in (
        lit(side_id, 4.0),
        replace(lit(side_id, 2.0), lit_s=1.0),
        replace(lit(side_id, 2.0), state="done"),
        replace(lit(side_id, 2.0), lit_s=0.1),
    ):
        with closing(Logbook(path)) as book:
            book.put_sides([newer], later(3))
            if newer.state == "lit" and newer.lit_s < 0.3:
                book.put_sides([replace(newer, dose_mj_cm2=5.0)], later(3))
            before = known_mj_cm2(path)
            assert take_up(book, path) == {}
        assert known_mj_cm2(path) == before
    with closing(Logbook(path)) as book:
        left = book.interrupted()
        assert left is not None
        book.finish(left.exposure_id, "abandoned", False, later(4))
        assert take_up(book, path) == {}


@contextmanager
def gathering(path: Path) -> Iterator[tuple[LogWriter, int]]:
    """A writer that writes states of light once in half an hour, and a side whose first state is written."""
    log = LogWriter(path, threaded=True, gather_s=1800.0)
    try:
        ticket = log.begin(new_exposure(sides="A"))
        assert ticket.wait(SOON_S)
        assert ticket.value is not None
        side_id = ticket.value.side_ids["A"]
        log.put_sides([lit(side_id, 0.5)], later(1))
        until_beside(path, 0.5)
        until_known(path, 0.5)
        yield log, side_id
    finally:
        log.close()


def until_known(path: Path, dose_mj_cm2: float) -> None:
    """Wait until the logbook holds this dose."""
    for _ in range(2000):
        if known_mj_cm2(path) == dose_mj_cm2:
            return
        threading.Event().wait(0.005)
    pytest.fail("the state did not come to the logbook")


def until_beside(path: Path, dose_mj_cm2: float) -> None:
    """Wait until the file beside the logbook holds this dose."""
    for _ in range(2000):
        with closing(Logbook.open_reader(path)) as _book:
            kept = latest_states._read(path)
        if [each.dose_mj_cm2 for each, _, _ in kept.values()] == [dose_mj_cm2]:
            return
        threading.Event().wait(0.005)
    pytest.fail("the state did not come to the file")


def test_states_of_light_wait_beside_the_logbook_and_are_written_together(path: Path) -> None:
    """Of four states the logbook gets the last one, when somebody waits for it; the file had each at once."""
    with gathering(path) as (log, side_id):
        for dose in (1.0, 1.5, 2.0):
            log.put_sides([lit(side_id, dose)], later(dose))
            until_beside(path, dose)
        assert known_mj_cm2(path) == 0.5
        assert log.drain(SOON_S)
        assert known_mj_cm2(path) == 2.0


def test_a_side_that_goes_dark_is_written_at_once(path: Path) -> None:
    """So is everything else, and what was put before it comes first."""
    with gathering(path) as (log, side_id):
        log.put_sides([lit(side_id, 1.0)], later(1))
        log.put_sides([replace(lit(side_id, 1.5), state="cut")], later(2))
        until_beside(path, 1.5)
        until_known(path, 1.5)
    with gathering_again(path) as (log, exposure_id, side_id):
        log.put_sides([lit(side_id, 2.0)], later(3))
        until_known(path, 2.0)
        log.put_sides([lit(side_id, 3.0)], later(4))
        ended = log.finish(exposure_id, "abandoned", False, later(5))
        assert ended.wait(SOON_S)
        assert ended.error is None
        assert known_mj_cm2(path) == 3.0


@contextmanager
def gathering_again(path: Path) -> Iterator[tuple[LogWriter, int, int]]:
    """The same exposure with another writer."""
    with closing(Logbook(path)) as book:
        left = book.interrupted()
        assert left is not None
    log = LogWriter(path, threaded=True, gather_s=1800.0)
    try:
        yield log, left.exposure_id, left.sides[0][1].side_id
    finally:
        log.close()


def test_what_goes_together_is_synced_once(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Samples and use of lamps wait for the state of their side, whose sync (FULL, 2) is for all three."""
    levels: list[int] = []
    plain = database.transaction

    def noted(link: sqlite3.Connection, *more: Any, write: bool) -> AbstractContextManager[None]:
        if write:
            levels.append(link.execute("PRAGMA synchronous").fetchone()[0])
        return plain(link, *more, write=write)

    with gathering(path) as (log, side_id):
        monkeypatch.setattr(database, "transaction", noted)
        with log._change:  # all three come within one tick; a machine that is busy must not part them
            log.add_lamp_use("lower", 5.0, 0)
            log.add_trace(TraceChunk(side_id, (sample(1),)))
            log.put_sides([lit(side_id, 1.0)], later(1))
        until_beside(path, 1.0)
        assert levels == []
        assert log.drain(SOON_S)
        assert levels == [1, 1, 2]


def test_the_log_has_its_room_from_the_start_and_what_is_in_it_is_found_after_a_kill(path: Path) -> None:
    """Round after round: copied as they lie there, file and log hold every record that was written."""
    with gathering(path) as (log, side_id):
        wal = path.with_name(f"{path.name}-wal")
        room = wal.stat().st_size
        assert room == database.ROOM_BYTES
        for number in range(1, 111):
            log.put_sides([lit(side_id, float(number))], later(number))
            assert log.drain(SOON_S)
            if number % 20 == 0:
                there = path.with_name(f"killed{number}")
                there.mkdir()
                for name in (path.name, wal.name):
                    shutil.copy(path.with_name(name), there)
                assert known_mj_cm2(there / path.name) == number
                assert ask(there / path.name, "PRAGMA integrity_check") == [("ok",)]
        assert wal.stat().st_size == room


def test_closing_writes_what_has_waited(path: Path) -> None:
    """As control does when it ends."""
    with gathering(path) as (log, side_id):
        log.put_sides([lit(side_id, 7.0)], later(1))
    assert known_mj_cm2(path) == 7.0


def test_where_the_file_cannot_be_written_every_state_goes_into_the_logbook(path: Path) -> None:
    """Nothing is risked for the card's sake."""
    path_beside(path).mkdir()
    log = LogWriter(path, threaded=True, gather_s=1800.0)
    try:
        ticket = log.begin(new_exposure(sides="A"))
        assert ticket.wait(SOON_S)
        assert ticket.value is not None
        for dose in (1.0, 2.0):
            log.put_sides([lit(ticket.value.side_ids["A"], dose)], later(dose))
            until_known(path, dose)
    finally:
        log.close()


def test_states_that_do_not_fit_into_a_block_are_not_kept(path: Path) -> None:
    """They are written to the logbook then, as where the file cannot be written."""
    Logbook(path).close()
    beside = LatestStates(path)
    assert not beside.put([(lit(side_id, 1.0), later(1)) for side_id in range(100)])
    beside.close()


def test_of_ended_sides_nothing_is_remembered(path: Path) -> None:
    """Control runs for years and panels follow each other: what it keeps of them must not grow, but both sides stay."""
    Logbook(path).close()
    beside = LatestStates(path)
    for side_id in range(1, 2001):
        assert beside.put([(lit(side_id, dose), later(1)) for dose in (1.0, 1.5)])
    tracemalloc.start()
    try:
        before, _ = tracemalloc.get_traced_memory()
        for side_id in range(2001, 4001):
            assert beside.put([(lit(side_id, dose), later(1)) for dose in (1.0, 1.5)])
        grown = tracemalloc.get_traced_memory()[0] - before
    finally:
        tracemalloc.stop()
    assert beside.put([(lit(3999, 2.0), later(1)), (lit(4000, 2.0), later(1))])
    beside.close()
    sides = json.loads(path_beside(path).read_bytes()[65:].rstrip(b" \0"))["sides"]
    assert [side["between_s"] for side in sides] == pytest.approx([0.05, 0.05])
    assert grown < 50_000
