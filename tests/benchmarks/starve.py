"""*Dark* through a page that is starved on purpose: from opening a new connection to every bank's pin at rest.

The judge is the relay pins of the twin and the machine's monotonic clock, no word of control. Idle connections,
log-ins, imports, silent clients of control's socket and live streams run together all the while (`starving`), from the
presser's own address as well. Processes stand behind control as the units in `hardware/systemd` have it.
"""

import contextlib
import http.client
import math
import os
import queue
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from itertools import cycle
from pathlib import Path
from random import Random
from urllib.parse import urlencode

from sumlight.box.description import load_box
from sumlight.cli.simulated import SimulatedBox
from sumlight.twin import demo
from sumlight.twin.pins import TwinPin
from sumlight.twin.scenario import Scenario
from tests.benchmarks.dose import bench_recipe
from tests.benchmarks.figure import Figure
from tests.benchmarks.starving import PRESS_LIMIT_S, headers
from tests.ports import free_port
from tests.running import first_in_line
from tests.webui.operating import NAME, PASSWORD, give_operator

PRESSES, QUICK_PRESSES = 300, 24
DARK_LIMIT_S = 0.5
PLAIN_LIMIT_S = 5.0
LONGEST_S, QUICK_LONGEST_S = 900.0, 60.0
WHO = ("stranger", "operator", "proxy")
PAGE_NICE, PRESS_NICE, LOAD_NICE = (5, 0, 19) if os.geteuid() == 0 else (15, 10, 19)
"""Steps behind this process, which goes 10 before others where it may, as the units have it. In life those who load
and who press are other machines: the load stands back furthest, the press, which is timed, hardly."""

SEED = 12


class Pins:
    """When the relay pins of all banks came to rest, on the monotonic clock."""

    def __init__(self, box: SimulatedBox) -> None:
        self._lit: dict[str, bool] = {}
        self.rest_s = time.monotonic()
        factory = box.world.pin_factory
        for bank in box.daemon.loop.box.description.banks:
            self._follow(bank.name, factory.pin(bank.relay_pin), lights=bank.lights_when == "high")

    @property
    def lit(self) -> int:
        """How many banks are told to give light."""
        return sum(self._lit.values())

    def _follow(self, name: str, pin: TwinPin, *, lights: bool) -> None:
        before = pin._on_level

        def moved(level: bool | None) -> None:
            was, self._lit[name] = self.lit, level is not None and level == lights
            if was and not self.lit:
                self.rest_s = time.monotonic()
            before(level)  # type: ignore[misc]

        pin._on_level = moved


