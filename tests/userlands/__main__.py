"""Makes root trees of Debian 12 and 13 and does in each what a person does: the README's run command, every command of
hardware/README.md for a tree, and the installer, without a network from a folder of packages.

`systemd` does in a tree of Debian 12 with systemd what the guide tags *guest*, and an update that does not start.
`arm64` installs in one of a Pi's kind of processor, emulated, and exposes a panel there on the simulated box.

Needs root, the apt packages mmdebstrap and util-linux, for `arm64` qemu-user-static too, and a network; some ten
minutes. Exit status 1 if a step fails.
"""

import argparse
import os
import platform
import shutil
import subprocess
import sys
import time
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import tests.hardware.conftest  # noqa: F401 - makes the scripts of hardware/ importable
from tests.hardware.guide import commands_for
from tests.hardware.test_readme import MAY_REWRITE
from tests.userlands import booted

import wheels  # isort: skip

REPOSITORY = Path(__file__).parents[2]
EVERY_DEBIAN = "ca-certificates,passwd"
"""What a real Debian has and the smallest tree lacks."""

KINDS = {
    "plain": EVERY_DEBIAN,
    "systemd": f"{EVERY_DEBIAN},systemd,dbus,python3-venv",
    "arm64": f"{EVERY_DEBIAN},python3-venv",
}
"""What may be asked for, and the packages that its trees begin with."""

EDITABLE = ["editables"]
"""What builds the program for `pip install -e`."""

RUNS_OUTSIDE = "python hardware/wheels.py"
"""Done on this computer, whose folder of packages the trees use: they have no index."""

STEP_LIMIT_S = 900

PI_MACHINE = "aarch64"
"""What `uname -m` says on a Pi with a 64-bit system."""

EMULATOR = Path("/proc/sys/fs/binfmt_misc/qemu-aarch64")
"""There where the kernel hands programs of that processor to the emulator."""


@dataclass(frozen=True)
class Step:
    """What is typed; with `fails_with` it must fail and say so."""

    line: str
    network: bool = False
    fails_with: str = ""


def steps(python: str) -> Iterator[Step]:
    """Everything that is done in the tree of the Debian with this Python."""
    yield Step(run_command((REPOSITORY / "README.md").read_text(encoding="utf-8")), network=True)
    typed = [line for line in commands_for("tree") if not line.startswith(RUNS_OUTSIDE)]
    for line in sorted(typed, key=lambda line: not line.startswith("pip install")):  # others say that they need it
        yield Step(" ".join([f".venv/bin/{line}", *MAY_REWRITE.get(line, [])]))
    install = "hardware/install --root /box"
    made = "mkdir -p /box/etc && touch /box/etc/passwd /box/etc/group"
    if python == "3.13":
        yield Step(f"{made} && {install}", fails_with="sudo apt-get install swig gcc python3-dev")
    yield Step(f"{made} && {install} --wheels /wheels --dry-run && ! test -e /box/opt")
    yield Step(f"{install} --wheels /wheels")
    yield Step(f"{install} --wheels /wheels | grep 'its environment stays'")
    yield Step("/box/opt/sumlight/bin/sumlight panel expose --twin")
    yield Step(f"{install} --uninstall && ! test -e /box/opt/sumlight && test -e /box/etc/sumlight/box.yaml")
    yield Step(f"echo 'Exposure box' | {install} --uninstall --purge && ! grep sumlight /box/etc/passwd /box/etc/group")


def steps_on_arm() -> Iterator[Step]:
    """What is done in a tree of the Pi's kind of processor; no step has a network, and each has its limit."""
    yield Step(f"test $(uname -m) = {PI_MACHINE}")
    yield Step("mkdir -p /box/etc && touch /box/etc/passwd /box/etc/group")
    yield Step("hardware/install --root /box --wheels /wheels")
    yield Step("/box/opt/sumlight/bin/python -c 'import lgpio; print(lgpio.__file__)'")
    yield Step("/box/opt/sumlight/bin/sumlight panel expose --twin")


def run_command(readme: str) -> str:
    """The README's block marked *run*, as CI takes it."""
    return readme.split("<!-- command: run -->\n```sh\n", 1)[1].split("\n```", 1)[0]


