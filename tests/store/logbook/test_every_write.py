"""Disk full, card read-only, another program in the way: at every place where the logbook is written."""

import inspect
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, closing, contextmanager
from dataclasses import replace
from pathlib import Path
from statistics import median
from threading import Event, Thread
from time import monotonic, sleep
from typing import get_args

import pytest

from sumlight.craft.baths.contents import Contents
from sumlight.craft.baths.load import Taken
from sumlight.craft.jobs.card import Mark
from sumlight.craft.jobs.instructions import PanelNumbers
from sumlight.craft.jobs.plans import Step
from sumlight.craft.jobs.timers import Ring, Schedule
from sumlight.craft.stock.rolls import Roll
from sumlight.store.logbook import (
    baths,
    calibrations,
    database,
    findings,
    jobs,
    lamps,
    light_intervals,
    logbook,
    past_faults,
    pruning,
    stock,
)
from sumlight.store.logbook.baths import BathPanel, BathRecord
from sumlight.store.logbook.calibrations import (
    CalibrationRecord,
    GainStepRecord,
    LampsFitted,
    MeasurementRecord,
    MetrologyRecord,
    SelfCheckRecord,
    ShiftRecord,
    TabletRecord,
)
from sumlight.store.logbook.jobs import JobRecord, PanelRecord, TimerRecord
from sumlight.store.logbook.lamps import NewTube
from sumlight.store.logbook.light_intervals import LightInterval, LightIntervalEnd
from sumlight.store.logbook.logbook import Logbook, LogbookError
from sumlight.store.logbook.pruning import Pruning
from sumlight.store.logbook.records import (
    CommissioningRecord,
    FaultRecord,
    LampReading,
    OverrideRecord,
    Pause,
    TraceChunk,
)
from sumlight.store.logbook.stock import StockRecord
from sumlight.store.logbook.writer import LogWriter
from sumlight.text.message import as_written
from tests.store.making import ask, held, later, new_exposure, no_room, sample, state