class Presser:
    """The process that presses; its answers are read by a thread, so that the box never waits for them."""

    def __init__(self, stack: contextlib.ExitStack, port: int, cookie: str) -> None:
        self._process = _start(stack, PRESS_NICE, "press", str(port), cookie)
        self.answers: queue.SimpleQueue[tuple[float, int]] = queue.SimpleQueue()
        threading.Thread(target=self._listen, daemon=True).start()

    def press(self, who: str) -> None:
        """Let it press once."""
        assert self._process.stdin is not None
        self._process.stdin.write(f"{who}\n")
        self._process.stdin.flush()

    def _listen(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            began, status = line.split()
            self.answers.put((float(began), int(status)))


def measure(quick: bool) -> list[Figure]:
    """Presses lost, worst and 99 % time by who pressed, and an ordinary page afterwards."""
    count, longest_s = (QUICK_PRESSES, QUICK_LONGEST_S) if quick else (PRESSES, LONGEST_S)
    with contextlib.ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        box, port, cookie = _running(stack, folder)
        with _starved(stack, port, folder / "control.sock", cookie):
            took_s, lost = _press_all(box, Presser(stack, port, cookie), count, longest_s)
        plain_s = _plain_page(box, port)
    figures = [Figure(f"starve: presses of dark lost, of {count}", lost, "", "at most", 0)]
    for who, times in took_s.items():
        ordered = sorted(times) or [float("inf")]
        figures += [
            Figure(f"starve: dark to pins at rest, {who}, worst", ordered[-1], "s", "at most", DARK_LIMIT_S),
            Figure(
                f"starve: dark to pins at rest, {who}, 99 % of {len(times)}",
                ordered[math.ceil(0.99 * len(ordered)) - 1],
                "s",
                "at most",
                DARK_LIMIT_S,
            ),
        ]
    return [*figures, Figure("starve: ordinary page afterwards", plain_s, "s", "at most", PLAIN_LIMIT_S)]


def _running(stack: contextlib.ExitStack, data: Path) -> tuple[SimulatedBox, int, str]:
    """The twin's control in this process, the page in another, an operator logged in."""
    box = SimulatedBox(load_box(demo.TWO_BANK_BOX), Scenario(), data, speed=1.0, attended=False, threaded=True)
    stack.callback(box.daemon.close)
    stack.callback(box.daemon.garbage.end)
    forgiving = {"forgiven": 100, "longest_gap_s": 3600}
    both = {"sides": "together", "transmission": {"a": 1.0, "b": 1.0}, "interruptions": forgiving}
    box.daemon.shelf.save("bench", bench_recipe(5000.0, **both))
    box.daemon.serve(data / "control.sock")
    give_operator(data, "scrypt")
    port = free_port()
    page = ["-m", "sumlight_web", "--socket", str(data / "control.sock"), "--data", str(data), "--port", str(port)]
    process = subprocess.Popen(
        ["nice", "-n", str(PAGE_NICE), sys.executable, *page, "--stop-with-stdin"],
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
    )
    stack.callback(_end, process)
    box.daemon.garbage.begin()  # as `run` does
    cookies: queue.SimpleQueue[str] = queue.SimpleQueue()
    threading.Thread(target=lambda: cookies.put(_log_in(port)), daemon=True).start()
    while cookies.empty():
        box.step()
    cookie = cookies.get()
    if not cookie:
        raise RuntimeError("nobody could log in")
    return box, port, cookie


def _log_in(port: int) -> str:
    """A session's cookie, as soon as the page is up; empty when there is none."""
    until_s = time.monotonic() + 30
    while time.monotonic() < until_s:
        with (
            contextlib.suppress(OSError),
            contextlib.closing(http.client.HTTPConnection("127.0.0.1", port, timeout=10)) as connection,
        ):
            form = urlencode({"name": NAME, "password": PASSWORD})
            connection.request("POST", "/access/login", form, headers(port))
            return (connection.getresponse().getheader("Set-Cookie") or "").split(";")[0]
        time.sleep(0.1)
    return ""


@contextlib.contextmanager
def _starved(stack: contextlib.ExitStack, port: int, path: Path, cookie: str) -> Iterator[None]:
    """Everything that starves the page, for as long as this is open."""
    process = _start(stack, LOAD_NICE, "load", str(port), str(path), cookie)
    assert process.stdout is not None
    try:
        process.stdout.readline()
        yield
    finally:
        _end(process)


def _press_all(box: SimulatedBox, presser: Presser, count: int, longest_s: float) -> tuple[dict[str, list[float]], int]:
    """Press `count` times, each while all banks are lit; seconds by who pressed, and how many came to nothing."""
    first_in_line(0)
    pins, chance, who = Pins(box), Random(SEED), cycle(WHO)
    took_s: dict[str, list[float]] = {name: [] for name in WHO}
    lost, pressed, press_at_s = 0, 0, 0.0
    waiting: str | None = None
    exposure, banks = box.daemon.loop.exposure, len(box.daemon.loop.banks)
    until_s = time.monotonic() + longest_s
    while (pressed < count or waiting) and time.monotonic() < until_s:
        box.step()
        now_s = time.monotonic()
        if waiting is not None:
            if presser.answers.empty():
                continue
            began_s, status = presser.answers.get()
            if status in (200, 303) and began_s < pins.rest_s and not pins.lit:
                took_s[waiting].append(pins.rest_s - began_s)
            else:
                lost += 1
            waiting = None
        elif pins.lit == banks:
            press_at_s = press_at_s or now_s + chance.uniform(0.05, 0.25)
            if now_s >= press_at_s:
                press_at_s, waiting, pressed = 0.0, next(who), pressed + 1
                presser.press(waiting)
        elif "go" in exposure.may():
            exposure.go(box.clock.mono_s())
        elif exposure.plan is None and "start" in exposure.may():
            with contextlib.suppress(ValueError):
                box.press("start", recipe="bench")
        elif box.daemon.loop.desk.standing():
            raise RuntimeError(f"the box has a fault: {box.daemon.loop.desk.standing()[0]}")
    return took_s, lost + count - pressed


def _plain_page(box: SimulatedBox, port: int) -> float:
    """Seconds that an ordinary page takes right after the load."""
    took: queue.SimpleQueue[float] = queue.SimpleQueue()

    def look() -> None:
        began_s = time.monotonic()
        with (
            contextlib.suppress(OSError, http.client.HTTPException),
            contextlib.closing(http.client.HTTPConnection("127.0.0.1", port, timeout=4 * PRESS_LIMIT_S)) as connection,
        ):
            connection.request("GET", "/")
            answer = connection.getresponse()
            answer.read()
            took.put(time.monotonic() - began_s if answer.status == 200 else float("inf"))
            return
        took.put(float("inf"))

    threading.Thread(target=look, daemon=True).start()
    while took.empty():
        box.step()
    return took.get()


def _start(stack: contextlib.ExitStack, nice: int, *arguments: str) -> subprocess.Popen[str]:
    line = ["nice", "-n", str(nice), sys.executable, "-m", "tests.benchmarks.starving", *arguments]
    process = subprocess.Popen(line, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    stack.callback(_end, process)
    return process


def _end(process: "subprocess.Popen[str] | subprocess.Popen[bytes]") -> None:
    process.kill()
    process.wait()
    for pipe in (process.stdin, process.stdout):
        if pipe is not None:
            with contextlib.suppress(OSError):
                pipe.close()
