"""`sumlight setup faults`: the list of faults for people, made from control's own table."""

import argparse
from pathlib import Path

from sumlight.cli.answer import Answer
from sumlight.control.safety.faults import FAULTS, FaultKind

HEAD = """\
<!-- Made by `sumlight setup faults --write hardware/faults.md` from control/safety/faults.py: change it there. -->
# Faults

A fault that darkens latches: the lamps stay dark and the dose is kept until its cause is gone **and** a person has
acknowledged it. Nothing lights again by itself: the panel then waits for a go with the lid shut. A remark is only told.

> **Caution.** If lamps burn although the page says they are off, pull the plug and do not look into the light.
"""


def add(command: argparse.ArgumentParser) -> None:
    """Declare the options."""
    command.add_argument("--write", type=Path, metavar="FILE", help="write it there instead of printing it")
    command.set_defaults(carry_out=carry_out)


def carry_out(options: argparse.Namespace) -> Answer:
    """Print or write the list."""
    found = {
        name: {"title": kind.title, "seen": kind.seen, "stops": kind.stops, "remedy": kind.remedy}
        for name, kind in FAULTS.items()
    }
    if options.write is None:
        return Answer(found, fault_list().split("\n")[:-1])
    options.write.write_text(fault_list(), encoding="utf-8")
    return Answer(found)


def fault_list() -> str:
    """The list as Markdown, with an anchor named for each fault."""
    rows = [f"| [{kind.title}](#{kind.name}) | `{kind.name}` | {_happens(kind)} |" for kind in FAULTS.values()]
    table = ["| fault | name in the logbook | what happens |", "| --- | --- | --- |", *rows]
    return "\n".join([HEAD, *table, "", *(_section(kind) for kind in FAULTS.values())])


def _happens(kind: FaultKind) -> str:
    return "dark, latched" if kind.stops else "told only"


def _section(kind: FaultKind) -> str:
    happens = "Lamps dark at once, K1 let go, dose kept, fault latched." if kind.stops else "It is told; light goes on."
    clears = "cause gone, then a person's acknowledgement, which is recorded"
    return (
        f'## <a id="{kind.name}"></a>{kind.title}\n\n'
        f"- *Seen:* {kind.seen}\n- *Happens:* {happens}\n- *Do:* {kind.remedy}\n- *Clears by:* {clears}.\n"
    )