JOB = JobRecord(1, "gear", 2, PanelNumbers("board_one", "copper", 35.0, "r", 60.0, 900.0), (Step(1, "cut"),), later(0))
TIMER = TimerRecord(1, 1, 1, as_written("rest"), Schedule((Ring(60.0, "end"),)), later(0), 5.0, later(5))
STRETCH = LightInterval(1, later(0), 1000.0, 999.9, 0.01, (0.0123,) * 11, 50.04, 0.84, 0.012, 0.0, 0.0)
COMMISSIONING = CommissioningRecord(later(0), "0" * 64, "Bench box", True, "somebody", 0, "[]")
UTC_TEXT = database.utc_text(later(4))
METROLOGY: tuple[MetrologyRecord, ...] = (
    LampsFitted("lower", 1, "T8 (invented)", UTC_TEXT),
    CalibrationRecord("tablet", "below", "lower", 0, -0.7, 0.05, 0.01, 12.0, UTC_TEXT, exposure_id=1),
    ShiftRecord("below", "lower", 0, 12.0, 0.1, 0.01, True, UTC_TEXT),
    TabletRecord(1, "1", 60.0, "8", "last_held", True, "lot 1", UTC_TEXT),
    SelfCheckRecord("below", "lower", UTC_TEXT, 12.0, (1.0, 2.0, 3.0, 4.0, 5.0, 6.0), 0.5, "clean", True),
    MeasurementRecord("strip", 1, UTC_TEXT, "{}"),
    GainStepRecord("below", 4, 0.01, 0.001, UTC_TEXT),
)
ROLL = StockRecord(1, Roll("film"), later(0), "somebody")
BATH = BathRecord(1, Contents("iron", 1.0, 36.0), later(0), "somebody")
BATH_PANEL = BathPanel(1, 1, Taken("brass", 50.0, 75.0, 400.0), later(1), later(2), 1, 3, "P1")
WRITES: dict[str, Callable[[Logbook], object]] = {
    "begin": lambda book: book.begin(new_exposure("P2")),
    "put_sides": lambda book: book.put_sides([state(1, 30.0)], later(1)),
    "add_trace": lambda book: book.add_trace(TraceChunk(1, tuple(sample(n) for n in range(40)))),
    "add_pause": lambda book: book.add_pause(Pause(1, "lid", later(2), None)),
    "add_fault": lambda book: book.add_fault(FaultRecord("meter_lost", as_written("no reading"), 1, later(2))),
    "clear_fault": lambda book: book.clear_fault("lid_mismatch", later(3), "somebody"),
    "finish": lambda book: book.finish(1, "completed", False, later(4)),
    "note_taken_out": lambda book: book.note_taken_out(later(5)),
    "add_lamp_use": lambda book: book.lamps.add_lamp_use("lower", 5.0, 1),
    "add_lamp_reading": lambda book: book.lamps.add_lamp_reading(LampReading("lower", 1, later(4), 4.8, 55.0)),
    "put_bank_state": lambda book: book.put_bank_state("lower", 0.012, 5),
    "begin_light_interval": lambda book: book.intervals.begin_light_interval(STRETCH),
    "end_light_interval": lambda book: book.intervals.end_light_interval(
        LightIntervalEnd(1, "cut", 1010.0, 1010.3, 60.0, 0.0)
    ),
    "fit_tubes": lambda book: book.lamps.fit_tubes("lower", [NewTube(1, "T8", "UV-A")], later(5), whole=True),
    "note_network_dark": lambda book: book.note_network_dark("office", later(6)),
    "note_clock_set": lambda book: book.note_clock_set(as_written("+3600 s"), later(6)),
    "note_maintenance": lambda book: book.note_maintenance("checked", as_written("sound"), later(6)),
    "put_commissioning": lambda book: book.put_commissioning(COMMISSIONING),
    "add_override": lambda book: book.add_override(OverrideRecord("0" * 64, "somebody", "for the test", later(1))),
    "put_note": lambda book: book.put_note(1, "a note", "usable", "somebody"),
    "put_verdict": lambda book: book.put_verdict(1, "good", "somebody"),
    "put_findings": lambda book: book.findings.put_findings(1, ["scum"], {"held_step": 7.0}, "somebody", later(7)),
    "confirm_cause": lambda book: book.findings.confirm_cause(1, "fogged", True, "somebody", later(8)),
    "look_at": lambda book: book.faults.look_at(1, {"lid_mismatch"}, "a word", "somebody", later(9)),
    "put_job": lambda book: book.jobs.put_job(replace(JOB, artwork="another")),
    "put_panel": lambda book: book.jobs.put_panel(PanelRecord(2, 1, "P2")),
    "put_mark": lambda book: book.jobs.put_mark(1, 1, Mark("done", None, UTC_TEXT, "a word", "somebody")),
    "put_timer": lambda book: book.jobs.put_timer(TIMER),
    "put_bath": lambda book: book.baths.put_bath(replace(BATH, bath_id=2)),
    "put_bath_panel": lambda book: book.baths.put_bath_panel(replace(BATH_PANEL, bath_panel_id=2)),
    "drop_bath_panel": lambda book: book.baths.drop_bath_panel(1),
    "put_emptied": lambda book: book.baths.put_emptied("iron", later(9), "somebody"),
    "put_stock": lambda book: book.stock.put_stock(replace(ROLL, stock_id=2)),
    "put_use": lambda book: book.stock.put_use(1, 1, later(9)),
    "remove_old_traces": lambda book: book.care.remove_old_traces(Pruning(later(100)), later(200)),
    **{
        f"add_metrology {type(record).__name__}": lambda book, record=record: book.calibrations.add_metrology(record)  # type: ignore[misc]
        for record in METROLOGY
    },
}


@contextmanager
def read_only(book: Logbook) -> Iterator[None]:
    """The card turns read-only, as a worn one does."""
    book._session.link.execute("PRAGMA query_only = ON")
    yield
    book._session.link.execute("PRAGMA query_only = OFF")


TROUBLES: dict[str, Callable[[Logbook], AbstractContextManager[None]]] = {
    "full": lambda book: no_room(),
    "read-only": read_only,
    "held": lambda book: held(book.path),
}


def contents(path: Path) -> list[tuple[object, ...]]:
    """Every row of every table."""
    with closing(sqlite3.connect(path)) as link:
        tables = link.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name").fetchall()
        return [row for (table,) in tables for row in link.execute(f"SELECT '{table}', * FROM {table}")]


