"""One plain loop as a yardstick: machines differ by a factor of two from day to day, and so does one machine.

Figures of throughput, CPU and page building are judged as ratios to it. Deadlines of safety never are.
"""

import statistics
import time
from collections.abc import Callable, Sequence
from typing import Literal

from tests.benchmarks.figure import Figure

TICK_S, SLICES, ADDITIONS = 0.005, 200, 3_000
PIECES = 5
"""The median of so many ratios is judged."""


def reference_cpu_s() -> float:
    """CPU seconds that this machine needs at this moment for ten million additions in plain Python."""
    began_s = time.process_time()
    i = x = 0
    while i < 10_000_000:
        x += i
        i += 1
    return time.process_time() - began_s


def ticking_cpu_s() -> float:
    """The same, done as a ticking loop does its work: a quarter of a millisecond of it every five.

    A processor that sleeps in between wakes with a slow clock and cold caches, and takes up to twice as long for it.
    """
    began_s, due_s = time.thread_time(), time.monotonic()
    for _ in range(SLICES):
        i = x = 0
        while i < ADDITIONS:
            x += i
            i += 1
        due_s = max(due_s + TICK_S, time.monotonic())
        time.sleep(max(0.0, due_s - time.monotonic()))
    return (time.thread_time() - began_s) * 10_000_000 / (SLICES * ADDITIONS)


def beside(
    work: Callable[[int], float],
    combine: Callable[[float, float], float],
    reference: Callable[[], float] | None = None,
) -> list[float]:
    """Do `PIECES` pieces of work, each next to a run of the loop; return what `combine(figure, reference_s)` makes."""
    found = []
    for piece in range(PIECES):
        reference_s = (reference or reference_cpu_s)()
        found.append(combine(work(piece), reference_s))
    return found


def judged(
    name: str, ratios: Sequence[float], unit: str, kind: Literal["at most", "at least"], limit: float
) -> list[Figure]:
    """Make the rows of `ratios`: their median with its goal, and the spread it comes from."""
    low, high = min(ratios), max(ratios)
    return [
        Figure(name, statistics.median(ratios), unit, kind, limit),
        Figure(f"{name}, lowest of {len(ratios)}", low, unit, "for comparison"),
        Figure(f"{name}, highest of {len(ratios)}", high, unit, "for comparison"),
    ]
