"""Where sides under light stand now, in one block of a file beside the logbook.

Every write to the logbook costs the card a sync and several pages, so that it is written to about once a second. In
between the newest states are put here, over the older ones and without a sync: the block stays in the system's memory,
which outlives a killed process. A power cut takes it along; what was started before the cut is never believed.
"""

import contextlib
import hashlib
import json
import math
import os
from collections import deque
from collections.abc import Iterable
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import Any

from sumlight.store.logbook.database import utc_from, utc_text
from sumlight.store.logbook.file_identity import identity
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.records import SideState

BLOCK_BYTES = 4096
"""As large as a page of memory: it is replaced in one step."""

LOOKED_BACK = 240
"""States of a side: the last minute of its light."""

SIDES_KNOWN = 8
"""Sides whose last minute is remembered, the newest; a panel has two."""

BOOT = Path("/proc/sys/kernel/random/boot_id")
"""Another one after each start of the computer (random(4))."""


class LatestStates:
    """Keeps the file beside one logbook. Any trouble only means that nothing is kept: `put` says so."""

    def __init__(self, logbook: Path) -> None:
        self._logbook = logbook
        self._handle: int | None = None
        self._written: dict[int, tuple[float, deque[float]]] = {}

    def put(self, entries: Iterable[tuple[SideState, datetime]]) -> bool:
        """Put these states in the place of those that were there, without waiting for the disk; whether it was done."""
        sides = [{**asdict(state), "utc": utc_text(utc), "between_s": self._between_s(state)} for state, utc in entries]
        try:
            body = json.dumps({"boot": BOOT.read_text(), "file": identity(self._logbook), "sides": sides}).encode()
            block = hashlib.sha256(body).hexdigest().encode() + b"\n" + body
            if len(block) > BLOCK_BYTES:
                return False
            if self._handle is None:
                flags = os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW | os.O_CLOEXEC
                self._handle = os.open(path_beside(self._logbook), flags, 0o640)
            return os.pwrite(self._handle, block.ljust(BLOCK_BYTES), 0) == BLOCK_BYTES
        except OSError:
            return False

    def close(self) -> None:
        """Let go of the file; may be called twice."""
        if self._handle is not None:
            os.close(self._handle)
            self._handle = None

    def _between_s(self, state: SideState) -> float:
        """The longest light between two states of a side in its last minute."""
        before_s, found = self._written.pop(state.side_id, (state.lit_s, deque(maxlen=LOOKED_BACK)))
        if state.lit_s > before_s:
            found.append(state.lit_s - before_s)
        self._written[state.side_id] = (state.lit_s, found)
        while len(self._written) > SIDES_KNOWN:  # control runs for years
            del self._written[next(iter(self._written))]
        return max(found, default=0.0)


def path_beside(logbook: Path) -> Path:
    """Where the file lies."""
    return logbook.with_name(f"{logbook.name}-now")


def take_up(book: Logbook, logbook: Path) -> dict[str, float]:
    """Bring an interrupted exposure up to the states that a killed process has left; may be called twice.

    Returns, for each side that is now known up to there, the longest light between two of its states, in seconds: so
    much more may have come. A side that is missing is known up to its last record only. Raises LogbookError.
    """
    left = book.interrupted()
    kept = _read(logbook)
    if left is None or not kept:
        return {}
    found = {}
    for new, known in left.sides:
        state, utc, between_s = kept.get(known.side_id, (known, None, 0.0))
        if utc is None or known.state != "lit" or state.state != "lit":
            continue
        if state.lit_s < known.lit_s or state.dose_mj_cm2 < known.dose_mj_cm2:
            continue
        if state.lit_s > known.lit_s:
            book.put_sides([state], utc)
        found[new.side] = between_s
    return found


def _read(logbook: Path) -> dict[int, tuple[SideState, datetime, float]]:
    """What the file holds by side; nothing if it is of another start of the computer, of another file, or damaged."""
    with contextlib.suppress(OSError, ValueError, TypeError, KeyError, RecursionError):
        sha256, _, body = path_beside(logbook).read_bytes()[:BLOCK_BYTES].rstrip().partition(b"\n")
        if hashlib.sha256(body).hexdigest().encode() != sha256:
            return {}
        whole = json.loads(body)
        if whole["boot"] != BOOT.read_text() or whole["file"] != [*identity(logbook)]:
            return {}
        return {side["side_id"]: _state(side) for side in whole["sides"]}
    return {}


def _state(side: dict[str, Any]) -> tuple[SideState, datetime, float]:
    utc, between_s = utc_from(side.pop("utc")), side.pop("between_s")
    state = SideState(**side)
    if not all(math.isfinite(value) and value >= 0 for value in (state.lit_s, state.dose_mj_cm2, between_s)):
        raise ValueError(f"side {state.side_id} cannot stand at {state}")
    return state, utc, between_s
