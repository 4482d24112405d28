"""A judge of etched outlines that shares no code with the program: the front itself, on a grid finer than the picture.

The metal is a block of cells, and the front is marched through it in order of time by scikit-fmm (second-order fast
marching): down at one speed, sideways F times slower. No distance transform and no formula of an outline is in it.
"""

import numpy as np
import skfmm
from numpy.typing import NDArray
from scipy import ndimage

Mask = NDArray[np.bool_]
FINER = 3
"""Cells to a pixel."""
LAYERS = 8


def etched(opening: Mask, pitch_um: float, depth_um: float, reach_um: float, factor: float) -> Mask:
    """Where the front of one side has come to a depth, in cells, when it has gone `reach_um` straight down."""
    fine = np.kron(opening, np.ones((FINER, FINER), np.bool_))
    side, down = factor * pitch_um / FINER, depth_um / (LAYERS - 0.5)  # the last layer's middle lies at the depth
    front = np.ones((LAYERS + 1, *fine.shape))
    front[0][fine] = -1  # the bath, half a layer above the surface; the resist beside it lets nothing through
    resist = np.zeros(front.shape, np.bool_)
    resist[0] = ~fine
    times = skfmm.travel_time(np.ma.MaskedArray(front, resist), np.ones_like(front), dx=[down, side, side], order=2)
    return np.asarray(np.ma.filled(times[-1], np.inf) <= reach_um)


def outline(mask: Mask) -> Mask:
    """Cells inside that touch the outside."""
    return np.asarray(mask & ~ndimage.binary_erosion(mask, border_value=1))


def off_px(of: Mask, reference: Mask) -> NDArray[np.float64]:
    """For each cell of `of`'s outline, how many pixels the reference's outline is away."""
    edge = outline(reference)
    if not edge.any():
        return np.full(int(outline(of).sum()), np.inf)
    away = ndimage.distance_transform_edt(~edge) / FINER
    return np.asarray(away[outline(of)])
