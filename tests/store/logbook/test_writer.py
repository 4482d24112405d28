"""The writer's thread: nothing waits for the disk, nothing is lost, and trouble is told."""

import logging
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from sumlight.store.logbook import database, file_identity, writer
from sumlight.store.logbook.lamps import LampRegister
from sumlight.store.logbook.logbook import Logbook, LogbookError
from sumlight.store.logbook.records import FaultRecord, LampReading, Pause, TraceChunk
from sumlight.store.logbook.writer import LogWriter, Ticket
from sumlight.text.message import as_written
from tests.store.making import ask, held, later, new_exposure, no_room, sample, state

SOON_S = 60.0


@pytest.fixture(autouse=True)
def quick_retries(monkeypatch: pytest.MonkeyPatch) -> None:
    """Retry at a pace for tests."""
    monkeypatch.setattr(writer, "RETRY_S", 0.01)
    monkeypatch.setattr(database, "BUSY_S", 0.02)


@contextmanager
def writing(path: Path, *, threaded: bool = True) -> Iterator[LogWriter]:
    """A writer that is closed at the end, whatever happens."""
    log = LogWriter(path, threaded=threaded)
    try:
        yield log
    finally:
        log.close()


def begun_side(log: LogWriter) -> tuple[int, int]:
    """Begin an exposure of one side: (exposure, side)."""
    ticket = log.begin(new_exposure(sides="A"))
    assert ticket.wait(SOON_S)
    assert ticket.value is not None
    return ticket.value.exposure_id, ticket.value.side_ids["A"]


def until(condition: Callable[[], Any], log: LogWriter) -> None:
    """Wait for what the writer's thread brings about."""
    pause = threading.Event()
    for _ in range(1000):
        if condition():
            return
        pause.wait(0.01)
    pytest.fail(f"it did not happen; error: {log.error}")


def doses(path: Path, side_id: int) -> list[float]:
    """The journal of a side as a reader sees it."""
    with Logbook.open_reader(path) as reader:
        return [line["dose_mj_cm2"] for line in reader.journal(side_id)]


@pytest.mark.parametrize("threaded", [True, False])
def test_everything_handed_over_is_in_the_logbook_after_close(path: Path, threaded: bool) -> None:
    """Every kind of record, with and without a thread."""
    with writing(path, threaded=threaded) as log:
        exposure_id, side_id = begun_side(log)
        log.put_sides([state(side_id, 5.0)], later(1))
        log.add_trace(TraceChunk(side_id, (sample(1), sample(2))))
        log.add_pause(Pause(exposure_id, "lid", later(2), 1.5))
        log.add_fault(FaultRecord("meter_lost", as_written("no answer"), exposure_id, later(3)))
        log.clear_fault("meter_lost", later(4), "bench")
        log.add_lamp_use("lower", 10.0, 1)
        log.add_lamp_reading(LampReading("lower", side_id, later(5), 4.9, 30.0))
        log.put_bank_state("lower", 0.01, 5)
        ended = log.finish(exposure_id, "completed", False, later(6))
    assert (ended.done, ended.error, ended.value, log.error, log.lag_s) == (True, None, None, None, 0.0)
    with Logbook.open_reader(path) as reader:
        found = reader.exposure(exposure_id)
        assert found is not None
        assert found["outcome"] == "completed"
        assert found["journal_length"] == len(found["pauses"]) == len(found["faults"]) == 1
        assert found["faults"][0]["cleared_by"] == "bench"
        assert reader.trace(side_id) == [sample(1), sample(2)]
        assert reader.bank_state("lower").gain_code == 5
        assert reader.lamps.lamp_readings("lower")[0]["lit_s"] == 10.0


def test_without_a_thread_a_record_is_written_when_the_call_returns(path: Path) -> None:
    """The stepped twin sees its own records at once."""
    with writing(path, threaded=False) as log:
        ticket = log.begin(new_exposure(sides="A"))
        assert ticket.done
        assert ticket.value is not None
        log.put_sides([state(ticket.value.side_ids["A"], 5.0)], later(1))
        assert doses(path, ticket.value.side_ids["A"]) == [5.0]
        assert log.drain(0)


@pytest.mark.parametrize("threaded", [True, False])
def test_a_logbook_that_cannot_be_opened_is_told_at_once(path: Path, threaded: bool) -> None:
    """A garbage file stops the start, with the logbook's own message, and leaves no thread."""
    path.write_bytes(b"garbage " * 500)
    with pytest.raises(LogbookError, match=r"this is not a logbook .* Move the file away"):
        LogWriter(path, threaded=threaded)


