"""Mutate the modules that keep the lamps dark, run their tests on each mutant, print each score.

No file is changed. Exit status 1 where less than 95 % of a module's mutants are noticed, or for a survivor that
tests/mutation/survivors.txt does not explain. What it explains counts as a survivor without being run, unless --again
is given: it would cost the most, for no test ends it early.
"""

import argparse
import json
import logging
import os
import sys
import time
from pathlib import Path
from typing import Any

import adafruit_as7341  # noqa: F401 - what takes long to import is imported once, before the children are forked
import flask  # noqa: F401
import gpiozero.pins.mock  # noqa: F401
import hypothesis.stateful  # noqa: F401
import pydantic  # noqa: F401
import rich.progress  # noqa: F401
import yaml  # noqa: F401

from tests.mutation.judge import Court
from tests.mutation.learning import BrokenTestsError
from tests.mutation.mutants import Mutant, mutants_of
from tests.mutation.targets import TARGETS

SURVIVORS = Path(__file__).with_name("survivors.txt")
GOAL = 0.95


def explained() -> dict[str, str]:
    """Survivors with their reasons: `name  # reason`, one a line."""
    found = {}
    for line in SURVIVORS.read_text(encoding="utf-8").splitlines() if SURVIVORS.exists() else []:
        if line and not line.startswith("#"):
            name, _, reason = line.rpartition("  # ")
            found[name] = reason
    return found


def survivors_of(target: str, mutants: list[Mutant], court: Court) -> list[Mutant]:
    """Those that no test notices, told as they are found."""
    survivors: list[int] = []
    for count, (number, noticed) in enumerate(court.verdicts(target), 1):
        if not noticed:
            survivors.append(number)
            words = f"survived, line {mutants[number].line}: {mutants[number].name}"
            print(f"{count}/{len(mutants)} {words}", file=sys.stderr, flush=True)
        elif count % 50 == 0:
            print(f"{count}/{len(mutants)} of {target}", file=sys.stderr, flush=True)
    return [mutants[number] for number in sorted(survivors)]


def report(target: str, mutants: list[Mutant], judged: list[Mutant], court: Court, *, aloud: bool) -> dict[str, Any]:
    """Judge those of a target's mutants that are to be judged; what came of it, printed too."""
    began_s, reasons = time.monotonic(), explained()
    survivors = survivors_of(target, judged, court) + [mutant for mutant in mutants if mutant not in judged]
    killed, took_s = len(mutants) - len(survivors), time.monotonic() - began_s
    passed = killed >= GOAL * len(mutants) and all(mutant.name in reasons for mutant in survivors)
    if aloud:
        for mutant in survivors:
            print(f"survived, line {mutant.line}: {mutant.name}")
            print(f"    {reasons.get(mutant.name, 'NOT EXPLAINED in tests/mutation/survivors.txt')}")
        share = f"{killed / len(mutants):.1%}, goal {GOAL:.0%}"
        words = f"{target}: {killed} of {len(mutants)} mutants noticed ({share}) in {took_s / 60:.1f} min"
        print(words, flush=True)
    names = [{"name": mutant.name, "line": mutant.line, "reason": reasons.get(mutant.name)} for mutant in survivors]
    told = {"target": target, "mutants": len(mutants), "killed": killed, "s": took_s, "survivors": names}
    return {**told, "passed": passed}


def main() -> int:
    """Parse, run, print."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("targets", nargs="*", metavar="TARGET", help=f"{', '.join(TARGETS)} (default: all)")
    parser.add_argument("--every", type=int, default=1, metavar="N", help="only every Nth mutant, for a quick look")
    parser.add_argument("--jobs", type=int, default=os.cpu_count(), metavar="N", help="mutants at a time")
    parser.add_argument("--again", action="store_true", help="run the survivors that are explained, too")
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    options = parser.parse_args()
    targets = options.targets or list(TARGETS)
    unknown = [target for target in targets if target not in TARGETS]
    if unknown:
        parser.error(f"there is no target {', '.join(unknown)}; there is {', '.join(TARGETS)}")
    logging.disable(logging.CRITICAL)
    mutants = {target: list(mutants_of(target))[:: options.every] for target in targets}
    known = {} if options.again else explained()
    judged = {target: [mutant for mutant in found if mutant.name not in known] for target, found in mutants.items()}
    try:
        with Court(judged, options.jobs) as court:
            told = [
                report(target, mutants[target], judged[target], court, aloud=not options.json) for target in targets
            ]
    except BrokenTestsError as error:
        parser.error(f"the tests fail without any mutant: {error}")
    passed = all(one["passed"] for one in told)
    if options.json:
        print(json.dumps({"targets": told, "passed": passed}))
    return 0 if passed else 1


if __name__ == "__main__":
    sys.exit(main())
