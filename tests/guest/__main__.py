"""Boots one emulated machine with a real Linux kernel and runs the checks of tests/guest/inside in it.

The machine is made in a cache folder outside the repository, from packages of Debian 12 and PyPI; needs apt, and sudo
unless run as root. Exit status 1 if a check fails or the machine leaves no result.
"""

import argparse
import json
import os
import re
import subprocess
import sys
import time
import tomllib
from pathlib import Path

HERE = Path(__file__).parent
REPOSITORY = HERE.parents[1]
CHECKS = {"low": ("starting", "light", "lid", "signals", "meter", "ending"), "high": ("light", "lid", "signals")}
"""By the level on which the relay closes: everything for one, what depends on it for the other."""

MACHINES = {"init": tuple(CHECKS), "systemd": ("installed",)}
"""The rounds of each machine; in the second one the box is installed as it is shipped."""

BOOT_LIMIT_S = 2400
TROUBLE = re.compile(r"\b(BUG|Oops|WARNING|Call Trace|Kernel panic)\b")


def main() -> int:
    """Build, boot, judge."""
    parser = argparse.ArgumentParser(prog="python -m tests.guest", description=__doc__)
    default = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "sumlight-guest"
    parser.add_argument("--cache", type=Path, default=default, metavar="DIR", help="default: %(default)s")
    parser.add_argument("--only", choices=tuple(MACHINES), help="boot one of the two machines only")
    parser.add_argument("-k", metavar="EXPRESSION", help="only the checks that match, as pytest takes it")
    options = parser.parse_args()
    cache = options.cache.resolve()
    if cache == REPOSITORY or REPOSITORY in cache.parents:
        parser.error(f"--cache {cache} lies inside the repository; choose a folder outside")
    began_s = time.monotonic()
    subprocess.run(["bash", str(HERE / "build.sh"), str(cache), sys.executable, *requirements()], check=True)
    print(f"guest: {time.monotonic() - began_s:3.0f} s  booting an emulated machine; some minutes", flush=True)
    share = cache / "share"
    for left_over in share.iterdir():
        left_over.unlink()
    for polarity, names in CHECKS.items():
        arguments = [*(["-k", options.k] if options.k else [])]
        arguments += [f"tests/guest/inside/check_{name}.py" for name in names]
        (share / f"arguments-{polarity}").write_text("\n".join(arguments) + "\n")
    machines = [options.only] if options.only else list(MACHINES)
    for machine in machines:
        command = ["bash", str(HERE / "boot.sh"), str(cache), f"{machine}.sh"]
        try:
            subprocess.run(command, check=False, timeout=BOOT_LIMIT_S)
        except subprocess.TimeoutExpired:
            print(f"guest: the machine '{machine}' did not end within {BOOT_LIMIT_S} s")
    rounds = [name for machine in machines for name in MACHINES[machine]]
    return judge(share, rounds, time.monotonic() - began_s)


def requirements() -> list[str]:
    """What the guest's Python needs: the program's own dependencies, those of a Pi, and pytest."""
    project = tomllib.loads((REPOSITORY / "pyproject.toml").read_text())["project"]
    extras = project["optional-dependencies"]
    return [*project["dependencies"], *extras["pi"], *(text for text in extras["test"] if text.startswith("pytest>"))]


def judge(share: Path, rounds: list[str], took_s: float) -> int:
    """Print the closing line; 0 only if checks ran and all of them passed."""
    passed = failed = 0
    for name in rounds:
        try:
            counts = json.loads((share / f"result-{name}.json").read_text())
            status = int((share / f"status-{name}").read_text())
        except (OSError, ValueError) as error:
            console = share / "console.txt"
            print(console.read_text(errors="replace")[-3000:] if console.exists() else "")
            print(f"guest: no result of the round '{name}': {error}")
            counts, status = {"passed": 0, "failed": 1}, 1
        bad = sum(counts.get(word, 0) for word in ("failed", "error", "skipped"))
        passed += counts["passed"]
        failed += max(bad, 1) if status != 0 or not counts["passed"] else bad
    trouble = [line for line in _console(share) if TROUBLE.search(line)]
    if trouble:
        print("guest: the kernel complained:", *trouble[:20], sep="\n  ")
    failed += bool(trouble)
    print(f"== {passed} passed, {failed} failed in {took_s:.0f} s ==")
    return 1 if failed else 0


def _console(share: Path) -> list[str]:
    console = share / "console.txt"
    return console.read_text(errors="replace").splitlines() if console.exists() else []


if __name__ == "__main__":
    sys.exit(main())
