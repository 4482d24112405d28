"""Small files put in place as a whole: after a power cut or on a full disk there is the old one or the new one."""

import os
from contextlib import suppress
from pathlib import Path


def replace_file(path: Path, raw: bytes, *, mode: int | None = None) -> None:
    """Write `raw` beside `path`, make sure it is on the disk, then give it the name of `path`.

    Permissions are `mode`; without it those of the file that stands there. Raises OSError; nothing is left behind then.
    """
    beside = path.with_name(f".{path.name}.new")
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW
    try:
        beside.unlink(missing_ok=True)  # left by a power cut
        with open(os.open(beside, flags, 0o644 if mode is None else mode), "wb") as file:
            if mode is None and path.exists():
                os.fchmod(file.fileno(), path.stat().st_mode & 0o777)
            file.write(raw)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except BaseException:
        with suppress(OSError):
            beside.unlink()
        raise
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Make sure that the names in a folder are on the disk. Raises OSError."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