def main() -> int:
    """Fetch packages, make trees, take the steps."""
    parser = argparse.ArgumentParser(prog="python -m tests.userlands", description=(__doc__ or "").split("\n\n")[0])
    default = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "sumlight-userlands"
    parser.add_argument("kind", nargs="?", choices=KINDS, default="plain", help="default: plain")
    parser.add_argument("--cache", type=Path, default=default, metavar="DIR", help="default: %(default)s")
    parser.add_argument("--only", choices=wheels.PLACES, metavar="PYTHON", help="one of the trees: 3.11 or 3.13")
    options = parser.parse_args()
    if os.geteuid() != 0 or not shutil.which("mmdebstrap"):
        parser.error("this needs root and the apt package mmdebstrap")
    if options.kind == "arm64" and platform.machine() != PI_MACHINE and not EMULATOR.exists():
        parser.error(
            f"{EMULATOR} is missing: programs of a Pi do not run here. Install the apt packages qemu-user-static and "
            "binfmt-support; in a container: mount -t binfmt_misc binfmt_misc /proc/sys/fs/binfmt_misc, then "
            "update-binfmts --enable qemu-aarch64"
        )
    cache = options.cache.resolve()
    began_s, failed = time.monotonic(), 0
    pythons = list(wheels.PLACES) if options.kind == "plain" else ["3.11"]
    for python in [options.only] if options.only else pythons:
        failed += _in_tree(cache, python, options.kind)
    print(f"== {'all steps passed' if not failed else f'{failed} failed'} in {time.monotonic() - began_s:.0f} s ==")
    return 1 if failed else 0


def _in_tree(cache: Path, python: str, kind: str) -> int:
    """Take every step in a fresh tree; how many failed."""
    suite = wheels.PLACES[python][0]
    machine = PI_MACHINE if kind == "arm64" else platform.machine()
    name = suite if kind == "plain" else f"{suite}-{kind}"
    packages, archive, tree = cache / f"wheels-{python}-{machine}", cache / f"{name}.tar", cache / f"tree-{name}"
    cache.mkdir(parents=True, exist_ok=True)
    _packages(packages, wheels.Target(python, machine))
    if not archive.exists():
        part = archive.with_name(f"new-{archive.name}")
        words = [f"--include={KINDS[kind]}", f"--architectures={wheels.MACHINES[machine]}", *wheels.apt_settings()]
        subprocess.run(["mmdebstrap", "--quiet", "--variant=apt", *words, suite, str(part)], check=True)
        part.rename(archive)
    if tree.exists():
        shutil.rmtree(tree)
    tree.mkdir()
    subprocess.run(["tar", "-xf", str(archive), "-C", str(tree)], check=True)
    shutil.copy("/etc/resolv.conf", tree / "etc" / "resolv.conf")
    shutil.copytree(packages, tree / "wheels")
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=REPOSITORY, capture_output=True, check=True).stdout
    for name in filter(None, listed.decode().split("\0")):
        (tree / "clone" / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(REPOSITORY / name, tree / "clone" / name)
    if kind == "systemd":
        failed = booted.type_all(tree, suite)
    else:
        failed = sum(not _take(step, tree, suite) for step in (steps_on_arm() if kind == "arm64" else steps(python)))
    shutil.rmtree(tree)
    return failed


def _packages(folder: Path, target: wheels.Target) -> None:
    """As `python hardware/wheels.py` makes it, and what an editable installation with the drawings needs besides."""
    wanted, pins = wheels.needs("fleet")
    folder.mkdir(exist_ok=True)
    project = tomllib.loads((REPOSITORY / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wheels.fetch(folder, target, [*wanted, *project["optional-dependencies"]["hardware"], *EDITABLE])
    if not list(folder.glob(f"{pins.replace('==', '-')}-*.whl")):
        wheels.fetch_pin_library(folder, target, pins)


def _take(step: Step, tree: Path, name: str) -> bool:
    """Type it in the clone inside the tree, as root, with the network cut unless it is asked for."""
    namespaces = ["--mount", "--pid", "--fork", "--kill-child", f"--mount-proc={tree}/proc"]
    cut = [] if step.network else ["--net"]
    environment = {
        "PATH": "/usr/sbin:/usr/bin:/sbin:/bin",
        "HOME": "/root",
        "LANG": "C.UTF-8",
        "DEBIAN_FRONTEND": "noninteractive",
        "PIP_NO_INDEX": "1",
        "PIP_FIND_LINKS": "/wheels",
    }
    began_s = time.monotonic()
    done = subprocess.run(
        [
            "unshare",
            *namespaces,
            *cut,
            "chroot",
            str(tree),
            "bash",
            "-euo",
            "pipefail",
            "-c",
            f"cd /clone; {step.line}",
        ],
        capture_output=True,
        text=True,
        env=environment,
        timeout=STEP_LIMIT_S,
    )
    said = done.stdout + done.stderr
    passed = (step.fails_with in said and done.returncode == 1) if step.fails_with else done.returncode == 0
    line = " ".join(step.line.split())
    print(f"{name:>9} {time.monotonic() - began_s:4.0f} s  {'ok  ' if passed else 'FAIL'}  {line[:110]}", flush=True)
    if not passed:
        print(said[-3000:])
    return passed


if __name__ == "__main__":
    sys.exit(main())
