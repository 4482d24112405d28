"""Slows down guessing. After a few misses an address has to wait, each time twice as long; all together are bounded.

Waits are real time. Nothing here ever holds back *dark*.
"""

import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass

FREE_MISSES = 3
FIRST_WAIT_S = 5.0
LONGEST_WAIT_S = 900.0
MOST_DOUBLINGS = 20
FORGET_AFTER_S = 3600.0
MOST_ADDRESSES = 500

EVERYBODY_MISSES = 30
EVERYBODY_WINDOW_S = 60.0
"""So many misses a minute from all strangers together; known addresses are not held up by them."""


@dataclass
class _Record:
    misses: int = 0
    free_at_s: float = 0.0
    last_s: float = 0.0
    known: bool = False


class Backoff:
    """Counts misses by address. `now_s` is a monotonic clock."""

    def __init__(self, now_s: Callable[[], float] = time.monotonic) -> None:
        self._now_s = now_s
        self._lock = threading.Lock()
        self._records: OrderedDict[str, _Record] = OrderedDict()
        self._all: list[float] = []

    def wait_s(self, address: str) -> float:
        """How long this address has to wait before it may try again; 0 when it may now."""
        now_s = self._now_s()
        with self._lock:
            record = self._records.get(address, _Record())
            wait_s = record.free_at_s - now_s
            if not record.known:
                self._all = [at_s for at_s in self._all if now_s - at_s < EVERYBODY_WINDOW_S]
                if len(self._all) >= EVERYBODY_MISSES:
                    wait_s = max(wait_s, EVERYBODY_WINDOW_S - (now_s - self._all[0]))
            return max(0.0, wait_s)

    def begin(self, address: str) -> float:
        """Take a try; it is a miss until `hit`, so many at once gain nothing. Returns the wait, if there is one."""
        wait_s = self.wait_s(address)
        if wait_s > 0:
            return wait_s
        now_s = self._now_s()
        with self._lock:
            record = self._records.setdefault(address, _Record())
            if now_s - record.last_s > FORGET_AFTER_S:
                record.misses = 0
            record.misses += 1
            record.last_s = now_s
            if record.misses >= FREE_MISSES:
                # Bounded before it is raised to: a power of some thousand misses is no number any more.
                doublings = min(record.misses - FREE_MISSES, MOST_DOUBLINGS)
                record.free_at_s = now_s + min(LONGEST_WAIT_S, FIRST_WAIT_S * 2**doublings)
            if not record.known:
                self._all.append(now_s)
            self._records.move_to_end(address)
            while len(self._records) > MOST_ADDRESSES:
                self._records.popitem(last=False)
        return 0.0

    def hit(self, address: str) -> None:
        """The try was right: the address starts anew and counts as known."""
        with self._lock:
            self._records[address] = _Record(known=True, last_s=self._now_s())
            if self._all:
                self._all.pop()
