"""Whatever ends or halts control while lamps burn: the enable line stands still, and what can still act darkens.

A charge pump lets K1 drop once the enable line has stood still for its hold-up time (0.15 s in the twin); these tests
watch the line itself from outside, as the pump would. What control may still do after a signal is counted in edges of
the line, one in every tick of 5 ms: a process that a crowded machine leaves waiting moves no line meanwhile.
"""

import contextlib
import os
import signal
import struct
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Self

import pytest

from sumlight.protocol.client import ControlClient
from sumlight.protocol.errors import BadRequestError
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.recipes import RecipeStore
from tests.pressing import press
from tests.processes.test_killed_control import connect, endless_recipe, ready
from tests.running import first_in_line

CHILD = Path(__file__).with_name("child_with_pins.py")
STILL_S = 0.4
"""The line is watched for this long; the pump would have run dry long before."""

LATE_EDGES = 30
"""In 0.15 s of ticks; a signal that Python hears ends the loop after the tick that it is in."""

PATIENCE_S = 60.0

ENDINGS = {
    "SIGTERM": signal.SIGTERM,
    "SIGINT": signal.SIGINT,
    "SIGHUP": signal.SIGHUP,
    "SIGSEGV": signal.SIGSEGV,
    "SIGKILL, as when memory runs out": signal.SIGKILL,
    "SIGABRT": signal.SIGABRT,
}
ORDERLY = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)


class Burning:
    """Control with lamps on, in its own process; a context manager that leaves none behind."""

    def __init__(self, folder: Path) -> None:
        self.data = folder / "data"
        RecipeStore(self.data / "recipes").save("endless", endless_recipe())
        self._wires = folder / "wires"
        self._wires.write_bytes(bytes(16))
        self._errors = folder / "errors"
        self.process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        command = [sys.executable, str(CHILD), str(self._wires), "box", "control", "--twin", "--data", str(self.data)]
        with self._errors.open("wb") as errors:
            self.process = subprocess.Popen([*command, "--speed", "1"], stderr=errors)
        first_in_line(self.process.pid)
        try:
            with connect(self.data / "control.sock") as client:
                ready(client)
                press(client, "start", recipe="endless", panel="signalled")
                self.wait_for_light(client)
        except BaseException:
            self.end()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.end()

    def end(self) -> None:
        """Leave no process behind."""
        assert self.process is not None
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGCONT)
            self.process.kill()
        self.process.wait()

    def wait_for_light(self, client: ControlClient) -> None:
        """Until light is measured."""
        until_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < until_s:
            snapshot = client.ask("state")
            held_up = {fault["name"] for fault in snapshot["faults"]} & {"loop_late", "too_slow"}
            if held_up and "acknowledge" in snapshot["may"]:  # a crowded machine; dark, as it should be
                client.ask("acknowledge")
            elif "go" in snapshot["may"]:
                with contextlib.suppress(BadRequestError):  # held up again since
                    press(client, "go")
            elif (
                snapshot["state"] == "light"
                and (snapshot["banks"][0]["irradiance_mw_cm2"] or 0) > 0.5
                and self.relay() == 1
            ):
                return
            time.sleep(0.02)
        raise TimeoutError("no light came")

    def edges(self) -> int:
        """How often the enable line has moved."""
        return int(struct.unpack_from("q", self._wires.read_bytes())[0])

    def relay(self) -> int:
        """The relay pin: 0 at rest, 1 lights, 2 floating."""
        return self._wires.read_bytes()[8]

    def tell(self, number: signal.Signals) -> int:
        """Send a signal; returns how often the line had moved when it was on its way."""
        assert self.process is not None
        self.process.send_signal(number)
        return self.edges()

    def errors(self) -> str:
        """What it said before it ended."""
        return self._errors.read_text(encoding="utf-8", errors="replace")


@pytest.fixture
def burning(tmp_path: Path) -> Iterator[Burning]:
    """Control under light."""
    with Burning(tmp_path) as control:
        yield control


def stands_still_at(control: Burning) -> int:
    """Wait until the line has stood still for a while; returns how often it has moved."""
    until_s, edges = time.monotonic() + PATIENCE_S, -1
    while edges != (edges := control.edges()):
        assert time.monotonic() < until_s, "the enable line still moves"
        time.sleep(STILL_S)
    return edges


@pytest.mark.parametrize("ending", ENDINGS)
def test_a_signal_that_ends_control_stops_the_enable_line(burning: Burning, ending: str) -> None:
    """In good order the relay is driven to rest and let go; otherwise its board's pull and K1 must do it."""
    number = ENDINGS[ending]
    edges = burning.tell(number)
    assert burning.process is not None
    status = burning.process.wait(PATIENCE_S)
    assert burning.edges() - edges <= LATE_EDGES
    if number in ORDERLY:
        assert (status, burning.relay()) == (0, 2)
    else:
        assert status == -number
    if number == signal.SIGSEGV:  # faulthandler tells where
        assert "Segmentation fault" in burning.errors()
        assert "_tick" in burning.errors() or "wait" in burning.errors()
    with Logbook.open_reader(burning.data / "logbook.sqlite") as book:
        left = book.interrupted()
    assert left is not None, "the panel must be offered for continuation"
    assert left.sides[0][1].dose_mj_cm2 > 0


def test_a_halted_control_lets_k1_drop_and_comes_back_dark(burning: Burning) -> None:
    """SIGSTOP: no code runs at all, so only the still line helps; woken, control finds that it stood still."""
    edges = burning.tell(signal.SIGSTOP)
    assert stands_still_at(burning) - edges <= LATE_EDGES
    burning.tell(signal.SIGCONT)
    with connect(burning.data / "control.sock") as client:
        until_s = time.monotonic() + PATIENCE_S
        while not (snapshot := client.ask("state"))["faults"] and time.monotonic() < until_s:
            time.sleep(0.02)
    assert "loop_late" in [fault["name"] for fault in snapshot["faults"]]
    assert snapshot["state"] == "faulted"
    assert burning.relay() == 0
    stands_still_at(burning)


@pytest.fixture
def under_load(burning: Burning) -> Iterator[Burning]:
    """Control under light, beside twice as many busy programs as the machine has cores."""
    busy = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(2 * (os.cpu_count() or 1))]
    try:
        time.sleep(0.3)
        with connect(burning.data / "control.sock") as client:
            burning.wait_for_light(client)
        yield burning
    finally:
        for process in busy:
            process.kill()
            process.wait()


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGKILL])
def test_under_full_load_a_kill_still_stops_the_enable_line(under_load: Burning, number: signal.Signals) -> None:
    """Whatever else runs on the machine."""
    edges = under_load.tell(number)
    assert under_load.process is not None
    under_load.process.wait(PATIENCE_S)
    assert under_load.edges() - edges <= LATE_EDGES
    assert (under_load.relay() == 2) == (number == signal.SIGTERM)  # a killed process lets nothing go


def test_under_full_load_lamps_still_go_dark_by_command(under_load: Burning) -> None:
    """The loop is late now and then, never for long: the pin is at rest soon, by the command or by the watch."""
    with connect(under_load.data / "control.sock") as client:
        client.ask("dark")
        edges = under_load.edges()
    while under_load.relay() == 1:
        assert under_load.edges() - edges <= LATE_EDGES, "still told to light"
        time.sleep(0.005)
    stands_still_at(under_load)
