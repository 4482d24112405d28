"""`sumlight records export`: rows of the logbook as CSV or as JSON lines."""

import argparse
import csv
import json
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any, TextIO

from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.control.daemon import LOGBOOK
from sumlight.language import _
from sumlight.store.logbook.export import WHATS, What, harmless, rows
from sumlight.store.logbook.logbook import Logbook


def add(command: argparse.ArgumentParser) -> None:
    """Declare the options."""
    shared.add_data(command, twin=False)
    command.add_argument("what", choices=WHATS)
    command.add_argument("file", type=Path, metavar="FILE", help=_("'-': print; *.json and *.jsonl give JSON lines"))
    command.set_defaults(carry_out=carry_out)


def carry_out(options: argparse.Namespace) -> Answer:
    """Write all rows of a kind to a file, or print them for '-'."""
    what: What = options.what
    path: Path = options.file
    with Logbook.open_reader(options.data / LOGBOOK) as book:
        found = rows(book, what)
        if str(path) == "-" and options.json:
            return Answer({"what": what, "rows": list(found)})
        if str(path) == "-":
            _write(found, sys.stdout, as_json=False)
            return Answer({})
        with path.open("w", newline="", encoding="utf-8") as file:
            count = _write(found, file, as_json=path.suffix in (".json", ".jsonl"))
    return Answer(
        {"what": what, "file": str(path), "count": count}, [_("{path}: {count} rows", path=path, count=count)]
    )


def _write(found: Iterable[dict[str, Any]], file: TextIO, *, as_json: bool) -> int:
    out = csv.writer(file)
    count = 0
    for row in found:
        if as_json:
            file.write(json.dumps(row) + "\n")
        else:
            if count == 0:
                out.writerow(row)
            out.writerow(map(harmless, row.values()))
        count += 1
    return count
