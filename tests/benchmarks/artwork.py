"""Artwork: outlines against closed form, compensation against a front marched in time, and what an A4 sheet costs."""

import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from sumlight.artwork.check import etched_through
from sumlight.artwork.compensate import Wanted, compensate
from sumlight.artwork.front import build
from sumlight.artwork.sheet import Mask, from_mask
from tests.artwork import front_in_time
from tests.artwork.shapes import box, disc, stripe
from tests.artwork.test_predict import PITCH, SHAPES
from tests.benchmarks import artwork_scans, artwork_sheet
from tests.benchmarks.figure import Figure
from tests.benchmarks.reference import reference_cpu_s

NOMINAL_REFERENCE_S = 0.9
SIZE_PX, DPI_PITCH_UM, THICKNESS_UM = 72, 25_400 / 1200, 100.0
FACTORS, OVER_ETCHES = (1.0, 1.5, 3.0), (1.2, 1.5)


def measure(quick: bool, pairs: Path | None = None) -> list[Figure]:
    """A hundred artworks, or six; one sheet of A4 for each step; comparisons, with boards where there are any."""
    off = max(_off_closed_form(shape, factor, k) for shape in SHAPES for factor in FACTORS for k in OVER_ETCHES)
    figures = [Figure("artwork: outline off closed form", off, "pixel", "at most", 0.5)]
    return [*figures, *_compensation(6 if quick else 100), *artwork_scans.measure(quick, pairs), *_sheet()]


def _off_closed_form(shape: str, factor: float, over_etch: float) -> float:
    mask, beyond = SHAPES[shape]
    y, x = np.mgrid[0:160, 0:160] + 0.5
    exact = beyond(x, y) * PITCH - np.sqrt((over_etch * 150) ** 2 - 150**2) / factor
    made = build("sheet", 300, over_etch=over_etch)
    through = etched_through(from_mask(mask, PITCH), None, made, factor).rows(0, 160)
    wrong = (through != (exact <= 0))[30:130, 30:130]
    return float(np.abs(exact[30:130, 30:130][wrong]).max(initial=0) / PITCH)


def artwork_of(number: int) -> Mask:
    """Artwork by its number: openings of 250 to 700 µm, straight, round, slanted, and some that meet."""
    chance = np.random.default_rng(1000 + number)
    made = np.zeros((SIZE_PX, SIZE_PX), np.bool_)
    for _ in range(int(chance.integers(1, 4))):
        kind, size = int(chance.integers(3)), int(chance.integers(12, 33))
        if kind == 0:
            one = disc(SIZE_PX, size / 2)
        elif kind == 1:
            one = stripe(SIZE_PX, size / 2 + 6, float(chance.uniform(0, 180)))
        else:
            one = box(SIZE_PX, 20, 20, 20 + size, 20 + int(chance.integers(12, 33)))
        made |= np.roll(one, (int(chance.integers(-16, 17)), int(chance.integers(-16, 17))), (0, 1))
    made[:8], made[-8:], made[:, :8], made[:, -8:] = False, False, False, False
    return made


def _compensation(count: int) -> list[Figure]:
    furthest, marked, whole, agreed, most = 0.0, 0, 0, 0, 0.0
    for number in range(count):
        for factor in FACTORS:
            for over_etch in OVER_ETCHES:
                off, on_mark = _judged(artwork_of(number), factor, over_etch)
                furthest = max(furthest, float(off[~on_mark].max(initial=0)))
                marked, whole = marked + int(on_mark.sum()), whole + len(off)
                agreed += int(((off > 1) == on_mark).sum())
                most = max(most, float(on_mark.mean()))
    name = f"artwork: compensated, {count} artworks × F 1, 1.5, 3 × k 1.2, 1.5"
    return [
        Figure(f"{name}: off the wanted outline", furthest, "pixel", "at most", 1),
        Figure(f"{name}: marks that the judge shares", 100 * agreed / whole, "%", "at least", 99),
        Figure(f"{name}: outline marked", 100 * marked / whole, "%", "at most", 10),
        Figure(f"{name}: outline marked, worst artwork", 100 * most, "%", "for comparison"),
    ]


def _judged(wanted: Mask, factor: float, over_etch: float) -> tuple[np.ndarray, np.ndarray]:
    """How far the judge's outline is from each place of the wanted one, in pixels, and whether that was marked."""
    done = compensate(from_mask(wanted, DPI_PITCH_UM), Wanted(THICKNESS_UM, factor, over_etch=over_etch))
    lines = front_in_time.part(done.sheet.rows(0, SIZE_PX), DPI_PITCH_UM, THICKNESS_UM, factor, over_etch)
    places, pixels = front_in_time.outline(wanted)
    return front_in_time.off_px(places, lines), done.impossible.rows(0, SIZE_PX)[*pixels.T]


def _sheet() -> list[Figure]:
    """Each step in a process of its own, between two runs of the reference."""
    found = []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a4.png"
        artwork_sheet.write(path)
        artwork_sheet.write_crooked(path)
        for step in ("check", "predict", "compensate", "compare"):
            before_s = reference_cpu_s()
            run = [sys.executable, "-m", "tests.benchmarks.artwork_sheet", step, str(path)]
            told = json.loads(subprocess.run(run, check=True, capture_output=True, text=True).stdout)
            reference_s = (before_s + reference_cpu_s()) / 2
            name = f"artwork: {step} A4 at 1200 dpi"
            cpu_s = told["cpu_s"] / reference_s * NOMINAL_REFERENCE_S
            found.append(Figure(f"{name}: at reference {NOMINAL_REFERENCE_S} s", cpu_s, "s", "at most", 60))
            found.append(Figure(f"{name}: memory", told["peak_mb"], "MB", "at most", 250))
    return found
