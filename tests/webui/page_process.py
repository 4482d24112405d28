"""Starts the page as its own process, as the command line does, and ends it with its standard input."""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
COMMON = "common"
"""Within a test's data folder: what several boxes share."""


@dataclass(frozen=True)
class PageProcess:
    """A page that serves at `address`. `code` is the set-up code that it printed; empty once there is an operator."""

    process: subprocess.Popen[str]
    address: str
    code: str = ""

    @property
    def port(self) -> int:
        """Its TCP port."""
        return int(self.address.rsplit(":", 1)[1].rstrip("/"))


def command(socket: Path, data: Path, *more: str) -> list[str]:
    """The command line of the page."""
    return [sys.executable, "-m", "sumlight_web", "--socket", str(socket), "--data", str(data), *more]


def environment() -> dict[str, str]:
    """The present environment with both source roots on the path."""
    return os.environ | {"PYTHONPATH": f"{ROOT / 'firmware'}{os.pathsep}{ROOT / 'webui'}"}


def with_shared_folder(data: Path) -> dict[str, str]:
    """The same with a folder of recipes that several boxes share, where a test has put one beside the shelf."""
    folder = data / COMMON
    return environment() | ({"SUMLIGHT_SHARED": str(folder)} if folder.is_dir() else {})


@contextmanager
def page_process(socket: Path, data: Path, *more: str) -> Iterator[PageProcess]:
    """A running page on a free port, with `more` on its command line.

    It must end by itself, and well, when its standard input ends.
    """
    line = command(socket, data, "--port", "0", "--stop-with-stdin", *more)
    places = with_shared_folder(data)
    with subprocess.Popen(line, stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=places, text=True) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            said = process.stdout.readline()
            assert said.startswith("Page at http://127.0.0.1:"), said
            address, _, code = said.removeprefix("Page at ").strip().partition("access/#code=")
            yield PageProcess(process, address, code)
            if process.poll() is None:
                process.stdin.close()
                assert process.wait(timeout=60) == 0
        finally:
            if process.poll() is None:
                process.kill()
