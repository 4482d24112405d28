"""Control and writer killed at random instants, and the power cut: what the logbook knows afterwards.

Three campaigns. `kill -9` of the whole control process under light in real time, against the twin's true dose. The same
of a process that does nothing but write, at random times, so that most hit the middle of a transaction. Power cuts on a
disk that loses, tears and spoils what was not synced (tests/store/crashdisk.py), as SQLite tests itself.
"""

import os
import signal
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from random import Random

from sumlight.store.logbook.logbook import Logbook
from sumlight.store.maintenance.integrity import check
from tests.benchmarks.figure import Figure
from tests.processes.test_killed_control import UNKNOWN_LIMIT_S, Chain, Life
from tests.store.child_writing import write_until_killed
from tests.store.powercuts import PowerCuts, cut_power
from tests.store.test_killed import STEP_MJ_CM2

CONTROL_KILLS, QUICK_CONTROL_KILLS = 1000, 20
CHAINS = 4 * len(os.sched_getaffinity(0))
"""Panels under way at once. A life of control takes four to five seconds, most of them waiting for lamps and light, so
that on two cores a thousand take about ten minutes; with more at once they hold each other up."""

CHAIN_KILLS, FEWEST_KILLS = 42, 5
"""Kills of one panel, before its logbook is left and a new one begun."""

MEAN_LIMIT_S = 0.1
"""The dose taken up must not lie to one side: the mean error is a small part of the light that no record tells of."""

WRITER_KILLS, QUICK_WRITER_KILLS = 1000, 60
POWER_CUTS, QUICK_POWER_CUTS = 1000, 100
CUTS_A_RUN = 50


def measure(quick: bool) -> list[Figure]:
    """All three campaigns."""
    return [
        *_control(QUICK_CONTROL_KILLS if quick else CONTROL_KILLS),
        *_writer(QUICK_WRITER_KILLS if quick else WRITER_KILLS),
        *_power(QUICK_POWER_CUTS if quick else POWER_CUTS),
    ]


def _control(kills: int) -> list[Figure]:
    lives: list[Life] = []
    wrong_offers = unsound = 0
    with tempfile.TemporaryDirectory() as folder:
        each = min(CHAIN_KILLS, max(FEWEST_KILLS, -(-kills // CHAINS)))
        chains = [Chain(Path(folder) / f"chain{n}", each, Random(1000 + n)) for n in range(-(-kills // each))]
        with ThreadPoolExecutor(CHAINS) as at_once:
            list(at_once.map(Chain.run, chains))
        for chain in chains:
            if chain.error is not None:
                raise chain.error
            unsound += bool(check(chain.data / "logbook.sqlite").problems)
            offered = [life.offered for life in chain.lives]
            wrong_offers += sum(a != b for a, b in zip(offered, ["idle"] + ["paused"] * each, strict=False))
            lives += chain.taken_up
    errors_s = [life.error_s for life in lives]
    mean_s = sum(errors_s) / len(errors_s)
    name = f"kills: {len(lives)} of control under light"
    return [
        Figure(f"{name}, logbooks unsound or unreadable", unsound, "", "at most", 0),
        Figure(f"{name}, worst light unknown", max(map(abs, errors_s)), "s", "at most", UNKNOWN_LIMIT_S),
        Figure(f"{name}, light beyond the stated doubt", max(life.beyond_s for life in lives), "s", "at most", 0),
        Figure(f"{name}, mean error of the dose taken up", mean_s, "s of light", "for comparison"),
        Figure(f"{name}, the same without its sign", abs(mean_s), "s", "at most", MEAN_LIMIT_S),
        Figure(f"{name}, panels not offered as they were", wrong_offers, "", "at most", 0),
    ]


def _writer(kills: int) -> list[Figure]:
    chance = Random(9)
    unsound = missing = doubled = 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "logbook.sqlite"
        Logbook(path).close()
        for number in range(kills):
            if number % 100 == 99:
                path = Path(folder) / f"logbook{number}.sqlite"
                Logbook(path).close()
            said_mj_cm2 = _kill_writer(path, chance.uniform(0.002, 0.08))
            unsound += bool(check(path).problems)
            with Logbook(path) as book:
                left = book.interrupted()
                dose = left.sides[0][1].dose_mj_cm2 if left else 0.0
                if said_mj_cm2 is not None:
                    missing += dose < said_mj_cm2
                    doubled += dose > said_mj_cm2 + STEP_MJ_CM2
                if left is not None:
                    book.finish(left.exposure_id, "abandoned", True, left.last_known_utc)
    name = f"kills: {kills} of a writing process"
    return [
        Figure(f"{name}, logbooks unsound", unsound, "", "at most", 0),
        Figure(f"{name}, written doses missing", missing, "", "at most", 0),
        Figure(f"{name}, doses counted twice", doubled, "", "at most", 0),
    ]


def _kill_writer(path: Path, after_s: float) -> float | None:
    """Let a child write for so long, kill it; the last dose it said was written, None before the first."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        sys.stdout = os.fdopen(writing, "w")
        try:
            write_until_killed(path)
        finally:
            os._exit(1)
    os.close(writing)
    time.sleep(after_s)
    os.kill(child, signal.SIGKILL)
    with os.fdopen(reading) as pipe:
        lines = pipe.read().split("\n")[:-1]  # the last piece may be cut
    _, status = os.waitpid(child, 0)
    if os.WTERMSIG(status) != signal.SIGKILL:
        raise RuntimeError("the writing process ended before it was killed")
    return float(lines[-1]) if len(lines) > 1 else 0.0 if lines else None


def _power(cuts: int) -> list[Figure]:
    whole = PowerCuts()
    for run in range(-(-cuts // CUTS_A_RUN)):
        found = cut_power(min(CUTS_A_RUN, cuts), seed=run)
        whole.cuts += found.cuts
        whole.corrupt += found.corrupt
        whole.missing += found.missing
        whole.doubled += found.doubled
    name = f"kills: {whole.cuts} power cuts with unsynced writes lost or torn"
    return [
        Figure(f"{name}, logbooks unsound", len(whole.corrupt), "", "at most", 0),
        Figure(f"{name}, records missing", len(whole.missing), "", "at most", 0),
        Figure(f"{name}, records doubled", len(whole.doubled), "", "at most", 0),
    ]
