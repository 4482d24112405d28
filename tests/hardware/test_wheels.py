"""The folder of packages for a Pi without a network: what is asked of pip and of mmdebstrap, and what is said when not.

`python -m tests.userlands` makes such folders and installs from them with the network cut.
"""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import wheels
from pip._vendor.packaging.tags import compatible_tags, cpython_tags  # pip's own judgement of what fits
from pip._vendor.packaging.utils import parse_wheel_filename

TARGET = wheels.Target("3.13", "aarch64")
NONE_READY = "--only-binary=:all: --no-deps"
"""What the question for a ready-made pin library holds."""


class Asked:
    """Stands in for `subprocess.run`: notes commands, and says no to those that hold a word."""

    def __init__(self, *no: str) -> None:
        self.no, self.commands = no, list[list[str]]()

    def __call__(self, command: list[str], **_more: object) -> subprocess.CompletedProcess[str]:
        """As told."""
        self.commands.append(command)
        refused = any(word in " ".join(command) for word in self.no)
        return subprocess.CompletedProcess(command, int(refused), 'Acquire "";\nAcquire::http::Proxy "p";\n', "")


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> Asked:
    """Nothing is fetched."""
    found = Asked()
    monkeypatch.setattr(subprocess, "run", found)
    monkeypatch.setattr(shutil, "which", lambda name: f"/usr/bin/{name}")
    return found


def test_pip_is_asked_for_what_fits_the_pi_and_not_this_computer() -> None:
    """By pip's own list of tags for such a Python: lgpio's package for 3.12 does not fit, pydantic's for 3.13 does."""
    words = TARGET.options()
    platforms = [words[at + 1] for at, word in enumerate(words) if word == "--platform"]
    assert "manylinux_2_41_aarch64" in platforms
    assert "manylinux2014_aarch64" in platforms
    assert not [tag for tag in platforms if "x86" in tag or "_2_42_" in tag]
    fits = {*cpython_tags((3, 13), platforms=platforms), *compatible_tags((3, 13), "cp313", platforms)}
    for name, fit in (
        ("pydantic_core-2.41.5-cp313-cp313-manylinux_2_17_aarch64.manylinux2014_aarch64.whl", True),
        ("cffi-2.0.0-cp313-cp313-manylinux_2_17_x86_64.whl", False),
        ("lgpio-0.2.2.0-cp312-cp312-manylinux_2_34_aarch64.whl", False),
        ("flask-3.1.2-py3-none-any.whl", True),
    ):
        assert bool(parse_wheel_filename(name)[3] & fits) is fit, name


def test_everything_that_the_installer_asks_for_is_fetched(asked: Asked, tmp_path: Path) -> None:
    """The program's own needs, those of a Pi and what builds it; the pinned pin library apart."""
    wanted, pins = wheels.needs()
    assert pins == "lgpio==0.2.2.0"
    assert {need.split(">")[0] for need in wanted} >= {"flask", "gpiod", "hatchling", "adafruit-extended-bus"}
    wheels.fetch(tmp_path, TARGET, wanted)
    plain, ready = asked.commands
    assert plain[:4] == [sys.executable, "-m", "pip", "--quiet"]
    assert plain[5] == "wheel"
    assert plain[-1].startswith("adafruit-extended-bus")
    assert "--only-binary=:all:" in ready
    assert ready[-len(wanted) :] == wanted


def test_a_ready_made_pin_library_is_taken(asked: Asked, tmp_path: Path) -> None:
    """Nothing is compiled then."""
    wheels.fetch_pin_library(tmp_path, wheels.Target("3.11", "aarch64"), "lgpio==0.2.2.0")
    assert [command[0] for command in asked.commands] == [sys.executable]


def test_without_one_it_is_compiled_in_a_debian_of_the_pis_kind(
    asked: Asked, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Architecture, release, apt's own settings; the tree is thrown away and the package comes out."""
    asked.no = ("--only-binary=:all:",)
    wheels.fetch_pin_library(tmp_path, TARGET, "lgpio==0.2.2.0")
    assert "it is compiled now" in capsys.readouterr().out
    source, _settings, made = asked.commands[-3:]
    assert "--no-binary=lgpio" in source
    assert made[0] == "mmdebstrap"
    assert made[-3:] == ["--format=null", "trixie", "-"]
    assert '--aptopt=Acquire::http::Proxy "p"' in made
    assert "--architectures=arm64" in made
    assert f"--customize-hook=sync-out /root/made {tmp_path}" in made
    assert [word for word in made if "PYPI=1 python3 -m pip wheel" in word]


@pytest.mark.parametrize(
    ("no", "missing", "told"),
    [
        (("download",), "", "not every package could be had for Python 3.13 on aarch64"),
        (("pip --quiet --disable-pip-version-check wheel",), "", "adafruit-extended-bus>=1.0.2,<2 could not be had"),
        ((NONE_READY,), "mmdebstrap", "sudo apt-get install mmdebstrap qemu-user-static"),
        ((NONE_READY, "--no-binary"), "", "the source of lgpio==0.2.2.0 could not be had"),
        ((NONE_READY, "mmdebstrap"), "", "the apt package qemu-user-static is needed"),
    ],
)
def test_what_cannot_be_had_is_said_with_what_helps(
    no: tuple[str, ...], missing: str, told: str, asked: Asked, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No folder is called done that lacks something."""
    asked.no = no
    if missing:
        monkeypatch.setattr(shutil, "which", lambda _name: None)
    monkeypatch.setattr(sys, "argv", ["wheels.py", str(tmp_path / "made")])
    said: list[str] = []
    monkeypatch.setattr(sys.stderr, "write", said.append)
    assert wheels.main() == 1
    assert told in "".join(said)
