"""What hardware/README.md tags *guest*, as it is typed in the emulated machine: lines of `tests.userlands.booted`."""

import os
import subprocess
from itertools import takewhile
from pathlib import Path

from tests.userlands.booted import TYPED, Typed

LIMIT_S = 10_000
FIRST_OF_RUNNING = "systemctl status sumlight-control sumlight-page"
KILL = "sudo systemctl kill -s KILL sumlight-control"
UNINSTALL = "sudo hardware/install --uninstall"

GUIDE = tuple(dict.fromkeys(each for each in TYPED if each.tag == "guest"))
INSTALLING = tuple(takewhile(lambda each: each.line != FIRST_OF_RUNNING, GUIDE))
"""Before the services are started for the first time."""

RUNNING = tuple(each for each in GUIDE[len(INSTALLING) :] if each.line not in (KILL, UNINSTALL))
"""While they run; what kills control is typed under light, what takes the program away at the end."""

COMMANDS = Path("/run/typed")
"""Ahead of the path: a `sudo` that only passes on, since root types here."""

_typed: list[str] = []


def line_of_guide(line: str) -> Typed:
    """The line with what it must say. Raises LookupError if the guide's list has none like it."""
    for each in GUIDE:
        if each.line == line:
            return each
    raise LookupError(f"{line!r} is none of the guide's lines: {[each.line for each in GUIDE]}")


def type_line(typed: Typed) -> None:
    """Type it in the clone as a person would, with nothing of the checks' own. Raises AssertionError if it fails."""
    sudo = COMMANDS / "sudo"
    if not sudo.exists():
        COMMANDS.mkdir(exist_ok=True)
        sudo.write_text('#!/bin/sh\nexec "$@"\n')
        sudo.chmod(0o755)
    names = ("HOME", "LANG", "PIP_NO_INDEX", "PIP_FIND_LINKS")
    done = subprocess.run(
        ["bash", "-c", typed.line],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
        timeout=LIMIT_S,
        # The host's own programs stand last: a Python among them is none of a Pi's.
        env={"PATH": f"{COMMANDS}:/usr/sbin:/usr/bin:/sbin:/bin:/usr/local/bin"}
        | {name: os.environ[name] for name in names if name in os.environ},
    )
    if not typed.kept(done.returncode, done.stdout):
        raise AssertionError(f"{typed.line}: status {done.returncode}\n{done.stdout[-3000:]}")
    _typed.append(typed.line)


def lines_typed() -> set[str]:
    """Those that did as they must."""
    return set(_typed)
