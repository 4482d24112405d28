"""The command line's connection: a person may take any time over an answer."""

import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from sumlight.control.server.socket_server import Service
from sumlight.protocol.client import ControlClient, ControlGoneError
from sumlight.protocol.messages import Request
from sumlight.text.message import as_written
from tests.protocol.examples import PRESS
from tests.webui.fake_control import snapshot


class Control:
    """A socket served by a thread; `clock_s` is what the service takes for time, `pushes` whether snapshots come."""

    def __init__(self, path: Path) -> None:
        self.asked: list[str] = []
        self.clock_s = 0.0
        self.pushes = True
        self.number = 0
        self._service = Service(path, self._handle, lambda: self.clock_s)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    def _handle(self, request: Request) -> dict[str, Any]:
        self.asked.append(request.command)
        return {"state": "idle"} if request.command == "go" else snapshot(seq=self.number)

    def _run(self) -> None:
        while not self._stop.wait(0.001):
            self._service.poll()
            if self.pushes:
                self.number += 1
                self._service.push(snapshot(seq=self.number, sentence=as_written("x" * 20_000)))

    @property
    def callers(self) -> int:
        """How many are connected."""
        return len(self._service._clients)

    def close(self) -> None:
        """Stop serving."""
        self._stop.set()
        self._thread.join()
        self._service.close()


@pytest.fixture
def control(tmp_path: Path) -> Iterator[Control]:
    """Served at `s` in the test's folder."""
    control = Control(tmp_path / "s")
    yield control
    control.close()


@pytest.fixture
def later(monkeypatch: pytest.MonkeyPatch) -> Callable[[float], None]:
    """Lets time pass for the client."""
    passed = [0.0]
    real = time.monotonic
    monkeypatch.setattr("sumlight.protocol.client.time.monotonic", lambda: real() + passed[0])

    def wait(seconds: float) -> None:
        passed[0] += seconds

    return wait


def until(condition: Callable[[], bool]) -> None:
    """Wait for another thread, for a minute at most."""
    stop_s = time.monotonic() + 60
    while not condition():
        assert time.monotonic() < stop_s
        time.sleep(0.005)


def test_a_question_after_a_long_silence_comes_through_once(
    control: Control, tmp_path: Path, later: Callable[[float], None]
) -> None:
    """Control sent the silent connection away meanwhile."""
    control.pushes = False
    with ControlClient(tmp_path / "s") as client:
        client.ask("state")
        control.clock_s = 100.0
        until(lambda: control.callers == 0)
        later(100.0)
        client.ask("go", **PRESS)
    assert control.asked == ["state", "go"]


def test_snapshots_after_a_long_silence_are_those_of_now(
    control: Control, tmp_path: Path, later: Callable[[float], None]
) -> None:
    """A person turned the panel meanwhile: what piled up until control cut the connection off is old."""
    with ControlClient(tmp_path / "s") as client:
        snapshots = client.snapshots()
        next(snapshots)
        next(snapshots)
        until(lambda: control.callers == 0)
        later(30.0)
        told = control.number
        client.ask("go", **PRESS)
        assert next(snapshots)["seq"] >= told
        assert next(snapshots)["seq"] > told


def test_snapshots_go_on_when_only_they_were_waited_for(
    control: Control, tmp_path: Path, later: Callable[[float], None]
) -> None:
    """Nobody asked anything in between."""
    with ControlClient(tmp_path / "s") as client:
        snapshots = client.snapshots()
        next(snapshots)
        until(lambda: control.callers == 0)
        later(30.0)
        told = control.number
        assert next(snapshots)["seq"] >= told


def test_a_box_that_ended_meanwhile_is_told(control: Control, tmp_path: Path, later: Callable[[float], None]) -> None:
    """In words, as at the start."""
    with ControlClient(tmp_path / "s") as client:
        client.ask("state")
        control.close()
        later(30.0)
        with pytest.raises(ControlGoneError, match="no box is running"):
            client.ask("state")
