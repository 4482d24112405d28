"""The watch over the loop: a thread of its own that darkens the lamps when the loop stops coming by.

It only ever switches off. If the whole process stands still, only the hard-wired side helps: K1's pump runs dry.
"""

import threading
import time
from collections.abc import Callable

STALL_S = 0.2
"""Real seconds without a tick, with lamps on, after which the watch switches off."""

LOOK_S = 0.05


class Watchdog:
    """Looks at the loop's last sign of life. Fail-safe: in doubt it calls `darken`, as often as needed."""

    def __init__(self, darken: Callable[[], object], lamps_commanded: Callable[[], bool]) -> None:
        self._darken = darken
        self._lamps_commanded = lamps_commanded
        self._seen_s: float | None = None
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        self.tripped_after_s: float | None = None

    def start(self) -> None:
        """Begin to watch, on the machine's own monotonic clock."""
        self._thread = threading.Thread(target=self._run, name="watch", daemon=True)
        self._thread.start()

    @property
    def thread_id(self) -> int | None:
        """The system's number of the thread that watches; None while nobody does."""
        return self._thread.native_id if self._thread is not None else None

    @property
    def watching(self) -> bool:
        """Whether real time is being watched; a box that is stepped by hand has none."""
        return self._thread is not None

    def alive(self, real_s: float) -> None:
        """The loop's sign of life, at `real_s` of the machine's monotonic clock."""
        self._seen_s = real_s

    def check(self, real_s: float) -> bool:
        """Switch off if the loop has stalled; true if it did. Safe to call from any thread."""
        if self._seen_s is None:
            return False
        stalled_s = real_s - self._seen_s
        if stalled_s <= STALL_S or not self._lamps_commanded():
            return False
        self.tripped_after_s = stalled_s  # before dark: a loop that comes by now must not light again
        self._darken()
        return True

    def take_trip(self) -> float | None:
        """How long the loop had stalled when the watch last switched off; None if it did not since last asked."""
        stalled_s = self.tripped_after_s
        if stalled_s is not None:
            self.tripped_after_s = None
        return stalled_s

    def close(self) -> None:
        """Stop watching."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join()
            self._thread = None

    def _run(self) -> None:
        while not self._stop.wait(LOOK_S):
            self.check(time.monotonic())
