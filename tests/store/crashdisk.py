"""A disk under SQLite that can lose power: writes that were not synced are kept, lost, torn or spoilt at random.

This is the way SQLite tests itself ("How SQLite Is Tested", crash testing): a VFS between library and file system notes
every write since the last sync of its file; after a power cut there is the synced content plus a random choice of the
rest. Here the VFS is SQLite's own for Unix with the calls that write exchanged, reached through ctypes; nothing has to
be built or mounted. A write is torn at sectors of 512 bytes, spoilt sectors hold noise. What lies outside a write is
never harmed (SQLite's assumption of power-safe overwrite; a card that breaks it needs the rescue, not this).
"""

import ctypes as c
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from types import TracebackType
from typing import Any, Self

SECTOR = 512
_POINTERS: tuple[str, ...] = (
    "xClose",
    "xRead",
    "xWrite",
    "xTruncate",
    "xSync",
    "xFileSize",
    "xLock",
    "xUnlock",
    "xCheckReservedLock",
)
_POINTERS += ("xFileControl", "xSectorSize", "xDeviceCharacteristics", "xShmMap", "xShmLock", "xShmBarrier")
_POINTERS += ("xShmUnmap", "xFetch", "xUnfetch")
_VFS_POINTERS: tuple[str, ...] = (
    "xOpen",
    "xDelete",
    "xAccess",
    "xFullPathname",
    "xDlOpen",
    "xDlError",
    "xDlSym",
    "xDlClose",
)
_VFS_POINTERS += ("xRandomness", "xSleep", "xCurrentTime", "xGetLastError", "xCurrentTimeInt64", "xSetSystemCall")
_VFS_POINTERS += ("xGetSystemCall", "xNextSystemCall")


class _Methods(c.Structure):
    _fields_ = [("iVersion", c.c_int), *((name, c.c_void_p) for name in _POINTERS)]


class _Vfs(c.Structure):
    _fields_ = [
        ("iVersion", c.c_int),
        ("szOsFile", c.c_int),
        ("mxPathname", c.c_int),
        ("pNext", c.c_void_p),
        ("zName", c.c_char_p),
        ("pAppData", c.c_void_p),
        *((name, c.c_void_p) for name in _VFS_POINTERS),
    ]


_OPEN = c.CFUNCTYPE(c.c_int, c.c_void_p, c.c_void_p, c.c_void_p, c.c_int, c.c_void_p)
_WRITE = c.CFUNCTYPE(c.c_int, c.c_void_p, c.c_void_p, c.c_int, c.c_int64)
_TRUNCATE = c.CFUNCTYPE(c.c_int, c.c_void_p, c.c_int64)
_SYNC = c.CFUNCTYPE(c.c_int, c.c_void_p, c.c_int)


@dataclass
class Kept:
    """One file: content as of its last sync, and what was done since: (offset, bytes), or (length, None) to cut it."""

    synced: bytearray = field(default_factory=bytearray)
    since: list[tuple[int, bytes | None]] = field(default_factory=list)

    def sync(self) -> None:
        """All that was done is safe now."""
        for at, data in self.since:
            _apply(self.synced, at, data)
        self.since.clear()

    def after_power_cut(self, chance: Random) -> bytes:
        """Content as a power cut may leave it."""
        found = bytearray(self.synced)
        mercy = chance.choice((0.0, 0.3, 0.5, 0.8, 1.0))
        for at, data in self.since:
            if chance.random() >= mercy:
                continue
            if data is None or chance.random() < 0.6:
                _apply(found, at, data)
                continue
            for begin in range(0, len(data), SECTOR):
                piece = data[begin : begin + SECTOR]
                fate = chance.random()
                if fate < 0.6:
                    _apply(found, at + begin, piece)
                elif fate < 0.7:
                    _apply(found, at + begin, chance.randbytes(len(piece)))
        return bytes(found)


def _apply(content: bytearray, at: int, data: bytes | None) -> None:
    if data is None:
        del content[at:]
        return
    if len(content) < at:
        content.extend(bytes(at - len(content)))
    content[at : at + len(data)] = data


