"""What the suite leaves to campaigns: little, nothing without a short test beside it, and CI runs it all."""

import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import COLLECTED

ROOT = Path(__file__).parents[1]
MOST = 0.05
"""Of all cases (issue: the test command runs at least 95 % of them)."""

HARMLESS = {"-q", "-v"}


@pytest.fixture(scope="module")
def cases(request: pytest.FixtureRequest) -> dict[str, bool]:
    """Every case there is, and whether it belongs to a campaign; asked for anew when only some were collected."""
    asked = [Path(name).resolve() for name in request.config.args]
    if asked in ([ROOT], [ROOT / "tests"]):
        return dict(request.config.stash[COLLECTED])  # type: ignore[index]
    found = {mark: collected(["-m", mark]) for mark in ("campaign", "not campaign")}
    return {case: mark == "campaign" for mark, some in found.items() for case in some}


def collected(options: list[str]) -> list[str]:
    """What a run with these options would run."""
    command = [
        sys.executable,
        "-m",
        "pytest",
        "--collect-only",
        "-q",
        "-p",
        "no:cacheprovider",
        "--no-header",
        *options,
    ]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    return [line for line in done.stdout.splitlines() if line.startswith("tests/") and "::" in line]


def commands_of_ci() -> list[list[str]]:
    """The words of every call of pytest in `.ci/run` itself; the README's command is called by its mark."""
    lines = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    return [shlex.split(line, comments=True) for line in lines if re.match(r"\s*\S*python -m pytest\b", line)]


def test_the_suite_runs_nearly_all_there_is(cases: dict[str, bool]) -> None:
    """Campaigns are the exception."""
    share = sum(cases.values()) / len(cases)
    assert len(cases) > 4000
    assert 0 < share <= MOST


def test_ci_runs_every_campaign_there_is() -> None:
    """By its mark alone: a file that is added later needs nobody to remember it; what fails there fails CI."""
    (command,) = commands_of_ci()
    assert command[:5] == [".venv/bin/python", "-m", "pytest", "-m", "campaign"]
    assert set(command[5:]) <= HARMLESS


def test_every_campaign_has_its_short_test_in_the_suite(cases: dict[str, bool]) -> None:
    """A function that only campaigns call would judge nothing at a desk."""
    functions = {campaign: {case.partition("[")[0] for case, is_one in cases.items() if is_one is campaign}
                 for campaign in (True, False)}  # fmt: skip
    assert functions[True] - functions[False] == set()


def test_the_readmes_command_leaves_out_campaigns_alone() -> None:
    """No file, word or mark beyond what pyproject.toml says."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    block = text.partition("<!-- command: test -->")[2].split("```")[1]
    (line,) = (line for line in block.splitlines() if "pytest" in line)
    assert shlex.split(line) == [".venv/bin/python", "-m", "pytest", "-n", "2", "--dist", "loadgroup"]
