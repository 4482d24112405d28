"""The tests without a mutant: whether they pass, how long each takes, which statements it comes to."""

import json
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Generator, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from tests.mutation.children import Say, fork, heard_from, status_of
from tests.mutation.graft import graft
from tests.mutation.reached import MARK, marked
from tests.mutation.targets import TARGETS, source_of

LIMIT_S = 300.0
"""For one test without a mutant, on a busy machine."""


class BrokenTestsError(RuntimeError):
    """The tests fail without any mutant."""


@dataclass
class Learnt:
    """What is known of the tests, by their names.

    `reached`: lines of statements that a test comes to, by target. `shared`: those that fixtures come to which serve
    more than one test; they count for every test. `clocked`: tests with threads of their own, or that ask for the time.
    """

    took_s: dict[str, float] = field(default_factory=dict)
    reached: dict[str, dict[str, set[int]]] = field(default_factory=dict)
    shared: dict[str, set[int]] = field(default_factory=dict)
    clocked: set[str] = field(default_factory=set)

    def comes_to(self, test: str, target: str, line: int) -> bool:
        """Whether a test comes to a statement of a target."""
        return line in self.reached[test].get(target, ()) or line in self.shared.get(target, ())

    def add(self, found: dict[str, Any]) -> None:
        """Take in what a child has found."""
        self.took_s |= found["took_s"]
        self.clocked |= set(found["clocked"])
        for test, targets in found["reached"].items():
            self.reached[test] = {target: set(lines) for target, lines in targets.items()}
        for target, lines in found["shared"].items():
            self.shared[target] = self.shared.get(target, set()) | set(lines)


class Learner:
    """Runs the tests in forked children whose functions note what is reached. A pytest plugin while they run."""

    def __init__(self, targets: Sequence[str]) -> None:
        self._targets = targets
        self._hits: dict[str, set[int]] = {target: set() for target in targets}
        self._shared: dict[str, set[int]] = {target: set() for target in targets}
        self.failed = ""

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: pytest.FixtureDef[Any]) -> Generator[None, object, object]:
        """What a fixture of more than one test comes to counts for all tests."""
        before = {target: set(lines) for target, lines in self._hits.items()}
        made = yield
        if fixturedef.scope != "function":
            for target, lines in self._hits.items():
                self._shared[target] |= lines - before[target]
        return made

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Remember a failure."""
        if report.failed:
            self.failed = f"{report.nodeid}: {report.longreprtext[-2000:]}"

    def learn(self, tests: Sequence[pytest.Item], jobs: int) -> Learnt:
        """Run all, `jobs` at a time. Raises BrokenTestsError: one fails, and again by itself."""
        learnt = Learnt()
        with tempfile.TemporaryDirectory() as room:
            files = [Path(room) / str(job) for job in range(jobs)]
            parts = [tests[job::jobs] for job in range(jobs)]
            children = [fork(partial(self._write_found, *pair)) for pair in zip(files, parts, strict=True)]
            for child, file in zip(children, files, strict=True):
                status_of(child, LIMIT_S * len(tests))
                for found in json.loads(file.read_text()):
                    if found["why"]:
                        raise BrokenTestsError(found["why"])
                    learnt.add(found)
        return learnt

    def _write_found(self, file: Path, tests: Sequence[pytest.Item]) -> None:
        file.write_text(json.dumps(self._all_found(tests)))

    def _all_found(self, tests: Sequence[pytest.Item]) -> list[dict[str, Any]]:
        """What children find that run the tests; only why, if one fails again by itself."""
        told: list[dict[str, Any]] = []
        left = list(tests)
        while left:
            at, found = self._found(left)
            told.append(found)
            if not found["why"]:
                break
            _, again = self._found([left[at]])
            if again["why"]:
                return [again]
            told.append(again)
            left = left[at + 1 :]
        return told

    def _found(self, tests: Sequence[pytest.Item]) -> tuple[int, dict[str, Any]]:
        said = heard_from(lambda say: self._run(tests, say), [LIMIT_S] * len(tests))
        return said.at, said.words or {"why": f"{tests[said.at].nodeid} hangs, or ends its process"}

    def _run(self, tests: Sequence[pytest.Item], say: Say) -> None:
        for target in self._targets:
            module = TARGETS[target].module
            vars(sys.modules[module])[MARK] = self._hits[target].add
            if not graft(module, marked(source_of(TARGETS[target]).read_text(encoding="utf-8"))):
                say({"why": f"{module} cannot take other code"})
                return
        started = _count_threads()
        found: dict[str, Any] = {"why": "", "took_s": {}, "reached": {}, "clocked": []}
        for at, test in enumerate(tests):
            say(at)
            for lines in self._hits.values():
                lines.clear()
            threads, began_s = len(started), time.monotonic()
            following = tests[at + 1] if at + 1 < len(tests) else None
            test.config.hook.pytest_runtest_protocol(item=test, nextitem=following)
            if self.failed:
                found["why"] = self.failed
                break
            found["took_s"][test.nodeid] = time.monotonic() - began_s
            found["reached"][test.nodeid] = {target: sorted(lines) for target, lines in self._hits.items() if lines}
            if len(started) > threads or _asks_for_time(test):
                found["clocked"].append(test.nodeid)
        say({**found, "shared": {target: sorted(lines) for target, lines in self._shared.items()}})


def _asks_for_time(test: pytest.Item) -> bool:
    """Whether a test's file has to do with the machine's clock, with threads or with processes."""
    names = vars(sys.modules[test.module.__name__]).values() if isinstance(test, pytest.Function) else ()
    return any(thing is part for thing in names for part in (time, threading, subprocess))


def _count_threads() -> list[object]:
    """A list that every thread which is started from now on is added to."""
    started: list[object] = []
    start = threading.Thread.start

    def counted(self: threading.Thread) -> None:
        started.append(self)
        start(self)

    threading.Thread.start = counted  # type: ignore[method-assign]
    return started
