"""Whether a picture is line art at all. Halftones, dithers and photographs are recognised, not etched.

Three signs: many pixels that are neither black nor white away from edges (a photograph); much area in runs of a few
pixels both across and down (a dither); a great many dots of widely different size (a printer's screen). A mesh with
equal holes is none of them.
"""

import numpy as np

from sumlight.artwork.regions import Regions
from sumlight.artwork.runs import run_share
from sumlight.artwork.sheet import Sheet, Tones
from sumlight.text.message import Message, say

PHOTO_SPREAD = 0.18
"""A ramp from black to white has 0.29; lines of which a fifth is soft edge 0.12."""
DITHER_PX, DITHER_SHARE = 4, 0.2
DOT_MM, DOTS, DOT_SHARE, DOT_COVER = 0.6, 400, 0.6, 0.03
"""Sides of dots are smaller; so many of them at least, of all pieces, and of the sheet's area."""
DUST_PX = 12
"""Smaller ones are dust, of which a scan of line art has much, too."""
SIZE_STEP, SAME, SIZES = 1.25, 0.6, 6
"""Sizes are told apart by that ratio; of holes that somebody drew more than that share have the two commonest ones,
and fewer sizes occur."""


def not_line_art(tones: Tones, sheet: Sheet) -> Message | None:
    """Say that it is a photograph or a dither; None if neither. Needs no pieces, of which a dither has millions."""
    if tones.spread > PHOTO_SPREAD:
        return say("art_photo", share=tones.fringe_share)
    if max(run_share(sheet, DITHER_PX)) > DITHER_SHARE:
        return say("art_dither", pixels=DITHER_PX)
    return None


def screened(sheet: Sheet, openings: Regions, metal: Regions) -> Message | None:
    """Say that it is a printer's screen; None if it is none."""
    for pieces in (openings, metal):
        if _is_screen(pieces, sheet):
            return say("art_screened", dots=len(pieces))
    return None


def _is_screen(pieces: Regions, sheet: Sheet) -> bool:
    dots = pieces.area_px >= DUST_PX
    small = pieces.area_px[dots & (pieces.smallest_side_px * sheet.pitch_um < 1000 * DOT_MM)]
    if len(small) < max(DOTS, DOT_SHARE * np.count_nonzero(dots)):
        return False
    if small.sum() < DOT_COVER * sheet.width_px * sheet.height_px:
        return False
    sizes = np.sort(np.bincount((np.log(small) / np.log(SIZE_STEP)).astype(np.int64)))
    return bool(sizes[-2:].sum() < SAME * len(small) and np.count_nonzero(sizes) >= SIZES)
