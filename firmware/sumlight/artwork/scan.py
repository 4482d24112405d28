"""A scan as grey values, all in memory since it lies crooked; and copies of it and of a sheet at fewer pixels."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sumlight.artwork.picture import Grey, Picture, strip_rows
from sumlight.artwork.sheet import Sheet

Small = NDArray[np.float32]


@dataclass(frozen=True)
class Scan:
    """Grey values, and µm of a pixel."""

    grey: Grey
    pitch_um: float


def scan_of(picture: Picture) -> Scan:
    """All of a picture."""
    grey = np.empty((picture.header.height_px, picture.header.width_px), np.uint8)
    row = 0
    for strip in picture.strips():
        grey[row : row + len(strip)] = strip
        row += len(strip)
    return Scan(grey, picture.pitch_um)


def small_of_scan(scan: Scan, pitch_um: float) -> Small:
    """Grey values from 0 to 1 at about that pitch, each the mean of what it covers."""
    height, width = scan.grey.shape
    size = _size(width, height, scan.pitch_um / pitch_um)
    return np.asarray(cv2.resize(scan.grey, size, interpolation=cv2.INTER_AREA), np.float32) / np.float32(255)


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
