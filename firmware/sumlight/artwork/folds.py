"""Draws fold lines: openings on one side's drawing alone, which the bath makes into grooves. The sums are craft's."""

from collections.abc import Iterator, Sequence

import numpy as np

from sumlight.artwork.prior import FactorBand
from sumlight.artwork.sheet import Mask, Sheet, Strip, check_one_size, from_rows
from sumlight.craft.checks import between
from sumlight.craft.etching.fold import MOST_FOLDS, TOWARDS, Fold, Groove, groove
from sumlight.text.message import Message, say

BESIDE_MM = 0.5
"""Places are read from a picture: so far beyond the sheet an end may lie."""


def grooves(
    folds: Sequence[Fold],
    thickness_um: float,
    factors: FactorBand,
    *,
    over_etch: float,
    bias_um: float,
    smallest_printed_um: float,
) -> list[Groove]:
    """The groove of each fold, wide enough also where the bath eats least sideways.

    Raises ValueError for more than 50 folds, else as `groove` does.
    """
    between("fold lines", len(folds), 0, MOST_FOLDS)
    return [
        groove(
            thickness_um,
            factors.high,
            one.angle_deg,
            over_etch=over_etch,
            bias_um=bias_um,
            smallest_printed_um=smallest_printed_um,
        )
        for one in folds
    ]


def with_folds(front: Sheet, back: Sheet, folds: Sequence[Fold], drawn_um: Sequence[float]) -> tuple[Sheet, Sheet]:
    """Both drawings, as seen from the front, with the lines of their own side: `drawn_um` wide, from end to end.

    Raises ValueError for drawings of different size and for a line that leaves the sheet.
    """
    check_one_size(front, back)
    wide, high = (one * front.pitch_um / 1000 for one in (front.width_px, front.height_px))
    for number, fold in enumerate(folds, 1):
        if max(fold.x_mm, fold.to_x_mm) > wide + BESIDE_MM or max(fold.y_mm, fold.to_y_mm) > high + BESIDE_MM:
            raise ValueError(say("art_fold_off", number=number, wide=wide, high=high))

    def opened(side: Sheet, towards: str) -> Sheet:
        mine = [(fold, um) for fold, um in zip(folds, drawn_um, strict=True) if fold.towards == towards]
        if not mine:
            return side

        def parts() -> Iterator[Mask]:
            for strip in side.strips():
                for fold, um in mine:
                    _open(strip, fold, um / side.pitch_um, side.pitch_um)
                yield strip.rows

        return from_rows(parts(), side.height_px, side.width_px, side.pitch_um)

    return opened(front, TOWARDS[0]), opened(back, TOWARDS[1])


def _open(strip: Strip, fold: Fold, wide_px: float, pitch_um: float) -> None:
    """Open the pixels of a strip whose middles lie within a bar: from end to end, half its width to either side.

    Row by row, so that a line across a large sheet costs no more memory than a strip.
    """
    x, y, to_x, to_y = (one * 1000 / pitch_um - 0.5 for one in (fold.x_mm, fold.y_mm, fold.to_x_mm, fold.to_y_mm))
    long = fold.length_mm * 1000 / pitch_um
    along = (to_x - x) / long, (to_y - y) / long
    down = np.arange(strip.first, strip.last) - y
    low = np.full(len(down), -np.inf)
    high = np.full(len(down), np.inf)
    # Within the length, and within the width; each bounds the columns of a row from both sides.
    for across, fixed, least, most in (
        (along[0], along[1] * down, 0.0, long),
        (-along[1], along[0] * down, -wide_px / 2, wide_px / 2),
    ):
        if abs(across) < 1e-12:
            high[(fixed < least) | (fixed >= most)] = -np.inf
            continue
        ends = np.sort(np.stack([(least - fixed) / across, (most - fixed) / across]), axis=0)
        np.maximum(low, ends[0], out=low)
        np.minimum(high, ends[1], out=high)
    first = np.clip(np.ceil(low + x), 0, strip.rows.shape[1])
    last = np.clip(np.ceil(high + x), 0, strip.rows.shape[1])
    for row in np.flatnonzero(last > first):
        strip.rows[row, int(first[row]) : int(last[row])] = True


def told_of(folds: Sequence[Fold], made: Sequence[Groove]) -> list[Message]:
    """In words: for each side and angle how many, how wide they are drawn and become, and what is left below."""
    kinds: dict[tuple[str, float], list[Groove]] = {}
    for fold, one in zip(folds, made, strict=True):
        kinds.setdefault((fold.towards, fold.angle_deg), []).append(one)
    told = []
    for (towards, angle), each in kinds.items():
        told.append(
            say(
                "art_folds",
                count=len(each),
                towards=say("art_towards_front") if towards == TOWARDS[0] else say("art_towards_back"),
                angle=angle,
                drawn=each[0].drawn_um,
                width=each[0].width_um,
                depth=each[0].depth_um,
                left=each[0].left_um,
            )
        )
    return told
