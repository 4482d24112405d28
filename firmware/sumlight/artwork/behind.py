"""Artwork of its own for the back: laid onto the front's pixels by the middles of both, and told apart in findings."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from sumlight.artwork.check import Finding
from sumlight.artwork.sheet import Mask, Sheet, from_rows
from sumlight.craft.checks import between
from sumlight.text.message import say

MOST_SHIFT_UM = 5000.0
APART_MM = 1.0
"""Front and back of one plate may differ by so much across or down once they are cropped: a line's width, a scan's tilt
(common practice, no source)."""


def laid_onto(front: Sheet, back: Sheet) -> Sheet:
    """The back on the front's pixels, middle on middle; where it does not reach there is metal.

    Raises ValueError for two sheets that are not of one size.
    """
    sizes = [(one.width_px * one.pitch_um / 1000, one.height_px * one.pitch_um / 1000) for one in (front, back)]
    if max(abs(one - other) for one, other in zip(*sizes, strict=True)) > APART_MM:
        told = say("art_back_size", wide=sizes[0][0], high=sizes[0][1], back_wide=sizes[1][0], back_high=sizes[1][1])
        raise ValueError(told)
    scale = front.pitch_um / back.pitch_um

    def from_back(count: int, there: int) -> tuple[np.ndarray[tuple[int], np.dtype[np.int64]], Mask]:
        """For each pixel of the front, its place on the back, and whether there is one."""
        at = np.floor((np.arange(count) + 0.5 - count / 2) * scale + there / 2 + 1e-9).astype(np.int64)
        return np.clip(at, 0, there - 1), (at >= 0) & (at < there)

    rows, rows_in = from_back(front.height_px, back.height_px)
    columns, columns_in = from_back(front.width_px, back.width_px)

    def parts() -> Iterator[Mask]:
        for strip in front.strips():
            wanted = rows[strip.first : strip.last]
            there = back.rows(int(wanted[0]), int(wanted[-1]) + 1)[wanted - wanted[0]][:, columns]
            yield there & rows_in[strip.first : strip.last, None] & columns_in

    return from_rows(parts(), front.height_px, front.width_px, front.pitch_um)


def shifted(sheet: Sheet, right_um: float, down_um: float) -> Sheet:
    """A sheet that lies so far off, to the nearest pixel; where it does not reach there is metal.

    Raises ValueError for more than 5 mm.
    """
    right, down = (
        round(between(name, one, -MOST_SHIFT_UM, MOST_SHIFT_UM) / sheet.pitch_um)
        for name, one in (("shift right", right_um), ("shift down", down_um))
    )

    def parts() -> Iterator[Mask]:
        for strip in sheet.strips():
            made = np.zeros((strip.last - strip.first, sheet.width_px), np.bool_)
            first, last = (min(max(one - down, 0), sheet.height_px) for one in (strip.first, strip.last))
            if first < last and abs(right) < sheet.width_px:
                there = sheet.rows(first, last)
                to, source = (slice(max(0, one), sheet.width_px + min(0, one)) for one in (right, -right))
                top = first + down - strip.first
                made[top : top + last - first, to] = there[:, source]
            yield made

    return from_rows(parts(), sheet.height_px, sheet.width_px, sheet.pitch_um)


def on_back(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """The same findings, said of the back; places are as seen from the front."""
    return tuple(replace(one, words=say("art_on_back", told=one.words)) for one in findings)
