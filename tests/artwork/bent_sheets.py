"""Sheets that were bent in a known way, in closed form: small openings lie where a smooth warp takes them."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from sumlight.artwork.scan import Scan
from tests.artwork.known_scans import PITCH_UM, Floats, Lying, Shape, bench_part, scanned

WIDTH, HEIGHT = 620, 800
Bend = Callable[[Floats], Floats]


def bowed(across_px: float, down_px: float, twist_px: float) -> Bend:
    """Edges bowed to the right and down by so much at the ends, and one more bend that no affine has."""

    def bend(points: Floats) -> Floats:
        x, y = ((points - (WIDTH / 2, HEIGHT / 2)) / (WIDTH / 2, HEIGHT / 2)).T
        return np.stack([across_px * y**2 + twist_px * x * y, down_px * x**2 - twist_px * x * y], axis=1)

    return bend


def openings() -> list[Shape]:
    """Small ones, with marks in two corners; no frame, whose long bars would bend themselves."""
    return bench_part(WIDTH, HEIGHT, wanted=90)[4:]


def bent(shapes: list[Shape], bend: Bend) -> list[Shape]:
    """The same where the warp takes them."""
    moved = bend(np.array([(one.x, one.y) for one in shapes]))
    return [replace(one, x=one.x + float(dx), y=one.y + float(dy)) for one, (dx, dy) in zip(shapes, moved, strict=True)]


def mirrored(shapes: list[Shape]) -> list[Shape]:
    """As a film of the front is drawn."""
    return [replace(one, x=WIDTH - 1 - one.x, turn_deg=-one.turn_deg) for one in shapes]


def scan_of(shapes: list[Shape], lying: Lying) -> Scan:
    """How they look in a scanner."""
    return scanned(shapes, WIDTH, HEIGHT, lying)[0]


def left_over_um(points: Floats, moved: Floats) -> Floats:
    """What of shifts in pixels is left once a small turn and a shift are taken off, by least squares."""
    x, y = (points - points.mean(axis=0)).T
    one, none = np.ones_like(x), np.zeros_like(x)
    rigid = np.concatenate([np.stack([one, none, -y], axis=1), np.stack([none, one, x], axis=1)])
    wanted = moved.T.ravel()
    found = np.linalg.lstsq(rigid, wanted, rcond=None)[0]
    return np.asarray((wanted - rigid @ found).reshape(2, -1).T * PITCH_UM)


def points_px(places: list[tuple[float, float]]) -> Floats:
    """Places in mm as pixels of the sheet."""
    return np.array(places) * 1000 / PITCH_UM - 0.5
