"""pytest within a process of the mutation check."""

import logging
import os
from collections.abc import Iterable

import pytest

from tests.mutation.targets import ROOT


def run_pytest(files: Iterable[str], plugins: Iterable[object] = (), options: Iterable[str] = ()) -> int:
    """Gather the tests of files below tests/ and run them, until one fails; nothing is printed. Returns the status."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    logging.disable(logging.NOTSET)  # what is said, and when, is tested too
    options = [
        *options,
        "-x",
        "-q",
        "-p",
        "no:randomly",
        "-p",
        "no:cacheprovider",
        "--timeout=0",
        "--rootdir",
        str(ROOT),
    ]
    options += ["-W", "ignore::pytest.PytestAssertRewriteWarning"]
    return int(pytest.main([*options, *(str(ROOT / "tests" / name) for name in files)], plugins=list(plugins)))
