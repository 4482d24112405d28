"""Removes what a person no longer wants to keep, says so, and records it. Nothing is ever removed by itself."""

from datetime import datetime

from sumlight.store.database import utc_text
from sumlight.store.logbook import Logbook

BATCH = 50
"""Traces removed in one transaction, so that control never waits long for its turn."""


def tidy(book: Logbook, before: datetime, now: datetime, *, really: bool) -> str:
    """Remove the traces of exposures that ended before a day; doses, journals and all else stay. Returns what was done.

    Without `really` nothing is changed. Raises LogbookError.
    """
    trace_ids, size = book.traces_before(utc_text(before))
    told = f"{len(trace_ids)} pieces of traces, {size / 1e6:.1f} MB, of exposures that ended before {before:%Y-%m-%d}."
    if really and trace_ids:
        for at in range(0, len(trace_ids), BATCH):
            book.remove_traces(trace_ids[at : at + BATCH])
        book.note_upkeep("tidied", told, now)
        told += " Removed; the room is used for what comes next."
    return told
