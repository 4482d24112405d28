"""The one source of time. Control is handed a clock; nothing else in the package asks the machine for the time.

`mono_s` is for all arithmetic; `utc` only labels records, because a Pi without a battery clock boots in the past.
"""

import time
from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    """What control needs of time; the twin brings a simulated one."""

    @property
    def real_time(self) -> bool:
        """Whether a second of it is a second of the machine's, so that the machine's speed can be judged by it."""
        ...

    def mono_s(self) -> float:
        """Seconds on a clock that never steps back; only differences mean anything."""
        ...

    def utc(self) -> datetime:
        """Date and time in UTC for labelling records."""
        ...

    def wait_until(self, mono_s: float) -> None:
        """Return at `mono_s` or, if that has passed, at once."""
        ...


class SystemClock:
    """The machine's own clocks."""

    real_time = True

    def mono_s(self) -> float:
        """Seconds of `time.monotonic`."""
        return time.monotonic()

    def utc(self) -> datetime:
        """The machine's wall clock."""
        return datetime.now(UTC)

    def wait_until(self, mono_s: float) -> None:
        """Sleep up to `mono_s`."""
        delay_s = mono_s - time.monotonic()
        if delay_s > 0:
            time.sleep(delay_s)
