"""Whether a file that is held open is still the one that stands under its name."""

import os
import time
from pathlib import Path

from sumlight.text.message import Message, say

LOOK_S = 1.0
"""Real time between two looks while records are written; before an exposure begins there is always one."""


def identity(path: Path) -> tuple[int, int]:
    """What tells the file at `path` from any other of this computer. Raises OSError if there is none."""
    found = os.stat(path)
    return found.st_dev, found.st_ino


class OneName:
    """Remembers which file stands at `path` now. Raises OSError if there is none."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._own = identity(path)
        self._looked_s = time.monotonic()

    def lost(self, *, at_once: bool) -> Message | None:
        """Words for a file that was moved, replaced or removed; looks once in LOOK_S unless `at_once`."""
        now_s = time.monotonic()
        if not at_once and now_s - self._looked_s < LOOK_S:
            return None
        try:
            there = identity(self._path)
        except OSError as error:
            why = say("logbook_file_gone", why=error.strerror or str(error))
        else:
            if there == self._own:
                self._looked_s = now_s
                return None
            why = say("another_file_there")
        self._looked_s = -LOOK_S  # until it is back, every record looks
        return say("written_would_be_lost", path=str(self._path), why=why)
