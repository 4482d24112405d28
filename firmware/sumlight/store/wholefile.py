"""Small files replaced as a whole, so that a reader or a power cut finds the old one or the new one."""

import os
from contextlib import suppress
from pathlib import Path


def replace_whole(path: Path, raw: bytes) -> None:
    """Write `raw` beside `path`, make sure it is on the disk, then give it the name of `path`. Raises OSError."""
    beside = path.with_name(f".{path.name}.new")
    flags = os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_NOFOLLOW
    try:
        with open(os.open(beside, flags, 0o644), "wb") as file:
            if path.exists():
                os.fchmod(file.fileno(), path.stat().st_mode & 0o777)
            file.write(raw)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except BaseException:
        with suppress(OSError):
            beside.unlink()
        raise
