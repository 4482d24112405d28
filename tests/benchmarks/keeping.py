"""The table of figures that is kept in the repository: a run replaces the rows of its own benchmarks, no others.

So long campaigns can be measured one by one. Each row says when it was measured and on which machine, in general words.
"""

import os
import platform
import re
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from tests.benchmarks.figure import Figure

PATH = Path(__file__).with_name("LAST.md")
HEADS = ("benchmark", "figure", "measured", "goal", "result", "day", "machine")

_TOP = """\
# Figures as last measured

Written by `python -m tests.benchmarks --keep` from full runs, never from `--quick`; a run replaces the rows of its own
benchmarks. Do not edit.

"""


@dataclass(frozen=True)
class Row:
    """One line of the table, all text; `machine` in words."""

    benchmark: str
    figure: str
    measured: str
    goal: str
    result: str
    day: str
    machine: str


def rows_of(benchmark: str, figures: Iterable[Figure], day: date, machine: str) -> list[Row]:
    """What a full run of a benchmark found."""
    return [
        Row(
            benchmark=benchmark,
            figure=figure.name.removeprefix(f"{benchmark}: "),
            measured=f"{figure.measured:.4g} {figure.unit}".strip(),
            goal=figure.goal if figure.limit is None else f"{figure.goal} {figure.unit}".strip(),
            result=_result(figure),
            day=day.isoformat(),
            machine=machine,
        )
        for figure in figures
    ]


def merged(kept: Iterable[Row], new: Sequence[Row], order: Sequence[str]) -> list[Row]:
    """`kept` with all rows of the benchmarks in `new` replaced, in the given order of benchmarks.

    Rows of a benchmark that is not in `order` any more are dropped.
    """
    replaced = {row.benchmark for row in new}
    rows = [row for row in kept if row.benchmark not in replaced] + list(new)
    return [row for name in order for row in rows if row.benchmark == name]


def as_text(rows: Sequence[Row]) -> str:
    """The file."""
    machines = list(dict.fromkeys(row.machine for row in rows))
    lines = [_line(HEADS), _line(["---"] * len(HEADS))]
    for row in rows:
        number = str(machines.index(row.machine) + 1)
        lines.append(_line([row.benchmark, row.figure, row.measured, row.goal, row.result, row.day, number]))
    told = [f"Machine {number}: {machine}" for number, machine in enumerate(machines, 1)]
    return _TOP + "\n".join([*lines, "", *(f"{line}\n" for line in told)])


def from_text(text: str) -> list[Row]:
    """The rows of a file. Raises ValueError for one that this module did not write."""
    machines = dict(re.findall(r"^Machine (\d+): (.+)$", text, re.MULTILINE))
    table = [line for line in text.splitlines() if line.startswith("|")]
    if not table or _cells(table[0]) != list(HEADS):
        raise ValueError("there is no table of figures in it")
    rows = []
    for line in table[2:]:
        *cells, number = _cells(line)
        if len(cells) != len(HEADS) - 1 or number not in machines:
            raise ValueError(f"this line is no row of the table: {line}")
        rows.append(Row(*cells, machine=machines[number]))  # type: ignore[misc]
    return rows


def keep(found: Mapping[str, Sequence[Figure]], order: Sequence[str], path: Path = PATH) -> None:
    """Put what full runs found into the file. Raises ValueError if what is there cannot be read; it is left then."""
    today = datetime.now().astimezone().date()
    new = [row for name, figures in found.items() for row in rows_of(name, figures, today, machine())]
    kept = from_text(path.read_text(encoding="utf-8")) if path.exists() else []
    beside = path.with_suffix(".new")
    beside.write_text(as_text(merged(kept, new, order)), encoding="utf-8")
    beside.replace(path)


def machine() -> str:
    """This machine in general words: nothing that names it."""
    cores = len(os.sched_getaffinity(0))
    memory_gb = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 1e9
    return (
        f"{_processor()}, {cores} core{'s' if cores > 1 else ''}, {memory_gb:.0f} GB of memory, {_system()}, "
        f"Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}"
    )


def _processor() -> str:
    """The class of the processor, or what a small computer calls its board."""
    board = Path("/proc/device-tree/model")
    if board.exists():
        return board.read_text(encoding="utf-8").strip("\0 \n")
    kind = {"x86_64": "x86-64", "aarch64": "64-bit ARM", "armv7l": "32-bit ARM"}.get(platform.machine())
    return kind or platform.machine()


def _system() -> str:
    try:
        found = platform.freedesktop_os_release()
    except OSError:
        return platform.system()
    return f"{found.get('ID', 'linux').capitalize()} {found.get('VERSION_ID', '')}".strip()


def _line(cells: Sequence[str]) -> str:
    return "| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |"


def _cells(line: str) -> list[str]:
    return [cell.strip() for cell in line.strip().strip("|").split(" | ")]


def _result(figure: Figure) -> str:
    if figure.limit is None:
        return "–"
    return "**FAIL**" if figure.result == "FAIL" else figure.result
