"""`sumlight records faults`: the faults so far, and the word of somebody who has looked at the lamps."""

import argparse
from typing import Any

from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.control.daemon import LOGBOOK, SOCKET
from sumlight.control.safety.faults import FAULTS
from sumlight.language import _, text_of
from sumlight.protocol.client import ControlClient
from sumlight.protocol.snapshot import OF_LIGHT, ONLY_TOLD
from sumlight.store.logbook.logbook import Logbook

MOST_TOLD = 20


def add(command: argparse.ArgumentParser) -> None:
    """Declare the options."""
    command.description = _(
        "List the newest faults; a * says that nothing has shown yet that it is over.\n"
        "With a number and a word, keep that you looked after a fault of light."
    )
    command.add_argument("fault", type=int, nargs="?", metavar="N", help=_("number of the fault"))
    command.add_argument("word", nargs="?", metavar="WORD", help=_("what you found, in quotes"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=carry_out)


def carry_out(options: argparse.Namespace) -> Answer:
    """List them, or keep the word."""
    with Logbook.open_reader(options.data / LOGBOOK) as book:
        rows = book.faults.past(MOST_TOLD)
        open_ones = {fault["fault_id"]: fault["name"] for fault in book.faults.not_mended(OF_LIGHT, ONLY_TOLD)}
    if options.fault is not None:
        return _looked(options, open_ones)
    found = [{**row, "may_not_be_over": row["fault_id"] in open_ones} for row in rows]
    return Answer({"faults": found}, [line for row in found for line in _told(row)] or [_("no fault is recorded yet")])


def _looked(options: argparse.Namespace, open_ones: dict[int, str]) -> Answer:
    if open_ones.get(options.fault) not in OF_LIGHT:
        numbers = [str(number) for number, name in open_ones.items() if name in OF_LIGHT]
        raise ValueError(
            _(
                "fault {number} is not among the faults of light that may not be over yet: {numbers}",
                number=options.fault,
                numbers=", ".join(numbers) or _("there are none"),
            )
        )
    with ControlClient(options.data / SOCKET) as client:
        client.ask("looked_at", fault_id=options.fault, word=options.word or "")
    line = _("fault {number}: looked at", number=options.fault)
    return Answer({"fault_id": options.fault, "word": options.word}, [line])


def _told(row: dict[str, Any]) -> list[str]:
    name = row["name"]
    title = text_of(FAULTS[name].title) if name in FAULTS else name
    mark = "*" if row["may_not_be_over"] else " "
    lines = [f"{mark}{row['fault_id']:5} {row['raised_utc'][:16].replace('T', ' ')} UTC  {title}"]
    if row["looked_utc"] is not None:
        who, word = row["looked_by"], row["looked_word"]
        lines.append("       " + _("looked at by {who}: {word}", who=who, word=word))
    return lines
