"""What waits for the logbook's thread: records in their order, of sides the newest state only, each with its result."""

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime

from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.records import BegunExposure, SideState
from sumlight.text.message import Message


class Ticket:
    """Tells what became of a record; written by the writer, looked at by the loop.

    `error` is None when it was written. `value` is what `begin` gave.
    """

    def __init__(self) -> None:
        self.error: Message | None = None
        self.value: BegunExposure | None = None
        self._settled = threading.Event()

    @property
    def done(self) -> bool:
        """Whether the record was written or has failed for good."""
        return self._settled.is_set()

    def wait(self, timeout_s: float) -> bool:
        """Wait until done, for callers that may wait; returns `done`."""
        return self._settled.wait(timeout_s)

    def settle(self, value: BegunExposure | None = None, error: Message | None = None) -> None:
        """Give the result, once."""
        self.value, self.error = value, error
        self._settled.set()


@dataclass(eq=False)
class Item:
    """One thing to write; `waiting_since_s` on the machine's monotonic clock. One that is `patient` may wait for the
    dose journal, and goes to the disk together with it."""

    what: str
    write: Callable[[Logbook], object]
    waiting_since_s: float
    ticket: Ticket | None = None
    retried: bool = True
    patient: bool = False


@dataclass
class Latest:
    """The states of sides that are not on the disk yet: one per side, so it never grows."""

    states: dict[int, tuple[SideState, datetime]] = field(default_factory=dict)

    def put(self, states: list[SideState], utc: datetime) -> None:
        """Take newer ones in the place of older ones."""
        for state in states:
            self.states[state.side_id] = (state, utc)

    def drop(self, written: dict[int, tuple[SideState, datetime]]) -> None:
        """Forget what was written, unless a newer state came meanwhile."""
        for side_id, entry in written.items():
            if self.states.get(side_id) is entry:
                del self.states[side_id]
