"""What lies around the artwork: a drawn frame to crop to, paper beside it, and whether metal is left to hold it by."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from sumlight.artwork.check import APART_MM, PLACES, Finding, Place, places_of
from sumlight.artwork.clean import mirror
from sumlight.artwork.preview import Shrinker
from sumlight.artwork.regions import Regions, metal_of, openings_of
from sumlight.artwork.sheet import Mask, Sheet, check_one_size, from_rows
from sumlight.text.message import say

SIDE_SHARE = 0.9
"""A frame's ink lies along so much of each side of its box."""
SIDE_MM = 1.0
"""And within so much of it: what was turned leans a little still."""
LEAST_MM = 5.0
INK_UM = 300.0
"""Ink that is smaller does not decide how far the artwork reaches: dust (common practice, no source)."""
MARGIN_MM = 1.0
INVERTED = 0.5
"""More than that of the sheet's edge is open: it would be etched away all around."""
ALIKE = 0.03
"""Two sides agree better as they are, or mirrored, by this share of the sheet at least, or nothing is said."""


@dataclass(frozen=True)
class Cropped:
    """The sheet as cropped, with a margin of metal; where it was cut, in mm; and whether to a frame or to the ink."""

    sheet: Sheet
    box_mm: tuple[float, float, float, float]
    to_frame: bool


def crop_to_frame(sheet: Sheet, black: str, *, inside: bool = False) -> Cropped:
    """Crop to the drawn frame, or `inside` of its line, and leave a millimetre of metal around.

    Without a frame it is cropped to all ink; without ink nothing is cut.
    """
    pieces = openings_of(sheet) if black == "open" else metal_of(sheet)
    box = _frame(sheet, pieces, black)
    to_frame = box is not None
    if box is None:
        box = _all_ink(sheet, pieces)
    elif inside:
        box = _inside(sheet, box, black)
    left, top, right, bottom = box
    margin = round(MARGIN_MM * 1000 / sheet.pitch_um)
    width, height = right - left + 2 * margin, bottom - top + 2 * margin

    def parts() -> Iterator[Mask]:
        yield np.zeros((margin, width), np.bool_)
        for first in range(top, bottom, 256):
            rows = sheet.rows(first, min(first + 256, bottom))[:, left:right]
            yield np.pad(rows, ((0, 0), (margin, margin)))
        yield np.zeros((margin, width), np.bool_)

    made = from_rows(parts(), height, width, sheet.pitch_um)
    mm = sheet.pitch_um / 1000
    return Cropped(made, (left * mm, top * mm, right * mm, bottom * mm), to_frame)


Box = tuple[int, int, int, int]


def _frame(sheet: Sheet, pieces: Regions, black: str) -> Box | None:
    """The box of the largest piece of ink that runs along all four sides of its own box, and not off the sheet."""
    least = LEAST_MM * 1000 / sheet.pitch_um
    asked = np.flatnonzero((pieces.smallest_side_px >= least) & (pieces.edge_px == 0))
    sizes = (pieces.right - pieces.left) * (pieces.bottom - pieces.top)
    for one in asked[np.argsort(-sizes[asked], kind="stable")][:3]:
        box = (int(pieces.left[one]), int(pieces.top[one]), int(pieces.right[one]), int(pieces.bottom[one]))
        if min(_along(sheet, box, black)) >= SIDE_SHARE:
            return box
    return None


def _along(sheet: Sheet, box: Box, black: str) -> tuple[float, float, float, float]:
    """Along how much of each side of a box there is ink."""
    left, top, right, bottom = box
    deep = max(2, round(SIDE_MM * 1000 / sheet.pitch_um))
    upright: list[Mask] = []
    level = {}
    for first in range(top, bottom, 256):
        rows = sheet.rows(first, min(first + 256, bottom))[:, left:right]
        ink = rows if black == "open" else ~rows
        upright.append(np.stack((ink[:, :deep].any(axis=1), ink[:, -deep:].any(axis=1))))
    for name, first in (("top", top), ("bottom", max(top, bottom - deep))):
        rows = sheet.rows(first, min(first + deep, bottom))[:, left:right]
        level[name] = float((rows if black == "open" else ~rows).any(axis=0).mean())
    sides = np.concatenate(upright, axis=1).mean(axis=1)
    return float(sides[0]), level["top"], float(sides[1]), level["bottom"]


