"""`sumlight logbook`, `backup`, `restore`, `replay` and `tidy`: care for the logbook."""

import argparse
from collections import Counter
from datetime import timedelta
from pathlib import Path

from sumlight.box.description import LONGEST_KEPT_DAYS, SHORTEST_KEPT_DAYS
from sumlight.cli import options as shared
from sumlight.clock import SystemClock
from sumlight.control.daemon import LOGBOOK
from sumlight.control.records.replay import replay
from sumlight.store.datalock import DataLock
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.pruning import Tidying, compact
from sumlight.store.logbook.weekly_statistics import courses
from sumlight.store.maintenance.backup import back_up, put_back

MOST_TOLD = 20
CARE_TOLD = 20


def add_told(command: argparse.ArgumentParser) -> None:
    """Declare the options of the command that tells what the logbook holds."""
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=carry_out_told)


def add_backup(command: argparse.ArgumentParser) -> None:
    """Declare the options of `backup`."""
    command.add_argument("file", type=Path, metavar="FILE")
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=carry_out_backup)


def add_restore(command: argparse.ArgumentParser) -> None:
    """Declare the options of `restore`."""
    command.add_argument("file", type=Path, metavar="FILE")
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=carry_out_restore)


def add_replay(command: argparse.ArgumentParser) -> None:
    """Declare the options of `replay`."""
    command.add_argument("--exposure", type=int, metavar="N", help="this exposure only")
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=carry_out_replay)


def add_tidy(command: argparse.ArgumentParser) -> None:
    """Declare the options of `tidy`."""
    what = command.add_mutually_exclusive_group(required=True)
    what.add_argument("--older-than-days", type=float, metavar="DAYS", help="remove traces older than that")
    what.add_argument("--compact", action="store_true", help="give freed room back; the box must not be running")
    command.add_argument("--yes", action="store_true", help="really remove them")
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=carry_out_tidy)


def carry_out_backup(options: argparse.Namespace) -> int:
    """Copy."""
    size = back_up(options.data / LOGBOOK, options.file)
    print(f"{options.file}: {size / 1e6:.1f} MB, sound")
    return 0


def carry_out_restore(options: argparse.Namespace) -> int:
    """Put a copy back; what was there is kept beside it."""
    with DataLock(options.data):
        kept = put_back(options.data / LOGBOOK, options.file, SystemClock().utc())
    print(f"{options.data / LOGBOOK}: restored from {options.file}")
    if kept is not None:
        print(f"what was there before is kept as {kept}")
    return 0


def carry_out_replay(options: argparse.Namespace) -> int:
    """0 if every stretch gives its stored dose, 1 if one does not."""
    found: Counter[str] = Counter()
    with Logbook.open_reader(options.data / LOGBOOK) as book:
        if options.exposure is not None and book.exposure(options.exposure) is None:
            raise ValueError(f"there is no exposure {options.exposure} in the logbook")
        earlier = book.unreplayable_sides() if options.exposure is None else 0
        for stretch in book.stretches(options.exposure):
            again = replay(stretch)
            found[again.verdict] += 1
            if again.verdict == "differs" and found["differs"] <= MOST_TOLD:
                print(
                    f"exposure {again.exposure_id} side {again.side}: {again.recorded_mj_cm2} mJ/cm² on record, "
                    f"{again.replayed_mj_cm2} mJ/cm² by today's code"
                )
    print(f"{found['same']} stretches of light give the stored dose, {found['differs']} do not")
    if found["open"]:
        print(f"{found['open']} ended with a kill or a power cut: the journal's dose stands for their lost samples")
    if found["no trace"]:
        print(f"{found['no trace']} have no trace any more")
    if earlier:
        print(f"{earlier} sides were recorded before calibrations were kept beside traces; they cannot be replayed")
    return 1 if found["differs"] else 0


def carry_out_told(options: argparse.Namespace) -> int:
    """Size, span, care, and whether the process drifts."""
    path = options.data / LOGBOOK
    with Logbook.open_reader(path) as book:
        room, newest, care, found = book.room(), book.recent(1), book.upkeep(CARE_TOLD), courses(book)
    print(f"{path}: {path.stat().st_size / 1e6:.1f} MB, of which {room.free / 1e6:.1f} MB are free for what comes next")
    if newest:
        print(
            f"{newest[0]['exposure_id']} exposures, the newest of {newest[0]['started_utc'][:16].replace('T', ' ')} UTC"
        )
    print("what was done to it:" if care else "nothing was done to it yet but write")
    for row in care:
        print(f"  {_minute(row['done_utc'])}, {row['what'].replace('_', ' ')}: {row['told']}")
    print("the process, week by week (`sumlight export weeks`):")
    for course in found:
        print(f"  {course.measure.replace('_', '-')}: {course.chart.words}")
    return 0


def carry_out_tidy(options: argparse.Namespace) -> int:
    """Tell, and with --yes remove; or compact. What was done is recorded in the logbook."""
    path, now = options.data / LOGBOOK, SystemClock().utc()
    if options.compact:
        with DataLock(options.data):
            before, after = compact(path, now)
        print(f"{path}: {before / 1e6:.1f} MB before, {after / 1e6:.1f} MB now, {(before - after) / 1e6:.1f} MB won")
        return 0
    if not SHORTEST_KEPT_DAYS <= options.older_than_days <= LONGEST_KEPT_DAYS:
        raise ValueError(f"--older-than-days must be from {SHORTEST_KEPT_DAYS} to {LONGEST_KEPT_DAYS}")
    work = Tidying(now - timedelta(days=options.older_than_days))
    if not options.yes:
        with Logbook.open_reader(path) as reader:
            print(f"{reader.old_traces(work.before).words} Nothing was removed; add --yes to do it.")
        return 0
    with Logbook(path) as book:
        while not work.finished:
            book.remove_old_traces(work, now)
    print(f"{work.words} Removed; the room is used for what comes next (`sumlight tidy --compact` gives it back).")
    return 0


def _minute(utc: str) -> str:
    return f"{utc[:16].replace('T', ' ')} UTC"
