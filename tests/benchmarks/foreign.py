"""Lives under laws of nature that the estimator does not know: five for development and some drawn anew in each run.

Each row of a law is its coverage: the share of panels whose true dose lies inside the stated ± (k = 2). Beside it stand
the rms error, the mean stated ±, and the checks that the person made for it. `bound` is the rms error that the same
checks would leave to somebody who knows the law, decay, dirt and warmth included. Drawn laws come from a start number
that is printed; `laws(start, count)` gives the same ones again. They only judge.
"""

import logging
import math
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import repeat
from random import SystemRandom
from statistics import fmean

from tests.benchmarks.figure import Figure
from tests.benchmarks.foreign_life import ForeignLife, Panels
from tests.worlds.development import LAWS
from tests.worlds.drawn import drawn
from tests.worlds.law import Law

LIVES, QUICK_LIVES = 40, 5
DRAWN, QUICK_DRAWN = 20, 3
EVERY_H = 25.0
COVERAGE, FEWEST, POOR, MOST_POOR = 90.0, 60.0, 80.0, 5.0
WIDEST, WIDEST_RATIO = 12.0, 3.0
LARGE_RMS, MOST_LARGE = 4.0, 3
LARGEST_START = 99_999


@dataclass(frozen=True)
class Judged:
    """What one law made of the box, all in percent: `stated` is the mean half-width, `wanted` the share of the misses
    at which the box already wanted a check or had said that checks disagreed (None without a miss). `bound` is the rms
    error that an estimator which knows the law would leave."""

    name: str
    rms: float
    coverage: float
    lives: tuple[float, ...]
    stated: float
    checks: float
    wanted: float | None
    bound: float
    false_stops: int

    @property
    def row(self) -> str:
        """Name of its row: all that is not judged in it."""
        more = f"rms {self.rms:.1f} %, bound {self.bound:.1f} %, stated ±{self.stated:.1f} %"
        more += f", {self.checks:.2f} checks/100 h"
        stops = f", {self.false_stops} false stops" if self.false_stops else ""
        return f"worlds: law '{self.name}' ({more}{stops}): inside ±"


def measure(quick: bool, start: int | None = None) -> list[Figure]:
    """A row for each law, and what the goals say of all of them together."""
    start = SystemRandom().randint(1, LARGEST_START) if start is None else start
    lives, count = (QUICK_LIVES, QUICK_DRAWN) if quick else (LIVES, DRAWN)
    return figures([judged(law.name, found) for law, found in lived(laws(start, count), lives)], start, lives)


def laws(start: int, count: int) -> list[Law]:
    """The development laws and those drawn from a start number."""
    return [*LAWS, *drawn(start, count)]


def lived(of: list[Law], lives: int) -> list[tuple[Law, list[Panels]]]:
    """So many lives under each law."""
    with ProcessPoolExecutor(initializer=logging.disable, initargs=(logging.CRITICAL,)) as pool:
        return list(zip(of, pool.map(_lives, of, repeat(lives)), strict=True))


def _lives(law: Law, lives: int) -> list[Panels]:
    return [ForeignLife(law, seed).live(EVERY_H) for seed in range(lives)]


def judged(name: str, lives: list[Panels]) -> Judged:
    """Sum up the lives of a law."""
    errors = [math.expm1(error) for life in lives for error in life.errors]
    inside = [held for life in lives for held in life.inside]
    missed = [wanted for life in lives for wanted, held in zip(life.wanted, life.inside, strict=True) if not held]
    return Judged(
        name,
        100 * math.sqrt(fmean(error * error for error in errors)),
        100 * fmean(inside),
        tuple(life.coverage for life in lives),
        100 * fmean(stated for life in lives for stated in life.stated),
        100 * sum(life.checks for life in lives) / sum(life.hours for life in lives),
        100 * fmean(missed) if missed else None,
        100 * math.sqrt(fmean(math.expm1(error) ** 2 for life in lives for error in life.bound)),
        sum(life.false_stops for life in lives),
    )


def figures(found: list[Judged], start: int, lives: int) -> list[Figure]:
    """The rows: first each law, then the goals over all of them."""
    every = [coverage for law in found for coverage in law.lives]
    large = [law for law in found if law.rms > LARGE_RMS]
    beyond = sum(law.bound > LARGE_RMS for law in found)
    wanted = [law.wanted for law in large if law.wanted is not None]
    names = ", ".join(law.name for law in large) or "none"
    return [
        *(Figure(law.row, law.coverage, "%", "at least", COVERAGE) for law in found),
        Figure("worlds: start number of the drawn laws", start, "", "for comparison"),
        Figure(
            f"worlds: foreign lives with less than {POOR:g} % inside ±, {lives} a law",
            100 * sum(coverage < POOR for coverage in every) / len(every),
            "%",
            "at most",
            MOST_POOR,
        ),
        Figure("worlds: inside ± in the worst foreign life", min(every), "%", "at least", FEWEST),
        Figure(
            "worlds: mean stated ± over rms error, widest law",
            max(law.stated / law.rms for law in found),
            "",
            "at most",
            WIDEST_RATIO,
        ),
        Figure("worlds: mean stated ± in the widest law", max(law.stated for law in found), "%", "at most", WIDEST),
        Figure(
            f"worlds: laws with an rms error above {LARGE_RMS:g} % ({names})", len(large), "", "at most", MOST_LARGE
        ),
        Figure(f"worlds: of these with a bound above {LARGE_RMS:g} %, too", beyond, "", "for comparison"),
        Figure(
            "worlds: misses in those laws at which a check was wanted",
            min(wanted, default=100.0),
            "%",
            "at least",
            50.0,
        ),
    ]
