"""What the part will be: outlines at the front, where it is through, and at the back, what is lost and what falls out.

Until this bench has compared a coupon the etch factor is a guess, and every outline is a band between its 5th and its
95th per cent; what falls apart is judged where the bath eats furthest.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sumlight.artwork.check import Finding, falls_apart, loose_pieces
from sumlight.artwork.front import Build, Near, near
from sumlight.artwork.pngfile import Colours, Format, PngFile
from sumlight.artwork.prior import FactorBand
from sumlight.artwork.regions import EIGHT, FOUR, pieces_by_row, regions
from sumlight.artwork.sheet import Mask, Sheet, check_one_size, from_rows
from sumlight.craft.etching.times import WEAK_SHARE
from sumlight.text.message import say

HALVINGS = 16
METAL, MAY_BE_EATEN, EATEN, MAY_BE_THROUGH, THROUGH, FALLS_OUT = range(6)
"""Levels of the picture: whole metal; surface perhaps, surely eaten; perhaps, surely through; pieces that fall out."""
_TONES = (0, 60, 100, 170, 255)
AMBER: Colours = (*((tone, round(0.5 * tone), 0) for tone in _TONES), (120, 0, 0))
"""Red and half as much green only: what may be looked at beside open resist."""
DAYLIGHT: Colours = (*((tone, tone, tone) for tone in _TONES), (200, 40, 40))

DEPTHS = 10
"""Steps of the map of depths: 0 is whole metal, 1 up to a tenth of the thickness gone, 10 is through."""
_DEPTH_TONES = tuple(round(255 * step / DEPTHS) for step in range(DEPTHS + 1))
AMBER_DEPTHS: Colours = tuple((tone, round(0.5 * tone), 0) for tone in _DEPTH_TONES)
DAYLIGHT_DEPTHS: Colours = tuple((tone, tone, tone) for tone in _DEPTH_TONES)


@dataclass(frozen=True)
class Outlines:
    """One factor's part: open area at the front, through, and at the back; metal dissolved."""

    factor: float
    front_mm2: float
    through_mm2: float
    back_mm2: float
    metal_mm3: float


@dataclass(frozen=True)
class Prediction:
    """The part for each factor, from the one that eats least; when it breaks through; and what is wrong with it.

    `first_share` and `last_share` are of the whole etch: when the first and the last opening are through, None if none
    ever is. `left_um` is the metal left where one side alone is open, None where that is nowhere so.
    """

    outlines: tuple[Outlines, ...]
    first_share: float | None
    last_share: float | None
    left_um: float | None
    findings: tuple[Finding, ...]


def predict(front: Sheet, back: Sheet | None, made: Build, factors: FactorBand) -> Prediction:
    """Predict the part of one or two artworks; `back` None is the same artwork on both sides (as seen from the front).

    Raises ValueError for two artworks of different size.
    """
    if back is not None:
        check_one_size(front, back)
    totals = np.zeros((len(factors.factors), 4))
    half_etched = False
    for strip in near(front, back, made.halo_px(factors.low, front.pitch_um)):
        for number, factor in enumerate(factors.factors):
            totals[number] += _areas(strip, made, factor)
        half_etched = half_etched or _half_etched(strip, made, factors.low)
    scale = front.pixel_mm2 * np.array([1, 1, 1, 1e-3])
    outlines = tuple(Outlines(one, *map(float, row * scale)) for one, row in zip(factors.factors, totals, strict=True))
    first, last = _broken_through(front, back, made, factors.middle)
    findings = falls_apart(front, back, made, factors.low) if made.kind == "sheet" else []
    left = None
    if half_etched:
        left = max(0.0, made.thickness_um - max(made.front_reach_um, made.back_reach_um))
        findings += _weak(made, left)
    return Prediction(outlines, first, last, left, tuple(findings))


def _areas(strip: Near, made: Build, factor: float) -> NDArray[np.float64]:
    """Pixels open at the front, through and at the back, and the sum of depths in µm."""
    ahead, behind = strip.depths(made, factor)
    both = ahead + behind
    through = both >= made.thickness_um
    at_back = behind > 0 if made.back_reach_um else through  # a covered back opens where the foot comes through
    counts = [np.count_nonzero(one) for one in (ahead > 0, through, at_back)]
    lost = np.minimum(both, made.thickness_um).sum(dtype=np.float64)
    return np.array([*counts, lost])


def _half_etched(strip: Near, made: Build, factor: float) -> bool:
    """Whether some place is open on one side, and out of the other's reach."""
    if made.back_reach_um == 0:
        return made.front_reach_um < made.thickness_um and bool((strip.front == 0).any())
    if strip.back is strip.front:
        return False
    alone = (strip.front == 0) & (strip.back > made.back_reach_um / factor)
    alone |= (strip.back == 0) & (strip.front > made.front_reach_um / factor)
    return bool(alone.any()) and max(made.front_reach_um, made.back_reach_um) < made.thickness_um


def _weak(made: Build, left_um: float) -> list[Finding]:
    if left_um >= WEAK_SHARE * made.thickness_um:
        return []
    words = say("art_weak", left=left_um, thickness=made.thickness_um, share=WEAK_SHARE)
    return [Finding("weak", words, say("art_weak_remedy"))]


