"""How a scan lies on its reference, roughly: turned, mirrored, inverted, moved. From small copies of both.

Correlation of the whole sheet, frame and marks included, gives candidates; each is refined, and the one whose
picture differs least is taken. A pattern that repeats has several that differ as little: then it is said (phase
correlation alone was two pitches off without a sign of it, craft reference A12).
"""

import itertools
from dataclasses import dataclass

import cv2
import numpy as np

from sumlight.artwork.scan import AnyScan, Small, small_of_scan, small_of_sheet
from sumlight.artwork.sheet import Sheet
from sumlight.artwork.warp import Floats, Warp, unbent
from sumlight.text.message import say

COARSE_PX, FINE_PX = 160, 1200
"""Longest side of the copies."""
CROOKED_DEG = np.arange(-4.0, 4.1, 1.0)
"""So far a sheet lies crooked on a scanner's glass, beyond quarter turns."""
CANDIDATES, NEAR, APART_PX = 8, 0.6, 4
"""So many of the best correlations, down to that share of the best one, so far apart at least."""
LEAST_LIKE = 0.3
"""Correlation of the refined copies below which the two are not of one artwork."""
AS_GOOD, SAME_LIKE = 1.15, 1e-3
"""So many times the least difference, and so much, is no clear second."""
AS_WHOLE = 0.97
"""Elsewhere is no rival where less than that of the sheet would still lie on the scan."""
ELSEWHERE = 3
"""So many other places are tried in the turn that was found."""


class NotAlikeError(ValueError):
    """Scan and reference do not show the same artwork."""


@dataclass(frozen=True)
class Aligned:
    """The warp, whether black and white are swapped, and whether the pattern repeats so that others fit as well."""

    warp: Warp
    inverted: bool
    repeats: bool


@dataclass(frozen=True)
class _Candidate:
    score: float
    mirrored: bool
    matrix: Floats  # from the reference's small copy to the scan's
    offset: Floats  # where its middle comes to lie


def align(scan: AnyScan, reference: Sheet, *, open_is_black: bool) -> Aligned:
    """Find how a scan lies. Raises NotAlikeError for a scan of something else."""
    longest_um = max(
        max(scan.width_px, scan.height_px) * scan.pitch_um,
        max(reference.width_px, reference.height_px) * reference.pitch_um,
    )
    pitch = longest_um / COARSE_PX
    wanted, seen = small_of_sheet(reference, pitch), small_of_scan(scan, pitch)
    wanted = 1 - wanted if open_is_black else wanted
    candidates = _candidates(wanted, seen)
    fine = max(longest_um / FINE_PX, reference.pitch_um, scan.pitch_um)
    wanted, seen = small_of_sheet(reference, fine), small_of_scan(scan, fine)
    wanted = 1 - wanted if open_is_black else wanted
    finer = pitch / fine
    refined = _best(_apart(candidates), wanted, seen, finer)
    if not refined:
        raise NotAlikeError(say("art_not_alike"))
    least = 1 - max(like for _one, like in refined)
    close = [one for one, like in refined if 1 - like <= AS_GOOD * least + SAME_LIKE]
    # Of those that fit as well, the one that was turned and moved least: a round part has no other way to tell.
    straight = min(close, key=lambda one: (one.mirrored, _quarters(one.matrix), _away(one, seen)))
    elsewhere = [
        one
        for one in candidates
        if _same_turn(one, straight)
        and np.hypot(*((one.offset + 0.5) * finer - 0.5 - straight.offset)) > APART_PX * finer
    ]
    others = _best(_apart(elsewhere)[:ELSEWHERE], wanted, seen, finer)
    least_in = AS_WHOLE * _share_in(straight, wanted, seen)
    repeats = any(
        1 - like <= AS_GOOD * least + SAME_LIKE
        and not _same_place(one, straight, wanted)
        and _share_in(one, wanted, seen) >= least_in
        for one, like in others
    )
    scale = np.array([reference.pitch_um, scan.pitch_um]) / fine
    matrix = straight.matrix * scale[0] / scale[1]
    offset = (straight.offset + 0.5) / scale[1] - 0.5
    made = unbent(matrix, offset, reference.width_px, reference.height_px)
    return Aligned(made, straight.score < 0, repeats)


def _candidates(wanted: Small, seen: Small) -> list[_Candidate]:
    """Peaks over all turns, mirrored or not, by correlation of what lies between two blurs; the best first."""
    side = cv2.getOptimalDFTSize(max(wanted.shape) + round(1.42 * max(seen.shape)))
    sharp, soft = _banded(wanted), _banded(seen)
    canvas = np.zeros((side, side), np.float32)
    canvas[: sharp.shape[0], : sharp.shape[1]] = sharp
    spectrum = cv2.dft(canvas)
    found: list[_Candidate] = []
    middle = _middle(wanted)
    for mirrored, quarter, crooked in itertools.product((False, True), range(4), CROOKED_DEG):
        angle = np.radians(90 * quarter + crooked)
        turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        matrix = turn @ np.diag([-1.0 if mirrored else 1.0, 1.0])
        # The scan laid back: place on the canvas -> place on the scan, about both middles.
        offset = _middle(seen) - matrix @ np.array([side / 2, side / 2])
        back = cv2.warpAffine(
            soft, np.column_stack((matrix, offset)), (side, side), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        )
        power = float(np.linalg.norm(back) * np.linalg.norm(sharp)) or 1.0
        map_ = cv2.idft(cv2.mulSpectrums(cv2.dft(back), spectrum, 0, conjB=True), flags=cv2.DFT_SCALE) / power
        for _ in range(3):
            y, x = np.unravel_index(int(np.abs(map_).argmax()), map_.shape)
            place = np.array([x, y], float)
            found.append(_Candidate(float(map_[y, x]), mirrored, matrix, matrix @ (middle + place) + offset))
            around = np.arange(-APART_PX, APART_PX + 1)
            map_[np.ix_((y + around) % side, (x + around) % side)] = 0
    return sorted(found, key=lambda one: -abs(one.score))


