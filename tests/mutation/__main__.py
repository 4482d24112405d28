"""Mutate the modules that keep the lamps dark with cosmic-ray's operators, run their tests on each, print the score.

Each mutant runs in a forked child that has the mutated module in place of the real one; no file is changed. Mutants
that differ only in annotations, or in how arguments may be passed, are no mutants: they run the same. Nor are
comparisons of words by their order or by identity, and of None by equality: nobody writes the first, the others are
the same. Exit status 1 below 95 % or for a survivor that tests/mutation/survivors.txt does not explain.
"""

import argparse
import ast
import contextlib
import importlib.abc
import importlib.machinery
import importlib.util
import json
import logging
import os
import signal
import sys
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import adafruit_as7341  # noqa: F401 - what takes long to import is imported once, before the children are forked
import flask  # noqa: F401
import gpiozero.pins.mock  # noqa: F401
import hypothesis.stateful  # noqa: F401
import pydantic  # noqa: F401
import pytest
import rich.progress  # noqa: F401
import yaml  # noqa: F401
from cosmic_ray import plugins
from cosmic_ray.ast import get_ast
from cosmic_ray.mutating import mutate_code

import sumlight.box.assembly
import sumlight.store.logbook.writer
import sumlight.twin.person
import sumlight.twin.world  # noqa: F401 - a child whose mutant is of a module that these import imports them anew

ROOT = Path(__file__).resolve().parents[2]
SURVIVORS = Path(__file__).with_name("survivors.txt")
GOAL = 0.95
CHILD_LIMIT_S = 300.0
"""Well above what the slowest tests take on a busy machine: a survivor must not pass for killed.

A test that hangs is ended by its own limit much earlier.
"""

EVENTS = ["control/test_dark_check.py", "control/test_guards.py", "control/test_events_of_the_box.py"]
EVENTS += [
    "control/test_events_of_the_light.py",
    "control/test_events_of_the_chain.py",
    "control/exposure/test_series.py",
]
EVENTS += ["control/test_restart.py", "control/test_whole_exposures.py"]
"""What else a mutant of control must get past: the same code within the whole of it."""


@dataclass(frozen=True)
class Target:
    """A module to be mutated. Tests are files or folders below tests/.

    `first` are the nearest tests: they need no fixture of a conftest and are over in a moment; `then` come next, and
    `last` are those with a bench or an application.
    """

    module: str
    first: tuple[str, ...] = ()
    then: tuple[str, ...] = ()
    last: tuple[str, ...] = tuple(EVENTS)


TARGETS = {
    "permit": Target("sumlight.control.safety.permit", ("control/safety/test_permit.py",)),
    "faults": Target("sumlight.control.safety.faults", ("control/safety/test_faults.py",)),
    "exposure": Target(
        "sumlight.control.exposure.state_machine",
        (
            "control/exposure/test_state_machine.py",
            "control/exposure/test_state_machine_sides.py",
            "control/exposure/test_state_machine_limits.py",
        ),
        ("control/exposure/test_every_state.py",),
    ),
    "dark": Target("sumlight.control.safety.dark", (), (), ("control/safety/test_dark.py",)),
    "lamps": Target(
        "sumlight.box.lamps", ("box/test_lamps.py",), (), ("control/safety/test_dark.py", "control/test_guards.py")
    ),
    "watch": Target(
        "sumlight.control.safety.watchdog",
        (),
        (),
        ("control/safety/test_watchdog.py", "control/safety/test_dark.py", "control/test_guards.py"),
    ),
    "loop": Target(
        "sumlight.control.loop",
        (),
        (),
        (
            *EVENTS,
            "control/test_program_faults.py",
            "control/test_logbook_trouble.py",
            "control/records/test_lampsigns.py",
        ),
    ),
    "chain": Target(
        "sumlight.control.safety.interlocks",
        ("control/safety/test_interlocks.py",),
        (),
        ("control/test_comforts.py", "control/test_events_of_the_chain.py"),
    ),
    "gate": Target(
        "sumlight_web.access.gate",
        (),
        (),
        (
            *("webui/test_gate.py", "webui/test_access.py", "webui/test_sessions.py"),
            *("webui/test_firstrun.py", "webui/test_guard.py", "webui/test_hosts.py"),
        ),
    ),
}


@dataclass(frozen=True)
class Mutant:
    """One mistake: where, which, and the whole module with it."""

    module: str
    line: int
    before: str
    after: str
    source: str

    @property
    def name(self) -> str:
        """Names it in survivors.txt; keeps its name when lines move."""
        return f"{self.module}: {self.before} -> {self.after}"


