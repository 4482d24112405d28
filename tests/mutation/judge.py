"""Judges mutants: whether any test notices one.

Tests are gathered once. For each mutant the process forks, and the child's functions get the mutant's code; what is
mutated outside of functions is imported anew by a child of its own. A test that fails is run again by itself before
it counts, for under load a real-time test may fail without any mutant.
"""

import contextlib
import functools
import importlib.abc
import importlib.machinery
import importlib.util
import json
import logging
import os
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from types import CodeType, FunctionType
from typing import Any

import pytest

from tests.mutation.mutants import Mutant, outside_of_functions
from tests.mutation.targets import ROOT, TARGETS, source_of

CHILD_LIMIT_S = 1800.0
"""Well above what all tests of a target take on a busy machine. A test that hangs is ended by its own limit earlier."""

NEAR_LINES = 4

Verdict = tuple[int, bool]
"""A mutant by its place in the list, and whether it was noticed."""


class BrokenTestsError(RuntimeError):
    """The tests fail without any mutant."""


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


def judged(target: str, mutants: Sequence[Mutant], jobs: int) -> Iterator[Verdict]:
    """Every mutant's verdict, in whatever order they come. Raises BrokenTestsError."""
    plain = outside_of_functions(source_of(TARGETS[target]).read_text(encoding="utf-8"))
    within = [number for number, mutant in enumerate(mutants) if outside_of_functions(mutant.source) == plain]
    results, write = os.pipe()
    judges = [_fork(lambda share=within[job::jobs]: _judge(target, mutants, share, write)) for job in range(jobs)]
    os.close(write)
    left = set(range(len(mutants)))
    with os.fdopen(results) as lines:
        for line in lines:
            number, noticed = json.loads(line)
            if number is None:
                raise BrokenTestsError(noticed)
            left.discard(number)
            yield number, noticed
    for judge in judges:
        os.waitpid(judge, 0)
    for number in sorted(left):
        yield number, _noticed_when_imported_anew(mutants[number])


def _fork(act: Any) -> int:
    child = os.fork()
    if child == 0:
        status = 1
        try:
            status = int(act() or 0)
        finally:
            os._exit(status)
    return child


def _judge(target: str, mutants: Sequence[Mutant], share: Sequence[int], write: int) -> None:
    _run_pytest(TARGETS[target].tests, [_Judge(target, mutants, share, write)])


def _run_pytest(files: Sequence[str], judges: Sequence[object] = ()) -> int:
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    logging.disable(logging.NOTSET)  # what is said, and when, is tested too
    options = ["-x", "-q", "-p", "no:randomly", "-p", "no:cacheprovider", "--timeout=60", "--rootdir", str(ROOT)]
    options += ["-W", "ignore::pytest.PytestAssertRewriteWarning"]
    return int(pytest.main([*options, *(str(ROOT / "tests" / name) for name in files)], plugins=list(judges)))


