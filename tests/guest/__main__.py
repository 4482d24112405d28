"""Boots two emulated machines with a real Linux kernel and runs the checks of tests/guest/inside in them.

The machine is made in a cache folder outside the repository, from packages of Debian 12 and PyPI; needs apt, and sudo
unless run as root. Exit status 1 if a check fails or the machine leaves no result.
"""

import argparse
import json
import os
import re
import subprocess
import sys
import threading
import time
import tomllib
from pathlib import Path

HERE = Path(__file__).parent
REPOSITORY = HERE.parents[1]
CHECKS = {"low": ("starting", "light", "lid", "signals", "meter", "ending"), "high": ("light", "lid", "signals")}
"""By the level on which the relay closes: everything for one, what depends on it for the other."""

MACHINES = {"init": tuple(CHECKS), "systemd": ("installed",)}
"""The rounds of each machine; in the second one the box is installed as it is shipped."""

BOOT_LIMIT_S = 3600
TROUBLE = re.compile(r"\b(BUG|Oops|WARNING|Call Trace|Kernel panic)\b")


def main() -> int:
    """Build, boot, judge."""
    parser = argparse.ArgumentParser(prog="python -m tests.guest", description=__doc__)
    default = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "sumlight-guest"
    parser.add_argument("--cache", type=Path, default=default, metavar="DIR", help="default: %(default)s")
    parser.add_argument("--only", choices=tuple(MACHINES), help="boot one of the two machines only")
    parser.add_argument("-k", metavar="EXPRESSION", help="only the checks that match, as pytest takes it")
    parser.add_argument("--together", action="store_true", help="boot both at once, on a host with nothing else to do")
    options = parser.parse_args()
    cache = options.cache.resolve()
    if cache == REPOSITORY or REPOSITORY in cache.parents:
        parser.error(f"--cache {cache} lies inside the repository; choose a folder outside")
    began_s = time.monotonic()
    subprocess.run(["bash", str(HERE / "build.sh"), str(cache), sys.executable, *requirements()], check=True)
    machines = [options.only] if options.only else list(MACHINES)
    running = []
    for machine in machines:
        prepare(share_of(cache, machine), options.k)
        print(f"guest: {time.monotonic() - began_s:3.0f} s  booting the machine '{machine}'; some minutes", flush=True)
        running.append(threading.Thread(target=boot, args=(cache, machine, began_s)))
        running[-1].start()
        if not options.together:
            running[-1].join()
    for thread in running:
        thread.join()
    rounds = {name: share_of(cache, machine) for machine in machines for name in MACHINES[machine]}
    return judge(rounds, time.monotonic() - began_s)


def share_of(cache: Path, machine: str) -> Path:
    """The folder that a machine shares with us."""
    return cache / f"share-{machine}"


def prepare(share: Path, expression: str | None) -> None:
    """Empty the folder of what the last run left, and say what is to be checked."""
    share.mkdir(exist_ok=True)
    for left_over in share.iterdir():
        left_over.unlink()
    for polarity, names in CHECKS.items():
        arguments = [*(["-k", expression] if expression else [])]
        arguments += [f"tests/guest/inside/check_{name}.py" for name in names]
        (share / f"arguments-{polarity}").write_text("\n".join(arguments) + "\n")


def boot(cache: Path, machine: str, began_s: float) -> None:
    """Run one machine to its end; print what it says, with its name and when it said so."""
    command = ["bash", str(HERE / "boot.sh"), str(cache), str(share_of(cache, machine)), f"{machine}.sh"]
    with subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    ) as process:
        overdue = threading.Timer(BOOT_LIMIT_S, process.kill)
        overdue.start()
        assert process.stdout is not None
        for line in process.stdout:
            text = line.decode(errors="replace").rstrip()
            print(f"{machine:>7} {time.monotonic() - began_s:4.0f} s  {text}", flush=True)
        overdue.cancel()
    if process.returncode < 0:
        print(f"guest: the machine '{machine}' did not end within {BOOT_LIMIT_S} s")


def requirements() -> list[str]:
    """What the guest's Python needs: the program's own dependencies, those of a Pi, and pytest."""
    project = tomllib.loads((REPOSITORY / "pyproject.toml").read_text())["project"]
    extras = project["optional-dependencies"]
    return [*project["dependencies"], *extras["pi"], *(text for text in extras["test"] if text.startswith("pytest>"))]


def judge(rounds: dict[str, Path], took_s: float) -> int:
    """Print the closing line; 0 only if checks ran and all of them passed. `rounds` names the folder of each."""
    passed = failed = 0
    for name, share in rounds.items():
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
    trouble = [line for share in set(rounds.values()) for line in _console(share) if TROUBLE.search(line)]
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
