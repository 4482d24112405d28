"""Control killed at random instants: the dose taken up lies as often above the true one as below, by little light."""

import signal
import subprocess
import sys
import threading
import time
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

import pytest

from sumlight.protocol.client import ControlClient, ControlGoneError
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.recipes import RecipeStore, recipe_to_text
from tests.pressing import press
from tests.running import first_in_line

CHAINS = 5
KILLS = {"fifteen": 15, "fifty": 50}
"""Over all chains; as a campaign more than three a chain."""

START_LIMIT_S = 120.0
UNKNOWN_LIMIT_S = 0.5
METER_SHARE = 0.01
"""By that share of the true dose the measured one may be off without any kill."""


@dataclass
class Life:
    """One life of control, ended by a kill: the true dose it gave, and what the next one makes of it.

    `before_mj_cm2` is the dose it began with, `true_mj_cm2` the twin's true dose at the kill, which is known to
    `unheard_s` of light only. `restored_mj_cm2` and `doubt_mj_cm2` are the dose that the next life of control takes up
    and the doubt that it adds; None for the last life of a chain.
    """

    before_mj_cm2: float
    true_mj_cm2: float
    mw_cm2: float
    unheard_s: float
    offered: str
    restored_mj_cm2: float | None = None
    doubt_mj_cm2: float | None = None

    @property
    def error_s(self) -> float:
        """By how much light the dose taken up lies above what the panel got."""
        if self.restored_mj_cm2 is None:
            raise ValueError("nobody took this panel up")
        return (self.restored_mj_cm2 - self.before_mj_cm2 - self.true_mj_cm2) / self.mw_cm2

    @property
    def beyond_s(self) -> float:
        """Light that the dose is off by beyond the stated doubt."""
        stated_s = (self.doubt_mj_cm2 or 0.0) / self.mw_cm2
        allowed_s = stated_s + self.unheard_s + METER_SHARE * self.true_mj_cm2 / self.mw_cm2
        return max(0.0, abs(self.error_s) - allowed_s)


@dataclass
class Chain:
    """One panel that control is killed over again and again, always taken up where it was left."""

    data: Path
    kills: int
    chance: Random
    lives: list[Life] = field(default_factory=list)
    error: Exception | None = None
    doubts_mj_cm2: list[float] = field(default_factory=list)

    @property
    def taken_up(self) -> list[Life]:
        """Lives after which another life has taken the panel up."""
        return [life for life in self.lives if life.restored_mj_cm2 is not None]

    def run(self) -> None:
        """All lives, one after the other; an error is kept for the test."""
        try:
            RecipeStore(self.data / "recipes").save("endless", endless_recipe())
            for number in range(self.kills):
                self.lives.append(self._live(first=number == 0))
        except Exception as error:  # noqa: BLE001 - told by the test, in its own thread
            self.error = error

    def _live(self, *, first: bool) -> Life:
        process = subprocess.Popen(
            [sys.executable, "-m", "sumlight.cli", "box", "control", "--twin", "--data", str(self.data), "--speed", "1"]
        )
        first_in_line(process.pid)
        before_mj_cm2 = 0.0
        try:
            with connect(self.data / "control.sock") as client:
                snapshot = ready(client)
                if first:
                    press(client, "start", recipe="endless", panel="often killed")
                else:
                    before_mj_cm2 = float(snapshot["exposure"]["sides"][0]["dose_mj_cm2"])
                    press(client, "go")
                true_mj_cm2, mw_cm2, heard_s = watch_light(client, self.chance.uniform(0.1, 2.6))
        finally:
            killed_s = time.monotonic()
            process.send_signal(signal.SIGKILL)
            process.wait()
        died_s = time.monotonic()
        true_mj_cm2 += mw_cm2 * (0.5 * (killed_s + died_s) - heard_s)  # it lit on until then, unheard
        self._note_restored(before_mj_cm2)
        return Life(before_mj_cm2, true_mj_cm2, mw_cm2, died_s - killed_s, str(snapshot["state"]))

    def _note_restored(self, taken_up_mj_cm2: float) -> None:
        """The life before this one is judged by what this one took up and wrote down."""
        self.doubts_mj_cm2.append(journal_doubt_mj_cm2(self.data))
        if self.lives:
            self.lives[-1].restored_mj_cm2 = taken_up_mj_cm2
            self.lives[-1].doubt_mj_cm2 = self.doubts_mj_cm2[-1] - self.doubts_mj_cm2[-2]


@pytest.mark.timeout(900)
@pytest.mark.parametrize("kills", ["fifteen", pytest.param("fifty", marks=pytest.mark.campaign)])
def test_a_kill_at_any_instant_leaves_half_a_second_of_light_unknown_at_most(tmp_path: Path, kills: str) -> None:
    """SIGKILLs in real time: the dose taken up against the true one, and the offer to go on after each."""
    in_a_chain = KILLS[kills] // CHAINS
    chains = [Chain(tmp_path / f"chain{n}", in_a_chain, Random(n)) for n in range(CHAINS)]
    threads = [threading.Thread(target=chain.run) for chain in chains]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    lives = [life for chain in chains for life in chain.lives]
    assert [chain.error for chain in chains] == [None] * CHAINS
    assert len(lives) == KILLS[kills]
    taken_up = [life for chain in chains for life in chain.taken_up]
    assert len(taken_up) == KILLS[kills] - CHAINS
    for life in taken_up:
        assert abs(life.error_s) <= UNKNOWN_LIMIT_S, life
        assert life.beyond_s == 0, life
    for chain in chains:
        assert [life.offered for life in chain.lives] == ["idle"] + ["paused"] * (in_a_chain - 1)


def connect(path: Path) -> ControlClient:
    """A client as soon as control answers."""
    until_s = time.monotonic() + START_LIMIT_S
    while True:
        try:
            return ControlClient(path, timeout_s=START_LIMIT_S)
        except ControlGoneError:
            if time.monotonic() > until_s:
                raise
            time.sleep(0.02)


def ready(client: ControlClient) -> dict[str, Any]:
    """Wait until control could light; returns what it says then."""
    until_s = time.monotonic() + START_LIMIT_S
    while time.monotonic() < until_s:
        snapshot = client.ask("state")
        if {"start", "go"} & set(snapshot["may"]) and snapshot["banks"][0]["meter_ok"]:
            return snapshot
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
            press(client, "go")
            continue
        side = snapshot["exposure"]["sides"][0] if snapshot["exposure"] else None
        if snapshot["state"] != "light" or side is None or side["irradiance_at_resist_mw_cm2"] < 0.5:
            continue
        began_s = began_s or time.monotonic()
        if time.monotonic() - began_s >= seconds:
            heard_s = snapshot["mono_s"] + quickest_s
            return float(snapshot["true_dose_mj_cm2"]["A"]), float(side["irradiance_at_resist_mw_cm2"]), heard_s
    raise RuntimeError("the stream ended")


def journal_doubt_mj_cm2(data: Path) -> float:
    """The doubt of the interrupted side that the logbook knows of; also proves the logbook readable."""
    with closing(Logbook.open_reader(data / "logbook.sqlite")) as logbook:
        left = logbook.interrupted()
        assert left is not None
        return left.sides[0][1].doubt_mj_cm2


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
