"""The logbook as the pages read it: opened for each request, never written here."""

from collections.abc import Iterator
from contextlib import contextmanager

from werkzeug.exceptions import ServiceUnavailable

from sumlight.store.logbook.database import LogbookError
from sumlight.store.logbook.reading import LogbookReader
from sumlight_web.desk import desk
from sumlight_web.language import _


@contextmanager
def reader() -> Iterator[LogbookReader | None]:
    """The logbook, opened for reading and closed again; None while there is none yet."""
    path = desk().logbook_path
    if not path.exists():
        yield None
        return
    try:
        logbook = LogbookReader.open_reader(path)
        try:
            yield logbook
        finally:
            logbook.close()
    except LogbookError as error:
        raise ServiceUnavailable(_("The logbook cannot be read just now. {why}", why=error)) from error