def source_of(target: Target) -> Path:
    """The file of a target."""
    root = "webui" if target.module.startswith("sumlight_web") else "firmware"
    return ROOT / root / f"{target.module.replace('.', '/')}.py"


def mutants_of(module: str) -> Iterator[Mutant]:
    """Every different mutant of one of the targets."""
    source = source_of(TARGETS[module]).read_text(encoding="utf-8")
    seen = {_program(source)}
    parsed = get_ast(source)
    odd = _odd_comparisons(source)
    for name in plugins.operator_names():
        operator_class = plugins.get_operator(name)
        if operator_class.arguments():  # those put one named variable for another: nothing to do here
            continue
        operator = operator_class()
        for occurrence in range(_places(parsed, operator)):
            mutated = mutate_code(source, operator, occurrence)
            if mutated is None:
                break
            with contextlib.suppress(SyntaxError):
                program = _program(mutated)
                if program not in seen and not _odd_comparisons(mutated) > odd:
                    seen.add(program)
                    yield _mutant(module, source, mutated)
    yield from _left_out(module, source, seen)


def _places(node: Any, operator: Any) -> int:
    """How often an operator can be applied; looked up beforehand, since each try parses the module anew."""
    here = sum(1 for _ in operator.mutation_positions(node))
    return here + sum(_places(child, operator) for child in getattr(node, "children", ()))


def _left_out(module: str, source: str, seen: set[str]) -> Iterator[Mutant]:
    """Statements left out one by one, which cosmic-ray has no operator for."""
    tree = ast.parse(source)
    lines = source.splitlines(keepends=True)
    for function in ast.walk(tree):
        if not isinstance(function, ast.FunctionDef):
            continue
        for node in ast.walk(function):
            if isinstance(node, ast.Assign | ast.AugAssign) or (
                isinstance(node, ast.Expr) and isinstance(node.value, ast.Call)
            ):
                first, last = node.lineno - 1, node.end_lineno or node.lineno
                indent = " " * node.col_offset
                mutated = "".join([*lines[:first], f"{indent}pass\n", *lines[last:]])
                program = _program(mutated)
                if program not in seen:
                    seen.add(program)
                    yield _mutant(module, source, mutated)


def _mutant(module: str, source: str, mutated: str) -> Mutant:
    before, after = source.splitlines(), mutated.splitlines()
    line = next(index for index, (old, new) in enumerate(zip(before, after, strict=False)) if old != new)
    return Mutant(module, line + 1, before[line].strip(), after[line].strip(), mutated)


def _program(source: str) -> str:
    """The module without what does nothing when it runs: annotations, and how arguments may be passed."""
    tree = ast.parse(source)
    nothing = ast.Constant(None)
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            node.returns = None
        elif isinstance(node, ast.arg):
            node.annotation = None
        elif isinstance(node, ast.arguments):
            node.args = [*node.posonlyargs, *node.args, *node.kwonlyargs]
            node.defaults = [*node.defaults, *(default for default in node.kw_defaults if default is not None)]
            node.posonlyargs, node.kwonlyargs, node.kw_defaults = [], [], []
        elif isinstance(node, ast.AnnAssign):
            node.annotation = nothing
    return ast.dump(tree)


def _odd_comparisons(source: str) -> int:
    """How many comparisons a module has that order words, or take identity for equality or the reverse."""
    found = 0
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Compare):
            for operator, right in zip(node.ops, node.comparators, strict=True):
                value = right.value if isinstance(right, ast.Constant) else ...
                of_words = isinstance(value, str) and not isinstance(operator, ast.Eq | ast.NotEq | ast.In | ast.NotIn)
                of_none = value is None and not isinstance(operator, ast.Is | ast.IsNot)
                found += of_words or of_none
    return found


