"""Lets old traces go by the rule of box.yaml, after a nightly look that found the logbook sound; a little at a time."""

import logging
from datetime import datetime

from sumlight.store.logbook.database import LogbookError
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.pruning import Pruning
from sumlight.store.logbook.writer import LogWriter

log = logging.getLogger(__name__)


class Retention:
    """Polled by the loop's thread, never waits: a batch is one record of the writer's, the next comes when it is done.

    `keep_days` None keeps everything.
    """

    def __init__(self, writer: LogWriter, keep_days: int | None) -> None:
        self.keep_days = keep_days
        self._writer = writer
        self._work: Pruning | None = None
        self._began: datetime | None = None
        self._under_way = False
        self._failed = False

    def begin(self, now: datetime) -> None:
        """It is night and the logbook is sound: begin, if there is a rule. `now` has a time zone."""
        if self.keep_days is not None and self._began is None:
            self._began, self._work, self._failed = now, None, False

    def poll(self, *, resting: bool) -> None:
        """Hand on one batch while the box rests; a box that works breaks the night's removal off."""
        if self._began is None or self._under_way:
            return
        if not resting or self._failed or (self._work is not None and self._work.finished):
            self._end()
        elif self._writer.error is None and self._writer.lag_s == 0:
            self._under_way = True
            self._writer.add("the removal of old traces", self._batch)

    def _batch(self, book: Logbook) -> None:
        """In the writer's thread. A removal that fails is no record to be kept: it waits for another night."""
        try:
            if self._began is not None and self.keep_days is not None:
                if self._work is None:
                    self._work = Pruning(book.care.traces_kept_from(self._began, self.keep_days))
                book.care.remove_old_traces(self._work, self._began)
        except LogbookError as error:
            log.warning("old traces are not removed tonight: %s", error)
            self._failed = True
        finally:
            self._under_way = False

    def _end(self) -> None:
        if self._work is not None and self._work.removed:
            log.warning("removed by the rule logbook.keep_traces_days: %s", self._work.words)
        self._began = self._work = None
