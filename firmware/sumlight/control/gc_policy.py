"""Keeps Python's search through all objects out of the light: it takes longer than a tick, and the lid would wait."""

import gc

EVERY_S = 60.0
NEVER = 1_000_000_000


class GcPolicy:
    """Full collections only while the box rests. The young generations, which take a tenth of a millisecond, go on."""

    def __init__(self) -> None:
        self._before: tuple[int, int, int] | None = None
        self._next_s = 0.0

    def begin(self) -> None:
        """Everything is set up: what exists now is searched no more."""
        self._before = gc.get_threshold()
        gc.collect()
        gc.freeze()
        gc.set_threshold(self._before[0], self._before[1], NEVER)

    def look(self, real_s: float, *, resting: bool) -> None:
        """Once a tick, at `real_s` of the machine's monotonic clock."""
        if resting and self._before is not None and real_s >= self._next_s:
            self._next_s = real_s + EVERY_S
            gc.collect()

    def end(self) -> None:
        """As it was before."""
        if self._before is not None:
            gc.set_threshold(*self._before)
            gc.unfreeze()
            self._before = None
