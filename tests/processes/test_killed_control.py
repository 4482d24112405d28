"""Control killed at random instants: at most a second of light is lost each time, and none is counted twice."""

import signal
import subprocess
import sys
import threading
import time
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

import pytest

from sumlight.control.client import ControlClient, ControlGoneError
from sumlight.store.logbook import Logbook
from sumlight.store.recipes import RecipeShelf, recipe_to_text
from tests.running import first_in_line

KILLS = 50
CHAINS = 5
START_LIMIT_S = 20.0
LOST_LIMIT_S = 1.0
COUNTING_S = 0.05
"""The measured dose may lie this much light above the true one: a conversion, and the sensor's own error."""


@dataclass
class Life:
    """One life of control: the journal's dose before and after, the true dose last heard of, the light then.

    `unheard_s` is how long control may have gone on after what was last heard, at most.
    """

    before_mj_cm2: float
    after_mj_cm2: float
    true_mj_cm2: float
    mw_cm2: float
    unheard_s: float
    offered: str

    @property
    def unknown_s(self) -> float:
        """Light that is not in the journal, at most."""
        return (self.true_mj_cm2 - self.after_mj_cm2 + self.before_mj_cm2) / self.mw_cm2 + self.unheard_s

    def twice_s(self, full_mw_cm2: float) -> float:
        """Light in the journal beyond what there can have been; after what was heard of it may have risen to full."""
        most_mj_cm2 = self.true_mj_cm2 + (self.unheard_s + COUNTING_S) * full_mw_cm2
        return max(0.0, self.after_mj_cm2 - self.before_mj_cm2 - most_mj_cm2) / full_mw_cm2


@dataclass
class Chain:
    """One panel that control is killed over again and again, always taken up where it was left."""

    data: Path
    kills: int
    chance: Random
    lives: list[Life] = field(default_factory=list)
    error: Exception | None = None

    def run(self) -> None:
        """All lives, one after the other; an error is kept for the test."""
        try:
            RecipeShelf(self.data / "recipes").save("endless", endless_recipe())
            for number in range(self.kills):
                self.lives.append(self._live(first=number == 0))
        except Exception as error:  # noqa: BLE001 - told by the test, in its own thread
            self.error = error

    def _live(self, *, first: bool) -> Life:
        before = 0.0 if first else journal_mj_cm2(self.data)
        process = subprocess.Popen(
            [sys.executable, "-m", "sumlight.cli", "control", "--twin", "--data", str(self.data), "--speed", "1"]
        )
        first_in_line(process.pid)
        try:
            with connect(self.data / "control.sock") as client:
                offered = ready(client)
                if first:
                    client.ask("start", recipe="endless", panel="often killed")
                else:
                    client.ask("go")
                true_mj_cm2, mw_cm2, heard_s = watch_light(client, self.chance.uniform(0.1, 2.6))
        finally:
            process.send_signal(signal.SIGKILL)
            process.wait()
        unheard_s = time.monotonic() - heard_s
        return Life(before, journal_mj_cm2(self.data), true_mj_cm2, mw_cm2, unheard_s, offered)


@pytest.mark.timeout(240)
def test_a_kill_at_any_instant_loses_less_than_a_second_of_light(tmp_path: Path) -> None:
    """Fifty SIGKILLs in real time: journal against the twin's true dose, and the offer to go on after each."""
    chains = [Chain(tmp_path / f"chain{n}", KILLS // CHAINS, Random(n)) for n in range(CHAINS)]
    threads = [threading.Thread(target=chain.run) for chain in chains]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    lives = [life for chain in chains for life in chain.lives]
    assert [chain.error for chain in chains] == [None] * CHAINS
    assert len(lives) == KILLS
    full_mw_cm2 = max(life.mw_cm2 for life in lives)
    for life in lives:
        assert life.unknown_s <= LOST_LIMIT_S, life
        assert life.twice_s(full_mw_cm2) == 0, life
    for chain in chains:
        assert [life.offered for life in chain.lives] == ["idle"] + ["paused"] * (KILLS // CHAINS - 1)


def connect(path: Path) -> ControlClient:
    """A client as soon as control answers."""
    until_s = time.monotonic() + START_LIMIT_S
    while True:
        try:
            return ControlClient(path)
        except ControlGoneError:
            if time.monotonic() > until_s:
                raise
            time.sleep(0.02)


def ready(client: ControlClient) -> str:
    """Wait until control could light; returns its state then."""
    until_s = time.monotonic() + START_LIMIT_S
    while time.monotonic() < until_s:
        snapshot = client.ask("state")
        if {"start", "go"} & set(snapshot["may"]) and snapshot["banks"][0]["meter_ok"]:
            return str(snapshot["state"])
        time.sleep(0.02)
    raise TimeoutError("control never became ready")


def watch_light(client: ControlClient, seconds: float) -> tuple[float, float, float]:
    """Watch until light has been seen for `seconds`; returns the true dose and the irradiance heard of last, and when
    that was, by this machine's clock: a snapshot's own time and the quickest way that any took here."""
    began_s: float | None = None
    quickest_s = float("inf")
    for snapshot in client.snapshots():
        quickest_s = min(quickest_s, time.monotonic() - snapshot["mono_s"])
        if [fault["name"] for fault in snapshot["faults"]] == ["loop_late"]:
            # A busy machine may hold up a real-time loop; lamps went dark, as they should, and the panel goes on.
            client.ask("acknowledge")
            client.ask("go")
            continue
        side = snapshot["exposure"]["sides"][0] if snapshot["exposure"] else None
        if snapshot["state"] != "light" or side is None or side["irradiance_at_resist_mw_cm2"] < 0.5:
            continue
        began_s = began_s or time.monotonic()
        if time.monotonic() - began_s >= seconds:
            heard_s = snapshot["mono_s"] + quickest_s
            return float(snapshot["true_dose_mj_cm2"]["A"]), float(side["irradiance_at_resist_mw_cm2"]), heard_s
    raise RuntimeError("the stream ended")


def journal_mj_cm2(data: Path) -> float:
    """The dose that the logbook knows of the interrupted side; also proves the logbook sound."""
    with closing(Logbook.open_reader(data / "logbook.sqlite")) as logbook:
        left = logbook.interrupted()
        assert left is not None
        return left.sides[0][1].dose_mj_cm2


def endless_recipe() -> str:
    """More dose than all lives together give."""
    return recipe_to_text(
        {
            "resist": "endless (invented)",
            "thickness_um": 38,
            "sides": "one",
            "dose_mj_cm2": 5000,
            "transmission": {"a": 1.0},
            "time_guard_s": 3600,
            "hold_s": 900,
            "interruptions": {"forgiven": 100, "longest_gap_s": 3600},
        }
    )
