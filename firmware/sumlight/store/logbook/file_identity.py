"""Whether a file that is held open is still the one that stands under its name."""

import os
import time
from pathlib import Path

LOOK_S = 1.0
"""Real time between two looks while records are written; before an exposure begins there is always one."""


class OneName:
    """Remembers which file stands at `path` now. Raises OSError if there is none."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._own = self._there()
        self._looked_s = time.monotonic()

    def lost(self, *, at_once: bool) -> str | None:
        """Words for a file that was moved, replaced or removed; looks once in LOOK_S unless `at_once`."""
        now_s = time.monotonic()
        if not at_once and now_s - self._looked_s < LOOK_S:
            return None
        try:
            there = self._there()
        except OSError as error:
            why = f"it is gone from its place ({error.strerror or error})"
        else:
            if there == self._own:
                self._looked_s = now_s
                return None
            why = "another file stands in its place"
        self._looked_s = -LOOK_S  # until it is back, every record looks
        remedy = "Put the file back under its name, or restart Sumlight"
        return f"logbook {self._path}: {why}; what is written now would be lost. {remedy}."

    def _there(self) -> tuple[int, int]:
        found = os.stat(self._path)
        return found.st_dev, found.st_ino
