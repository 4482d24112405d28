"""How busy others keep this machine while a benchmark runs: a deadline missed beside them says nothing of Sumlight."""

import os
from pathlib import Path

import psutil

BUSY_SHARE = 0.03
"""Others may take so much of the machine; beyond it a deadline is not judged. Figures of the worst in a thousand feel
more than that: at 3.7 % in bursts the latencies of a loop without precedence were out by a third."""

STAT = Path("/proc/stat")


class Others:
    """Counts processor time from its creation on. `seconds` is what all other programs, and a host, took since.

    Our own are this process and its children, also those that have ended and been waited for.
    """

    def __init__(self) -> None:
        self._began = self._now()

    def share(self) -> float:
        """Part of all processors' time that others took."""
        whole_s, working_s, own_s = (now - then for now, then in zip(self._now(), self._began, strict=True))
        return max(0.0, working_s - own_s) / whole_s if whole_s > 0 else 0.0

    @property
    def too_busy(self) -> bool:
        """Whether deadlines cannot be judged."""
        return self.share() > BUSY_SHARE

    def _now(self) -> tuple[float, float, float]:
        ticks = [int(text) for text in STAT.read_text().split("\n", 1)[0].split()[1:9]]
        unit_s = 1 / os.sysconf("SC_CLK_TCK")
        idle = ticks[3] + ticks[4]  # idle and waiting for the disk; the eighth, stolen by a host, counts as work
        return unit_s * sum(ticks), unit_s * (sum(ticks) - idle), _own_s()


def _own_s() -> float:
    me = os.times()
    own_s = me.user + me.system + me.children_user + me.children_system
    for child in psutil.Process().children(recursive=True):
        try:
            times = child.cpu_times()
        except psutil.NoSuchProcess:
            continue
        own_s += times.user + times.system + times.children_user + times.children_system
    return own_s
