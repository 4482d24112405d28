"""Reports: files beside the logbook. What keeps one from being written is told as the logbook's own troubles are."""

import errno
from pathlib import Path

from sumlight.store.files import replace_file
from sumlight.store.logbook.database import LogbookError, Trouble
from sumlight.text.message import say


def write_report(path: Path, text: str) -> None:
    """Put a report in its place. Raises LogbookError: may pass on a full disk, not where it may not be written."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        replace_file(path, text.encode("utf-8"))
    except OSError as error:
        message = say("report_not_written", path=str(path), why=error.strerror or str(error))
        never = isinstance(error, PermissionError | NotADirectoryError | IsADirectoryError | FileExistsError)
        trouble: Trouble = "full" if error.errno == errno.ENOSPC else "other"
        raise LogbookError(message, may_pass=not never, trouble=trouble) from error
