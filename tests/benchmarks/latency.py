"""From the lid's contact to the lamp outputs' rest level, in real time, with the page flooded and the card stalled.

Control stands where its unit in `hardware/systemd` puts it, where this account may (root), and the page as far behind
it as the units say; those who flood it, who are other machines in life, stand back furthest.
"""

import contextlib
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from random import Random

from sumlight.cli.simulated import SimulatedBox
from sumlight.control.precedence import precedence
from sumlight.store.logbook.logbook import Logbook
from sumlight.twin.pins import TwinPin
from sumlight.twin.scenario import Scenario
from tests.benchmarks.busy import Others
from tests.benchmarks.dose import bench_recipe, demo_box
from tests.benchmarks.figure import Figure
from tests.ports import free_port

CLIENTS = 20
OPENINGS, QUICK_OPENINGS = 1200, 70
STALL_S, STALL_EVERY_S = 5.0, 12.0
SEED = 11

CONTROL_NICE, PAGE_NICE, FLOOD_NICE = -10, 15, 19
"""As the units give control -10 and the page 5: the last two are steps behind control."""

FLOOD = """
import sys, threading, urllib.request
url, until = sys.argv[1], int(sys.argv[2])
def ask():
    while True:
        try:
            with urllib.request.urlopen(url, timeout=5) as answer:
                answer.read()
        except OSError:
            pass
for _ in range(until):
    threading.Thread(target=ask, daemon=True).start()
sys.stdin.read()
"""


class Finger:
    """Lifts the lid at a random moment in a thread of its own, and sees when the relay pin comes to rest."""

    def __init__(self, box: SimulatedBox) -> None:
        self._box = box
        description = box.daemon.loop.box.description
        factory = box.world.pin_factory
        self._shut = factory.pin(description.lid.shut_pin)
        self._open = factory.pin(description.lid.open_pin)
        self._relay = factory.pin(description.banks[0].relay_pin)
        self._rest = description.banks[0].lights_when == "low"
        self._follow = self._relay._on_level
        self._relay._on_level = self._moved
        self._lifted_s: float | None = None
        self.latencies_s: list[float] = []

    def lift_after(self, delay_s: float) -> threading.Thread:
        """Lift the lid so much later."""
        thread = threading.Thread(target=self._lift, args=(delay_s,))
        thread.start()
        return thread

    def shut(self) -> None:
        """Lay the lid down again."""
        self._touch(self._open, False)
        self._touch(self._shut, True)

    def _lift(self, delay_s: float) -> None:
        time.sleep(delay_s)
        self._lifted_s = time.perf_counter()
        self._touch(self._shut, False)
        self._touch(self._open, True)

    def _touch(self, pin: TwinPin, grounded: bool) -> None:
        pin.ground(grounded, self._box.clock.mono_s())

    def _moved(self, level: bool | None) -> None:
        if level == self._rest and self._lifted_s is not None:
            self.latencies_s.append(time.perf_counter() - self._lifted_s)
            self._lifted_s = None
        self._follow(level)


class Ticks:
    """How far apart the ticks of the grid come in real time, while K1 is held."""

    def __init__(self, box: SimulatedBox) -> None:
        self.periods_s: list[float] = []
        self._rate = box.daemon.loop.rate
        self._original = self._rate.ticked
        self._last_s: float | None = None
        self._rate.ticked = self._ticked  # type: ignore[method-assign]

    def _ticked(self, real_s: float, *, held: bool) -> None:
        if held and self._last_s is not None:
            self.periods_s.append(real_s - self._last_s)
        self._last_s = real_s if held else None
        self._original(real_s, held=held)


