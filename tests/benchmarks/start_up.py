"""What the command line costs before it does anything: CPU of `sumlight --version` and `sumlight --help`."""

import os
import subprocess
import sys

from tests.benchmarks.figure import Figure
from tests.benchmarks.reference import beside, judged

GOAL = 0.25 / 0.9
"""0.25 s of CPU on a machine that takes 0.9 s for the reference loop."""


def measure(quick: bool) -> list[Figure]:
    """CPU of each over the reference; a full run takes three starts to a piece."""
    starts = 1 if quick else 3
    found = []
    for asked in ("--version", "--help"):
        cpu_s(asked)  # the first start may have to compile

        def mean_s(_piece: int, asked: str = asked) -> float:
            return sum(cpu_s(asked) for _ in range(starts)) / starts

        ratios = beside(mean_s, lambda measured, reference_s: measured / reference_s)
        found += judged(f"start-up: CPU of sumlight {asked} ÷ reference", ratios, "", "at most", GOAL)
    return found


def cpu_s(*arguments: str) -> float:
    """CPU seconds, user's and system's, of one `sumlight` in a process of its own."""
    process = subprocess.Popen([sys.executable, "-m", "sumlight.cli", *arguments], stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)  # or Popen would wait again
    if process.returncode:
        raise RuntimeError(f"sumlight {' '.join(arguments)} ended with status {process.returncode}")
    return used.ru_utime + used.ru_stime
