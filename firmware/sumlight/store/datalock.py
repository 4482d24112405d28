"""One process at a time owns a data folder. The kernel lets go of the lock with the process, however that ends."""

import errno
import fcntl
import os
import weakref
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self

from sumlight.text.message import say

NAME = ".in-use"


class DataInUseError(RuntimeError):
    """The data folder belongs to another process at present, or cannot be locked."""


class DataLock:
    """Makes the folder if need be and takes it for this process; held until `release`.

    Raises DataInUseError.
    """

    def __init__(self, data: Path) -> None:
        try:
            data.mkdir(parents=True, exist_ok=True)
            handle = _open(data)
        except OSError as error:
            told = say("data_unusable", folder=str(data), why=error.strerror or str(error))
            raise DataInUseError(told) from error
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            os.close(handle)
            if error.errno in (errno.EWOULDBLOCK, errno.EACCES):
                raise DataInUseError(say("data_in_use", folder=str(data))) from error
            told = say("data_not_locked", folder=str(data), why=error.strerror or str(error))
            raise DataInUseError(told) from error
        self._let_go = weakref.finalize(self, os.close, handle)  # also where what was to follow failed

    def release(self) -> None:
        """Let others use the folder; may be called twice."""
        self._let_go()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.release()


def _open(data: Path) -> int:
    """The file that the lock lies on: for the folder's owner only, so that no other account can keep it from him."""
    path = data / NAME
    flags = os.O_RDONLY | os.O_NOFOLLOW | os.O_CLOEXEC
    with suppress(FileNotFoundError):
        return os.open(path, flags)
    handle = os.open(path, flags | os.O_CREAT, 0o600)
    owner = os.stat(data)
    if os.geteuid() == 0 and owner.st_uid != 0:  # e.g. `sumlight records restore` by root before control has ever run
        os.fchown(handle, owner.st_uid, owner.st_gid)
    return handle
