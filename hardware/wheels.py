"""Makes the folder of packages with which `hardware/install --wheels` works on a Pi without a network.

Run it in a clone on a computer with a network, and carry clone and folder to the Pi. The pin library has no ready-made
package for Python 3.13: it is then compiled here, in a small Debian of the Pi's kind that is thrown away afterwards
(apt packages mmdebstrap and, for another kind of processor than this computer's, qemu-user-static).
"""

import argparse
import shutil
import subprocess
import sys
import tempfile
import tomllib
from dataclasses import dataclass
from pathlib import Path

SOURCE = Path(__file__).resolve().parents[1]

PLACES = {"3.11": ("bookworm", 36), "3.13": ("trixie", 41)}
"""By Python: the Debian that has it, and the second number of its glibc (2.36, 2.41), which decides what fits."""

MACHINES = {"aarch64": "arm64", "x86_64": "amd64"}
"""By what `uname -m` says: Debian's name."""

OLDEST_GLIBC = 5
"""Packages for Linux are marked with the oldest glibc, 2.5 and up, that they run with (PEP 600)."""

BUILDS = "gcc,libc6-dev,python3-dev,python3-pip,python3-setuptools,python3-wheel,swig"


PLAIN = ("adafruit-extended-bus",)
"""Plain Python of which the index has the source only: what is made of it here fits everywhere."""


class WheelsError(RuntimeError):
    """A package cannot be had; says which, why, and what helps."""


@dataclass(frozen=True)
class Target:
    """The computer that is to be installed: its Python, such as 3.13, and its processor, such as aarch64."""

    python: str
    machine: str

    def options(self) -> list[str]:
        """What makes pip choose for the target instead of for this computer."""
        short = f"cp{self.python.replace('.', '')}"
        newest = PLACES[self.python][1]
        tags = [f"manylinux_2_{minor}_{self.machine}" for minor in range(newest, OLDEST_GLIBC - 1, -1)]
        tags += [f"{name}_{self.machine}" for name in ("manylinux2014", "manylinux2010", "manylinux1")]
        kinds = ["--implementation", "cp", "--abi", short, "--abi", "abi3", "--abi", "none"]
        return [*kinds, "--python-version", self.python, *(word for tag in tags for word in ("--platform", tag))]


def needs(*more: str) -> tuple[list[str], str]:
    """What pyproject.toml asks for on a Pi, with `more` extras, and to build the program; apart the pin library."""
    found = tomllib.loads((SOURCE / "pyproject.toml").read_text(encoding="utf-8"))
    project, build = found["project"], found["build-system"]["requires"]
    extras = [need for extra in ("pi", *more) for need in project["optional-dependencies"][extra]]
    every = [*project["dependencies"], *extras, *build]
    (pins,) = (need for need in every if need.startswith("lgpio"))
    return [need for need in every if need != pins], pins


def fetch(folder: Path, target: Target, wanted: list[str]) -> None:
    """Put ready-made packages for the target, and whatever they need, into the folder. Raises WheelsError."""
    plain = [need for need in wanted if need.startswith(PLAIN)]
    if plain and _pip("wheel", "--no-deps", "--wheel-dir", str(folder), *plain):
        raise WheelsError(f"{', '.join(plain)} could not be had; see above")
    ready = ["--only-binary=:all:", "--find-links", str(folder), "--dest", str(folder)]
    if _pip("download", *ready, *target.options(), *wanted):
        raise WheelsError(f"not every package could be had for Python {target.python} on {target.machine}; see above")


def fetch_pin_library(folder: Path, target: Target, wanted: str) -> None:
    """The same for the pin library, which is compiled where no package of it fits. Raises WheelsError."""
    ready = ["--quiet", "--quiet", "--only-binary=:all:", "--no-deps"]  # that there is none is no error yet
    if not _pip("download", *ready, "--dest", str(folder), *target.options(), wanted):
        return
    _say(f"no ready-made {wanted} for Python {target.python} on {target.machine}: it is compiled now")
    if not shutil.which("mmdebstrap"):
        raise WheelsError("compiling it needs a small Debian; run: sudo apt-get install mmdebstrap qemu-user-static")
    with tempfile.TemporaryDirectory(prefix="sumlight-wheels-") as name:
        sources = Path(name)
        if _pip("download", "--no-binary=lgpio", "--no-deps", "--dest", str(sources), wanted):
            raise WheelsError(f"the source of {wanted} could not be had; see above")
        build(folder, target, sources)


def build(folder: Path, target: Target, sources: Path) -> None:
    """Compile what lies in `sources` in a Debian of the target's kind, and keep the package. Raises WheelsError."""
    wheel = "PYPI=1 python3 -m pip wheel --quiet --no-deps --no-index --no-build-isolation --wheel-dir /root/made"
    command = [
        "mmdebstrap",
        "--quiet",
        "--variant=apt",
        f"--architectures={MACHINES[target.machine]}",
        f"--include={BUILDS}",
        f"--customize-hook=copy-in {sources} /root",
        f'--customize-hook=chroot "$1" sh -c "{wheel} /root/{sources.name}/*"',
        f"--customize-hook=sync-out /root/made {folder}",
        "--format=null",
        PLACES[target.python][0],
        "-",
    ]
    if subprocess.run([*command[:1], *apt_settings(), *command[1:]], check=False).returncode:  # noqa: S603
        raise WheelsError(
            "it could not be compiled; see above. For another kind of processor the apt package qemu-user-static is "
            "needed. On the Pi itself, with a network: sudo apt-get install swig gcc python3-dev"
        )


def apt_settings() -> list[str]:
    """How this computer's apt reaches its packages (a proxy, for instance), for mmdebstrap, which has its own apt."""
    told = subprocess.run(["apt-config", "dump", "Acquire"], capture_output=True, text=True, check=True).stdout  # noqa: S607
    own = ("Acquire::IndexTargets", "Acquire::Changelogs", "Acquire::CompressionTypes")  # every apt's own defaults
    settings = [
        line.rstrip(";") for line in told.splitlines() if not line.endswith(' "";') and not line.startswith(own)
    ]
    return [f"--aptopt={line}" for line in settings]


def _pip(*words: str) -> int:
    """Run this Python's pip; its exit status."""
    command = [sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check", *words]
    return subprocess.run(command, check=False).returncode  # noqa: S603


def _say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def parser() -> argparse.ArgumentParser:
    """What the command line takes."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("folder", type=Path, metavar="DIR", help="made if missing")
    parser.add_argument(
        "--python", choices=PLACES, default="3.13", help="the Pi's: 3.11 on Debian 12, 3.13 on Debian 13"
    )
    parser.add_argument("--machine", choices=MACHINES, default="aarch64", help="the Pi's, as uname -m says there")
    parser.add_argument("--fleet", action="store_true", help="also what `hardware/install --fleet` needs")
    return parser


def main() -> int:
    """Parse, fetch, say what to do next."""
    options = parser().parse_args()
    target, folder = Target(options.python, options.machine), options.folder.resolve()
    folder.mkdir(parents=True, exist_ok=True)
    wanted, pins = needs(*(["fleet"] if options.fleet else []))
    try:
        fetch(folder, target, wanted)
        fetch_pin_library(folder, target, pins)
    except WheelsError as error:
        sys.stderr.write(f"hardware/wheels.py: {error}\n")
        return 1
    count = len(list(folder.glob("*.whl")))
    asked = " --fleet" if options.fleet else ""
    _say(f"{count} packages in {folder}. On the Pi: sudo hardware/install --wheels {folder.name}{asked}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