def _inside(sheet: Sheet, box: Box, black: str) -> Box:
    """The box within a frame's line, as thick as the line is along most of each side, and where it leans a little."""
    left, top, right, bottom = box
    most = max(2, min(right - left, bottom - top) // 4)
    rows = sheet.rows(top, bottom)[:, left:right]
    ink = rows if black == "open" else ~rows
    thick = [_line_px(one) for one in (ink[:, :most].T, ink[:most], ink[:, ::-1][:, :most].T, ink[::-1][:most])]
    return left + thick[0], top + thick[1], right - thick[2], bottom - thick[3]


def _line_px(ink: Mask) -> int:
    """How far from an edge the line along it reaches: row after row lies in it or before it, along most of the edge.

    What touches the line from within does so in places, and does not count.
    """
    ends = ink.shape[1] // 10  # where the lines of the other sides are
    ink = ink[:, ends : ink.shape[1] - ends]
    begun = np.maximum.accumulate(ink, axis=0)
    over = np.maximum.accumulate(begun & ~ink, axis=0)
    share = (~over).mean(axis=1)
    return int(np.count_nonzero(share > 0.1))


def _all_ink(sheet: Sheet, pieces: Regions) -> Box:
    """The box around all ink but dust."""
    large = np.maximum(pieces.right - pieces.left, pieces.bottom - pieces.top) >= INK_UM / sheet.pitch_um
    if not large.any():
        return 0, 0, sheet.width_px, sheet.height_px
    left, top = int(pieces.left[large].min()), int(pieces.top[large].min())
    return left, top, int(pieces.right[large].max()), int(pieces.bottom[large].max())


def border_findings(sheet: Sheet) -> list[Finding]:
    """Whether the sheet is inverted, by its edge, or has openings that run off it, so that nothing holds it there."""
    first, last = sheet.rows(0, 1)[0], sheet.rows(sheet.height_px - 1, sheet.height_px)[0]
    sides = np.concatenate([strip.rows[:, [0, -1]] for strip in sheet.strips()])
    edge = np.concatenate((first, last, sides[:, 0], sides[:, 1]))
    share = float(edge.mean())
    openings = openings_of(sheet)
    which = openings.edge_px > 0
    places = places_of(sheet, openings, which)
    if share > INVERTED:
        words = say("art_inverted", share=share)
        return [Finding("polarity", words, say("art_inverted_remedy"), places, int(which.sum()))]
    if which.any():
        words = say("art_no_border", count=int(which.sum()))
        return [Finding("no_border", words, say("art_no_border_remedy"), places, int(which.sum()))]
    return []


def mirror_findings(front: Sheet, back: Sheet) -> list[Finding]:
    """Whether the back agrees better with the front when it is mirrored: both are meant as seen from the front.

    Where front and back share next to nothing, nothing is said. Raises ValueError for two sheets of different size.
    """
    check_one_size(front, back)
    as_is, mirrored = _unlike(front, back), _unlike(front, mirror(back))
    if as_is - mirrored < ALIKE:
        return []
    at = _worst(front, back)
    words = say("art_mirrored", as_is=as_is, mirrored=mirrored)
    return [Finding("mirrored", words, say("art_mirrored_remedy"), at, len(at))]


def _small(sheet: Sheet) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    shrinker = Shrinker(sheet.width_px, sheet.height_px, 400)
    for strip in sheet.strips():
        shrinker.put(strip.rows.astype(np.uint8) * np.uint8(255))
    return np.asarray(shrinker.tone / 255.0)


def _unlike(front: Sheet, back: Sheet) -> float:
    """Share of the sheet in which two differ."""
    return float(np.abs(_small(front) - _small(back)).mean())


def _worst(front: Sheet, back: Sheet) -> tuple[Place, ...]:
    """The largest places in which two differ."""
    apart = Sheet(front.packed ^ back.packed, front.width_px, front.pitch_um)
    found = openings_of(apart)
    large = found.smallest_side_px * front.pitch_um > APART_MM * 100
    return places_of(apart, found, large)[:PLACES]