class CrashDisk:
    """SQLite's default VFS while it is open as a context; connections must be made and closed within.

    `before` is called ahead of every write, cut and sync, with the number of it.
    """

    def __init__(self, before: Callable[[int], None] = lambda number: None) -> None:
        self.files: dict[str, Kept] = {}
        self.count = 0
        self._before = before
        self._names: dict[int, str] = {}
        self._real_methods: dict[int, _Methods] = {}
        self._tables: dict[int, _Methods] = {}
        self._alive: list[Any] = []
        self._library = _sqlite()
        self._library.sqlite3_vfs_find.restype = c.POINTER(_Vfs)
        self._unix = self._library.sqlite3_vfs_find(b"unix")
        self._open_real = _OPEN(self._unix.contents.xOpen)
        self._vfs = _Vfs.from_buffer_copy(self._unix.contents)
        self._vfs.zName, self._vfs.pNext = b"crash", None
        opener = _OPEN(self._open)
        self._alive.append(opener)
        self._vfs.xOpen = c.cast(opener, c.c_void_p)

    def __enter__(self) -> Self:
        self._library.sqlite3_vfs_register(c.byref(self._vfs), 1)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._library.sqlite3_vfs_unregister(c.byref(self._vfs))
        self._library.sqlite3_vfs_register(self._unix, 1)

    def power_cut(self, folder: Path, chance: Random) -> None:
        """Write into `folder` what a power cut at this moment may leave of every file."""
        folder.mkdir(parents=True)
        for name, kept in self.files.items():
            (folder / Path(name).name).write_bytes(kept.after_power_cut(chance))

    def _open(self, vfs: int, name: int, file: int, flags: int, out: int) -> int:
        answer = self._open_real(vfs, name, file, flags, out)
        if answer or not name:
            return int(answer)
        text = (c.string_at(name) or b"").decode()
        pointer = c.cast(file, c.POINTER(c.c_void_p))
        real = pointer[0]
        if real:
            self._names[file] = text
            self.files.setdefault(text, Kept(bytearray(Path(text).read_bytes() if Path(text).exists() else b"")))
            if real not in self._tables:
                self._tables[real] = self._table(_Methods.from_address(real))
            pointer[0] = c.addressof(self._tables[real])
        return int(answer)

    def _table(self, real: _Methods) -> _Methods:
        """A copy of SQLite's own methods with ours where something is written."""
        table = _Methods.from_buffer_copy(real)
        write_real, truncate_real, sync_real = _WRITE(real.xWrite), _TRUNCATE(real.xTruncate), _SYNC(real.xSync)

        def write(file: int, data: int, length: int, at: int) -> int:
            self._note(file, at, c.string_at(data, length))
            return int(write_real(file, data, length, at))

        def truncate(file: int, length: int) -> int:
            self._note(file, length, None)
            return int(truncate_real(file, length))

        def sync(file: int, flags: int) -> int:
            self._tick()
            self.files[self._names[file]].sync()
            return int(sync_real(file, flags))

        for name, maker, ours in (
            ("xWrite", _WRITE, write),
            ("xTruncate", _TRUNCATE, truncate),
            ("xSync", _SYNC, sync),
        ):
            callback = maker(ours)
            self._alive.append(callback)
            setattr(table, name, c.cast(callback, c.c_void_p))
        return table

    def _note(self, file: int, at: int, data: bytes | None) -> None:
        self._tick()
        self.files[self._names[file]].since.append((at, data))

    def _tick(self) -> None:
        self.count += 1
        self._before(self.count)


def _sqlite() -> Any:
    """The library that Python's sqlite3 module has loaded; another copy would not share its VFS list."""
    sqlite3.connect(":memory:").close()
    for line in Path("/proc/self/maps").read_text(encoding="utf-8").splitlines():
        path = line.split()[-1]
        if "libsqlite3" in path:
            return c.CDLL(path)
    raise RuntimeError("this Python has SQLite built in; the crash disk needs it as a library of its own")
