"""What is imported before a command does anything, judged by a new interpreter's own list of modules."""

import json
import subprocess
import sys

import pytest

ASK = """
import json, sys
before = set(sys.modules)
sys.argv = ["sumlight", *sys.argv[1:]]
from sumlight.cli import main
import io, contextlib
with contextlib.redirect_stdout(io.StringIO()), contextlib.suppress(SystemExit):
    main()
print(json.dumps(sorted(set(sys.modules) - before)))
"""

HEAVY = {"sqlite3", "logging", "socket", "subprocess", "asyncio", "email", "http", "decimal", "multiprocessing"}
"""Parts of Python itself that take long to import and that neither needs."""


def imported(*arguments: str) -> set[str]:
    """Names of all modules that `sumlight` with these arguments has imported in the end."""
    done = subprocess.run([sys.executable, "-c", ASK, *arguments], capture_output=True, text=True, check=True)
    return set(json.loads(done.stdout))


@pytest.mark.parametrize("asked", ["--version", "--help"])
def test_version_and_help_import_no_command_and_no_library(asked: str) -> None:
    """Python's own light modules and a few of ours; which, the interpreter says itself (`sys.stdlib_module_names`)."""
    modules = imported(asked)
    assert {name for name in modules if name.split(".")[0] not in sys.stdlib_module_names} == {
        *(
            "sumlight",
            "sumlight.cli",
            "sumlight.cli.commands",
            "sumlight.cli.declare",
            "sumlight.cli.declare_bench",
            "sumlight.language",
        ),
        *(name for name in modules if name.partition(".text")[0] == "sumlight"),  # words, without which nothing is said
    }
    assert not modules & HEAVY


@pytest.mark.long
def test_a_command_imports_what_it_declares() -> None:
    """So that the two above are not empty for want of a command line."""
    assert {"sumlight.cli.expose", "pydantic", "rich"} <= imported("panel", "expose", "--help")
    assert "rich" not in imported("setup", "faults", "--help")
