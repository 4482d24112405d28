"""Mutants of what runs at import: imported anew with the mistake in it, and all tests of the target are run."""

import ast
import importlib.abc
import importlib.machinery
import importlib.util
import sys
from collections.abc import Mapping, Sequence

import pytest

from tests.mutation.children import Say, heard_from
from tests.mutation.learning import BrokenTestsError
from tests.mutation.mutants import Mutant
from tests.mutation.reached import MARK, marked
from tests.mutation.session import run_pytest
from tests.mutation.targets import TARGETS, source_of

LIMIT_S = 60.0
"""For each test, and for gathering them."""


class InPlace(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives other code for a target's module when the real one is asked for."""

    def __init__(self, target: str, source: str | ast.Module, **names: object) -> None:
        self._name, self._names = TARGETS[target].module, names
        self._code = compile(source, f"<mutant of {target}>", "exec")

    def find_spec(self, fullname: str, *_: object) -> importlib.machinery.ModuleSpec | None:
        """For its own name only."""
        return importlib.util.spec_from_loader(fullname, self) if fullname == self._name else None

    def exec_module(self, module: object) -> None:
        """Run it."""
        vars(module).update(self._names)
        exec(self._code, vars(module))


def reached_at_import(targets: Sequence[str], tests: Sequence[str]) -> dict[str, list[int]]:
    """Lines of statements within functions that run before any test does: other code would come too late there."""

    def act(say: Say) -> None:
        hits: dict[str, set[int]] = {target: set() for target in targets}
        for target in targets:
            source = source_of(TARGETS[target]).read_text(encoding="utf-8")
            _forget_ours(TARGETS[target].module)
            sys.meta_path.insert(0, InPlace(target, marked(source), **{MARK: hits[target].add}))
        run_pytest(tests, options=["--collect-only"])
        say({target: sorted(lines) for target, lines in hits.items()})

    words = heard_from(act, [LIMIT_S]).words
    if words is None:
        raise BrokenTestsError("they cannot be gathered")
    return words


class _CheapFirst:
    """Sorts the tests by what they cost without a mutant, and says when one begins or has failed."""

    def __init__(self, took_s: Mapping[str, float], say: Say) -> None:
        self._took_s, self._say = took_s, say
        self.failed = ""

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Cheap ones first."""
        items.sort(key=lambda item: self._took_s.get(item.nodeid, 0.0))

    def pytest_runtest_logstart(self) -> None:
        """A test begins, with a limit of its own."""
        self._say(0)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Remember a failure."""
        if report.failed:
            self.failed = self.failed or report.nodeid


def noticed_when_imported_anew(mutant: Mutant, took_s: Mapping[str, float]) -> bool:
    """Whether a test fails, and again by itself; if it passes then, whether any fails when all are run once more."""
    tests = TARGETS[mutant.module].tests
    failed = _failed(mutant, tests, took_s)
    if failed is None:
        return False
    if failed and _failed(mutant, [failed.removeprefix("tests/")], took_s) is not None:
        return True
    return _failed(mutant, tests, took_s) is not None


def _failed(mutant: Mutant, tests: Sequence[str], took_s: Mapping[str, float]) -> str | None:
    """The test that failed, by its name; empty if they cannot be gathered, or hung; None if all pass."""

    def act(say: Say) -> None:
        _forget_ours(TARGETS[mutant.module].module)
        sys.meta_path.insert(0, InPlace(mutant.module, mutant.source))
        cheap_first = _CheapFirst(took_s, say)
        status = run_pytest(tests, [cheap_first])
        say({"status": status, "failed": cheap_first.failed})

    words = heard_from(act, [LIMIT_S]).words
    if words is None:
        return ""
    return None if words["status"] == 0 else str(words["failed"])


def _forget_ours(module: str) -> None:
    """Import everything of ours anew if what was imported before the fork holds the real module."""
    if module in sys.modules:
        for name in [name for name in sys.modules if name.partition(".")[0] in ("sumlight", "sumlight_web")]:
            del sys.modules[name]
