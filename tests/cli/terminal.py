"""Runs a command at the terminal beside a simulated box."""

import threading
from collections.abc import Callable

import pytest

from sumlight.cli import main
from tests.control.bench_box import BenchBox


def at_terminal(box: BenchBox, command: Callable[[], object]) -> object:
    """Carry a command out while the box ticks; returns what it returned, raises what it raised."""
    got: list[object] = []
    failed: list[BaseException] = []

    def run() -> None:
        try:
            got.append(command())
        except BaseException as error:  # noqa: BLE001 - SystemExit too; raised again below
            failed.append(error)

    terminal = threading.Thread(target=run)
    terminal.start()
    while terminal.is_alive():
        box.step()
    terminal.join()
    if failed:
        raise failed[0]
    return got[0]


def printed(noun: str, box: BenchBox, capsys: pytest.CaptureFixture[str], *words: str, status: int = 0) -> str:
    """What a command prints beside the box, on both outputs; it ends with this exit status."""
    capsys.readouterr()
    assert at_terminal(box, lambda: main([noun, *words, "--data", str(box.data)])) == status
    told = capsys.readouterr()
    return told.out + told.err
