"""Judges mutants: whether any test notices one.

Tests are gathered once, for all targets, and run once without a mutant (`learning`). For each mutant the process forks,
the child's functions get the mutant's code, and those tests are run that come to the mutant's statement; what no test
comes to survives. What runs at import, before any test does, is imported anew by a child of its own (`anew`).

A test that fails is run again by itself before it counts, where something else than the mutant may be the cause: after
other tests in the same process, at its limit of time, or with threads and clocks of its own, for under load such a one
may fail without any mutant.
"""

import gc
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from types import TracebackType
from typing import Self

import pytest

from tests.mutation.anew import noticed_when_imported_anew, reached_at_import
from tests.mutation.children import Said, Say, fork, heard_from, status_of
from tests.mutation.graft import graft
from tests.mutation.learning import BrokenTestsError, Learner, Learnt
from tests.mutation.mutants import Mutant
from tests.mutation.reached import statement_of
from tests.mutation.session import run_pytest
from tests.mutation.targets import TARGETS, source_of

NEAR_LINES = 4
NUMBER_BYTES = 4
LIMIT_S, LIMIT_TIMES = 5.0, 10.0
"""A test hangs when it takes longer than both of these together: seconds, and times what it took without a mutant."""

AGAIN_TIMES = 3.0
"""Of that limit, when it is run again by itself."""

PROBE = 20
"""So many tests are run without a mutant before any is judged: what a judge alone does must not look like a mutant."""

WHOLE_LIMIT_S = 4 * 3600.0

Verdict = tuple[int, bool]
"""A mutant by its place in the list, and whether it was noticed."""


class Court:
    """Judges the mutants of one target after the other, `jobs` at a time. A context manager."""

    def __init__(self, mutants: Mapping[str, Sequence[Mutant]], jobs: int) -> None:
        self._mutants, self._jobs = mutants, jobs

    def __enter__(self) -> Self:
        """Gather the tests and run them without a mutant. Raises BrokenTestsError."""
        orders, self._orders = os.pipe()
        heard, say = os.pipe()
        files = sorted({name for target in self._mutants for name in TARGETS[target].tests})

        def sit() -> None:
            os.close(self._orders)
            os.close(heard)
            at_import = reached_at_import(list(self._mutants), files)
            run_pytest(files, [_Bench(self._mutants, at_import, self._jobs, orders, say)])

        self._process = fork(sit)
        os.close(orders)
        os.close(say)
        self._heard = os.fdopen(heard)
        found = json.loads(self._heard.readline() or '{"why": "they cannot be gathered"}')
        if "why" in found:
            raise BrokenTestsError(found["why"])
        self._took_s: dict[str, float] = found["took_s"]
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        """End the process."""
        os.close(self._orders)
        self._heard.close()
        status_of(self._process, 10.0)

    def verdicts(self, target: str) -> Iterator[Verdict]:
        """Every mutant's, in whatever order they come. Raises BrokenTestsError."""
        os.write(self._orders, f"{target}\n".encode())
        mutants = self._mutants[target]
        anew = {number for number, mutant in enumerate(mutants) if not mutant.within}
        left = set(range(len(mutants))) - anew
        for line in iter(self._heard.readline, "\n"):
            number, noticed = json.loads(line or '[null, "the process that runs them has ended"]')
            if number is None:
                raise BrokenTestsError(noticed)
            left.discard(number)
            if noticed is None:
                anew.add(number)
            else:
                yield number, noticed
        if left:
            raise BrokenTestsError(f"{len(left)} mutants of {target} were not judged")
        numbers = sorted(anew)
        with ThreadPoolExecutor(self._jobs) as pool:
            found = pool.map(lambda number: noticed_when_imported_anew(mutants[number], self._took_s), numbers)
            yield from zip(numbers, found, strict=True)