def _apart(found: list[_Candidate]) -> list[_Candidate]:
    """The best few that differ in turn or place."""
    kept: list[_Candidate] = []
    for one in found:
        new = all(not _same_turn(one, other) or np.hypot(*(one.offset - other.offset)) > APART_PX for other in kept)
        if new and abs(one.score) >= NEAR * abs(found[0].score) and len(kept) < CANDIDATES:
            kept.append(one)
    return kept


def _best(found: list[_Candidate], wanted: Small, seen: Small, finer: float) -> list[tuple[_Candidate, float]]:
    """Candidates refined, with how alike both are then; those that are far worse than the best are left out early."""
    rough = [done for one in found if (done := _refined(one, wanted, seen, finer, (4,))) is not None]
    best = min((1 - like for _one, like in rough), default=1.0)
    if best > 1 - LEAST_LIKE:
        return []
    fair = [one for one, like in rough if 1 - like <= 2 * best + 0.02]
    return [done for one in fair if (done := _refined(one, wanted, seen, 1.0, (2, 1))) is not None]


def _banded(small: Small) -> Small:
    one = cv2.GaussianBlur(small, (0, 0), 1.0, borderType=cv2.BORDER_REPLICATE)
    return np.asarray(one - cv2.GaussianBlur(small, (0, 0), 6.0, borderType=cv2.BORDER_REPLICATE), np.float32)


def _middle(small: Small) -> Floats:
    return np.array([(small.shape[1] - 1) / 2, (small.shape[0] - 1) / 2])


def _refined(
    one: _Candidate, wanted: Small, seen: Small, finer: float, shrinks: tuple[int, ...]
) -> tuple[_Candidate, float] | None:
    """A candidate on the finer copies, by the enhanced correlation of pictures, and how alike they are."""
    seen = 1 - seen if one.score < 0 else seen
    matrix, offset = one.matrix, (one.offset + 0.5) * finer - 0.5
    like = 0.0
    for shrink in shrinks:
        small = [
            cv2.resize(part, None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA)
            for part in (wanted, seen)
        ]
        centre = _middle(small[0])
        moved = (offset + 0.5) / shrink - 0.5
        start = np.column_stack((matrix, moved - matrix @ centre)).astype(np.float32)
        try:
            like, end = cv2.findTransformECC(
                small[0],
                small[1],
                start,
                cv2.MOTION_AFFINE,
                (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 40, 1e-5),
                None,
                5,
            )
        except cv2.error:
            return None  # it ran away: these two do not lie so
        matrix = end[:, :2].astype(np.float64)
        offset = (matrix @ centre + end[:, 2] + 0.5) * shrink - 0.5
    scale = np.sqrt(abs(np.linalg.det(matrix)))
    if not 0.9 < scale < 1.1 or (np.linalg.det(matrix) < 0) != one.mirrored:
        return None
    return _Candidate(one.score, one.mirrored, matrix, offset), float(like)


def _quarters(matrix: Floats) -> int:
    """Quarter turns, of a mirrored one after mirroring left and right."""
    sign = 1 if np.linalg.det(matrix) > 0 else -1
    return abs(round(float(np.degrees(np.arctan2(sign * matrix[1, 0], sign * matrix[0, 0]))) / 90))


def _away(one: _Candidate, seen: Small) -> float:
    return float(np.hypot(*(one.offset - _middle(seen))))


def _same_turn(one: _Candidate, other: _Candidate) -> bool:
    return bool(one.mirrored == other.mirrored and np.abs(one.matrix - other.matrix).max() < 0.3)


def _same_place(one: _Candidate, other: _Candidate, wanted: Small) -> bool:
    return bool(np.hypot(*(one.offset - other.offset)) <= max(wanted.shape) / 200 + 2)


def _share_in(one: _Candidate, wanted: Small, seen: Small) -> float:
    """How much of the reference lies on the scan."""
    x, y = np.meshgrid(np.linspace(0, wanted.shape[1] - 1, 25), np.linspace(0, wanted.shape[0] - 1, 25))
    places = (np.stack((x.ravel(), y.ravel()), axis=1) - _middle(wanted)) @ one.matrix.T + one.offset
    return float(((places >= -0.5) & (places <= np.array(seen.shape[::-1]) - 0.5)).all(axis=1).mean())
