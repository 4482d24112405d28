"""Small pictures for a screen: in amber, which may be looked at beside open resist, and grey for daylight."""

import math
from pathlib import Path

import cv2
import numpy as np

from sumlight.artwork.picture import Grey
from sumlight.artwork.pngfile import Colours, Format, PngFile
from sumlight.artwork.sheet import Mask, Sheet

LONGEST_PX = 1200
STEPS = 15
"""Of tone; the palette's last colour is for what is marked."""
_TONES = tuple(round(255 * step / (STEPS - 1)) for step in range(STEPS))
AMBER: Colours = (*((tone, round(0.5 * tone), 0) for tone in _TONES), (150, 0, 0))
DAYLIGHT: Colours = (*((tone, tone, tone) for tone in _TONES), (200, 40, 40))


class Shrinker:
    """Takes a picture's rows from the top and makes it small, by the mean of squares of pixels.

    A square in which anything is marked is marked: a speck of dust is smaller than a pixel of the screen.
    """

    def __init__(self, width_px: int, height_px: int, longest_px: int = LONGEST_PX) -> None:
        self.step = math.ceil(max(width_px, height_px) / longest_px)
        self._width = math.ceil(width_px / self.step)
        self._left = height_px
        self._kept: list[tuple[Grey, Mask]] = []
        self._tones: list[Grey] = []
        self._marks: list[Mask] = []

    def put(self, tone: Grey, marked: Mask | None = None) -> None:
        """Add rows, and which of their pixels are marked."""
        self._left -= len(tone)
        self._kept.append((tone, np.zeros(tone.shape, np.bool_) if marked is None else marked))
        waiting = sum(len(one) for one, _marked in self._kept)
        whole = waiting if self._left <= 0 else waiting - waiting % self.step
        if not whole:
            return
        tones, marks = (np.concatenate([one[part] for one in self._kept]) for part in (0, 1))
        self._kept = [(tones[whole:], marks[whole:])] if whole < waiting else []
        self._tones.append(self._small(tones[:whole].astype(np.float32)).round().astype(np.uint8))
        self._marks.append(self._small(marks[:whole].astype(np.float32)) > 0)

    def _small(
        self, rows: np.ndarray[tuple[int, int], np.dtype[np.float32]]
    ) -> np.ndarray[tuple[int, int], np.dtype[np.float32]]:
        high = math.ceil(len(rows) / self.step)
        down, right = high * self.step - len(rows), self._width * self.step - rows.shape[1]
        even = cv2.copyMakeBorder(rows, 0, down, 0, right, cv2.BORDER_REPLICATE)
        return np.asarray(cv2.resize(even, (self._width, high), interpolation=cv2.INTER_AREA), np.float32)

    @property
    def tone(self) -> Grey:
        """The small picture."""
        return np.concatenate(self._tones)

    def write(self, folder: Path, name: str, pitch_um: float) -> None:
        """Write NAME.png and NAME-daylight.png. Raises FileExistsError, OSError."""
        levels = (self.tone.astype(np.uint16) * (STEPS - 1) + 127) // 255
        levels[np.concatenate(self._marks)] = STEPS
        for suffix, colours in (("", AMBER), ("-daylight", DAYLIGHT)):
            wanted = Format(levels.shape[1], levels.shape[0], pitch_um * self.step, colours)
            with PngFile(folder / f"{name}{suffix}.png", wanted) as file:
                file.put(levels.astype(np.uint8))


def write_sheet_small(folder: Path, name: str, sheet: Sheet, marked: Sheet | None = None) -> None:
    """Write a sheet small, metal bright, with what is open in `marked` marked. Raises as `Shrinker.write`."""
    shrinker = Shrinker(sheet.width_px, sheet.height_px)
    for strip in sheet.strips():
        tone = np.where(strip.rows, np.uint8(0), np.uint8(230))
        shrinker.put(tone, None if marked is None else marked.rows(strip.first, strip.last))
    shrinker.write(folder, name, sheet.pitch_um)