class _Bench:
    """Stands in for pytest's own loop in the process that has gathered the tests."""

    def __init__(
        self,
        mutants: Mapping[str, Sequence[Mutant]],
        at_import: Mapping[str, Sequence[int]],
        jobs: int,
        orders: int,
        say: int,
    ) -> None:
        self._mutants, self._at_import = mutants, at_import
        self._jobs, self._orders, self._say = jobs, orders, say

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Instead of running the tests once."""
        gc.collect()
        gc.freeze()  # a child that looks through what its parent has made would copy all of it
        with os.fdopen(self._orders) as orders, os.fdopen(self._say, "w") as out:
            try:
                learner = Learner(list(self._mutants))
                session.config.pluginmanager.register(learner)
                learnt = learner.learn(session.items, self._jobs)
                session.config.pluginmanager.unregister(learner)
            except BrokenTestsError as error:
                print(json.dumps({"why": str(error)}), file=out, flush=True)
                return True
            print(json.dumps({"took_s": learnt.took_s}), file=out, flush=True)
            for line in orders:
                self._judge(line.strip(), session.items, learnt)
                print(file=out, flush=True)
        return True

    def _judge(self, target: str, items: Sequence[pytest.Item], learnt: Learnt) -> None:
        """Let `jobs` judges take the mutants one by one."""
        names = {f"tests/{name}" for name in TARGETS[target].tests}
        tests = [item for item in items if item.nodeid.partition("::")[0] in names]
        numbers, queue = os.pipe()
        for number, mutant in enumerate(self._mutants[target]):
            if mutant.within:
                os.write(queue, number.to_bytes(NUMBER_BYTES, "big"))
        os.close(queue)
        judge = _Judge(target, tests, learnt, self._at_import[target])

        def sit() -> None:
            tests[0].config.pluginmanager.register(judge)
            if failed := judge.condemns_the_real_code():
                os.write(self._say, f"{json.dumps([None, failed])}\n".encode())
                return
            while taken := os.read(numbers, NUMBER_BYTES):
                number = int.from_bytes(taken, "big")
                noticed = judge.noticed(self._mutants[target][number])
                os.write(self._say, f"{json.dumps([number, noticed])}\n".encode())

        for judge_process in [fork(sit) for _ in range(self._jobs)]:
            status_of(judge_process, WHOLE_LIMIT_S)
        os.close(numbers)


class _Judge:
    """Judges mutants one by one; a pytest plugin in the children that run the tests."""

    def __init__(
        self, target: str, tests: Sequence[pytest.Item], learnt: Learnt, at_import: Sequence[int] = ()
    ) -> None:
        self._at_import = at_import
        self._target, self._tests, self._learnt = target, tests, learnt
        self._statement_of = statement_of(source_of(TARGETS[target]).read_text(encoding="utf-8"))
        self._killed: dict[str, list[int]] = {}
        self._failed = False

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Remember a failure."""
        self._failed |= report.failed

    def noticed(self, mutant: Mutant) -> bool | None:
        """Whether a test that comes to it fails; those that cost least and kill most first. None: to be imported."""
        line = self._statement_of(mutant.line)
        if line in self._at_import:
            return None
        tests = [test for test in self._tests if self._learnt.comes_to(test.nodeid, self._target, line)]
        tests.sort(key=lambda test: self._learnt.took_s[test.nodeid] / self._hope(test.nodeid, mutant.line))
        while tests:
            said = self._ran(mutant.source, tests)
            if said.words is not None and not said.words["grafted"]:
                return None
            if said.words is not None and not said.words["failed"]:
                return False
            test = tests[said.at]
            if self._certain(said, test) or self._fails_again(mutant, test):
                self._killed.setdefault(test.nodeid, []).append(mutant.line)
                return True
            tests = tests[said.at + 1 :]
        return False

    def condemns_the_real_code(self) -> str:
        """The test that fails without any mutant, when the cheapest are run just as they are run on mutants."""
        tests = sorted(self._tests, key=lambda test: self._learnt.took_s[test.nodeid])[:PROBE]
        said = self._ran(source_of(TARGETS[self._target]).read_text(encoding="utf-8"), tests, AGAIN_TIMES)
        passed = said.words is not None and said.words["grafted"] and not said.words["failed"]
        return "" if passed else tests[said.at].nodeid

    def _hope(self, test: str, line: int) -> float:
        """How likely a test is to notice a mutant of a line: more if it noticed others, most if they were near."""
        lines = self._killed.get(test, [])
        return 1 + len(lines) + 100 * sum(abs(line - other) <= NEAR_LINES for other in lines)

    def _certain(self, said: Said, test: pytest.Item) -> bool:
        """Whether nothing but the mutant can have made the test fail."""
        return said.at == 0 and said.words is not None and test.nodeid not in self._learnt.clocked

    def _fails_again(self, mutant: Mutant, test: pytest.Item) -> bool:
        words = self._ran(mutant.source, [test], AGAIN_TIMES).words
        return words is None or bool(words["failed"])

    def _ran(self, source: str, tests: Sequence[pytest.Item], times: float = 1.0) -> Said:
        """What a child says that runs them on the module with this code."""
        took_s = self._learnt.took_s
        limits_s = [times * (LIMIT_S + LIMIT_TIMES * took_s[test.nodeid]) for test in tests]

        def run(say: Say) -> None:
            grafted = graft(TARGETS[self._target].module, source)
            for at, test in enumerate(tests if grafted else []):
                say(at)
                following = tests[at + 1] if at + 1 < len(tests) else None
                test.config.hook.pytest_runtest_protocol(item=test, nextitem=following)
                if self._failed:
                    break
            say({"grafted": grafted, "failed": self._failed})

        return heard_from(run, limits_s)
