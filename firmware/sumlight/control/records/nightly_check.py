"""Looks through the whole logbook once a night while the box rests, in a thread of its own that only reads."""

import logging
import threading
from datetime import datetime, timedelta
from pathlib import Path

from sumlight.store.logbook.database import LogbookError
from sumlight.store.maintenance.integrity import IntegrityReport, check

NIGHT_HOURS = (1, 2, 3, 4)
"""Local hours in which it begins by itself."""

OVERDUE = timedelta(hours=36)
"""A box that is never on at night is looked through when it has rested, after so long."""

REST_S = 600.0
"""Rest of the box before it begins."""

log = logging.getLogger(__name__)


class NightlyCheck:
    """Begins, breaks off and reports the look. Polled by the loop's thread; never waits."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._thread: threading.Thread | None = None
        self._give_up = threading.Event()
        self._looked: IntegrityReport | None = None
        self._last: datetime | None = None
        self._rest_since_s: float | None = None

    def poll(self, now_s: float, now: datetime, *, resting: bool) -> IntegrityReport | None:
        """What a look has found, once; begins one when it is time. `now` has a time zone, `now_s` is monotonic."""
        if self._last is None:
            self._last = now  # it was looked at when control started
        if not resting:
            self._rest_since_s = None
            self._give_up.set()
        elif self._rest_since_s is None:
            self._rest_since_s = now_s
        if self._thread is not None:
            return self._result(now)
        if self._rest_since_s is not None and now_s - self._rest_since_s >= REST_S and self._due(now):
            self._give_up.clear()
            self._thread = threading.Thread(target=self._look, name="night-watch", daemon=True)
            self._thread.start()
        return None

    def close(self) -> None:
        """Break off."""
        self._give_up.set()
        if self._thread is not None:
            self._thread.join(5.0)

    def _due(self, now: datetime) -> bool:
        since = now - (self._last or now)
        night = now.astimezone().hour in NIGHT_HOURS and since > timedelta(hours=12)
        return night or since > OVERDUE or since < timedelta(0)

    def _look(self) -> None:
        try:
            self._looked = check(self._path, give_up=self._give_up.is_set)
        except LogbookError as error:
            log.warning("the logbook could not be looked through: %s", error)
            self._looked = IntegrityReport((), finished=False)

    def _result(self, now: datetime) -> IntegrityReport | None:
        if self._thread is None or self._thread.is_alive():
            return None
        self._thread = None
        looked, self._looked = self._looked, None
        if looked is not None and looked.finished:
            self._last = now
        return looked
