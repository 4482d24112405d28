"""Fits the warp of a scan and the bias of its edges to how far edges are off along their normals, by least squares.

For an edge at p with the normal n (from metal into the opening, at angle θ) the scan's edge is off by
t = n·δ(p) - g(θ): δ, by which places moved, is smooth; g, by which openings grew, is the same everywhere:
g(θ) = mean + a·cos 2θ + b·sin 2θ. A shift moves both edges of a line one way, growth moves them apart. Edges that are
far off, by dust or defects, count little or nothing (Tukey's weights).
"""

from dataclasses import dataclass

import numpy as np

from sumlight.artwork.edges import LEAST_CONTRAST, Edges, Tones, crossing, sampled
from sumlight.artwork.edges import STEP_PX as STEP
from sumlight.artwork.scan import AnyScan
from sumlight.artwork.warp import LINEAR, POWERS, Floats, Warp, terms
from sumlight.text.message import say

REACHES_PX, BENDS_FROM_PX, ROUGH = (10.0, 5.0, 3.0, 3.0, 3.0), 3.0, 4
"""How far along normals edges are looked for, pass by pass; from where on bends are fitted; all edges are used in the
last pass, before it one in so many."""
TUKEY, REWEIGHTS = 4.685, 8
"""95 % efficient where errors are Gaussian (Beaton and Tukey 1974)."""
STRETCH, BEND_PX, GROWTH_PX, EDGE_PX = 0.01, 2.0, 4.0, 5.0
"""What is taken before anything is measured, as standard deviations: stretch and shear, bends, growth, and one edge's
error (common practice, no source): a large one, since edges beside each other err together. It holds what no edge
tells."""
LEAST_EDGES = 40


@dataclass(frozen=True)
class Growth:
    """How much further into the metal openings reach, in pixels of the reference: mean, its two waves, and scatter."""

    mean_px: float
    cos_px: float
    sin_px: float
    spread_px: float

    def along(self, degrees: float) -> float:
        """Growth of edges whose normal has that angle."""
        angle = np.radians(2 * degrees)
        return float(self.mean_px + self.cos_px * np.cos(angle) + self.sin_px * np.sin(angle))


@dataclass(frozen=True)
class Fit:
    """The warp, with bends and without, growth, tones, how many edges were used, and how far they are off (rms)."""

    warp: Warp
    affine: Warp
    growth: Growth
    tones: Tones
    edges: int
    rms_px: float


def fit(scan: AnyScan, edges: Edges, start: Warp) -> Fit:
    """Fit from a rough start. Raises ValueError for too few edges, or edges of one direction only."""
    if len(edges.points) < LEAST_EDGES:
        raise ValueError(say("art_few_edges", edges=len(edges.points), least=LEAST_EDGES))
    warp = start
    some = edges.every(ROUGH)
    for reach in REACHES_PX[:-1]:
        tones = Tones(scan, warp, edges)
        if tones.contrast < LEAST_CONTRAST:
            raise ValueError(say("art_no_contrast", contrast=tones.contrast, least=LEAST_CONTRAST))
        off = measured(scan, some, warp, tones, reach)
        step, growth, weight = _solved(some, off, warp, LINEAR if reach > BENDS_FROM_PX else len(POWERS))
        warp = warp.moved(step)
    tones = Tones(scan, warp, edges)
    off = measured(scan, edges, warp, tones, REACHES_PX[-1])
    step, growth, weight = _solved(edges, off, warp, len(POWERS))
    warp = warp.moved(step)
    left = off - _modelled(edges, warp, step, growth)
    used = weight > 0
    if int(used.sum()) < LEAST_EDGES:
        raise ValueError(say("art_few_edges", edges=int(used.sum()), least=LEAST_EDGES))
    rms = float(np.sqrt(np.average(left[used] ** 2, weights=weight[used])))
    growth = Growth(growth.mean_px, growth.cos_px, growth.sin_px, rms)
    return Fit(warp, _straightened(warp, edges.points[used]), growth, tones, int(used.sum()), rms)


def measured(scan: AnyScan, edges: Edges, warp: Warp, tones: Tones, reach_px: float) -> Floats:
    """How far the scan's edges are off along the normals, in pixels of the reference; not a number where none is."""
    steps = np.arange(-reach_px, reach_px + STEP / 2, STEP)
    # The warp is all but straight over a few pixels: two of its ends are enough.
    low, high = (warp(edges.points + end * edges.normals) for end in (-reach_px, reach_px))
    share = (steps + reach_px) / (2 * reach_px)
    x = low[:, :1] + share * (high - low)[:, :1]
    y = low[:, 1:] + share * (high - low)[:, 1:]
    return crossing(tones.share_open(sampled(scan, x, y), edges.points) - 0.5, reach_px)


def _design(edges: Edges, warp: Warp, count: int) -> Floats:
    basis = terms(edges.points, warp.centre, warp.half_px)[:, :count]
    cos, sin = edges.normals.T
    waves = np.stack((np.ones_like(cos), cos**2 - sin**2, 2 * sin * cos), axis=1)
    return np.concatenate((basis * cos[:, None], basis * sin[:, None], -waves), axis=1)


def _solved(edges: Edges, off: Floats, warp: Warp, count: int) -> tuple[Floats, Growth, Floats]:
    """A step of the bends, growth, and each edge's weight."""
    design = _design(edges, warp, count)
    good = np.isfinite(off)
    weight = good.astype(np.float64)
    goal = np.where(good, off, 0.0)
    kept = np.array([1e4] + [STRETCH * warp.half_px] * 2 + [BEND_PX] * (count - LINEAR))
    ridge = (EDGE_PX / np.concatenate((kept, kept, np.full(3, GROWTH_PX)))) ** 2
    before = np.concatenate((*warp.bends[:, :count], np.zeros(3)))
    for _ in range(REWEIGHTS):
        weighted = (design * weight[:, None]).T
        found = np.linalg.solve(weighted @ design + np.diag(ridge), weighted @ goal - ridge * before)
        left = goal - design @ found
        spread = max(0.02, 1.4826 * float(np.median(np.abs(left[good]))) if good.any() else 1.0)
        weight = np.where(good, np.maximum(0.0, 1 - (left / (TUKEY * spread)) ** 2) ** 2, 0.0)
    _refuse_one_way(edges, weight)
    step = np.zeros((2, len(POWERS)))
    step[0, :count], step[1, :count] = found[:count], found[count : 2 * count]
    mean, cos, sin = map(float, found[2 * count :])
    return step, Growth(mean, cos, sin, spread), weight


def _refuse_one_way(edges: Edges, weight: Floats) -> None:
    used = edges.normals[weight > 0]
    across, down = np.abs(used).sum(axis=0) if len(used) else (0.0, 0.0)
    if min(across, down) < LEAST_EDGES / 4:
        raise ValueError(say("art_one_direction"))


def _modelled(edges: Edges, warp: Warp, step: Floats, growth: Growth) -> Floats:
    found = np.concatenate((step[0], step[1], [growth.mean_px, growth.cos_px, growth.sin_px]))
    return np.asarray(_design(edges, warp, len(POWERS)) @ found)


def _straightened(warp: Warp, points: Floats) -> Warp:
    """The affine that comes nearest to a warp where its edges are."""
    basis = terms(points, warp.centre, warp.half_px)
    moved = basis @ warp.bends.T
    straight, *_rest = np.linalg.lstsq(basis[:, :LINEAR], moved, rcond=None)
    bends = np.zeros_like(warp.bends)
    bends[:, :LINEAR] = straight.T
    return Warp(warp.matrix, warp.offset, warp.centre, warp.half_px, bends).straight