@pytest.fixture
def book(path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Logbook]:
    """A logbook with a little in it, for which others need not wait long."""
    monkeypatch.setattr(database, "BUSY_S", 0.05)
    with Logbook(path) as book:
        book.begin(new_exposure(sides="A"))
        book.put_sides([state(1, 15.0)], later(0.5))
        book.intervals.begin_light_interval(STRETCH)
        book.add_trace(TraceChunk(1, tuple(sample(n) for n in range(20))))
        book.add_fault(FaultRecord("lid_mismatch", as_written("for the test"), 1, later(1)))
        ended = book.begin(new_exposure("P0", sides="A"))
        book.add_trace(TraceChunk(ended.side_ids["A"], (sample(0),)))
        book.finish(ended.exposure_id, "completed", False, later(1))
        book.jobs.put_job(JOB)
        book.jobs.put_panel(PanelRecord(1, 1, "P1"))
        book.baths.put_bath(BATH)
        book.baths.put_bath_panel(BATH_PANEL)
        book.stock.put_stock(ROLL)
        yield book


def test_every_writing_method_is_tried_here() -> None:
    """Whatever opens a writing transaction stands in the table above."""
    writing = set()
    for owner in (
        logbook.Logbook,
        lamps.LampRegister,
        light_intervals.LightIntervals,
        pruning.LogbookMaintenance,
        calibrations.Calibrations,
        findings.FindingsRegister,
        past_faults.PastFaults,
        jobs.JobRegister,
        baths.BathRegister,
        stock.StockRegister,
    ):
        for name, method in inspect.getmembers(owner, inspect.isfunction):
            if not name.startswith("_") and "self._session.writing(" in inspect.getsource(method):
                writing.add(name)
    assert {name.partition(" ")[0] for name in WRITES} == writing
    assert {type(record) for record in METROLOGY} == set(get_args(MetrologyRecord))


@pytest.mark.parametrize("trouble", TROUBLES)
@pytest.mark.parametrize("name", WRITES)
def test_a_write_that_fails_says_so_leaves_nothing_half_done_and_works_later(
    book: Logbook, name: str, trouble: str
) -> None:
    """The error may pass; all rows are as before; afterwards the same write succeeds."""
    before = contents(book.path)
    with TROUBLES[trouble](book), pytest.raises(LogbookError) as caught:
        WRITES[name](book)
    assert caught.value.may_pass
    assert caught.value.trouble != "damaged"
    assert "logbook.sqlite" in str(caught.value)
    assert contents(book.path) == before
    WRITES[name](book)
    assert contents(book.path) != before
    assert ask(book.path, "PRAGMA integrity_check") == [("ok",)]


@pytest.mark.parametrize("trouble", ["full", "held"])
def test_a_beginning_that_finds_no_room_halfway_leaves_nothing(book: Logbook, trouble: str) -> None:
    """The disk fills within a transaction: room for some pages of it only."""
    before = contents(book.path)
    size = Path(f"{book.path}-wal").stat().st_size
    with no_room(size + 4096 * 2), pytest.raises(LogbookError):
        _write_much(book)
    assert contents(book.path)[: len(before) // 2] == before[: len(before) // 2]
    assert ask(book.path, "PRAGMA integrity_check") == [("ok",)]
    book.put_sides([state(1, 20.0)], later(2))


def test_a_card_that_stalls_for_five_seconds_delays_records_not_the_loop(path: Path) -> None:
    """Every call returns at once; afterwards all is on the disk and nothing was lost."""
    writer = LogWriter(path, threaded=True)
    try:
        ticket = writer.begin(new_exposure(sides="A"))
        assert ticket.wait(60)
        holding, let_go = Event(), Event()
        thread = Thread(target=_hold, args=(path, holding, let_go))
        thread.start()
        assert holding.wait(60)
        took_s, number, stalled_s = [], 0, monotonic()
        while number <= 50 or monotonic() - stalled_s < 5.0:
            number += 1
            began_s = monotonic()
            writer.put_sides([state(1, 0.5 * number)], later(number))
            writer.add_trace(TraceChunk(1, (sample(number),)))
            took_s.append(monotonic() - began_s)
            sleep(0.05)
        assert thread.is_alive(), "the card does not stall any more"
        let_go.set()
        thread.join()
        assert writer.drain(60)
    finally:
        writer.close()
    assert median(took_s) < 1.0  # whoever waits for the disk waits for two seconds each time, as long as SQLite tries
    assert writer.lost_count == 0
    with Logbook(path) as book:
        assert book.trace(1) == [sample(n) for n in range(1, number + 1)]
        assert book.recent()[0]["sides"][0]["dose_mj_cm2"] == 0.5 * number


def _write_much(book: Logbook) -> None:
    for number in range(40):
        book.add_trace(TraceChunk(1, tuple(sample(number * 500 + n) for n in range(500))))


def _hold(path: Path, holding: Event, let_go: Event) -> None:
    with held(path):
        holding.set()
        let_go.wait(120)
