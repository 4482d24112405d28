"""Writes PNG row by row (ISO/IEC 15948), so that a whole sheet never stands in memory: 1 bit, or a palette of 16."""

import struct
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

import numpy as np
from numpy.typing import NDArray

from sumlight.artwork.sheet import Sheet

_GREY, _PALETTE = 0, 3
Colours = tuple[tuple[int, int, int], ...]


@dataclass(frozen=True)
class Format:
    """Size, pitch, and the colours of a palette; none is 1 bit, where 1 is white.

    `printed` is how long a printer makes a unit across and down: the density makes up for it.
    """

    width_px: int
    height_px: int
    pitch_um: float
    colours: Colours = ()
    printed: tuple[float, float] = (1.0, 1.0)


class PngFile:
    """A PNG that grows. It must not exist yet; one that was not finished is removed."""

    def __init__(self, path: Path, wanted: Format) -> None:
        self._path, self._wanted = path, wanted
        self._file = path.open("xb")
        self._packer = zlib.compressobj(6)
        self._file.write(b"\x89PNG\r\n\x1a\n")
        depth, colour = (4, _PALETTE) if wanted.colours else (1, _GREY)
        self._chunk(b"IHDR", struct.pack(">IIBBBBB", wanted.width_px, wanted.height_px, depth, colour, 0, 0, 0))
        per_m = (round(1e6 / wanted.pitch_um * by) for by in wanted.printed)
        self._chunk(b"pHYs", struct.pack(">IIB", *per_m, 1))
        if wanted.colours:
            self._chunk(b"PLTE", bytes(part for colour in wanted.colours for part in colour))

    def __enter__(self) -> "PngFile":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, _error: BaseException | None, _at: TracebackType | None
    ) -> None:
        if kind is None:
            self._chunk(b"IDAT", self._packer.flush())
            self._chunk(b"IEND", b"")
        self._file.close()
        if kind is not None:
            self._path.unlink(missing_ok=True)

    def put(self, rows: NDArray[np.uint8]) -> None:
        """Add rows: packed bits, or one number of a colour a pixel."""
        packed = rows
        if self._wanted.colours:
            even = np.zeros((len(rows), (self._wanted.width_px + 1) // 2 * 2), np.uint8)
            even[:, : self._wanted.width_px] = rows
            packed = np.asarray((even[:, ::2] << 4) | even[:, 1::2], np.uint8)
        lines = np.zeros((len(packed), packed.shape[1] + 1), np.uint8)  # each line begins with its filter: none
        lines[:, 1:] = packed
        data = self._packer.compress(lines.tobytes())
        if data:
            self._chunk(b"IDAT", data)

    def _chunk(self, name: bytes, data: bytes) -> None:
        check = zlib.crc32(name + data)
        self._file.write(struct.pack(">I", len(data)) + name + data + struct.pack(">I", check))


def write_sheet(path: Path, sheet: Sheet, black: str, printed: tuple[float, float] = (1.0, 1.0)) -> None:
    """Write a sheet at 1 bit with its density; `black` says what is black. Raises FileExistsError, OSError."""
    with PngFile(path, Format(sheet.width_px, sheet.height_px, sheet.pitch_um, printed=printed)) as file:
        for rows in black_rows(sheet, black):
            file.put(~rows)  # here 1 is white


def black_rows(sheet: Sheet, black: str) -> Iterable[NDArray[np.uint8]]:
    """Packed rows of a sheet in which 1 is black."""
    for first in range(0, sheet.height_px, 1024):
        rows = sheet.packed[first : first + 1024]
        yield rows if black == "open" else ~rows
