"""The logbook's own thread: a stalled card delays a record, not a lamp.

Calls come from control's loop thread and never wait for the disk; only the writer's thread touches the file.
"""

import contextlib
import logging
import threading
import time
from collections import deque
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from sumlight.store import lamp_settings
from sumlight.store.lamp_settings import LampSettings
from sumlight.store.logbook.calibrations import MetrologyRecord
from sumlight.store.logbook.database import Trouble, unusable
from sumlight.store.logbook.file_identity import OneName
from sumlight.store.logbook.latest_states import LatestStates
from sumlight.store.logbook.logbook import Logbook, LogbookError
from sumlight.store.logbook.queued import Item, Latest, Ticket
from sumlight.store.logbook.records import (
    BegunExposure,
    CommissioningRecord,
    FaultRecord,
    LampReading,
    NewExposure,
    OverrideRecord,
    Pause,
    SideState,
    TraceChunk,
)
from sumlight.store.logbook.reports import write_report
from sumlight.text.message import Message, say

GATHER_S = 0.8
"""So often, on a box, states of sides under light go into the logbook; those in between go beside it."""

RETRY_S = 0.5
QUEUE_LIMIT = 2000
OPEN_LIMIT_S = 30.0

__all__ = ["GATHER_S", "LogWriter", "Ticket"]

_log = logging.getLogger(__name__)


