"""Checks of artwork before a film is printed. Each finding says where it is, how large, and what to do."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from sumlight.artwork.choices import UM_PER_INCH
from sumlight.artwork.front import Build, near
from sumlight.artwork.lineart import not_line_art, screened
from sumlight.artwork.prior import FactorBand
from sumlight.artwork.regions import Regions, metal_of, openings_of
from sumlight.artwork.runs import widths
from sumlight.artwork.sheet import Mask, Sheet, Tones, from_rows
from sumlight.craft.etching import limits
from sumlight.text.message import Message, say

LONGEST_UM = 1000.0
"""Widths beyond that are not looked for: nothing of this trade is in danger there."""
APART_MM = 1.0
PLACES = 20
FRINGE = 0.02
"""From here on grey is worth a word: an edge of a clean print takes less."""


@dataclass(frozen=True)
class Place:
    """Where something is, from the top left corner, and how large."""

    x_mm: float
    y_mm: float
    size_um: float


@dataclass(frozen=True)
class Finding:
    """What was found, where (the worst places first, at most twenty of `count`), and what to do."""

    kind: str
    words: Message
    remedy: Message
    places: tuple[Place, ...] = ()
    count: int = 1


@dataclass(frozen=True)
class Checked:
    """The figures of a sheet, None where there is nothing to measure, and what is wrong with it."""

    open_share: float
    fringe_share: float
    smallest_line: Place | None
    smallest_gap: Place | None
    smallest_hole: Place | None
    findings: tuple[Finding, ...]


def check(
    sheet: Sheet,
    tones: Tones,
    *,
    made: Build | None = None,
    factors: FactorBand | None = None,
    speck_um: float = limits.SPECK_UM,
) -> Checked:
    """Look a sheet through; with a build and its factors also for what its thickness forbids and what falls apart."""
    told = not_line_art(tones, sheet)
    if told is not None:
        return _no_line_art(sheet, tones, told)
    openings, metal = openings_of(sheet), metal_of(sheet)
    told = screened(sheet, openings, metal)
    if told is not None:
        return _no_line_art(sheet, tones, told)
    longest_px = max(4, math.ceil(LONGEST_UM / sheet.pitch_um))
    line, gap = (narrowest(sheet, longest_px, of_open=of_open) for of_open in (False, True))
    hole = _smallest_piece(sheet, openings, speck_um)
    findings = [*_grey(tones), *_specks(sheet, openings, metal, speck_um), *_coarse(sheet, line[:1] + gap[:1])]
    if made is not None and factors is not None:
        findings += _too_small(sheet, made, factors, line, gap, hole)
        if made.kind == "sheet":
            findings += falls_apart(sheet, None, made, factors.low)
    return Checked(
        sheet.open_share, tones.fringe_share, line[0] if line else None, gap[0] if gap else None, hole, tuple(findings)
    )


def _no_line_art(sheet: Sheet, tones: Tones, told: Message) -> Checked:
    found = Finding("not_line_art", told, say("art_not_line_art"))
    return Checked(sheet.open_share, tones.fringe_share, None, None, None, (found,))


def loose(metal: Regions) -> Mask:
    """Which pieces of metal nothing holds: all but the one that has most of the sheet's edge, or else is largest."""
    if not len(metal):
        return np.zeros(0, np.bool_)
    kept = int(np.lexsort((metal.area_px, metal.edge_px))[-1])
    found = np.ones(len(metal), np.bool_)
    found[kept] = False
    return found


def etched_through(front: Sheet, back: Sheet | None, made: Build, factor: float) -> Sheet:
    """The sheet with its openings as etched, where both fronts have met."""

    def parts() -> Iterable[Mask]:
        for strip in near(front, back, made.halo_px(factor, front.pitch_um)):
            ahead, behind = strip.depths(made, factor)
            yield ahead + behind >= made.thickness_um

    return from_rows(parts(), front.height_px, front.width_px, front.pitch_um)


def loose_pieces(front: Sheet, back: Sheet | None, made: Build, factor: float) -> tuple[Sheet, Regions, Mask]:
    """The sheet as etched through, its pieces of metal, and which of them nothing holds."""
    through = etched_through(front, back, made, factor)
    metal = metal_of(through)
    return through, metal, loose(metal)


def falls_apart(front: Sheet, back: Sheet | None, made: Build, factor: float) -> list[Finding]:
    """Pieces that nothing holds once the openings have grown, at the factor that eats furthest."""
    _through, metal, which = loose_pieces(front, back, made, factor)
    count = int(which.sum())
    if not count:
        return []
    words = say("art_falls_apart", count=count, factor=factor)
    return [Finding("falls_apart", words, say("art_add_tabs"), places_of(front, metal, which), count)]


