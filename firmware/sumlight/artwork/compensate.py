"""What to draw so that the part comes out as wanted, and where that cannot be.

How far edges move is `craft.etching.compensation.growth`, which the sums for an etch use, too. Openings are drawn
smaller by it all around; then the drawing is etched by the same arithmetic, and what still differs is marked. That
arithmetic is judged by a front stepped in time, in the benchmarks, which shares no code with it.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from sumlight.artwork import shrink
from sumlight.artwork.check import Finding, Place, narrowest, places_of
from sumlight.artwork.front import distance_um
from sumlight.artwork.regions import openings_of
from sumlight.artwork.sheet import Mask, Sheet, from_mask, from_rows, open_px
from sumlight.craft.checks import above, between, one_of
from sumlight.craft.etching.compensation import OVER_ETCH, SMALLEST_PRINTED_UM, WANTED_AT, Growth, growth
from sumlight.craft.etching.limits import MOST_BIAS_UM
from sumlight.text.message import say

CORNER = 1.5
"""A residue smaller than that, in squares of what edges move by, is a corner; a right angle leaves 1 - π/4 of one."""


@dataclass(frozen=True)
class Wanted:
    """How it is etched, and where the wanted outline is meant: `waist`, where openings are smallest, or `surface`.

    `bias_um` is how much further openings reach at each edge by film and light, before the bath.
    """

    thickness_um: float
    factor: float
    sides: int = 2
    over_etch: float = OVER_ETCH
    wanted_at: str = "waist"
    smallest_printed_um: float = SMALLEST_PRINTED_UM
    bias_um: float = 0.0

    @property
    def grown(self) -> Growth:
        """How far edges move. Raises as `growth` does."""
        return growth(self.thickness_um, self.factor, sides=self.sides, over_etch=self.over_etch)

    @property
    def moves_um(self) -> float:
        """How far the wanted outline's edges move. Raises as `growth` does, and for an unknown outline."""
        one_of("wanted_at", self.wanted_at, WANTED_AT)
        above("smallest_printed_um", self.smallest_printed_um, 0, 1e4)
        between("bias_um", self.bias_um, -MOST_BIAS_UM, MOST_BIAS_UM)
        return self.bias_um + (self.grown.surface_um if self.wanted_at == "surface" else self.grown.waist_um)


@dataclass(frozen=True)
class Compensated:
    """The drawing, and where it cannot give what is wanted: as a sheet that is open there, and in words."""

    sheet: Sheet
    grown: Growth
    moves_um: float
    impossible: Sheet
    impossible_mm2: float
    findings: tuple[Finding, ...]


def compensate(sheet: Sheet, wanted: Wanted) -> Compensated:
    """Shrink the openings of a wanted part. Raises ValueError and MeaningNeededError as `growth` does."""
    moves = wanted.moves_um
    if moves < 0:  # light or film close openings by more than the bath opens them
        nothing = from_mask(np.zeros((sheet.height_px, sheet.width_px), np.bool_), sheet.pitch_um)
        return Compensated(grown(sheet, -moves), wanted.grown, moves, nothing, 0.0, ())
    drawn, residue = shrunk(sheet, moves)
    findings = [*_residues(sheet, residue, moves, wanted), *_thin(sheet, drawn, wanted)]
    area = open_px(residue) * sheet.pixel_mm2
    return Compensated(drawn, wanted.grown, moves, residue, area, tuple(findings))


def shrunk(sheet: Sheet, by_um: float) -> tuple[Sheet, Sheet]:
    """What to draw for openings whose edges move by so much, and, open there, what of them the bath cannot reach.

    Beyond the sheet there is no metal.
    """
    by_px = by_um / sheet.pitch_um
    missed = np.empty_like(sheet.packed)

    def parts() -> Iterator[Mask]:
        for strip in sheet.strips(shrink.halo_px(by_px)):
            drawn, off = shrink.shrunk(strip.rows, by_px)
            missed[strip.first : strip.last] = np.packbits(off[strip.core], axis=1)
            yield drawn[strip.core]

    drawn = from_rows(parts(), sheet.height_px, sheet.width_px, sheet.pitch_um)
    return drawn, Sheet(missed, sheet.width_px, sheet.pitch_um)


def grown(sheet: Sheet, by_um: float) -> Sheet:
    """Openings with what lies nearer than that to them."""

    def parts() -> Iterator[Mask]:
        for strip in sheet.strips(math.ceil(by_um / sheet.pitch_um) + 2):
            yield (distance_um(strip.rows, sheet.pitch_um) <= by_um)[strip.core]

    return from_rows(parts(), sheet.height_px, sheet.width_px, sheet.pitch_um)


def _residues(sheet: Sheet, residue: Sheet, moves_um: float, wanted: Wanted) -> Iterator[Finding]:
    """Openings that are too narrow, and corners that come out round."""
    found = openings_of(residue)
    corner = found.area_px * sheet.pitch_um**2 <= CORNER * moves_um**2
    corner |= (found.edge_px > 0) & (found.smallest_side_px <= 1)
    least = 2 * moves_um + wanted.smallest_printed_um
    if (~corner).any():
        words = say("art_cannot_open", count=int((~corner).sum()))
        remedy = say("art_open_least", least=least)
        yield Finding("too_narrow", words, remedy, places_of(sheet, found, ~corner), int((~corner).sum()))
    if corner.any():
        words = say("art_corners_round", count=int(corner.sum()), radius=moves_um)
        yield Finding("corner", words, say("art_round_corners"), places_of(sheet, found, corner), int(corner.sum()))


def _thin(sheet: Sheet, drawn: Sheet, wanted: Wanted) -> Iterator[Finding]:
    """Drawn openings that do not print, and lines whose surface goes although their waist stays."""
    pitch = sheet.pitch_um
    printed_px = max(2, math.ceil(wanted.smallest_printed_um / pitch))
    narrow = _narrower(drawn, True, wanted.smallest_printed_um, printed_px)
    if narrow:
        words = say("art_does_not_print", size=narrow[0].size_um, printed=wanted.smallest_printed_um)
        least = 2 * wanted.moves_um + wanted.smallest_printed_um
        yield Finding("does_not_print", words, say("art_open_least", least=least), tuple(narrow), len(narrow))
    eaten_um = 2 * (wanted.bias_um + wanted.grown.surface_um - wanted.moves_um)
    if eaten_um > pitch:
        gone = _narrower(sheet, False, eaten_um, max(2, math.ceil(eaten_um / pitch)))
        if gone:
            words = say("art_line_eaten", size=gone[0].size_um)
            yield Finding("line_eaten", words, say("art_line_least", least=eaten_um), tuple(gone), len(gone))


def _narrower(sheet: Sheet, of_open: bool, below_um: float, longest_px: int) -> list[Place]:
    return [place for place in narrowest(sheet, longest_px, of_open=of_open) if place.size_um < below_um]
