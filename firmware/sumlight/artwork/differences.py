"""Differences that matter between a reference and a scan laid on it: where, how large, and of which kind.

A kind is what the difference does to metal, told by what it touches: metal that is too much and joins two pieces is a
short, at one piece a spur, by itself an island; metal that is missing and lies between two openings is an open, at one
opening a nick, by itself a pinhole. Swapping black and white swaps each with its counterpart.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from sumlight.artwork.check import PLACES, Finding, Place
from sumlight.artwork.front import HALF_PX, distance_um
from sumlight.artwork.pngfile import Colours, Format, PngFile
from sumlight.artwork.regions import EIGHT, Regions, regions
from sumlight.artwork.sheet import Mask, Sheet, from_rows
from sumlight.text.message import Message, say

KINDS = ("open", "short", "nick", "spur", "pinhole", "island")
TOLERANCE_PX, OF_SPREAD_PX, SPREADS = 1.5, 1.2, 3.0
"""An edge that is off by less than that, beyond the growth of all edges, is none: the first, or the second and so many
times what single edges scatter by, if that is more. (Fixed on 30 of the boards that the benchmark judges.)"""
CORE_PX, CORE_DEEP_PX, BODY_PX = 4, 1.0, 6
"""A difference has so many pixels beyond the tolerance or reaches so far beyond it, and has so many in all."""
JOIN_PX = 6
"""Pieces of a difference that lie nearer are one."""
AROUND_PX = 16
ARC_PX = 3
"""Less of metal beside a difference is a pixel's whim, no contact."""
MOST = 2000


@dataclass(frozen=True)
class Difference:
    """One difference: its kind, middle from the reference's top left, longer and shorter side of its box, and area."""

    kind: str
    x_mm: float
    y_mm: float
    width_um: float
    height_um: float
    area_um2: float

    @property
    def size_um(self) -> float:
        """The longer side of its box."""
        return max(self.width_um, self.height_um)


def tolerance(spread_px: float) -> float:
    """How far edges may be off, in pixels, for what single edges scatter by."""
    return max(TOLERANCE_PX, OF_SPREAD_PX + SPREADS * spread_px)


def differences(
    reference: Sheet, seen: Sheet, *, growth_px: float = 0.0, tolerance_px: float = TOLERANCE_PX
) -> tuple[list[Difference], int]:
    """All that differs, the largest first, at most 2000 of the number that is returned with them."""
    found: list[Difference] = []
    total = 0
    for metal in (True, False):  # too much metal, then too little
        # Where openings grew, metal is expected to be short of the reference's edge by as much.
        beyond = tolerance_px + max(0.0, -growth_px if metal else growth_px)
        core = _core(reference, seen, metal, beyond)
        joined = _joined(core)
        total += len(joined)
        for one in np.argsort(-joined.area_px, kind="stable")[:MOST].tolist():
            made = _told(reference, seen, joined, one, metal, beyond)
            if made is None:
                total -= 1
            else:
                found.append(made)
    found.sort(key=lambda one: -one.area_um2)
    return found[:MOST], total


def _core(reference: Sheet, seen: Sheet, metal: bool, tolerance_px: float) -> Sheet:
    """Open where the scan has metal (or an opening) too far from the reference's."""
    beyond = tolerance_px - HALF_PX

    def parts() -> Iterator[Mask]:
        halo = math.ceil(beyond) + 3
        for wanted, made in zip(reference.strips(halo), seen.strips(halo), strict=True):
            of_kind = ~wanted.rows if metal else wanted.rows
            off = (~made.rows if metal else made.rows) & ~of_kind
            if off.any():
                off &= distance_um(of_kind, 1.0) > beyond
            yield off[wanted.core]

    return from_rows(parts(), reference.height_px, reference.width_px, reference.pitch_um)


def _joined(core: Sheet) -> Regions:
    """Pieces of the core, those that lie near each other as one; boxes are those of the core as grown."""
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (JOIN_PX | 1, JOIN_PX | 1))

    def parts() -> Iterator[Mask]:
        for strip in core.strips(JOIN_PX):
            grown = cv2.dilate(strip.rows.view(np.uint8), kernel) if strip.rows.any() else strip.rows.view(np.uint8)
            yield grown[strip.core].view(np.bool_)

    return regions(parts, EIGHT)


