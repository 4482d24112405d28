"""Comparisons judged by scans in closed form, and by boards whose defects somebody marked (`--pairs DIR`).

The boards are 60 pairs of the open set DeepPCB; nothing of them is copied here. Each second one by name is one of the
30 on which tolerances and the margin of boxes were fixed, the others are judged.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from sumlight.artwork.align import align
from sumlight.artwork.compare import compare
from sumlight.artwork.differences import Difference, differences, tolerance
from sumlight.artwork.edges import edges_of
from sumlight.artwork.fit import Fit, fit
from sumlight.artwork.scan import Scan
from sumlight.artwork.sheet import Sheet, from_mask
from tests.artwork.known_scans import PITCH_UM, Floats, Lying, bench_part, scanned, sheet_of
from tests.benchmarks.figure import Figure

A5_PX = (6992, 9921)
MARGIN_PX = 8
"""Whoever marked the boards left so much room around each defect (fixed on the first 30)."""
BOARD_UM = 1000 / 48
KINDS = {1: "open", 2: "short", 3: "nick", 4: "spur", 5: "island", 6: "pinhole"}
SWAPPED = {"open": "short", "short": "open", "nick": "spur", "spur": "nick", "pinhole": "island", "island": "pinhole"}
Grey = NDArray[np.uint8]
Box = tuple[float, float, float, float]


def measure(quick: bool, pairs: Path | None) -> list[Figure]:
    """Scans in closed form, an A5 sheet, and boards where there are any."""
    return [*_scans(2 if quick else 12), *([] if quick else _a5()), *(_boards(pairs) if pairs is not None else [])]


def _lying(number: int) -> Lying:
    chance = np.random.default_rng(500 + number)
    x, y = chance.uniform(0.99, 1.01, 2)
    return Lying(
        turn_deg=float(chance.uniform(-3, 3)),
        scale_x=float(x),
        scale_y=float(y),
        shift=(float(chance.uniform(-20, 20)), float(chance.uniform(-20, 20))),
        growth_px=float(chance.uniform(-1, 1)),
        blur_px=float(chance.uniform(0.8, 1.6)),
        noise=6.0,
        dust=20,
        seed=number,
    )


def _fitted(width: int, height: int, lying: Lying, wanted: int) -> tuple[Fit, Floats]:
    shapes = bench_part(width, height, seed=lying.seed, wanted=wanted)
    scan, offset = scanned(shapes, width, height, lying)
    sheet = sheet_of(shapes, width, height)
    return fit(scan, edges_of(sheet), align(scan, sheet, open_is_black=True).warp), offset


def _scans(count: int) -> list[Figure]:
    width, height = 1200, 1700
    x, y = np.meshgrid(np.linspace(20, width - 20, 15), np.linspace(20, height - 20, 20))
    places = np.stack((x, y), axis=-1).reshape(-1, 2)
    off, bias = 0.0, 0.0
    for number in range(count):
        lying = _lying(number)
        found, offset = _fitted(width, height, lying, 150)
        there = places @ lying.matrix.T + offset
        rms = float(np.sqrt(((found.warp(places) - there) ** 2).sum(axis=1).mean()))
        off = max(off, rms * PITCH_UM)
        bias = max(bias, abs(found.growth.mean_px - lying.growth_px) * PITCH_UM)
    name = f"artwork: {count} scans in closed form, ±3°, ±1 %, soft, noisy, shaded, dusty"
    return [
        Figure(f"{name}: registration, worst scan's rms", off, "µm", "at most", 5),
        Figure(f"{name}: bias of edges, worst", bias, "µm", "at most", 3),
    ]


def _a5() -> list[Figure]:
    lying = _lying(99)
    found, _offset = _fitted(*A5_PX, lying, 1500)
    # Scales by their definition: a unit along x, and what is left of a unit along y at right angles to it.
    matrix = found.affine.matrix
    across = float(np.hypot(*matrix[:, 0]))
    down = float(np.linalg.det(matrix)) / across
    worst = max(abs(across / lying.scale_x - 1), abs(down / lying.scale_y - 1))
    return [
        Figure("artwork: scan in closed form, A5 at 1200 dpi: scale of either axis", 1e6 * worst, "ppm", "at most", 20)
    ]


@dataclass(frozen=True)
class _Board:
    reference: Sheet
    scan: Grey
    marked: list[tuple[Box, str]]


@dataclass
class _Score:
    """Counts over boards: marks, findings, and which of each were met."""

    marked: int = 0
    found: int = 0
    marked_met: int = 0
    found_met: int = 0
    tight: int = 0
    matched: int = 0
    right: int = 0

    def add(self, found: Iterable[Difference], marked: list[tuple[Box, str]]) -> None:
        boxes = [(_box(one), one.kind) for one in found]
        self.marked += len(marked)
        self.found += len(boxes)
        self.marked_met += sum(any(_overlap(box, mark) > 0 for box, _kind in boxes) for mark, _known in marked)
        self.found_met += sum(any(_overlap(box, mark) > 0 for mark, _known in marked) for box, _kind in boxes)
        pairs = sorted(
            ((_overlap(box, mark), i, j) for i, (box, _k) in enumerate(boxes) for j, (mark, _l) in enumerate(marked)),
            reverse=True,
        )
        used: tuple[set[int], set[int]] = (set(), set())
        for share, i, j in pairs:
            if share > 0 and i not in used[0] and j not in used[1]:
                used[0].add(i)
                used[1].add(j)
                self.matched += 1
                self.tight += share > 0.33
                self.right += boxes[i][1] == marked[j][1]

    @property
    def recall(self) -> float:
        return self.marked_met / max(1, self.marked)

    @property
    def score(self) -> float:
        """F: harmonic mean of recall and precision, by any overlap."""
        precision = self.found_met / max(1, self.found)
        return 2 * self.recall * precision / max(1e-9, self.recall + precision)

    @property
    def tight_score(self) -> float:
        """F at an overlap of more than a third."""
        return 2 * self.tight / max(1, self.marked + self.found)


def _box(one: Difference) -> Box:
    x, y = one.x_mm * 1000 / BOARD_UM, one.y_mm * 1000 / BOARD_UM
    wide, high = one.width_um / BOARD_UM / 2 + MARGIN_PX, one.height_um / BOARD_UM / 2 + MARGIN_PX
    return x - wide, y - high, x + wide, y + high


def _overlap(one: Box, other: Box) -> float:
    """Intersection over union."""
    wide = min(one[2], other[2]) - max(one[0], other[0])
    high = min(one[3], other[3]) - max(one[1], other[1])
    if wide <= 0 or high <= 0:
        return 0.0
    areas = sum((box[2] - box[0]) * (box[3] - box[1]) for box in (one, other))
    return wide * high / (areas - wide * high)


def _read(folder: Path, name: str) -> _Board:
    marked = []
    for line in (folder / f"{name}.txt").read_text().splitlines():
        left, top, right, bottom, kind = map(int, line.replace(",", " ").split())
        marked.append(((float(left), float(top), float(right), float(bottom)), KINDS[kind]))
    wanted, made = (_grey(folder / f"{name}_{which}.jpg") for which in ("temp", "test"))
    return _Board(from_mask(wanted > 127, BOARD_UM), made, marked)


def _grey(path: Path) -> Grey:
    with Image.open(path) as image:
        return np.asarray(image.convert("L"), np.uint8)


def _laid(scan: Grey, degrees: float, scale: float, blur_px: float) -> Grey:
    height, width = scan.shape
    into = cv2.getRotationMatrix2D(((width - 1) / 2, (height - 1) / 2), degrees, scale)
    made = cv2.warpAffine(scan, into, (width, height), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(cv2.GaussianBlur(made, (0, 0), blur_px) if blur_px else made)


VARIANTS: dict[str, Callable[[Grey], Grey]] = {
    "turned by 2°": lambda scan: _laid(scan, 2, 1, 0),
    "1 % larger": lambda scan: _laid(scan, 0, 1.01, 0),
    "1 % smaller": lambda scan: _laid(scan, 0, 0.99, 0),
    "blurred by 1 pixel": lambda scan: _laid(scan, 0, 1, 1),
}


def _boards(folder: Path) -> list[Figure]:
    names = sorted(one.name.removesuffix("_temp.jpg") for one in folder.glob("*_temp.jpg"))
    fixed, judged = names[::2], names[1::2]
    print(f"boards on which limits were fixed: {' '.join(fixed)}\nboards judged: {' '.join(judged)}", flush=True)
    first, second, swapped, all_ = _Score(), _Score(), 0, 0
    for name in names:
        board = _read(folder, name)
        done = compare(Scan(board.scan, BOARD_UM), board.reference, open_is_black=False)
        (first if name in fixed else second).add(done.differences, board.marked)
        other = _inverted(board.reference), _inverted(done.seen)
        growth, spread = done.bias.mean_um / BOARD_UM, done.bias.spread_um / BOARD_UM
        mirror, _count = differences(*other, growth_px=-growth, tolerance_px=tolerance(spread))
        here = {(one.x_mm, one.y_mm): SWAPPED[one.kind] for one in done.differences}
        swapped += sum(here.get((one.x_mm, one.y_mm)) == one.kind for one in mirror)
        all_ += max(len(mirror), len(done.differences))
    figures = [
        Figure(f"artwork: boards, {len(fixed)} fixed on: F by any overlap", first.score, "", "for comparison"),
        Figure(f"artwork: boards, {len(fixed)} fixed on: F at overlap > 0.33", first.tight_score, "", "for comparison"),
        Figure(f"artwork: boards, {len(judged)} judged: F by any overlap", second.score, "", "at least", 0.98),
        Figure(f"artwork: boards, {len(judged)} judged: recall by any overlap", second.recall, "", "at least", 0.99),
        Figure(f"artwork: boards, {len(judged)} judged: F at overlap > 0.33", second.tight_score, "", "at least", 0.93),
        Figure("artwork: boards judged: right kind", 100 * second.right / max(1, second.matched), "%", "at least", 95),
        Figure(
            "artwork: boards, black and white swapped: kinds swapped", 100 * swapped / max(1, all_), "%", "at least", 99
        ),
    ]
    for variant, change in VARIANTS.items():
        score = _Score()
        for name in judged:
            board = _read(folder, name)
            done = compare(Scan(change(board.scan), BOARD_UM), board.reference, open_is_black=False)
            score.add(done.differences, board.marked)
        lost = second.score - score.score
        figures.append(Figure(f"artwork: boards judged, {variant}: F lost", lost, "", "for comparison"))
    false = 0
    for name in names:
        board = _read(folder, name)
        own = np.where(board.reference.rows(0, board.reference.height_px), 255, 0).astype(np.uint8)
        done = compare(Scan(_laid(own, 0, 1, 1), BOARD_UM), board.reference, open_is_black=False)
        false += done.difference_count
    figures.append(
        Figure("artwork: boards against themselves, blurred: false marks", false / len(names), "", "at most", 0.1)
    )
    return figures


def _inverted(sheet: Sheet) -> Sheet:
    return from_mask(~sheet.rows(0, sheet.height_px), sheet.pitch_um)