class LogWriter:
    """Owns the logbook in a thread behind a bounded queue.

    Records are written in the order they came. A record that the disk refuses stays first in the queue and is
    tried again every RETRY_S; `error` says why until a write succeeds. A record that can never fit is logged
    and left out, so that it does not hold up the others.

    With `threaded=False` every call writes at once, in the caller's thread; what failed is tried again at the
    next call. With a thread, states of sides under light are written once in `gather_s` seconds, or with the next other
    record; until then the newest ones stand beside the logbook (`latest_states`), which a killed process leaves.

    Raises LogbookError when the logbook cannot be opened.
    """

    def __init__(self, path: Path, *, threaded: bool, durable: bool = True, gather_s: float = 0.0) -> None:
        self._path = path
        self._durable = durable
        self._queue: deque[Item] = deque()
        self._latest = Latest()
        self._latest_item: Item | None = None
        self._gather_s = gather_s if threaded else 0.0
        self._beside = LatestStates(path)
        self._written_s = -gather_s
        self._puts = 0
        self._draining = 0
        self._change = threading.Condition()
        self._error: Message | None = None
        self._trouble: Trouble = "other"
        self._closing = False
        self._give_up_s: float | None = None
        self._hurry = False
        self.lost_count = 0
        self._logbook: Logbook | None = None
        self._name: OneName | None = None
        self._thread: threading.Thread | None = None
        if threaded:
            opened = Ticket()
            self._thread = threading.Thread(target=self._run, args=(opened,), name="log-writer", daemon=True)
            self._thread.start()
            if not opened.wait(OPEN_LIMIT_S):
                raise unusable(path, say("logbook_disk_silent", limit_s=OPEN_LIMIT_S))
            if opened.error is not None:
                raise LogbookError(opened.error)
        else:
            self._open()

    @property
    def error(self) -> Message | None:
        """Why the last write failed; None once a later one has succeeded."""
        return self._error

    @property
    def trouble(self) -> Trouble:
        """What kind of trouble `error` tells of: a full disk, a damaged file, or another."""
        return self._trouble

    @property
    def lag_s(self) -> float:
        """Age of the oldest record that is not on the disk yet; 0 when there is none."""
        with self._change:
            return time.monotonic() - self._queue[0].waiting_since_s if self._queue else 0.0

    def begin(self, new: NewExposure) -> Ticket:
        """Record that an exposure begins; fails at the first refusal and is not tried again."""
        ticket = Ticket()
        self._add(f"the beginning of the exposure of panel '{new.panel}'", lambda book: book.begin(new), ticket, False)
        return ticket

    def finish(self, exposure_id: int, outcome: str, doubtful: bool, utc: datetime) -> Ticket:
        """Record how an exposure ended; waits for the disk as long as it takes."""
        ticket = Ticket()
        what = f"the end of exposure {exposure_id} ({outcome})"
        self._add(what, lambda book: book.finish(exposure_id, outcome, doubtful, utc), ticket)
        return ticket

    def put_sides(self, states: list[SideState], utc: datetime) -> None:
        """Record where sides stand. While the disk stalls only the newest state of each side is kept."""
        with self._change:
            if self._closing:
                self._lose("the state of a side", "the writer is closed")
                return
            self._latest.put(states, utc)
            self._puts += 1
            if self._latest_item is None and states:
                self._latest_item = Item("the dose journal", self._write_latest, time.monotonic(), patient=True)
                self._queue.append(self._latest_item)
            self._change.notify_all()
        self._carry_out_here()

    def add_trace(self, chunk: TraceChunk) -> None:
        """Append samples to the trace of a side."""
        what = f"{len(chunk.samples)} samples of side {chunk.side_id}"
        self._add(what, lambda book: book.add_trace(chunk), patient=True)

    def add_pause(self, pause: Pause) -> None:
        """Record a pause, or complete it."""
        self._add(str(pause), lambda book: book.add_pause(pause))

    def add_fault(self, fault: FaultRecord) -> None:
        """Record a latched fault."""
        self._add(str(fault), lambda book: book.add_fault(fault))

    def clear_fault(self, name: str, utc: datetime, who: str) -> None:
        """Record who acknowledged a fault."""
        self._add(f"the clearing of fault '{name}' by {who}", lambda book: book.clear_fault(name, utc, who))

    def put_note(self, exposure_id: int, note: str, result: str, who: str) -> None:
        """Replace note and result of an exposure."""
        self._add(
            f"the note of exposure {exposure_id} by {who}: {note!r}, result {result!r}",
            lambda book: book.put_note(exposure_id, note, result, who),
        )

    def put_verdict(self, exposure_id: int, verdict: str, who: str) -> None:
        """Keep whether a panel came out well."""
        what = f"the verdict on exposure {exposure_id} by {who}: {verdict}"
        self._add(what, lambda book: book.put_verdict(exposure_id, verdict, who))

    def add_lamp_use(self, bank: str, lit_s: float, strikes: int) -> None:
        """Add time with light and strikes to a bank's lamps."""
        what = f"{lit_s} s and {strikes} strikes of bank '{bank}'"
        self._add(what, lambda book: book.lamps.add_lamp_use(bank, lit_s, strikes), patient=True)

    def add_lamp_reading(self, reading: LampReading) -> None:
        """Record what a side told of the lamps."""
        self._add(str(reading), lambda book: book.lamps.add_lamp_reading(reading))

    def put_bank_state(self, bank: str, release_s: float | None, gain_code: int | None) -> None:
        """Record what control learned of a bank."""
        self._add(f"the state of bank '{bank}'", lambda book: book.put_bank_state(bank, release_s, gain_code))

    def add(self, what: str, write: Callable[[Logbook], object]) -> None:
        """Record something else: `write` is carried out in the writer's turn, `what` names it if it must be told."""
        self._add(what, write)

    def put_commissioning(self, run: CommissioningRecord) -> None:
        """Record a run of commissioning, or how much further it has come."""
        self._add(f"the commissioning by {run.who}", lambda book: book.put_commissioning(run))

    def add_override(self, override: OverrideRecord) -> None:
        """Record that somebody unlocked a box that was not commissioned."""
        self._add(str(override), lambda book: book.add_override(override))

    def put_lamp_settings(self, settings: LampSettings) -> None:
        """Write the settings of lamps beside the logbook, in the order of the records."""
        path, text = self._path.with_name(lamp_settings.FILE), lamp_settings.as_text(settings)
        self._add(f"a replacement level of {settings.replace_at_percent:g} %", lambda _: write_report(path, text))

    def add_report(self, path: Path, text: str) -> None:
        """Write a report beside the logbook, in the order of the records.

        On a full disk it waits, as records do; where it may not be written it is left out, for what it tells of is a
        record, too.
        """
        self._add(f"the report {path.name}", lambda _: write_report(path, text))

    def add_metrology(self, record: MetrologyRecord) -> None:
        """Record a calibration or what one was made from."""
        self._add(str(record), lambda book: book.calibrations.add_metrology(record))

    def drain(self, timeout_s: float) -> bool:
        """Wait until everything is on the disk; returns whether it is. Not for the loop."""
        self._carry_out_here()
        with self._change:
            self._draining += 1
            self._change.notify_all()
            try:
                return self._change.wait_for(lambda: not self._queue, timeout_s if self._thread else 0)
            finally:
                self._draining -= 1

    def close(self, timeout_s: float = 5) -> None:
        """Write what is left, then close. What the disk still refuses after `timeout_s` is logged as lost."""
        with self._change:
            if self._closing:
                return
            self._closing = True
            self._give_up_s = time.monotonic() + timeout_s
            self._hurry = True
            self._change.notify_all()
        if self._thread is not None:
            self._thread.join(timeout_s + RETRY_S)
            if self._thread.is_alive():  # stuck in the disk; a daemon thread does not keep the process alive
                _log.error("logbook %s: the disk does not answer; closing without it", self._path)
        else:
            self._carry_out_here()
            self._shut()
        with self._change:
            for item in self._queue:
                self._lose(self._in_full(item), "the writer was closed", item.ticket)
            self._queue.clear()

    def abandon(self) -> None:
        """Close the file as it is; what waits is lost, as in a crash."""
        with self._change:
            self._closing = True
            self._queue.clear()
            self._latest_item = None
            self._change.notify_all()
        if self._thread is not None:
            self._thread.join()
        else:
            self._shut()

    def _add(
        self,
        what: str,
        write: Callable[[Logbook], object],
        ticket: Ticket | None = None,
        retried: bool = True,
        *,
        patient: bool = False,
    ) -> None:
        with self._change:
            if self._closing:
                self._lose(what, "the writer is closed", ticket)
                return
            if len(self._queue) >= QUEUE_LIMIT and (ticket is None or not retried):  # an end always finds room
                self._lose(what, f"{QUEUE_LIMIT} records already wait for the disk", ticket)
                return
            self._queue.append(Item(what, write, time.monotonic(), ticket, retried, patient))
            self._hurry = self._hurry or not retried
            self._change.notify_all()
        self._carry_out_here()

    def _lose(self, what: str, why: str, ticket: Ticket | None = None) -> None:
        """Report a record that will not be written."""
        self.lost_count += 1
        self._error, self._trouble = say("not_recorded", path=str(self._path), what=what, why=why), "other"
        _log.error("%s", self._error)
        if ticket is not None:
            ticket.settle(error=self._error)

    def _open(self) -> None:
        self._logbook = Logbook(self._path, durable=self._durable)
        if self._gather_s:
            self._logbook.make_room()
        self._name = OneName(self._path)

    def _run(self, opened: Ticket) -> None:
        """The thread: open, write until closed, close."""
        try:
            self._open()
        except LogbookError as error:
            opened.settle(error=error.told)
            return
        opened.settle()
        while True:
            with self._change:
                self._change.wait_for(lambda: self._queue or self._closing)
                if not self._queue:
                    break
                item = self._queue[0]
                self._hurry = False  # whoever asks from here on, asks for one more attempt
                puts, may_wait = self._puts, self._may_wait()
            if may_wait and self._put_beside():
                self._gather(puts)
                continue
            if self._try(item):
                continue
            with self._change:
                if self._give_up_s is not None and time.monotonic() >= self._give_up_s:
                    break
                self._change.wait_for(lambda: self._hurry, RETRY_S)
        self._shut()

    def _may_wait(self) -> bool:
        """Whether a side is under light, nothing waits that is urgent, and its last state was written a moment ago."""
        if self._latest_item is None or self._closing or self._draining or self._error:
            return False
        if not all(item.patient for item in self._queue):
            return False
        if any(state.state != "lit" for state, _ in self._latest.states.values()):
            return False
        return time.monotonic() < self._written_s + self._gather_s

    def _gather(self, puts: int) -> None:
        """Wait until there is a newer state than the last of so many `puts`, or the time to write has come."""
        with self._change:
            rest_s = self._written_s + self._gather_s - time.monotonic()
            self._change.wait_for(lambda: self._puts != puts or not self._may_wait(), max(0.0, rest_s))

    def _put_beside(self) -> bool:
        with self._change:
            entries = list(self._latest.states.values())
        return self._beside.put(entries)

    def _carry_out_here(self) -> None:
        """Without a thread: write all that waits, in the caller's thread, up to the first refusal."""
        if self._thread is None:
            while self._queue and self._try(self._queue[0]):
                pass

    def _try(self, item: Item) -> bool:
        """Write the first item. True when the queue may go on; False when the disk refused it."""
        book = self._logbook
        if book is None or self._name is None:
            return False
        lost = self._name.lost(at_once=not item.retried)
        if lost is not None:
            self._refused(lost, "other")
            return not item.retried
        with self._change:  # of several that go together the last one makes sure of all
            behind = self._queue[1] if len(self._queue) > 1 else None
            unsynced = self._gather_s > 0 and item.patient and behind is not None and behind.patient
        try:
            with book.unsynced() if unsynced else contextlib.nullcontext():
                value = item.write(book)
        except LogbookError as error:
            if error.may_pass:
                self._refused(error.told, error.trouble)
                return not item.retried
            self._left_out(item, str(error))
        except Exception as error:  # noqa: BLE001 - one bad record must not end the thread that writes the others
            _log.exception("logbook %s: a record raised an error of the program", self._path)
            self._left_out(item, f"{type(error).__name__}: {error}")
        else:
            with self._change:
                self._error = None
                self._leave(item)
            if item.ticket is not None:
                item.ticket.settle(value if isinstance(value, BegunExposure) else None)
        return True

    def _refused(self, message: Message, trouble: Trouble) -> None:
        """The disk said no: say why, and fail every beginning that waits: nothing is lit unrecorded."""
        with self._change:
            if self._error != message:
                _log.warning("%s Waiting: %d.", message, len(self._queue))
            self._error, self._trouble = message, trouble
            failed = [item for item in self._queue if not item.retried]
            for item in failed:
                self._queue.remove(item)
            self._change.notify_all()
        for item in failed:
            if item.ticket is not None:
                item.ticket.settle(error=message)

    def _left_out(self, item: Item, why: str) -> None:
        with self._change:
            what = self._in_full(item)
            if item is self._latest_item:
                self._latest.states.clear()
            self._leave(item)
            self._lose(what, why, item.ticket)

    def _in_full(self, item: Item) -> str:
        """The record in words, with the doses it holds: the log is then the only place to find them."""
        if item is not self._latest_item:
            return item.what
        return f"{item.what}: {[state for state, _ in self._latest.states.values()]}"

    def _leave(self, item: Item) -> None:
        """Take a settled item out of the queue; the states of sides stay while newer ones have come."""
        if item is self._latest_item:
            if self._latest.states:
                item.waiting_since_s = time.monotonic()
                return
            self._latest_item = None
        if item in self._queue:
            self._queue.remove(item)
        self._change.notify_all()

    def _write_latest(self, book: Logbook) -> None:
        """Write the newest state of every side; what was written is forgotten, what came meanwhile is not."""
        with self._change:
            entries = dict(self._latest.states)
        if self._gather_s:
            self._beside.put(entries.values())
            self._written_s = time.monotonic()
        for utc in dict.fromkeys(utc for _, utc in entries.values()):
            now = {side_id: entry for side_id, entry in entries.items() if entry[1] == utc}
            book.put_sides([state for state, _ in now.values()], utc)
            with self._change:
                self._latest.drop(now)

    def _shut(self) -> None:
        self._beside.close()
        if self._logbook is not None:
            self._logbook.close()
