"""Only a recent lgpio will do; everything else is told and refused."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from .conftest import ROOT

RECENT = """
def get_module_version():
    return "lgpio.py_0.2.2.0"
def gpiochip_open(number):
    raise OSError("can not open gpiochip")
"""
FACTORY = """
class LGPIOFactory:
    def __init__(self):
        import lgpio
        lgpio.gpiochip_open(0)
    def close(self):
        pass
"""


def check(tmp_path: Path, lgpio: str | None, *options: str) -> subprocess.CompletedProcess[str]:
    """Run the check where this is all there is of lgpio and of gpiozero's side of it."""
    modules = tmp_path / "modules"
    package = modules / "gpiozero" / "pins"
    package.mkdir(parents=True)
    (modules / "gpiozero" / "__init__.py").write_text("")
    (package / "__init__.py").write_text("")
    (package / "lgpio.py").write_text(FACTORY)
    if lgpio is not None:
        (modules / "lgpio.py").write_text(lgpio)
    command = [sys.executable, "-S", str(ROOT / "hardware" / "check_pin_library.py"), *options]
    environment = {**os.environ, "PYTHONPATH": str(modules)}
    return subprocess.run(command, capture_output=True, text=True, env=environment, timeout=120)


def test_a_recent_library_passes(tmp_path: Path) -> None:
    """Imports and version are right."""
    done = check(tmp_path, RECENT)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize(
    ("library", "said"),
    [
        (None, "cannot be imported"),
        ("", "tells no version"),
        ("def get_module_version():\n    return 'none'\n", "tells no version"),
        ("def get_module_version():\n    return 'lgpio.py_0.0.0.2'\n", "0.0.0.2 is too old"),
        ("raise ImportError('liblgpio.so.1: cannot open shared object file')", "liblgpio.so.1"),
    ],
    ids=["missing", "empty", "odd version", "ancient", "broken"],
)
def test_anything_else_is_refused_with_the_reason(tmp_path: Path, library: str | None, said: str) -> None:
    """The releases that the index may pick by itself import, and do nothing."""
    done = check(tmp_path, library)
    assert done.returncode == 1
    assert said in done.stderr


def test_a_pin_controller_that_cannot_be_opened_is_told(tmp_path: Path) -> None:
    """With --open, as the installation on a Pi does."""
    done = check(tmp_path, RECENT, "--open")
    assert done.returncode == 1
    assert "can not open gpiochip" in done.stderr