class InPlace(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives the mutated module when the real one is asked for."""

    def __init__(self, mutant: Mutant) -> None:
        self._name = TARGETS[mutant.module].module
        self._code = compile(mutant.source, f"<mutant of {mutant.module}>", "exec")

    def find_spec(self, fullname: str, *_: object) -> importlib.machinery.ModuleSpec | None:
        """The mutant's, for its own name only."""
        return importlib.util.spec_from_loader(fullname, self) if fullname == self._name else None

    def exec_module(self, module: object) -> None:
        """Run it."""
        exec(self._code, vars(module))


def killed(mutant: Mutant | None, files: Sequence[str], *, bench: bool = False) -> bool:
    """Whether these tests notice the mutant (None: the real module) in a forked child; `bench` for those with one."""
    child = os.fork()
    if child == 0:
        status = 1
        try:
            status = _run_tests(mutant, files, bench)
        finally:
            os._exit(1 if status else 0)
    until_s = time.monotonic() + CHILD_LIMIT_S
    while time.monotonic() < until_s:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return status != 0
        time.sleep(0.01)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return True


def _run_tests(mutant: Mutant | None, files: Sequence[str], bench: bool) -> int:
    os.setsid()
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    logging.disable(logging.NOTSET)  # what is said, and when, is tested too
    if mutant is not None:
        _forget_ours(TARGETS[mutant.module].module)
        sys.meta_path.insert(0, InPlace(mutant))
    paths = [str(ROOT / "tests" / name) for name in files]
    options = ["-x", "-q", "-p", "no:randomly", "-p", "no:cacheprovider", "--timeout=60", "--rootdir", str(ROOT)]
    options += ["-W", "ignore::pytest.PytestAssertRewriteWarning"] + ([] if bench else ["--noconftest"])
    return int(pytest.main([*options, *paths]))


def _forget_ours(module: str) -> None:
    """Import everything of ours anew if what was imported before the fork holds the real module."""
    if module in sys.modules:
        for name in [name for name in sys.modules if name.partition(".")[0] in ("sumlight", "sumlight_web")]:
            del sys.modules[name]


def check(mutant: Mutant) -> bool:
    """Whether any test notices it, the nearest ones first."""
    target = TARGETS[mutant.module]
    near = any(files and killed(mutant, files) for files in (target.first, target.then))
    return near or killed(mutant, target.last, bench=True)


def explained() -> dict[str, str]:
    """Survivors with their reasons: `name  # reason`, one a line."""
    found = {}
    for line in SURVIVORS.read_text(encoding="utf-8").splitlines() if SURVIVORS.exists() else []:
        if line and not line.startswith("#"):
            name, _, reason = line.rpartition("  # ")
            found[name] = reason
    return found


def main() -> int:
    """Parse, run, print."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("modules", nargs="*", metavar="MODULE", help=f"{', '.join(TARGETS)} (default: all)")
    parser.add_argument("--every", type=int, default=1, metavar="N", help="only every Nth mutant, for a quick look")
    parser.add_argument("--jobs", type=int, default=os.cpu_count(), metavar="N", help="children at a time")
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    options = parser.parse_args()
    logging.disable(logging.CRITICAL)
    modules = options.modules or list(TARGETS)
    unknown = [module for module in modules if module not in TARGETS]
    if unknown:
        parser.error(f"there is no target {', '.join(unknown)}; there is {', '.join(TARGETS)}")
    for module in modules:
        target = TARGETS[module]
        near = [*target.first, *target.then]
        if (near and killed(None, near)) or killed(None, target.last, bench=True):
            parser.error(f"the tests of {module} fail without any mutant")
    mutants = [mutant for module in modules for mutant in mutants_of(module)]
    mutants = mutants[:: options.every]
    reasons = explained()
    survivors = []
    with ThreadPoolExecutor(options.jobs) as pool:  # each thread only forks a child and waits for it
        for number, (mutant, noticed) in enumerate(zip(mutants, pool.map(check, mutants), strict=True), 1):
            if not noticed:
                survivors.append(mutant)
            if not noticed or number % 50 == 0:
                words = f"survived, line {mutant.line}: {mutant.name}" if not noticed else "done"
                print(f"{number}/{len(mutants)} {words}", file=sys.stderr, flush=True)
    score = 1 - len(survivors) / len(mutants)
    if options.json:
        told = [{"name": mutant.name, "line": mutant.line, "reason": reasons.get(mutant.name)} for mutant in survivors]
        print(json.dumps({"mutants": len(mutants), "killed": len(mutants) - len(survivors), "survivors": told}))
    else:
        for mutant in survivors:
            print(f"survived, line {mutant.line}: {mutant.name}")
            print(f"    {reasons.get(mutant.name, 'NOT EXPLAINED in tests/mutation/survivors.txt')}")
        print(f"{len(mutants) - len(survivors)} of {len(mutants)} mutants killed ({score:.1%}, goal {GOAL:.0%})")
    return 0 if score >= GOAL and all(mutant.name in reasons for mutant in survivors) else 1


if __name__ == "__main__":
    sys.exit(main())
