"""How much faster than real time the twin runs, with the whole of control on it, counted in time of one core."""

import time

from sumlight.control.gc_policy import GcPolicy
from sumlight.twin.scenario import Scenario
from tests.benchmarks.dose import deliver
from tests.benchmarks.figure import Figure
from tests.benchmarks.reference import beside, judged

TARGET_MJ_CM2 = 1200.0


def measure(quick: bool) -> list[Figure]:
    """Five exposures of about four minutes, each beside the reference loop."""
    speeds = []

    def speed(seed: int) -> float:
        began_s = time.process_time()
        _, lit_s = deliver(Scenario(seed=seed), TARGET_MJ_CM2)
        speeds.append(lit_s / (time.process_time() - began_s))
        return speeds[-1]

    garbage = GcPolicy()
    garbage.begin()  # as the daemon does before its first tick
    try:
        ratios = beside(speed, lambda measured, reference_s: measured * reference_s)
    finally:
        garbage.end()
    return [
        *judged("twin: speed × reference seconds, control included", ratios, "s", "at least", 150),
        Figure("twin: speed on one core, median", sorted(speeds)[len(speeds) // 2], "× real", "for comparison"),
    ]
