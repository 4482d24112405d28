"""`sumlight setup faults`: the list of faults for people, made from control's own table."""

import argparse
from pathlib import Path

from sumlight.cli.answer import Answer
from sumlight.control.safety.faults import FAULTS, FaultKind
from sumlight.language import N_, _, text_of
from sumlight.text.message import say

HEAD = N_("""\
<!-- Made by `sumlight setup faults --write hardware/faults.md` from text/faults.py: change it there. -->
# Faults

A fault that darkens latches: the lamps stay dark and the dose is kept until its cause is gone **and** a person has
acknowledged it. Nothing lights again by itself: the panel then waits for a go with the lid shut.
A remark is only reported.

> **Caution.** If lamps burn although the page says they are off, pull the plug and do not look into the light.
""")


def add(command: argparse.ArgumentParser) -> None:
    """Declare the options."""
    command.add_argument("--write", type=Path, metavar="FILE", help=_("write it there instead of printing it"))
    command.set_defaults(carry_out=carry_out)


def carry_out(options: argparse.Namespace) -> Answer:
    """Print or write the list."""
    found = {
        str(name): {"title": kind.title, "seen": kind.seen, "stops": kind.stops, "remedy": kind.remedy}
        for name, kind in FAULTS.items()
    }
    if options.write is None:
        return Answer(found, fault_list().split("\n")[:-1])
    options.write.write_text(fault_list(), encoding="utf-8")
    return Answer(found)


def fault_list() -> str:
    """The list as Markdown in the reader's language, with an anchor named for each fault."""
    rows = [
        f"| [{text_of(kind.title)}](#{kind.fault}) | `{kind.fault}` | {_happens(kind)} |" for kind in FAULTS.values()
    ]
    heads = (_("fault"), _("name in the logbook"), _("what happens"))
    table = [f"| {' | '.join(heads)} |", "| --- | --- | --- |", *rows]
    return "\n".join([_(HEAD), *table, "", *(_section(kind) for kind in FAULTS.values())])


def _happens(kind: FaultKind) -> str:
    return _("dark, latched") if kind.stops else _("told only")


def _section(kind: FaultKind) -> str:
    happens = say("fault_darkens") if kind.stops else say("fault_is_told")
    parts = (
        (_("Seen"), kind.seen),
        (_("Happens"), happens),
        (_("Do"), kind.remedy),
        (_("Clears by"), say("fault_clears_by")),
    )
    lines = "\n".join(f"- *{name}:* {text_of(told)}" for name, told in parts)
    return f'## <a id="{kind.fault}"></a>{text_of(kind.title)}\n\n{lines}\n'
