"""Lets a run compile each module once, and no process of it again what another has compiled.

An installed program lies there compiled; the tests start hundreds from its sources, and where bytecode is not to be
written, every start pays for compiling anew: half of what it takes. The tests' own modules cost more still, for pytest
rewrites each `assert` in them. What is written lies in `__pycache__`, which git ignores.
"""

import importlib
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

UNWISHED = "PYTHONDONTWRITEBYTECODE"


def keep_what_is_compiled() -> None:
    """Write bytecode from now on, in this process and in what it starts."""
    os.environ.pop(UNWISHED, None)
    sys.dont_write_bytecode = False


def in_turn(files: Sequence[Path], worker: int, workers: int) -> list[Path]:
    """All files, those first that are this worker's share: what the others have reached meanwhile lies there compiled.

    Workers that began with the same one would compile all of them side by side.
    """
    begin = len(files) * worker // workers
    return [*files[begin:], *files[:begin]]


def import_in_turn(root: Path, tests: Path, worker: int, workers: int) -> None:
    """Import every test module, which pytest is about to do in the same order in every worker.

    A module that cannot be imported is pytest's to report: it comes to it again.
    """
    for file in in_turn(sorted(tests.rglob("test_*.py")), worker, workers):
        with suppress(Exception):
            importlib.import_module(".".join(file.relative_to(root).with_suffix("").parts))
