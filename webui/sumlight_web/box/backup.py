"""A copy of the logbook for the browser, made as `sumlight records backup` makes it: while control goes on writing.

The copy lies in the page's own folder, whose disk is known to hold a logbook (a Pi's /tmp may be memory), and has lost
its name before its first byte is sent: whatever happens then, nothing stays behind.
"""

import shutil
import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from flask import Response

from sumlight.clock import SystemClock
from sumlight.store.logbook.database import LogbookError
from sumlight.store.maintenance.backup import back_up
from sumlight_web.language import _

PIECE_BYTES = 64 * 1024
PREFIX = "copy-for-browser-"
SPARE_BYTES = 50_000_000
"""Room that must be left on the disk beside the copy: control must be able to write on."""

_place = threading.Lock()
"""One copy at a time, for each holds a thread of the server and room on the disk."""


class NoCopyError(RuntimeError):
    """Why there is no copy, and what to do, in the reader's language."""


def size_mb(path: Path) -> float | None:
    """What a copy of the logbook will weigh, in MB (10⁶ bytes), or a little less; None while there is no logbook."""
    size = _size(path)
    return None if size is None else size / 1e6


def _size(path: Path) -> int | None:
    found = 0
    for part in (path, path.with_name(path.name + "-wal")):
        try:
            found += part.stat().st_size
        except OSError:
            if part == path:
                return None
    return found


def download(path: Path, own: Path) -> Response:
    """Copy the logbook into the page's `own` folder, look through the copy, and answer with it piece by piece.

    Raises NoCopyError.
    """
    size = _size(path)
    if size is None:
        raise NoCopyError(_("There is no logbook yet: nothing has been recorded."))
    if not _place.acquire(blocking=False):
        raise NoCopyError(_("Another copy is being made. Wait until it has arrived."))
    try:
        file, length = _copied(path, own, size)
    except BaseException:
        _place.release()
        raise
    given_back = threading.Lock()

    def close() -> None:
        if given_back.acquire(blocking=False):
            file.close()
            _place.release()

    def pieces() -> Iterator[bytes]:
        try:
            while piece := file.read(PIECE_BYTES):
                yield piece
        finally:
            close()

    response = Response(pieces(), mimetype="application/vnd.sqlite3")
    response.call_on_close(close)
    response.content_length = length
    name = f"logbook-{SystemClock().utc():%Y%m%dT%H%M%SZ}.sqlite"
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def _copied(path: Path, own: Path, size: int) -> tuple[BinaryIO, int]:
    """An open copy without a name, and its length. Raises NoCopyError."""
    for left in own.glob(f"{PREFIX}*"):  # by a page that was ended in the middle
        shutil.rmtree(left, ignore_errors=True)
    try:
        free = shutil.disk_usage(own).free
        if free < size + SPARE_BYTES:
            needed, there = round((size + SPARE_BYTES) / 1e6), round(free / 1e6)
            raise NoCopyError(_("The disk has {there} MB left; a copy needs {needed} MB.", there=there, needed=needed))
        with tempfile.TemporaryDirectory(prefix=PREFIX, dir=own) as folder:
            copy = Path(folder) / path.name
            length = back_up(path, copy)
            return copy.open("rb"), length
    except LogbookError as error:
        raise NoCopyError(_("The logbook could not be copied: {why}", why=error.told)) from error
    except OSError as error:
        raise NoCopyError(_("The logbook could not be copied: {why}", why=error.strerror or error)) from error
