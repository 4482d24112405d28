"""Cuts the power at random moments while records are written, and looks at what is left."""

import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from sumlight.store.logbook.logbook import Logbook, LogbookError
from sumlight.store.logbook.records import TraceChunk
from sumlight.store.maintenance.integrity import check
from tests.store.crashdisk import CrashDisk
from tests.store.making import later, new_exposure, sample, state

STEPS = 60
"""Doses written in one exposure; then it is ended, its journal packed, and the next one begins."""

STEP_MJ_CM2 = 0.25


@dataclass
class Known:
    """What the program had been told is on the disk: exposures begun and ended, doses and strikes written."""

    begun: int = 0
    ended: int = 0
    doses: int = 0
    strikes: int = 0


@dataclass
class PowerCuts:
    """What was found after many power cuts."""

    cuts: int = 0
    corrupt: list[str] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    doubled: list[str] = field(default_factory=list)


def cut_power(cuts: int, seed: int, *, durable: bool = True) -> PowerCuts:
    """So many power cuts within one run of writing."""
    chance, found, known = Random(seed), PowerCuts(), Known()
    left: list[tuple[Path, Known]] = []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "run" / "logbook.sqlite"
        path.parent.mkdir()
        Logbook(path).close()
        next_at = [chance.randint(1, 12)]

        def before(number: int) -> None:
            if number >= next_at[0] and len(left) < cuts:
                next_at[0] = number + chance.randint(1, 12)
                where = Path(folder) / f"cut{len(left)}"
                disk.power_cut(where, chance)
                left.append((where / "logbook.sqlite", Known(**vars(known))))

        disk = CrashDisk(before)
        with disk, Logbook(path, durable=durable) as book:
            book._session.link.execute("PRAGMA wal_autocheckpoint = 40")  # more of the moments that matter
            while len(left) < cuts:
                _write(book, known)
        for cut_path, was in left:
            _look(cut_path, was, found)
    return found


def _write(book: Logbook, known: Known) -> None:
    """One exposure with everything that control writes in it."""
    begun = book.begin(new_exposure(panel=f"P{known.begun + 1}", sides="A"))
    known.begun, known.doses = known.begun + 1, 0
    side_id = begun.side_ids["A"]
    for step in range(1, STEPS + 1):
        book.put_sides([state(side_id, STEP_MJ_CM2 * step)], later(step))
        known.doses = step
        if step % 10 == 0:
            book.add_trace(TraceChunk(side_id, tuple(sample(number) for number in range(100))))
            book.lamps.add_lamp_use("lower", 2.5, 1)
            known.strikes += 1
    book.finish(begun.exposure_id, "completed", False, later(STEPS))
    known.ended += 1


def _look(path: Path, known: Known, found: PowerCuts) -> None:
    """One power cut: sound, nothing missing that was told to be written, nothing more than was being written."""
    found.cuts += 1
    try:
        _compare(path, known, found)
    except (LogbookError, IndexError) as error:  # a side without its exposure is as bad
        found.corrupt.append(f"{known}: {error}")


def _compare(path: Path, known: Known, found: PowerCuts) -> None:
    with Logbook(path, durable=False) as book:
        rows = book.recent(1)
        begun = rows[0]["exposure_id"] if rows else 0
        ended = begun - (book.interrupted() is not None)
        strikes = book.bank_state("lower").strikes
        doses = len(book.journal(rows[0]["sides"][0]["side_id"])) if rows else 0
        for row in rows:
            book.trace(row["sides"][0]["side_id"])
    problems = check(path).problems
    if problems:
        found.corrupt.append(f"{known}: {problems[0]}")
    seen = f"{known}, found {begun} begun, {ended} ended, {doses} doses, {strikes} strikes"
    expected_doses = 0 if begun > known.begun else known.doses
    if begun < known.begun or ended < known.ended or strikes < known.strikes or doses < expected_doses:
        found.missing.append(seen)
    if begun > known.begun + 1 or ended > known.ended + 1 or strikes > known.strikes + 1 or doses > expected_doses + 1:
        found.doubled.append(seen)