@pytest.mark.parametrize("threaded", [True, False])
def test_a_full_disk_is_told_and_everything_is_written_once_there_is_room(path: Path, threaded: bool) -> None:
    """The kernel refuses the writes; nothing is lost, and order is kept."""
    with writing(path, threaded=threaded) as log:
        exposure_id, side_id = begun_side(log)
        assert log.drain(SOON_S)
        with no_room():
            for number in range(20):
                log.add_trace(TraceChunk(side_id, (sample(number),)))
            log.put_sides([state(side_id, 9.0)], later(1))
            log.add_lamp_use("lower", 10.0, 1)
            ended = log.finish(exposure_id, "completed", False, later(2))
            until(lambda: log.error, log)
            assert "the disk refused to read or write" in str(log.error)
            assert not log.drain(0.03)
            assert (ended.done, log.lost_count) == (False, 0)
            assert log.lag_s > 0
        if not threaded:
            log.add_fault(FaultRecord("no_light", as_written("the next call writes what waits"), None, later(3)))
        assert log.drain(SOON_S)
        assert (log.error, log.lag_s, ended.done, ended.error) == (None, 0.0, True, None)
    with Logbook.open_reader(path) as reader:
        assert reader.trace(side_id) == [sample(number) for number in range(20)]
        assert reader.bank_state("lower").lit_s == 10.0
        assert reader.recent()[0]["outcome"] == "completed"
    assert doses(path, side_id) == [9.0]


@pytest.mark.parametrize("threaded", [True, False])
def test_a_beginning_fails_at_once_on_a_full_disk_and_is_not_made_up_later(path: Path, threaded: bool) -> None:
    """What was refused to the worker must not turn up as an exposure when the disk has room again."""
    with writing(path, threaded=threaded) as log:
        with no_room():
            ticket = log.begin(new_exposure())
            assert ticket.wait(SOON_S)
            assert ticket.value is None
            assert "the disk refused to read or write (beginning the exposure of panel 'P12'" in str(ticket.error)
            assert log.error == ticket.error
        log.add_lamp_use("lower", 1.0, 1)
        assert log.drain(SOON_S)
        assert log.error is None
        again = log.begin(new_exposure())
        assert again.wait(SOON_S)
        assert again.error is None
    assert ask(path, "SELECT count(*) FROM exposures") == [(1,)]


