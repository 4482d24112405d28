"""Timers while control runs: they count on the steady clock, and are noted now and then so that a kill loses little."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from sumlight.clock import Clock
from sumlight.control.refused import RefusedError
from sumlight.craft.jobs import timers
from sumlight.craft.jobs.timers import Schedule
from sumlight.protocol.errors import BadRequestError
from sumlight.store.logbook.jobs import TimerRecord
from sumlight.store.logbook.writer import LogWriter
from sumlight.text.message import Message, say

MOST_TIMERS = 24
LOOK_S = 1.0
NOTE_S = 60.0
"""So much of the time that the box was off may be counted wrong where its clock stood still meanwhile."""


@dataclass
class Running:
    """A timer that runs: `since_s` on the steady clock is when its record was noted.

    `off_s` is how long the box was off by its wall clock, None for a timer of this run; it may be negative.
    """

    record: TimerRecord
    since_s: float
    off_s: float | None = None

    def elapsed_s(self, now_s: float) -> float:
        """Seconds since it began."""
        return self.record.elapsed_s + now_s - self.since_s

    def unanswered(self, now_s: float) -> int:
        """How many rings have come that nobody has answered."""
        return max(0, self.record.schedule.rung(self.elapsed_s(now_s)) - self.record.answered)

    def ringing(self, now_s: float) -> bool:
        """Whether a ring has come that nobody has answered."""
        return self.unanswered(now_s) > 0

    def next_s(self, now_s: float) -> float | None:
        """Seconds to the next ring; None when there are no more."""
        elapsed_s = self.elapsed_s(now_s)
        ring = self.record.schedule.ring(self.record.schedule.rung(elapsed_s))
        return None if ring is None else ring.after_s - elapsed_s


class Timekeeper:
    """The timers of a box. `kept` are those that an earlier run left.

    `rings` is how many rings nobody has answered, as of the last look or answer: the buzzer asks in every tick.
    """

    def __init__(self, clock: Clock, writer: LogWriter, kept: Iterable[TimerRecord], last_id: int) -> None:
        self._clock = clock
        self._writer = writer
        self._last_id = last_id
        self.running: dict[int, Running] = {}
        self.rings = 0
        now_s, now = clock.mono_s(), clock.utc()
        self._seen = (now_s, now)
        self._look_at_s = now_s + LOOK_S
        self._note_at_s = now_s + NOTE_S
        for record in kept:
            elapsed_s, sure = timers.passed_s(record.elapsed_s, record.noted_utc, now)
            taken = replace(record, elapsed_s=elapsed_s, noted_utc=now, unsure=record.unsure or not sure)
            off_s = (now - record.noted_utc).total_seconds()
            self.running[record.timer_id] = Running(taken, now_s, off_s)
            self._keep(taken)

    def start(
        self,
        title: Message,
        schedule: Schedule,
        *,
        panel_id: int | None = None,
        step_id: int | None = None,
        passed_s: float = 0.0,
    ) -> int:
        """Start one, `passed_s` after its beginning; returns its number. Raises RefusedError when too many run."""
        if len(self.running) >= MOST_TIMERS:
            raise RefusedError(say("too_many_timers", most=MOST_TIMERS), say("stop_a_timer_first"))
        self._last_id += 1
        now = self._clock.utc()
        record = TimerRecord(self._last_id, panel_id, step_id, title, schedule, now, passed_s, now)
        self.running[self._last_id] = Running(record, self._clock.mono_s())
        self._keep(record)
        return self._last_id

    def answer(self, timer_id: int, *, stop: bool = False) -> None:
        """Answer every ring so far; after the last one, or with `stop`, the timer is over. Raises BadRequestError."""
        timer = self.running.get(timer_id)
        if timer is None:
            raise BadRequestError("not_found", say("no_such_timer", timer_id=timer_id), field="timer_id")
        now_s = self._clock.mono_s()
        schedule = timer.record.schedule
        rung = schedule.rung(timer.elapsed_s(now_s))
        timer.record = replace(timer.record, answered=max(rung, timer.record.answered))
        self._note(timer, stopped=stop or schedule.ring(rung) is None)

    def stop_of(self, panel_id: int, step_id: int | None = None) -> None:
        """Stop the timers of a panel, or of one of its steps."""
        for timer in list(self.running.values()):
            if timer.record.panel_id == panel_id and step_id in (None, timer.record.step_id):
                self._note(timer, stopped=True)

    def of(self, panel_id: int) -> list[Running]:
        """The timers of a panel."""
        return [timer for timer in self.running.values() if timer.record.panel_id == panel_id]

    def look(self) -> None:
        """See now and then whether the clock was set, and note how far the timers are."""
        now_s = self._clock.mono_s()
        if now_s < self._look_at_s:
            return
        self._look_at_s = now_s + LOOK_S
        self._count(now_s)
        now = self._clock.utc()
        (before_s, before), self._seen = self._seen, (now_s, now)
        jump_s = timers.jump_s(now_s - before_s, (now - before).total_seconds())
        if jump_s or now_s >= self._note_at_s:
            self._note_at_s = now_s + NOTE_S
            for timer in list(self.running.values()):
                self._jumped(timer, jump_s)
                self._note(timer)

    def picture(self, timer: Running) -> dict[str, Any]:
        """A timer as clients see it."""
        now_s = self._clock.mono_s()
        record, elapsed_s = timer.record, timer.elapsed_s(now_s)
        rung = record.schedule.ring(record.schedule.rung(elapsed_s) - 1) if timer.ringing(now_s) else None
        return {
            "timer_id": record.timer_id,
            "panel_id": record.panel_id,
            "step_id": record.step_id,
            "title": record.title,
            "elapsed_s": elapsed_s,
            "next_s": timer.next_s(now_s),
            "rings": None if rung is None else timers.TOLD[rung.what],
            "unsure": record.unsure,
        }

    def _jumped(self, timer: Running, jump_s: float) -> None:
        """The clock that told how long the box was off was set: count that time anew, and say that it is not sure."""
        if not jump_s or timer.off_s is None:
            return
        extra_s = timers.recounted_s(timer.off_s, jump_s)
        timer.off_s += jump_s
        elapsed_s = max(0.0, timer.record.elapsed_s + extra_s)
        timer.record = replace(timer.record, elapsed_s=elapsed_s, unsure=True)

    def _note(self, timer: Running, *, stopped: bool = False) -> None:
        now_s, now = self._clock.mono_s(), self._clock.utc()
        elapsed_s = timer.elapsed_s(now_s)
        record = replace(timer.record, elapsed_s=elapsed_s, noted_utc=now, stopped_utc=now if stopped else None)
        timer.record, timer.since_s = record, now_s
        if stopped:
            del self.running[record.timer_id]
        self._count(now_s)
        self._keep(record)

    def _count(self, now_s: float) -> None:
        self.rings = sum(timer.unanswered(now_s) for timer in self.running.values())

    def _keep(self, record: TimerRecord) -> None:
        self._writer.add(str(record), lambda book: book.jobs.put_timer(record))
