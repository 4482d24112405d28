"""Run benchmarks by name and print each figure with its goal; exit status 1 if one misses it."""

import argparse
import contextlib
import json
import os
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TextIO

from tests.benchmarks import (
    ageing,
    artwork,
    card,
    dose,
    faults,
    fleet,
    fleet_load,
    footprint,
    foreign,
    job,
    keeping,
    kills,
    latency,
    lies,
    life,
    logbook,
    page,
    soak,
    start_up,
    starve,
    twin,
)
from tests.benchmarks.figure import Figure

BENCHMARKS: dict[str, Callable[[bool], list[Figure]]] = {
    "dose": dose.measure,
    "twin": twin.measure,
    "footprint": footprint.measure,
    "latency": latency.measure,
    "logbook": logbook.measure,
    "ageing": ageing.measure,
    "kills": kills.measure,
    "page": page.measure,
    "starve": starve.measure,
    "faults": faults.measure,
    "soak": soak.measure,
    "life": life.measure,
    "lies": lies.measure,
    "worlds": foreign.measure,
    "job": job.measure,
    "artwork": artwork.measure,
    "start-up": start_up.measure,
    "card": card.measure,
    "fleet": fleet.measure,
    "fleet-load": fleet_load.measure,
}


def main(arguments: list[str] | None = None) -> int:
    """Parse, run, print."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"which ones: {', '.join(BENCHMARKS)} (default: all)")
    parser.add_argument("--quick", action="store_true", help="fewer cases, under 45 s a name")
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.add_argument(
        "--keep", action="store_true", help="put the figures into LAST.md, as each benchmark is through"
    )
    parser.add_argument(
        "--pairs",
        type=Path,
        metavar="DIR",
        help="boards with marked defects, for artwork: NAME_temp.jpg, _test.jpg, .txt",
    )
    options = parser.parse_args(arguments)
    if options.pairs is not None and not options.pairs.is_dir():
        parser.error(f"--pairs {options.pairs}: there is no such folder")
    if options.keep and options.quick:
        parser.error("--keep is for full runs; leave out --quick")
    unknown = [name for name in options.names if name not in BENCHMARKS]
    if unknown:
        parser.error(f"no benchmark is called {', '.join(unknown)}; there is {', '.join(BENCHMARKS)}")
    if options.json:
        with _own_standard_output() as answer:
            figures = _measure(options)
            print(json.dumps({"figures": [figure.as_json() for figure in figures]}), file=answer)
    else:
        figures = _measure(options)
    return 0 if all(figure.passed for figure in figures) else 1


def _measure(options: argparse.Namespace) -> list[Figure]:
    """One benchmark after the other; each is printed and kept as soon as it is through."""
    figures: list[Figure] = []
    for name in options.names or BENCHMARKS:
        began_s = time.monotonic()
        found = artwork.measure(options.quick, options.pairs) if name == "artwork" else BENCHMARKS[name](options.quick)
        figures += found
        if options.keep:
            keeping.keep({name: found}, list(BENCHMARKS))
        if not options.json:
            print(f"{name} ({time.monotonic() - began_s:.0f} s)")
            for figure in found:
                print(f"  {figure.name:58} {figure.measured:10.4g} {figure.unit:8} {figure.goal:18} {figure.result}")
    return figures


@contextlib.contextmanager
def _own_standard_output() -> Iterator[TextIO]:
    """Keep standard output for the JSON alone; whatever else is printed meanwhile, by children too, is an aside."""
    sys.stdout.flush()
    kept = os.dup(1)
    os.dup2(2, 1)
    try:
        with os.fdopen(os.dup(kept), "w", encoding="utf-8") as answer:
            yield answer
    finally:
        os.dup2(kept, 1)
        os.close(kept)


if __name__ == "__main__":
    sys.exit(main())
