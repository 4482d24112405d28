"""What the suite leaves to CI: little, no guard of safety, no campaign without a short test, and CI runs it all."""

import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import COLLECTED, LONG

ROOT = Path(__file__).parents[1]
MOST = 0.05
"""Of all cases: the test command runs at least 95 % of them."""

MARKS = "campaign or long"
SAFETY = (
    "box",
    "browser/test_bar",
    "browser/test_second_tap.py",
    "browser/test_twin.py",
    "control/commissioning",
    "control/exposure",
    "control/frontpanel",
    "control/safety",
    "control/test_",
    "processes",
    "webui/test_gate.py",
    "webui/test_starve.py",
)
"""Where tests judge what keeps lamps dark and who may light."""
SAFE = tuple(f"tests/{name}" for name in SAFETY)


@pytest.fixture(scope="module")
def cases(request: pytest.FixtureRequest) -> dict[str, str]:
    """Every case there is, and the mark by which it is left out; asked for anew when only some were collected."""
    asked = [Path(name).resolve() for name in request.config.args]
    if asked in ([ROOT], [ROOT / "tests"]):
        return dict(request.config.stash[COLLECTED])  # type: ignore[index]
    found = {mark: collected(["-m", mark]) for mark in ("campaign", "long and not campaign", f"not ({MARKS})")}
    return {case: "" if mark.startswith("not") else mark.split()[0] for mark, some in found.items() for case in some}


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


def test_the_suite_runs_nearly_all_there_is(cases: dict[str, str]) -> None:
    """What is left out is the exception."""
    share = sum(bool(mark) for mark in cases.values()) / len(cases)
    assert len(cases) > 4000
    assert 0 < share <= MOST


def test_no_guard_of_safety_is_long(cases: dict[str, str]) -> None:
    """Whoever changes a line must not have to wait for CI to learn that it lights lamps."""
    assert [case for case, mark in cases.items() if mark == "long" and case.startswith(SAFE)] == []


def test_the_names_of_what_guards_safety_and_of_what_is_long_are_there() -> None:
    """A file that is moved must be moved in the lists too."""
    tests = ROOT / "tests"
    assert [name for name in SAFETY if not list(tests.glob(f"{name}*"))] == []
    assert [name for name in LONG if not (tests / name).is_file()] == []


def test_ci_runs_all_that_is_left_out() -> None:
    """By the marks alone: nobody has to remember a new file. What fails is run once more by itself; what was not run,
    or cannot be named, fails CI."""
    again, command = commands_of_ci()
    at = command.index("||")
    assert command[:at] == [".venv/bin/python", "-m", "pytest", "-m", MARKS]
    assert command[at + 1 :] == shlex.split('{ only_tests $?; touch "$told.failed"; }')
    assert again == [*command[:3], "--last-failed", "--last-failed-no-failures", "none", "$@"]


def test_every_campaign_has_its_short_test_in_the_suite(cases: dict[str, str]) -> None:
    """A function that only campaigns call would judge nothing at a desk."""
    of = {
        mark: {case.partition("[")[0] for case, its in cases.items() if its == mark}
        for mark in ("campaign", "long", "")
    }
    assert of["campaign"] - of[""] - of["long"] == set()


def test_the_readmes_command_leaves_out_campaigns_alone() -> None:
    """No file, word or mark beyond what pyproject.toml says."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    block = text.partition("<!-- command: test -->")[2].split("```")[1]
    (line,) = (line for line in block.splitlines() if "pytest" in line)
    assert shlex.split(line) == [".venv/bin/python", "-m", "pytest", "-n", "3", "--dist", "loadgroup"]
