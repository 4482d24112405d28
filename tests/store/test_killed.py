"""A process killed at any instant leaves a sound logbook that knows every dose it was told."""

import os
import random
import subprocess
import sys
from pathlib import Path

import pytest

from sumlight.store.logbook.logbook import Logbook
from tests.store.making import ask, sample

KILLS = 15
STEP_MJ_CM2 = 0.25


def write_and_kill(path: Path, lines: int) -> tuple[int, int, float]:
    """Start the writing child and kill it after some lines: exposure, side, last dose it said was written."""
    child = subprocess.Popen(
        [sys.executable, "-m", "tests.store.child_writing", str(path)],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )
    with child:
        assert child.stdout is not None
        _, exposure, side = child.stdout.readline().split()
        for _ in range(lines):
            child.stdout.readline()
        child.kill()
        rest = child.stdout.read().split("\n")
    assert child.returncode == -9
    said = [float(line) for line in rest[:-1]]  # the last piece may be cut
    return int(exposure), int(side), said[-1] if said else STEP_MJ_CM2 * lines


@pytest.mark.long
def test_fifteen_kills_leave_a_sound_logbook_and_every_dose(path: Path) -> None:
    """After each: the file is sound, the journal only grows, what was said to be written is there."""
    rng = random.Random(20261125)
    for kill in range(KILLS):
        exposure_id, side_id, said_mj_cm2 = write_and_kill(path, rng.randrange(0, 40))
        with Logbook(path) as book:
            found = book.interrupted()
            journal = [line["dose_mj_cm2"] for line in book.journal(side_id)]
            trace = book.trace(side_id)
            strikes = book.bank_state("lower").strikes
        assert ask(path, "PRAGMA integrity_check") == [("ok",)]
        assert ask(path, "PRAGMA foreign_key_check") == []
        assert found is not None
        assert found.exposure_id == exposure_id == kill + 1
        kept_mj_cm2 = found.sides[0][1].dose_mj_cm2
        assert said_mj_cm2 <= kept_mj_cm2 <= said_mj_cm2 + STEP_MJ_CM2
        assert journal == [STEP_MJ_CM2 * (count + 1) for count in range(len(journal))]
        assert (journal[-1] if journal else 0.0) == kept_mj_cm2
        assert trace == [sample(40 + number) for number in range(len(trace))]
        assert len(trace) // 40 in (len(journal), len(journal) - 1)
        assert strikes > 0 or not trace