def _broken_through(front: Sheet, back: Sheet | None, made: Build, factor: float) -> tuple[float | None, float | None]:
    """When the first and the last opening are through, as shares of the whole etch."""
    at_once = made.thickness_um / (made.front_reach_um + made.back_reach_um)
    if back is None or made.back_reach_um == 0:
        # Every opening has a place that is open to all the bath's reach: the narrow are as fast as the wide until a
        # bench has learned by how much they are not.
        done = at_once <= 1 and front.open_share > 0
        return (at_once, at_once) if done else (None, None)

    halo_px = made.halo_px(factor, front.pitch_um)

    def through() -> Iterator[Mask]:
        for strip in near(front, back, halo_px):
            ahead, behind = strip.depths(made, factor)
            yield ahead + behind >= made.thickness_um

    found = regions(through, EIGHT)
    if not len(found):
        return None, None
    earliest = np.full(len(found), np.inf)
    for strip, numbers in zip(near(front, back, halo_px), pieces_by_row(through, EIGHT, found), strict=True):
        inside = numbers >= 0
        when = _when(strip.front[inside], strip.back[inside], made, factor, at_once)
        np.minimum.at(earliest, numbers[inside], when)
    return float(earliest.min()), float(earliest.max())


def _when(
    front: NDArray[np.float32], back: NDArray[np.float32], made: Build, factor: float, at_once: float
) -> NDArray[np.float64]:
    """The share of the etch at which both fronts meet, for places that are through in the end: by halving."""
    when = np.full(len(front), at_once)
    slow = np.flatnonzero((front > 0) | (back > 0))
    low, high = np.full(len(slow), at_once), np.ones(len(slow))
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        met = _depth(front[slow], middle * made.front_reach_um, factor)
        met += _depth(back[slow], middle * made.back_reach_um, factor)
        done = met >= made.thickness_um
        high, low = np.where(done, middle, high), np.where(done, low, middle)
    when[slow] = high
    return when


def _depth(distance: NDArray[np.float32], reach: NDArray[np.float64], factor: float) -> NDArray[np.float64]:
    return np.asarray(np.sqrt(np.maximum(reach**2 - (factor * distance.astype(np.float64)) ** 2, 0)))


def draw(path: Path, front: Sheet, back: Sheet | None, made: Build, factors: FactorBand, colours: Colours) -> None:
    """Draw the part in levels of tone, into a new file. Raises FileExistsError, OSError, ValueError as `predict`."""
    wanted = Format(front.width_px, front.height_px, front.pitch_um, colours)
    with PngFile(path, wanted) as file:
        for levels in levels_of(front, back, made, factors):
            file.put(levels)


def draw_depths(path: Path, front: Sheet, back: Sheet | None, made: Build, factor: float, colours: Colours) -> None:
    """Map how much of the thickness is gone, from both sides together, into a new file: a tone for each tenth.

    Raises as `draw`.
    """
    wanted = Format(front.width_px, front.height_px, front.pitch_um, colours)
    with PngFile(path, wanted) as file:
        for steps in depths_of(front, back, made, factor):
            file.put(steps)


def depths_of(front: Sheet, back: Sheet | None, made: Build, factor: float) -> Iterator[NDArray[np.uint8]]:
    """Tenths of the thickness that are gone, begun ones counted, strip by strip. Raises ValueError as `predict`."""
    if back is not None:
        check_one_size(front, back)
    for strip in near(front, back, made.halo_px(factor, front.pitch_um)):
        ahead, behind = strip.depths(made, factor)
        gone = (ahead + behind) / np.float32(made.thickness_um)
        steps = np.minimum(np.ceil(gone * DEPTHS), DEPTHS - 1)
        steps[gone >= 1] = DEPTHS
        yield steps.astype(np.uint8)


def levels_of(front: Sheet, back: Sheet | None, made: Build, factors: FactorBand) -> Iterator[NDArray[np.uint8]]:
    """The part's levels, strip by strip. Raises ValueError as `predict`."""
    if back is not None:
        check_one_size(front, back)
    out = _fallen_out(front, back, made, factors.low) if made.kind == "sheet" else None
    for strip in near(front, back, made.halo_px(factors.low, front.pitch_um)):
        levels = _levels(strip, made, factors)
        if out is not None:
            levels[out.rows(strip.first, strip.first + len(levels))] = FALLS_OUT
        yield levels


def _levels(strip: Near, made: Build, factors: FactorBand) -> NDArray[np.uint8]:
    levels = np.full(strip.front.shape, METAL, np.uint8)
    for factor, surface, through in (
        (factors.low, MAY_BE_EATEN, MAY_BE_THROUGH),
        (factors.high, EATEN, THROUGH),
    ):
        ahead, behind = strip.depths(made, factor)
        levels[((ahead > 0) | (behind > 0)) & (levels < surface)] = surface
        levels[ahead + behind >= made.thickness_um] = through
    return levels


def _fallen_out(front: Sheet, back: Sheet | None, made: Build, factor: float) -> Sheet:
    through, metal, which = loose_pieces(front, back, made, factor)
    gone = np.append(which, False)

    def parts() -> Iterable[Mask]:
        for number in pieces_by_row(lambda: (~strip.rows for strip in through.strips()), FOUR, metal):
            yield gone[number]

    return from_rows(parts(), front.height_px, front.width_px, front.pitch_um)
