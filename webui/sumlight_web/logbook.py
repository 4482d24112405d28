"""The logbook as the pages read it: opened for each request, never written here."""

from collections.abc import Iterator
from contextlib import contextmanager

from werkzeug.exceptions import ServiceUnavailable

from sumlight.store.logbook.database import LogbookError
from sumlight.store.logbook.reading import LogbookReader
from sumlight_web.language import _
from sumlight_web.services import services
from sumlight_web.texts import text_of


@contextmanager
def reader() -> Iterator[LogbookReader | None]:
    """The logbook, opened for reading and closed again; None while there is none yet."""
    path = services().logbook_path
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
        raise ServiceUnavailable(_("The logbook cannot be read just now. {why}", why=text_of(error.told))) from error
