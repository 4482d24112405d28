"""The collector's process: from the broker into the database, and back a word to each box of how far it has come."""

import logging
import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from sqlalchemy.exc import DataError, IntegrityError, SQLAlchemyError

from sumlight.fleet import topics
from sumlight.fleet.collector.intake import Intake
from sumlight.fleet.messages import (
    BoxOnline,
    BoxState,
    CollectorOnline,
    FleetMessageError,
    Record,
    packed,
    read,
)
from sumlight.fleet.wire import Incoming, Wire

log = logging.getLogger(__name__)

BATCH = 500
AGAIN_S = 2.0
"""A box is told of the same gap once in so many seconds: what is on its way shows it many times."""
REST_S = 2.0
"""Pause after the database was gone."""

T = TypeVar("T")

FILTERS = tuple(topics.of_all_boxes(what) for what in ("record", "state", "online"))


@dataclass
class Counts:
    """What the collector has done so far."""

    stored: int = 0
    repeated: int = 0
    gaps: int = 0
    refused: int = 0
    database_failures: int = 0


class Collector:
    """Holds at most one batch. A batch that could not be stored is dropped: its boxes send it again."""

    def __init__(self, intake: Intake, wire: Wire, utc: Callable[[], datetime], run: str | None = None) -> None:
        self._intake, self._wire, self._utc = intake, wire, utc
        self.run = run or secrets.token_hex(8)
        self.counts = Counts()
        self._told_gap: dict[str, tuple[int, float]] = {}
        self._rest_until_s = -1e9

    def step(self, messages: Sequence[Incoming], now_s: float) -> None:
        """Store a batch and acknowledge it. Never raises for what comes over a wire, or for a database that is gone."""
        if now_s < self._rest_until_s:
            return
        records: list[Record] = []
        states: dict[str, BoxState] = {}
        try:
            for message in messages:
                self._take(message, records, states)
            if records:
                self._store_each(records, now_s)
            if states:  # each in a transaction of its own would be more than a disk syncs for 10,000 boxes
                self._intake.put_states(states.values(), self._utc())
        except SQLAlchemyError as error:
            log.warning("the database did not take it: %s", str(error).partition("\n")[0])
            self.counts.database_failures += 1
            self._rest_until_s = now_s + REST_S
            self.run = secrets.token_hex(8)  # told again: all boxes send once more what was dropped
            self._told_gap.clear()
            self._say_run()

    def _say_run(self) -> None:
        self._wire.send(*online(self.run, True), retain=True)

    def _store_each(self, records: list[Record], now_s: float) -> None:
        """All at once; where one of them is what no database takes, the others must not wait for it."""
        try:
            self._store(records, now_s)
        except (DataError, IntegrityError):
            for record in records:
                try:
                    self._store([record], now_s)
                except (DataError, IntegrityError) as error:
                    self.counts.refused += 1
                    log.warning("record %d of %s: %s", record.seq, record.box_id, str(error).partition("\n")[0])

    def _store(self, records: list[Record], now_s: float) -> None:
        taken = self._intake.put(records, self._utc())
        self.counts.stored += taken.stored
        self.counts.repeated += taken.repeated
        self.counts.gaps += taken.gaps
        for said in taken.acknowledgements:
            if said.send_from_here:
                seq, told_s = self._told_gap.get(said.box_id, (-1, -1e9))
                if seq == said.seq and now_s - told_s < AGAIN_S:
                    continue
                self._told_gap[said.box_id] = (said.seq, now_s)
            else:
                self._told_gap.pop(said.box_id, None)
            self._wire.send(topics.of_box(said.box_id, "ack"), packed(said), retain=True)

    def _take(self, message: Incoming, records: list[Record], states: dict[str, BoxState]) -> None:
        try:
            if box_id := topics.box_of(message.topic, "record"):
                records.append(record_of(box_id, message))
            elif box_id := topics.box_of(message.topic, "state"):
                state = read(message.payload, BoxState)
                states[box_id] = _own(box_id, state.box_id, state)
            elif box_id := topics.box_of(message.topic, "online"):
                said = read(message.payload, BoxOnline)
                self._intake.put_online(_own(box_id, said.box_id, said), self._utc())
            else:
                raise FleetMessageError("nobody listens to this topic")
        except FleetMessageError as error:
            self.counts.refused += 1
            log.debug("%s: %s", message.topic[:80], error)


def record_of(box_id: str, message: Incoming) -> Record:
    """A record on the topic of its own box. Raises FleetMessageError."""
    record = _own(box_id, (found := read(message.payload, Record)).box_id, found)
    if message.retained:
        raise FleetMessageError("a record is never retained")
    if record.previous_seq >= record.seq:
        raise FleetMessageError("previous_seq: it must be less than seq")
    return record


def _own(box_id: str, said: str, found: T) -> T:
    if said != box_id:
        raise FleetMessageError(f"box_id: {said} speaks on the topic of {box_id}")
    return found


def new_run() -> str:
    """A name for this start, by which boxes know that it is another one."""
    return secrets.token_hex(8)


def online(run: str, is_online: bool) -> tuple[str, bytes]:
    """The collector's sign of life, or of its end."""
    return topics.COLLECTOR_ONLINE, packed(CollectorOnline(online=is_online, run=run))
