"""How much faster than real time the twin runs, with the whole of control on it, counted in time of one core."""

import time

from sumlight.twin.scenario import Scenario
from tests.benchmarks.dose import deliver
from tests.benchmarks.figure import Figure

TARGET_MJ_CM2 = 1200.0


def measure(quick: bool) -> list[Figure]:
    """The median of some exposures of about four minutes."""
    ratios = []
    for seed in range(3 if quick else 7):
        began_s = time.process_time()
        _, lit_s = deliver(Scenario(seed=seed), TARGET_MJ_CM2)
        ratios.append(lit_s / (time.process_time() - began_s))
    ratios.sort()
    return [Figure("twin: speed on one core, control included", ratios[len(ratios) // 2], "× real", "at least", 200)]