def measure(quick: bool) -> list[Figure]:
    """Many openings during light, and the periods of the ticks meanwhile; 99.9 % and the worst of them."""
    count = QUICK_OPENINGS if quick else OPENINGS
    with tempfile.TemporaryDirectory() as folder, contextlib.ExitStack() as stack:
        data = Path(folder)
        stack.enter_context(standing_as_the_unit_says())
        # The lid's own switch is left out: what is measured is the software's path alone.
        scenario = Scenario(hardwired_lid_switch=False)
        box = SimulatedBox(demo_box(), scenario, data, speed=1.0, attended=False, threaded=True)
        stack.callback(box.daemon.close)
        stack.callback(box.daemon.garbage.end)
        box.daemon.shelf.save("bench", bench_recipe(5000.0).replace("forgiven: 0", "forgiven: 100"))
        box.daemon.serve(data / "control.sock")
        port = free_port()
        page = [sys.executable, "-m", "sumlight_web", "--socket", str(data / "control.sock"), "--data", folder]
        _start(stack, PAGE_NICE, [*page, "--port", str(port), "--stop-with-stdin"])
        _start(stack, FLOOD_NICE, [sys.executable, "-c", FLOOD, f"http://127.0.0.1:{port}/state.json", str(CLIENTS)])
        stack.enter_context(stalled_card())
        finger, ticks, others = Finger(box), Ticks(box), Others()
        box.daemon.garbage.begin()  # as `run` does, and gives the loop precedence
        stack.enter_context(precedence(None))
        chance = Random(SEED)
        lifting: threading.Thread | None = None
        exposure = box.daemon.loop.exposure
        while len(finger.latencies_s) < count:
            box.step()
            if lifting is not None and not lifting.is_alive() and exposure.state != "light":
                lifting = None
                finger.shut()
            elif lifting is None and exposure.state == "light":
                lifting = finger.lift_after(chance.uniform(0.15, 0.35))
            elif "start" in exposure.may() and exposure.plan is None:
                with contextlib.suppress(ValueError):
                    box.press("start", recipe="bench")
            elif "go" in exposure.may():
                exposure.go(box.clock.mono_s())
        busy, judged = others.share(), not others.too_busy
    latencies_ms = sorted(1000 * value for value in finger.latencies_s)
    periods_ms = sorted(1000 * value for value in ticks.periods_s)
    return [
        Figure(f"latency: lid to lamps off, 99.9 % of {count}", _at(latencies_ms, 0.999), "ms", "at most", 7, judged),
        Figure("latency: lid to lamps off, worst", latencies_ms[-1], "ms", "at most", 15, judged),
        Figure("latency: lid to lamps off, median", _at(latencies_ms, 0.5), "ms", "for comparison"),
        Figure("latency: tick period under light, 99.9 %", _at(periods_ms, 0.999), "ms", "at most", 6, judged),
        Figure("latency: tick period under light, worst", periods_ms[-1], "ms", "for comparison"),
        Figure("latency: machine taken by others meanwhile", 100 * busy, "%", "for comparison"),
    ]


@contextlib.contextmanager
def standing_as_the_unit_says() -> Iterator[None]:
    """Put this thread, and those it starts, where control's unit does.

    A thread that holds the interpreter and waits for a processor keeps the loop waiting with it, whatever the loop's
    own precedence.
    """
    usual = os.getpriority(os.PRIO_PROCESS, 0)
    if os.geteuid() == 0:
        os.setpriority(os.PRIO_PROCESS, 0, CONTROL_NICE)
    try:
        yield
    finally:
        os.setpriority(os.PRIO_PROCESS, 0, usual)


@contextlib.contextmanager
def stalled_card() -> Iterator[None]:
    """Every now and then a write to the logbook takes five seconds."""
    original = Logbook.put_sides
    next_s = [time.monotonic() + 2.0]

    def slow(self: Logbook, *arguments: object) -> None:
        if time.monotonic() >= next_s[0]:
            time.sleep(STALL_S)
            next_s[0] = time.monotonic() + STALL_EVERY_S
        original(self, *arguments)  # type: ignore[arg-type]

    Logbook.put_sides = slow  # type: ignore[method-assign, assignment]
    try:
        yield
    finally:
        Logbook.put_sides = original  # type: ignore[method-assign]


def _start(stack: contextlib.ExitStack, nice: int, command: list[str]) -> None:
    process = subprocess.Popen(["nice", "-n", str(nice), *command], stdin=subprocess.PIPE)

    def end() -> None:
        process.kill()
        process.wait()

    stack.callback(end)


def _at(ordered: list[float], share: float) -> float:
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]
