"""Cleans artwork: specks and pinholes below a size closed, and the difference known before anything is written."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from sumlight.artwork.check import Place, places_of, specks
from sumlight.artwork.regions import EIGHT, FOUR, Regions, metal_of, openings_of, pieces_by_row
from sumlight.artwork.sheet import Mask, Sheet, from_mask, from_rows, open_px
from sumlight.craft.checks import between
from sumlight.craft.etching.limits import LARGEST_SPECK_UM
from sumlight.text.message import say


@dataclass(frozen=True)
class Cleaned:
    """The sheet as cleaned, and what changed: specks that were openings, pinholes that were metal, pixels in all."""

    sheet: Sheet
    specks: tuple[Place, ...]
    speck_count: int
    pinholes: tuple[Place, ...]
    pinhole_count: int
    changed_px: int


def clean(sheet: Sheet, below_um: float) -> Cleaned:
    """Close what is smaller than a size both across and down: openings and pieces of metal alike.

    Raises ValueError for a size outside 0 to 2000 µm.
    """
    between("below_um", below_um, 0, LARGEST_SPECK_UM)
    small = below_um / sheet.pitch_um
    openings = openings_of(sheet)
    dark = specks(openings, small)
    closed = _without(sheet, openings, dark, of_open=True)
    # Only now: an island in a speck that was closed is metal among metal.
    metal = metal_of(closed)
    light = specks(metal, small)
    made = _without(closed, metal, light, of_open=False)
    places = places_of(sheet, openings, dark), places_of(sheet, metal, light)
    return Cleaned(made, places[0], int(dark.sum()), places[1], int(light.sum()), differing_px(sheet, made))


def _without(sheet: Sheet, found: Regions, which: Mask, *, of_open: bool) -> Sheet:
    """The sheet with some of its pieces turned into what lies around them."""
    gone = np.append(which, False)  # the last stands for no piece, number -1

    def parts() -> Iterator[Mask]:
        numbers = pieces_by_row(
            lambda: (strip.rows if of_open else ~strip.rows for strip in sheet.strips()),
            EIGHT if of_open else FOUR,
            found,
        )
        for strip, number in zip(sheet.strips(), numbers, strict=True):
            yield strip.rows ^ gone[number]

    return from_rows(parts(), sheet.height_px, sheet.width_px, sheet.pitch_um)


def invert(sheet: Sheet) -> Sheet:
    """Openings become metal, and metal openings."""
    return Sheet(~sheet.packed, sheet.width_px, sheet.pitch_um)


def mirror(sheet: Sheet) -> Sheet:
    """Left becomes right."""
    parts = (strip.rows[:, ::-1] for strip in sheet.strips())
    return from_rows(parts, sheet.height_px, sheet.width_px, sheet.pitch_um)


def crop(sheet: Sheet, box_mm: tuple[float, float, float, float]) -> Sheet:
    """Cut out left, top, right and bottom in mm. Raises ValueError for a box that is empty or not on the sheet."""
    left, top, right, bottom = (round(one * 1000 / sheet.pitch_um) for one in box_mm)
    if not (0 <= left < right <= sheet.width_px and 0 <= top < bottom <= sheet.height_px):
        wide, high = (count * sheet.pitch_um / 1000 for count in (sheet.width_px, sheet.height_px))
        raise ValueError(say("art_crop", wide=wide, high=high))
    return from_mask(sheet.rows(top, bottom)[:, left:right], sheet.pitch_um)


def difference(before: Sheet, after: Sheet) -> Sheet:
    """Open where the two differ. Both have one size."""
    return Sheet(before.packed ^ after.packed, before.width_px, before.pitch_um)


def differing_px(before: Sheet, after: Sheet) -> int:
    """How many pixels differ."""
    return open_px(difference(before, after))
