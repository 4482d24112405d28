"""`sumlight backup`, `restore`, `replay` and `tidy`: care for the logbook."""

import argparse
from collections import Counter
from datetime import timedelta
from pathlib import Path
from typing import Any

from sumlight.cli import options as shared
from sumlight.clock import SystemClock
from sumlight.control.client import ControlClient, ControlGoneError
from sumlight.control.daemon import LOGBOOK, SOCKET
from sumlight.control.replay import replay
from sumlight.store.copies import back_up, put_back
from sumlight.store.logbook import Logbook
from sumlight.store.tidying import tidy

MOST_TOLD = 20


def add(commands: Any) -> None:
    """Declare the commands."""
    backup = commands.add_parser("backup", help="copy the logbook to a file, also while the box works")
    backup.add_argument("file", type=Path, metavar="FILE")
    backup.set_defaults(carry_out=carry_out_backup)
    restore = commands.add_parser("restore", help="make a backup the logbook again; the box must not be running")
    restore.add_argument("file", type=Path, metavar="FILE")
    restore.set_defaults(carry_out=carry_out_restore)
    again = commands.add_parser("replay", help="work every recorded dose out again with today's code")
    again.add_argument("--exposure", type=int, metavar="N", help="this exposure only")
    again.set_defaults(carry_out=carry_out_replay)
    less = commands.add_parser("tidy", help="remove traces older than so many days; tells first what it would remove")
    less.add_argument("--older-than-days", type=float, required=True, metavar="DAYS")
    less.add_argument("--yes", action="store_true", help="really remove them")
    less.set_defaults(carry_out=carry_out_tidy)
    for command in (backup, restore, again, less):
        shared.add_data(command, twin=False)


def carry_out_backup(options: argparse.Namespace) -> int:
    """Copy."""
    size = back_up(options.data / LOGBOOK, options.file)
    print(f"{options.file}: {size / 1e6:.1f} MB, sound")
    return 0


def carry_out_restore(options: argparse.Namespace) -> int:
    """Put a copy back; what was there is kept beside it."""
    try:
        ControlClient(options.data / SOCKET).close()
    except ControlGoneError:
        pass
    else:
        raise ValueError("the box is running on this logbook; stop it first")
    options.data.mkdir(parents=True, exist_ok=True)
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


def carry_out_tidy(options: argparse.Namespace) -> int:
    """Tell, and with --yes remove; what was removed is recorded in the logbook."""
    if not 30 <= options.older_than_days <= 36500:
        raise ValueError("--older-than-days must be from 30 to 36500")
    now = SystemClock().utc()
    before = now - timedelta(days=options.older_than_days)
    with Logbook(options.data / LOGBOOK) as book:
        told = tidy(book, before, now, really=options.yes)
    print(told if options.yes else f"{told} Nothing was removed; add --yes to do it.")
    return 0
