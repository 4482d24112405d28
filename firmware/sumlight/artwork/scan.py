"""A scan's grey values, in rows as they are asked for, since it lies crooked; and copies at fewer pixels.

A whole sheet never stands in memory: a picture is unpacked once into a file without a name, and read from there.
"""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from sumlight.artwork.picture import Grey, Picture, strip_rows
from sumlight.artwork.sheet import Sheet

Small = NDArray[np.float32]
LARGE_FILES = Path("/var/tmp")  # noqa: S108 - a file without a name, which nobody else can open
"""Where a scan is laid down: /tmp is memory on many systems."""


@dataclass(frozen=True)
class Scan:
    """Grey values, all at hand, and µm of a pixel."""

    grey: Grey
    pitch_um: float

    @property
    def width_px(self) -> int:
        """Pixels across."""
        return int(self.grey.shape[1])

    @property
    def height_px(self) -> int:
        """Rows."""
        return int(self.grey.shape[0])

    def rows(self, first: int, last: int) -> Grey:
        """Some of its rows."""
        return self.grey[first:last]


@dataclass(frozen=True)
class LaidDown:
    """A scan whose rows lie in a file, one byte a pixel. Good as long as the file is open."""

    file: int
    width_px: int
    height_px: int
    pitch_um: float

    def rows(self, first: int, last: int) -> Grey:
        """Some of its rows. Raises OSError."""
        found = os.pread(self.file, (last - first) * self.width_px, first * self.width_px)
        return np.frombuffer(found, np.uint8).reshape(last - first, self.width_px)


AnyScan = Scan | LaidDown


@contextmanager
def laid_down(picture: Picture, folder: Path | None = None) -> Iterator[LaidDown]:
    """Unpack a picture into a file of `folder` that has no name and is gone afterwards, even if this process is killed.

    Raises as the picture's strips do, and OSError where there is no room.
    """
    where = folder if folder is not None else LARGE_FILES if LARGE_FILES.is_dir() else None
    with tempfile.TemporaryFile(dir=where, buffering=0) as file:
        for part in picture.strips():
            left = memoryview(part.tobytes())
            while left:
                left = left[file.write(left) :]
        header = picture.header
        yield LaidDown(file.fileno(), header.width_px, header.height_px, picture.pitch_um)


def small_of_scan(scan: AnyScan, pitch_um: float) -> Small:
    """Grey values from 0 to 1 at about that pitch, each the mean of what it covers."""
    width, height = _size(scan.width_px, scan.height_px, scan.pitch_um / pitch_um)
    made = np.zeros((height, width), np.float32)
    tall = scan.height_px / height
    step = strip_rows(scan.width_px)
    for first in range(0, scan.height_px, step):
        last = min(first + step, scan.height_px)
        across = cv2.resize(
            scan.rows(first, last).astype(np.float32), (width, last - first), interpolation=cv2.INTER_AREA
        )
        top, bottom = int(first / tall), min(height, int(np.ceil(last / tall)))
        begins, row = np.arange(top, bottom)[:, None] * tall, np.arange(first, last)
        # The share of each row of the scan in each row of the copy.
        share = np.clip(np.minimum(begins + tall, row + 1) - np.maximum(begins, row), 0, None) / tall
        made[top:bottom] += share.astype(np.float32) @ np.asarray(across, np.float32).reshape(last - first, width)
    return made / np.float32(255)


def small_of_sheet(sheet: Sheet, pitch_um: float) -> Small:
    """Share of opening at about that pitch, each the mean of what it covers."""
    block = max(1, int(pitch_um / sheet.pitch_um / 2))
    height, width = sheet.height_px // block, sheet.width_px // block
    made = np.empty((height, width), np.float32)
    step = max(1, strip_rows(sheet.width_px) // block)
    for first in range(0, height, step):
        last = min(first + step, height)
        rows = sheet.rows(first * block, last * block)[:, : width * block]
        made[first:last] = cv2.resize(
            rows.view(np.uint8) * np.uint8(255), (width, last - first), interpolation=cv2.INTER_AREA
        )
    size = _size(sheet.width_px, sheet.height_px, sheet.pitch_um / pitch_um)
    return np.asarray(cv2.resize(made, size, interpolation=cv2.INTER_AREA), np.float32) / np.float32(255)


def _size(width: int, height: int, scale: float) -> tuple[int, int]:
    return max(1, round(width * scale)), max(1, round(height * scale))