def places_of(sheet: Sheet, found: Regions, which: Mask) -> tuple[Place, ...]:
    """The largest of some pieces, with the diameter of a disc of their area."""
    chosen = np.flatnonzero(which)
    chosen = chosen[np.argsort(-found.area_px[chosen], kind="stable")][:PLACES]
    return tuple(_place_of(sheet, found, int(one)) for one in chosen)


def _place_of(sheet: Sheet, found: Regions, one: int) -> Place:
    mm = sheet.pitch_um / 1000
    x = (found.left[one] + found.right[one]) / 2 * mm
    y = (found.top[one] + found.bottom[one]) / 2 * mm
    return Place(float(x), float(y), float(sheet.pitch_um * math.sqrt(4 * found.area_px[one] / math.pi)))


def narrowest(sheet: Sheet, longest_px: int, *, of_open: bool) -> list[Place]:
    """Where openings, or lines of metal, are narrowest, and how wide; those wider than `longest_px` are left out."""
    pitch = sheet.pitch_um
    places = widths(sheet, of_open, longest_px).smallest(APART_MM * 1000 / pitch, PLACES)
    return [Place((x + 0.5) * pitch / 1000, (y + 0.5) * pitch / 1000, width * pitch) for x, y, width in places]


def _smallest_piece(sheet: Sheet, openings: Regions, speck_um: float) -> Place | None:
    """The smallest opening that is no speck and lies wholly on the sheet."""
    side_um = openings.smallest_side_px * sheet.pitch_um
    chosen = np.flatnonzero((side_um >= speck_um) & (openings.edge_px == 0))
    if not len(chosen):
        return None
    return _place_of(sheet, openings, int(chosen[np.argmin(openings.area_px[chosen])]))


def _grey(tones: Tones) -> list[Finding]:
    if tones.fringe_share <= FRINGE:
        return []
    words = say("art_fringe", share=tones.fringe_share, threshold=tones.threshold)
    return [Finding("grey", words, say("art_fringe_remedy"))]


def _specks(sheet: Sheet, openings: Regions, metal: Regions, speck_um: float) -> list[Finding]:
    found = []
    for pieces_found, kind in ((openings, "speck"), (metal, "island")):
        which = specks(pieces_found, speck_um / sheet.pitch_um)
        count = int(which.sum())
        if count:
            words = (
                say("art_specks", count=count, size=speck_um)
                if kind == "speck"
                else say("art_islands", count=count, size=speck_um)
            )
            found.append(Finding(kind, words, say("art_clean_remedy"), places_of(sheet, pieces_found, which), count))
    return found


def specks(found: Regions, smaller_px: float) -> Mask:
    """Which pieces are smaller than a size both across and down, and do not reach the sheet's edge."""
    longer = np.maximum(found.right - found.left, found.bottom - found.top)
    return np.asarray((longer < smaller_px) & (found.edge_px == 0))


def _coarse(sheet: Sheet, smallest: list[Place]) -> list[Finding]:
    thin = [place for place in smallest if place.size_um < limits.SCAN_DOTS * sheet.pitch_um]
    if not thin:
        return []
    least = min(place.size_um for place in thin)
    dpi = limits.SCAN_DOTS * UM_PER_INCH / least
    words = say("art_coarse", size=least, pixels=least / sheet.pitch_um)
    return [Finding("coarse", words, say("art_coarse_remedy", dpi=dpi), tuple(thin), len(thin))]


def _too_small(
    sheet: Sheet, made: Build, factors: FactorBand, line: list[Place], gap: list[Place], hole: Place | None
) -> list[Finding]:
    found = []
    asked: tuple[tuple[str, list[Place]], ...] = (("line", line), ("slot", gap), ("hole", [hole] if hole else []))
    for feature, places in asked:
        limit = limits.smallest(feature, made.thickness_um, factor=factors.middle)
        small = tuple(place for place in places if place.size_um < limit.smallest_um - sheet.pitch_um)
        if small:
            size = small[0].size_um
            words = {
                "line": say("art_line_small", size=size),
                "slot": say("art_gap_small", size=size),
                "hole": say("art_hole_small", size=size),
            }[feature]
            remedy = say("art_at_least", least=limit.smallest_um, rule=limit.rule, source=limit.source)
            found.append(Finding(f"small_{feature}", words, remedy, small, len(small)))
    return found