def _told(
    reference: Sheet, seen: Sheet, found: Regions, one: int, metal: bool, tolerance_px: float
) -> Difference | None:
    """A difference in words, from a window around it; None for one too small to matter."""
    pad = AROUND_PX
    left, top = max(0, int(found.left[one]) - pad), max(0, int(found.top[one]) - pad)
    right, bottom = (
        min(reference.width_px, int(found.right[one]) + pad),
        min(reference.height_px, int(found.bottom[one]) + pad),
    )
    wanted = reference.rows(top, bottom)[:, left:right]
    made = seen.rows(top, bottom)[:, left:right]
    of_kind, off = (~wanted, ~made & wanted) if metal else (wanted, made & ~wanted)
    deep = np.where(off, distance_um(of_kind, 1.0) - (tolerance_px - HALF_PX), 0.0)
    inside = np.zeros_like(off)
    box = np.s_[
        int(found.top[one]) - top : int(found.bottom[one]) - top,
        int(found.left[one]) - left : int(found.right[one]) - left,
    ]
    inside[box] = True
    core = (deep > 0) & inside
    if not core.any() or (np.count_nonzero(core) < CORE_PX and float(deep[core].max()) < CORE_DEEP_PX):
        return None
    body = _grown_within(core, off, math.ceil(tolerance_px) + 1)
    y, x = np.nonzero(body)
    if len(x) < BODY_PX:
        return None
    beside = _grown(body, math.ceil(tolerance_px) + 1) & of_kind & ~body
    kind = _kind(beside, metal)
    pitch = reference.pitch_um
    wide, high = int(x.max() - x.min()) + 1, int(y.max() - y.min()) + 1
    return Difference(
        kind,
        (left + (int(x.max()) + int(x.min()) + 1) / 2) * pitch / 1000,
        (top + (int(y.max()) + int(y.min()) + 1) / 2) * pitch / 1000,
        wide * pitch,
        high * pitch,
        len(x) * pitch**2,
    )


def _kind(beside: Mask, metal: bool) -> str:
    """By how many separate pieces it touches."""
    count, _labels, stats, _centres = cv2.connectedComponentsWithStats(beside.view(np.uint8), connectivity=8)
    touched = int((stats[1:count, cv2.CC_STAT_AREA] >= ARC_PX).sum())
    names = ("island", "spur", "short") if metal else ("pinhole", "nick", "open")
    return names[min(touched, 2)]


def _grown(mask: Mask, by_px: int) -> Mask:
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * by_px + 1, 2 * by_px + 1))
    return np.asarray(cv2.dilate(mask.view(np.uint8), kernel).view(np.bool_))


def _grown_within(core: Mask, within: Mask, by_px: int) -> Mask:
    """The core, and what of the raw difference is reached from it in so many steps."""
    kernel = np.ones((3, 3), np.uint8)
    found = core
    for _ in range(by_px):
        found = cv2.dilate(found.view(np.uint8), kernel).view(np.bool_) & within
    return np.asarray(found)


def findings_of(found: Sequence[Difference]) -> tuple[Finding, ...]:
    """Differences in words, kind by kind, with their largest places."""
    told = []
    for kind in KINDS:
        of_kind = [one for one in found if one.kind == kind]
        if of_kind:
            places = tuple(Place(one.x_mm, one.y_mm, one.size_um) for one in of_kind[:PLACES])
            told.append(Finding(kind, _words(kind, len(of_kind)), say("art_differs_remedy"), places, len(of_kind)))
    return tuple(told)


def _words(kind: str, count: int) -> Message:
    words = {
        "open": say("art_opens", count=count),
        "short": say("art_shorts", count=count),
        "nick": say("art_nicks", count=count),
        "spur": say("art_spurs", count=count),
        "pinhole": say("art_pinholes", count=count),
        "island": say("art_extra_islands", count=count),
    }
    return words[kind]


METAL, OPEN, TOO_LITTLE, TOO_MUCH = range(4)
"""Levels of the picture: metal and openings on both, metal that is missing, and metal that is too much."""
AMBER: Colours = ((40, 20, 0), (90, 45, 0), (255, 0, 0), (255, 127, 0))
DAYLIGHT: Colours = ((90, 90, 90), (235, 235, 235), (200, 30, 30), (30, 60, 200))


def draw(path: Path, reference: Sheet, seen: Sheet, colours: Colours) -> None:
    """Draw both on each other into a new file. Raises FileExistsError, OSError."""
    with PngFile(path, Format(reference.width_px, reference.height_px, reference.pitch_um, colours)) as file:
        for wanted, made in zip(reference.strips(), seen.strips(), strict=True):
            levels = np.where(wanted.rows, OPEN, METAL).astype(np.uint8)
            levels[made.rows & ~wanted.rows] = TOO_LITTLE
            levels[~made.rows & wanted.rows] = TOO_MUCH
            file.put(levels)
