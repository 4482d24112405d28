"""A long day: panel after panel in the twin, and somebody who looks at every page. Nothing may grow with the panels.

Real control and page processes, judged from /proc: memory, threads and open files. The first panels are left out, for
caches, allocators and the logbook's own pages fill up in them.
"""

import http.client
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from typing import Any

from sumlight.protocol.client import ControlClient
from sumlight.store.recipes import RecipeStore, recipe_to_text
from tests.benchmarks.figure import Figure
from tests.pressing import press
from tests.running import RunningTwin

PANELS, SETTLED = 600, 200
QUICK_PANELS, QUICK_SETTLED = 100, 50
GROWTH_MB = 2.0
SPEED = 60.0
PAGES = ("/", "/recipes/", "/panels/", "/lamps/", "/light/", "/box/", "/state.json", "/panels/{}", "/recipes/short")
LOOKS = 15
"""Looks at each end, of which the median counts."""

PATIENCE_S = 20.0


@dataclass(frozen=True)
class Look:
    """What a process takes: resident memory, threads, open files."""

    memory_mb: float
    threads: int
    files: int


def measure(quick: bool) -> list[Figure]:
    """One day."""
    panels, settled = (QUICK_PANELS, QUICK_SETTLED) if quick else (PANELS, SETTLED)
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "data"
        RecipeStore(data / "recipes").save("short", _recipe())
        with RunningTwin(data, speed=SPEED) as twin, ControlClient(twin.socket) as client:
            looks = _day(twin, client, panels)
    figures = []
    for name, seen in looks.items():
        early, late = seen[settled - LOOKS : settled], seen[-LOOKS:]
        before, after = (median(look.memory_mb for look in part) for part in (early, late))
        what = f"soak: {panels} panels and as many views, {name}"
        figures += [
            Figure(f"{what}, memory after the first {settled}", before, "MB", "for comparison"),
            Figure(f"{what}, memory grown since", after - before, "MB", "at most", GROWTH_MB),
            Figure(f"{what}, threads more", _more(early, late, "threads"), "", "at most", 0),
            Figure(f"{what}, open files more", _more(early, late, "files"), "", "at most", 0),
        ]
    return figures


def _more(early: list[Look], late: list[Look], what: str) -> float:
    return float(median(getattr(look, what) for look in late) - median(getattr(look, what) for look in early))


def _day(twin: RunningTwin, client: ControlClient, panels: int) -> dict[str, list[Look]]:
    pids = {"control": twin.control_pid(), "page": twin.page_pid()}
    looks: dict[str, list[Look]] = {name: [] for name in pids}
    for number in range(panels):
        _until(client, lambda snapshot: "start" in snapshot["may"] and snapshot["banks"][0]["meter_ok"])
        press(client, "start", recipe="short", panel=f"panel {number}")
        _view(twin.port, PAGES[number % len(PAGES)].format(max(1, number)))
        _until(client, lambda snapshot: snapshot["state"] == "done")
        client.ask("simulate", do="lid_opens")
        _until(client, lambda snapshot: snapshot["lid"] == "open")
        client.ask("simulate", do="lid_closes")
        _until(client, lambda snapshot: snapshot["lid"] == "shut")
        for name, pid in pids.items():
            looks[name].append(look_at(pid))
    if (twin.control_pid(), twin.page_pid()) != tuple(pids.values()):
        raise RuntimeError("a process was started anew in the course of the day")
    return looks


def look_at(pid: int) -> Look:
    """From /proc: proc(5), VmRSS in kB and Threads of `status`, one entry in `fd` for each open file."""
    lines = Path(f"/proc/{pid}/status").read_text(encoding="ascii", errors="replace").splitlines()
    status = {key: value.split() for key, _, value in (line.partition(":") for line in lines)}
    files = len(list(Path(f"/proc/{pid}/fd").iterdir()))
    return Look(int(status["VmRSS"][0]) / 1024, int(status["Threads"][0]), files)


def _until(client: ControlClient, holds: Any) -> None:
    """Wait for the box; what a busy machine makes of a fast twin is acknowledged, and the panel goes on."""
    until_s = time.monotonic() + PATIENCE_S
    while True:
        snapshot = client.ask("state")
        if holds(snapshot):
            return
        if time.monotonic() > until_s:
            raise TimeoutError(f"the box stays in {snapshot['state']}: {snapshot['faults']}")
        if snapshot["faults"] and "acknowledge" in snapshot["may"]:
            client.ask("acknowledge")
        elif "go" in snapshot["may"]:
            press(client, "go")
        time.sleep(0.01)


def _view(port: int, path: str) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
    try:
        connection.request("GET", path)
        answer = connection.getresponse()
        answer.read()
    finally:
        connection.close()
    if answer.status != 200:
        raise RuntimeError(f"the page answered {path} with {answer.status}")


def _recipe() -> str:
    return recipe_to_text(
        {
            "resist": "quick (invented)",
            "thickness_um": 38,
            "sides": "one",
            "dose_mj_cm2": 8,
            "transmission": {"a": 1.0},
            "time_guard_s": 100,
            "hold_s": 60,
            "interruptions": {"forgiven": 100, "longest_gap_s": 3600},
        }
    )
