"""A relay's 'on' that takes effect late, after 'off' was written: how long it keeps the relay's contact closed.

Judged by the simulated contact, which feeds the tubes and comes before any light; with K1, too, which would only hide
it. What control believes is not asked. Real time, because the watch's is.
"""

import contextlib
import tempfile
import time
from pathlib import Path
from typing import Any

from sumlight.cli.simulated import SimulatedBox
from sumlight.protocol.messages import Request
from sumlight.twin.scenario import Scenario
from tests.benchmarks.dose import bench_recipe
from tests.benchmarks.figure import Figure
from tests.control.bench_box import demo_box

LATE_S = 0.35
"""The watch looks after 0.2 s without a tick, every 0.05 s: its 'off' comes before the late 'on'."""

WATCHED_S = 3.0
ALLOWED_S = 0.1 + 0.035
"""A tenth of a second to write off again, and the relay."""

WAYS = ("the loop hangs in it", "the pin follows late")


def measure_late_writes() -> list[Figure]:
    """Both ways of being late, with and without K1: the longest that the contact is closed after the late write."""
    figures = []
    for with_k1 in (False, True):
        worst_s = max(_closed_for_s(way, with_k1=with_k1) for way in WAYS)
        words = "with K1" if with_k1 else "without K1"
        figures.append(Figure(f"faults: relay closed by a late 'on', {words}", worst_s, "s", "at most", ALLOWED_S))
    return figures


def _closed_for_s(way: str, *, with_k1: bool) -> float:
    """How long a bank's relay stays closed after the late write."""
    description = demo_box()
    if not with_k1:
        signals = description.signals.model_copy(update={"k1_mirror_pin": "left_out"})
        description = description.model_copy(update={"enable_pin": None, "signals": signals})
    with tempfile.TemporaryDirectory(prefix="sumlight-") as folder:
        box = SimulatedBox(description, Scenario(), Path(folder), speed=1.0, attended=False, threaded=True)
        try:
            return _Race(box, hangs=way == WAYS[0]).run()
        finally:
            box.daemon.close()


class _Race:
    """One late write. The first 'on' of the relay's pin hangs its writer, or returns at once and lands later."""

    def __init__(self, box: SimulatedBox, *, hangs: bool) -> None:
        self._box = box
        self._hangs = hangs
        bank = box.daemon.loop.box.description.banks[0]
        self._relay = box.world._gear.relays[bank.name]
        self._lights = bank.lights_when == "high"
        self._pin: Any = box.world.pin_factory.pin(bank.relay_pin)
        self._real = self._pin._drive
        self._due_s: float | None = None
        self._landed_s: float | None = None
        self._told_dark = False

    def run(self) -> float:
        """Seconds for which the contact is closed from the late write on."""
        box = self._box
        box.daemon.shelf.save("bench", bench_recipe(5000.0))
        box.daemon.loop.watch.start()
        self._pin._drive = self._drive
        closed_s, seen_s = 0.0, time.monotonic()
        stop_s = seen_s + 10.0
        while time.monotonic() < (stop_s if self._landed_s is None else self._landed_s + WATCHED_S):
            box.step()
            self._pin_follows()
            now_s = time.monotonic()
            if self._landed_s is not None and self._relay.closed:
                closed_s += now_s - max(seen_s, self._landed_s)
            seen_s = now_s
            self._press()
        if self._landed_s is None:
            raise RuntimeError("nothing was lit, so nothing was late")
        return closed_s

    def _drive(self, level: bool) -> None:
        if level == self._lights and self._due_s is None:
            self._due_s = time.monotonic() + LATE_S
            if not self._hangs:
                return
            time.sleep(LATE_S)
            self._landed_s = time.monotonic()
        self._real(level)

    def _pin_follows(self) -> None:
        if self._due_s is not None and self._landed_s is None and time.monotonic() >= self._due_s:
            self._landed_s = time.monotonic()
            self._real(self._lights)

    def _press(self) -> None:
        """Start as soon as it is possible, once; *dark* while a write that did not hang is still on its way."""
        exposure = self._box.daemon.loop.exposure
        if "start" in exposure.may() and exposure.plan is None:
            with contextlib.suppress(ValueError):
                self._box.press("start", recipe="bench")
        elif self._due_s is not None and not self._hangs and not self._told_dark:
            self._told_dark = True
            self._box.daemon.commander.handle(Request(2, "dark", {}))
