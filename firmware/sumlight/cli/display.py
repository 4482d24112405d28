"""`sumlight box display`: a small text display at the box, in a process of its own.

It asks control for a snapshot once a second and waits for nobody else: a display that hangs holds up this process and
nothing more. It does not watch, so it never passes for a page. It writes what Linux's driver of character displays
takes (auxdisplay/charlcd: text, and escape sequences for clearing and placing; from memory).
"""

import argparse
import time
from collections.abc import Callable, Iterable
from itertools import count, zip_longest
from pathlib import Path
from typing import Any

from sumlight.cli.options import add_data
from sumlight.control.daemon import SOCKET
from sumlight.language import _, named, text_of
from sumlight.protocol import display_rows
from sumlight.protocol.client import ControlClient, ControlGoneError
from sumlight.text.message import say

LOOK_S = 1.0
LOOKS_A_SHEET = round(display_rows.TURN_OVER_S / LOOK_S)
CLEAR = "\x1b[2J"


def add(command: argparse.ArgumentParser) -> None:
    """Declare the options."""
    add_data(command, twin=False)
    command.add_argument(
        "--device", type=Path, metavar="FILE", help=_("where the display takes its text, e.g. /dev/lcd (default: here)")
    )
    command.add_argument(
        "--columns", type=int, choices=range(16, 41), default=display_rows.COLUMNS, metavar="N", help=_("16 to 40")
    )
    command.add_argument(
        "--rows", type=int, choices=range(2, 9), default=display_rows.ROWS, metavar="N", help=_("2 to 8")
    )
    command.set_defaults(carry_out=carry_out)


def carry_out(options: argparse.Namespace) -> int:
    """Show the box until somebody ends it. Raises OSError for a display that cannot be written."""
    looks = asked(options.data / SOCKET)
    if options.device is None:
        show(looks, lambda text: print(text, end="", flush=True), options.columns, options.rows, placed=False)
        return 0
    try:
        with options.device.open("wb", buffering=0) as device:
            show(looks, lambda text: device.write(text.encode("ascii")), options.columns, options.rows, placed=True)
    except OSError as error:
        raise OSError(say("display_is_gone", device=str(options.device), why=error.strerror or str(error))) from error
    return 0


def asked(socket: Path, wait: Callable[[float], None] = time.sleep) -> Iterable[dict[str, Any] | None]:
    """Snapshots, one a second; None while nobody answers."""
    client: ControlClient | None = None
    while True:
        try:
            client = client or ControlClient(socket)
            yield client.ask("state")
        except ControlGoneError:
            client = None
            yield None
        wait(LOOK_S)


def show(
    looks: Iterable[dict[str, Any] | None], write: Callable[[str], object], columns: int, rows: int, *, placed: bool
) -> None:
    """Write what is to be read now: rows that have changed, each at its place, or else all of them below the last."""
    before: list[str] = []
    if placed:
        write(CLEAR)
    for number, snapshot in zip(count(), looks, strict=False):
        now = lines(snapshot, columns, rows, number // LOOKS_A_SHEET)
        if placed:
            for row, (new, old) in enumerate(zip_longest(now, before)):
                if new != old:
                    write(f"\x1b[Lx0y{row};{new}")
        elif now != before:
            write("\n".join([*now, ""]))
        before = now


def lines(snapshot: dict[str, Any] | None, columns: int, rows: int, turn: int = 0) -> list[str]:
    """What stands on the display: state and time left above, below it what to do next, which is turned over in time."""
    if snapshot is None:
        state, rest, left_s = _("No word from the box"), _("Look at the box itself."), None
    else:
        state, rest = named("state", snapshot["state"]), text_of(snapshot["sentence"])
        left_s = display_rows.left_s(snapshot.get("exposure"), snapshot["state"])
    return display_rows.rows(state, rest, left_s, columns=columns, rows=rows, turn=turn)
