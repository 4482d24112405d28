"""Photos of panels beside a copy of the logbook: one archive, written and put back whole."""

import os
import re
import shutil
import zipfile
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from sumlight.store.files import sync_folder
from sumlight.store.logbook.database import LogbookError
from sumlight.store.maintenance.backup import aside_name, part_of
from sumlight.store.operators import access_folder
from sumlight.text.message import say

FOLDER = "photos"
NAME = re.compile(r"[1-9]\d{0,15}\.jpg")
LARGEST_BYTES = 1_000_000
"""What the page takes; an archive that holds more for one photo was not written here."""


def folder_of(data: Path) -> Path:
    """Where the page keeps its photos."""
    return access_folder(data) / FOLDER


def archive_of(copy: Path) -> Path:
    """The archive that belongs to a copy of the logbook."""
    return copy.with_name(copy.name + ".photos.zip")


def back_up_photos(data: Path, copy: Path) -> int:
    """Put all photos into the archive beside a copy of the logbook; returns how many. None are no archive.

    Raises LogbookError, also when the archive is there already or the photos cannot be read: they are the page's own.
    """
    target, folder = archive_of(copy), folder_of(data)
    if target.exists():
        raise LogbookError(say("copy_name_taken", file=str(target)))
    part = part_of(target)
    try:
        found = sorted(each for each in os.listdir(folder) if NAME.fullmatch(each)) if _is_there(folder) else []
        if not found:
            return 0
        with zipfile.ZipFile(part, "x", zipfile.ZIP_STORED) as archive:  # a JPEG grows no smaller
            for name in found:
                with suppress(FileNotFoundError):  # taken away meanwhile
                    archive.write(folder / name, name)
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        os.replace(part, target)
        sync_folder(target.parent)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise LogbookError(say("photos_not_copied", why=error.strerror or str(error))) from error
    return len(found)


def put_back_photos(data: Path, copy: Path, utc: datetime) -> tuple[int, Path | None]:
    """Make the photos of an archive those of the page again; how many, and where those that were there lie now.

    A copy without an archive changes nothing. Control and page must not be running. Raises LogbookError; the photos
    are then as they were.
    """
    source, folder = archive_of(copy), folder_of(data)
    if not source.is_file():
        return 0, None
    fresh = folder.with_name(f".{FOLDER}.new")
    kept = None
    try:
        shutil.rmtree(fresh, ignore_errors=True)  # left by a power cut
        fresh.mkdir(mode=0o700, parents=True)
        count = _unpacked(source, fresh)
        if _is_there(folder):
            aside = aside_name(folder, "replaced", utc)
            os.rename(folder, aside)
            kept = aside
        os.rename(fresh, folder)
        sync_folder(folder.parent)
    except (OSError, zipfile.BadZipFile) as error:
        shutil.rmtree(fresh, ignore_errors=True)
        if kept is not None and not os.path.lexists(folder):
            os.rename(kept, folder)
        raise LogbookError(say("photos_not_put_back", file=str(source), why=str(error))) from error
    return count, kept


def _unpacked(source: Path, fresh: Path) -> int:
    """Photos alone are taken out, by names that the page gives; they get the owner of the page's folder."""
    owner = fresh.parent.stat()
    count = 0
    with zipfile.ZipFile(source) as archive:
        for entry in archive.infolist():
            if not NAME.fullmatch(entry.filename) or entry.file_size > LARGEST_BYTES:
                raise zipfile.BadZipFile(f"{entry.filename[:40]!r} is no photo of a panel")
            path = fresh / entry.filename
            path.write_bytes(archive.read(entry))
            path.chmod(0o600)
            _give(path, owner)
            count += 1
    _give(fresh, owner)
    return count


def _give(path: Path, owner: os.stat_result) -> None:
    if os.geteuid() == 0:
        os.chown(path, owner.st_uid, owner.st_gid)


def _is_there(folder: Path) -> bool:
    """Whether there is such a folder; one that may not be looked into is an error, not an empty one."""
    try:
        os.stat(folder)
    except FileNotFoundError:
        return False
    return True