def test_a_beginning_behind_a_record_that_waits_for_the_disk_fails_too(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It does not wait for the next retry, which may be far away, nor for room on the disk."""
    monkeypatch.setattr(writer, "RETRY_S", 1000.0)
    with writing(path) as log:
        _, side_id = begun_side(log)
        with no_room():
            log.add_trace(TraceChunk(side_id, (sample(1),)))
            until(lambda: log.error, log)
            ticket = log.begin(new_exposure())
            assert ticket.wait(SOON_S)
            assert "the disk refused" in str(ticket.error)
    assert ask(path, "SELECT count(*) FROM exposures") == [(1,)]
    assert ask(path, "SELECT count(*) FROM traces") == [(1,)]


def test_while_the_disk_stalls_only_the_latest_state_of_each_side_waits(path: Path) -> None:
    """A thousand states while another program holds the file: the queue stays short, the newest wins."""
    with writing(path) as log:
        begun = log.begin(new_exposure())
        assert begun.wait(SOON_S)
        assert begun.value is not None
        side_a, side_b = begun.value.side_ids["A"], begun.value.side_ids["B"]
        log.put_sides([state(side_a, 0.5), state(side_b, 0.25)], later(0.5))
        assert log.drain(SOON_S)
        with held(path):
            for number in range(1, 1001):
                log.put_sides([state(side_a, float(number)), state(side_b, number / 2)], later(number))
            log.put_sides([state(side_a, 1001.0)], later(1001))
            until(lambda: log.error, log)
            assert "another program holds the file" in str(log.error)
            assert len(log._queue) == 1
            assert log.lag_s > 0
        assert log.drain(SOON_S)
        assert log.error is None
    assert doses(path, side_a)[0] == 0.5
    assert doses(path, side_a)[-1] == 1001.0
    assert doses(path, side_b)[-1] == 500.0
    assert len(doses(path, side_a)) <= 4
    for side_id in (side_a, side_b):
        assert doses(path, side_id) == sorted(doses(path, side_id))


def test_states_put_while_a_write_runs_are_not_forgotten(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A state that comes in the middle of writing an older one is written next."""
    entered, leave = threading.Event(), threading.Event()
    plain = Logbook.put_sides

    def slow(book: Logbook, *given: Any) -> None:
        entered.set()
        assert leave.wait(SOON_S)
        plain(book, *given)

    with writing(path) as log:
        _, side_id = begun_side(log)
        monkeypatch.setattr(Logbook, "put_sides", slow)
        log.put_sides([state(side_id, 1.0)], later(1))
        assert entered.wait(SOON_S)
        log.put_sides([state(side_id, 2.0)], later(2))
        log.put_sides([state(side_id, 3.0)], later(3))
        leave.set()
        assert log.drain(SOON_S)
    assert doses(path, side_id) == [1.0, 3.0]


def test_calls_return_while_a_write_hangs(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The disk answers nothing at all: every call still returns, and the lag tells."""
    hang = threading.Event()
    plain = LampRegister.add_lamp_use

    def hanging(lamps: LampRegister, *given: Any) -> None:
        assert hang.wait(SOON_S)
        plain(lamps, *given)

    monkeypatch.setattr(LampRegister, "add_lamp_use", hanging)
    with writing(path) as log:
        exposure_id, side_id = begun_side(log)
        log.add_lamp_use("lower", 1.0, 1)
        log.put_sides([state(side_id, 1.0)], later(1))
        log.add_trace(TraceChunk(side_id, (sample(1),)))
        ended = log.finish(exposure_id, "completed", False, later(2))
        until(lambda: log.lag_s > 0.01, log)
        assert not ended.done
        hang.set()
        assert ended.wait(SOON_S)
    assert doses(path, side_id) == [1.0]


def test_an_overflow_is_told_and_logged_and_an_end_still_finds_room(
    path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """The queue is bounded; what does not fit is never dropped in silence."""
    monkeypatch.setattr(writer, "QUEUE_LIMIT", 5)
    with caplog.at_level(logging.ERROR), writing(path) as log:
        exposure_id, side_id = begun_side(log)
        with held(path):
            for number in range(5):
                log.add_trace(TraceChunk(side_id, (sample(number),)))
            log.add_trace(TraceChunk(side_id, (sample(99),)))
            assert log.lost_count == 1
            refused = log.begin(new_exposure())
            log.put_sides([state(side_id, 4.0)], later(1))
            ended = log.finish(exposure_id, "completed", False, later(2))
        assert log.drain(SOON_S)
        assert (refused.done, refused.value, ended.done, ended.error) == (True, None, True, None)
        assert "not recorded" in str(refused.error)
    assert f"not recorded: 1 samples of side {side_id}: 5 records already wait for the disk" in caplog.text
    assert doses(path, side_id) == [4.0]
    assert ask(path, "SELECT count(*) FROM traces") == [(5,)]


def test_a_record_that_can_never_fit_does_not_hold_up_the_others(path: Path, caplog: pytest.LogCaptureFixture) -> None:
    """It is logged with its doses, told in `error` until the next success, and left out."""
    with caplog.at_level(logging.ERROR), writing(path) as log:
        _, side_id = begun_side(log)
        log.put_sides([state(777, 12.25)], later(1))
        assert log.drain(SOON_S)
        assert "not recorded: the dose journal" in str(log.error)
        log.put_sides([state(side_id, 1.0)], later(2))
        assert log.drain(SOON_S)
        assert log.error is None
        failed = log.finish(888, "completed", False, later(3))
        assert failed.wait(SOON_S)
        assert "exposure 888 cannot be ended" in str(failed.error)
    assert "dose_mj_cm2=12.25" in caplog.text
    assert log.lost_count == 2
    assert doses(path, side_id) == [1.0]


def test_an_error_of_the_program_does_not_end_the_thread(path: Path, caplog: pytest.LogCaptureFixture) -> None:
    """A time without zone is a mistake in the program; later records are still written."""
    with caplog.at_level(logging.ERROR), writing(path) as log:
        _, side_id = begun_side(log)
        log.clear_fault("meter_lost", later(1).replace(tzinfo=None), "bench")
        log.put_sides([state(side_id, 1.0)], later(2))
        assert log.drain(SOON_S)
    assert "has no time zone" in caplog.text
    assert doses(path, side_id) == [1.0]


@pytest.mark.parametrize("threaded", [True, False])
def test_closing_on_a_full_disk_gives_up_in_time_and_owns_up(
    path: Path, threaded: bool, caplog: pytest.LogCaptureFixture
) -> None:
    """What could not be written is in the log, doses included."""
    with caplog.at_level(logging.ERROR):
        log = LogWriter(path, threaded=threaded)
        exposure_id, side_id = begun_side(log)
        assert log.drain(SOON_S)
        with no_room():
            log.put_sides([state(side_id, 41.5)], later(1))
            ended = log.finish(exposure_id, "completed", False, later(2))
            log.close(timeout_s=0.05)
    assert "dose_mj_cm2=41.5" in caplog.text
    assert f"the end of exposure {exposure_id} (completed): the writer was closed" in caplog.text
    assert "the writer was closed" in str(ended.error)
    assert log.lost_count == 2
    with Logbook(path) as book:
        assert book.interrupted() is not None


def test_calls_after_closing_do_not_raise_but_tell(path: Path) -> None:
    """A late record from a loop that is going down must not raise in it."""
    log = LogWriter(path, threaded=True)
    log.close()
    log.close()
    log.put_sides([state(1, 1.0)], later(1))
    ticket = log.begin(new_exposure())
    assert (ticket.done, log.lost_count) == (True, 2)
    assert "the writer is closed" in str(ticket.error)


def test_a_ticket_is_open_until_it_is_settled() -> None:
    """And `wait` says so."""
    ticket = Ticket()
    assert not ticket.done
    assert not ticket.wait(0)
    ticket.settle(error=as_written("no"))
    assert ticket.done
    assert (ticket.value, ticket.error) == (None, "no")


def carry_away(path: Path, how: str) -> None:
    """Somebody moves the folder, replaces the file, or removes it, while the writer holds it open."""
    if how == "folder renamed":
        path.parent.rename(path.parent.with_name(f"{path.parent.name}-elsewhere"))
    elif how == "replaced":
        path.with_name("new").write_bytes(path.read_bytes())
        path.with_name("new").rename(path)
    else:
        path.unlink()


@pytest.mark.parametrize("how", ["folder renamed", "replaced", "removed"])
@pytest.mark.parametrize("threaded", [True, False])
def test_a_logbook_that_is_no_longer_under_its_name_is_noticed_at_a_beginning(
    path: Path, threaded: bool, how: str
) -> None:
    """SQLite itself goes on writing into a file that nobody will ever find."""
    with writing(path, threaded=threaded) as log:
        exposure_id, _ = begun_side(log)
        assert log.finish(exposure_id, "completed", False, later(1)).wait(SOON_S)
        carry_away(path, how)
        ticket = log.begin(new_exposure())
        assert ticket.wait(SOON_S)
        assert ticket.value is None
        assert ("another file stands in its place" if how == "replaced" else "it is gone") in str(ticket.error)
        assert "Put the file back" in str(log.error)
        assert log.trouble == "other"


def test_a_file_is_looked_for_once_a_second(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By a clock of this test's own; before an exposure begins at once."""
    now_s = 50.0
    monkeypatch.setattr(file_identity, "time", SimpleNamespace(monotonic=lambda: now_s))
    path.write_bytes(b"")
    name = file_identity.OneName(path)
    path.unlink()
    now_s = 50.99
    assert name.lost(at_once=False) is None
    now_s = 51.0
    assert "it is gone from its place" in str(name.lost(at_once=False))
    path.write_bytes(b"")
    name = file_identity.OneName(path)
    path.unlink()
    assert name.lost(at_once=True) is not None


def test_a_logbook_that_goes_away_under_light_is_noticed_and_found_again(path: Path) -> None:
    """Nothing is lost while it is away: what waits is written once the folder has its name again."""
    elsewhere = path.parent.with_name(f"{path.parent.name}-elsewhere")
    with writing(path) as log:
        _, side_id = begun_side(log)
        path.parent.rename(elsewhere)
        began_s, dose = time.monotonic(), 0.0
        while log.error is None:
            dose += 1.0
            log.put_sides([state(side_id, dose)], later(dose))
            time.sleep(0.01)
            assert time.monotonic() - began_s < SOON_S
        assert "it is gone from its place" in log.error
        log.put_sides([state(side_id, 500.0)], later(500))
        elsewhere.rename(path.parent)
        assert log.drain(SOON_S)
        assert log.error is None
    assert doses(path, side_id)[-1] == 500.0