class _Judge:
    """Stands in for pytest's own loop: every mutant meets the tests, those that cost least and kill most first."""

    def __init__(self, target: str, mutants: Sequence[Mutant], share: Sequence[int], write: int) -> None:
        self._module = TARGETS[target].module
        self._real = source_of(TARGETS[target]).read_text(encoding="utf-8")
        self._mutants, self._share, self._write = mutants, share, write
        self._failed = ""
        self._took_s: dict[str, float] = {}
        self._killed: dict[str, list[int]] = {}

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Remember a failure."""
        if report.failed:
            self._failed = f"{report.nodeid}: {report.longreprtext}"

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Instead of running the tests once."""
        tests = list(session.items)
        said = self._child(None, tests)
        if said is None or "took_s" not in said:
            self._tell(None, (said or {}).get("why", "they hang, or the module cannot take other code"))
            return True
        self._took_s = said["took_s"]
        for number in self._share:
            mutant = self._mutants[number]
            tests.sort(key=lambda test: self._took_s[test.nodeid] / self._hope(test.nodeid, mutant.line))
            noticed = self._noticed(mutant, tests)
            if noticed is not None:
                self._tell(number, noticed)
        return True

    def _hope(self, test: str, line: int) -> float:
        """How likely a test is to notice a mutant of a line: more if it noticed others, most if they were near."""
        lines = self._killed.get(test, [])
        return 1 + len(lines) + 100 * sum(abs(line - other) <= NEAR_LINES for other in lines)

    def _tell(self, number: int | None, what: object) -> None:
        os.write(self._write, f"{json.dumps([number, what])}\n".encode())

    def _noticed(self, mutant: Mutant, tests: list[pytest.Item]) -> bool | None:
        """None: this one has to be imported."""
        while tests:
            said = self._child(mutant, tests)
            if said is None:
                return True
            if "took_s" in said:
                return False
            if "at" not in said:
                return None
            test = tests[said["at"]]
            again = self._child(mutant, [test])
            if again is None or "took_s" not in again:
                self._killed.setdefault(test.nodeid, []).append(mutant.line)
                return True
            tests = tests[said["at"] + 1 :]
        return False

    def _child(self, mutant: Mutant | None, tests: list[pytest.Item]) -> dict[str, Any] | None:
        """What a child that ran them says: how long each took, or which one failed; None if it said nothing."""
        said, say = os.pipe()
        room = tempfile.mkdtemp()

        def act() -> None:
            os.close(said)
            os.setsid()
            os.environ["PYTEST_DEBUG_TEMPROOT"] = room  # the folders of its tests go with it
            os.write(say, json.dumps(self._ran(mutant, tests)).encode())

        child = _fork(act)
        os.close(say)
        _wait(child)
        with contextlib.suppress(ProcessLookupError):
            os.killpg(child, signal.SIGKILL)  # whatever a test that failed has left
        with os.fdopen(said) as words:
            found = words.read()
        shutil.rmtree(room, ignore_errors=True)
        return json.loads(found) if found else None

    def _ran(self, mutant: Mutant | None, tests: list[pytest.Item]) -> dict[str, Any]:
        if not graft(self._module, mutant.source if mutant is not None else self._real):
            return {}
        took_s = {}
        for at, test in enumerate(tests):
            began_s = time.process_time()
            following = tests[at + 1] if at + 1 < len(tests) else None
            test.config.hook.pytest_runtest_protocol(item=test, nextitem=following)
            took_s[test.nodeid] = time.process_time() - began_s
            if self._failed:
                return {"at": at, "why": self._failed[:2000]}
        return {"took_s": took_s if mutant is None else {}}


def graft(module: str, source: str) -> bool:
    """Give the functions of an imported module the code they have in `source`; false if that cannot be done."""
    codes = dict(_codes(compile(source, f"<mutant of {module}>", "exec")))
    found = {function.__code__.co_qualname: function for function in _functions(vars(sys.modules[module]), module)}
    if codes.keys() != found.keys():
        return False
    try:
        for name, code in codes.items():
            found[name].__code__ = code
    except ValueError:  # one has another number of outer variables
        return False
    return True


def _codes(outer: CodeType) -> Iterator[tuple[str, CodeType]]:
    """Every function of a module and of its classes, by its name; not what is within functions."""
    for code in outer.co_consts:
        if isinstance(code, CodeType) and not code.co_name.startswith("<"):
            if code.co_flags & 0x1:  # a class has no optimized locals
                yield code.co_qualname, code
            else:
                yield from _codes(code)


def _functions(names: dict[str, Any], module: str) -> Iterator[FunctionType]:
    for thing in list(names.values()):
        if isinstance(thing, type) and thing.__module__ == module:
            yield from _functions(dict(vars(thing)), module)
            continue
        inner = _inner(thing)
        if isinstance(inner, FunctionType) and inner.__module__ == module and inner.__code__.co_filename[:1] == "/":
            yield inner


def _inner(thing: object) -> object:
    """What a person wrote, without what decorators have put around it; nothing is asked of other objects."""
    if isinstance(thing, property):
        thing = thing.fget
    elif isinstance(thing, functools.cached_property):
        thing = thing.func
    elif isinstance(thing, staticmethod | classmethod):
        thing = thing.__func__
    while isinstance(thing, FunctionType) and hasattr(thing, "__wrapped__"):
        thing = thing.__wrapped__
    return thing


def _noticed_when_imported_anew(mutant: Mutant) -> bool:
    def act() -> int:
        os.setsid()
        _forget_ours(TARGETS[mutant.module].module)
        sys.meta_path.insert(0, InPlace(mutant))
        return _run_pytest(TARGETS[mutant.module].tests)

    return _wait(_fork(act)) != 0 and _wait(_fork(act)) != 0


def _wait(child: int) -> int:
    """The status of a child, which is ended when it takes too long."""
    until_s = time.monotonic() + CHILD_LIMIT_S
    while time.monotonic() < until_s:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return status
        time.sleep(0.005)
    os.kill(child, signal.SIGKILL)
    return os.waitpid(child, 0)[1]


def _forget_ours(module: str) -> None:
    """Import everything of ours anew if what was imported before the fork holds the real module."""
    if module in sys.modules:
        for name in [name for name in sys.modules if name.partition(".")[0] in ("sumlight", "sumlight_web")]:
            del sys.modules[name]
