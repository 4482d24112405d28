"""The loop goes before everything else on the computer, and the watch before the loop; sched(7) is the source."""

import logging
import os
import sys
import threading
from pathlib import Path

import pytest

from sumlight.box.charge_pump import TICK_S
from sumlight.control.daemon import Daemon
from sumlight.twin.clock import TwinClock
from sumlight.twin.scenario import Scenario
from sumlight.twin.world import World
from tests.control.bench_box import demo_box

Rank = tuple[int, int]


def rank_of(thread_id: int) -> Rank:
    """Scheduling class and priority of a thread, as the kernel has them."""
    return os.sched_getscheduler(thread_id) & ~os.SCHED_RESET_ON_FORK, os.sched_getparam(thread_id).sched_priority


def ranks(data: Path, *, simulated: bool) -> dict[str, Rank]:
    """Those of the loop, of the watch and of a thread begun by the loop, in a daemon's second step, and afterwards."""
    clock = TwinClock(None)
    description = demo_box()
    world = World(clock, description, Scenario())
    daemon = Daemon(description, clock, world.pin_factory, world.bus, data, simulated=simulated)
    found: dict[str, Rank] = {}

    def look(name: str) -> None:
        found[name] = rank_of(0)

    def step() -> None:
        watch_id = daemon.loop.watch.thread_id
        assert watch_id is not None
        found["loop"], found["watch"] = rank_of(0), rank_of(watch_id)
        assert (sys.getswitchinterval() < 0.1 * TICK_S) is not simulated
        helper = threading.Thread(target=look, args=("helper",))
        helper.start()
        helper.join()
        daemon.step()

    daemon.run(lambda: "loop" not in found, step)
    look("afterwards")
    assert daemon.loop.watch.thread_id is None
    return found


def allowed() -> bool:
    """Whether this process may have real-time priority at all."""
    try:
        os.sched_setscheduler(0, os.SCHED_RR, os.sched_param(2))
    except PermissionError:
        return False
    os.sched_setscheduler(0, os.SCHED_OTHER, os.sched_param(0))
    return True


def test_the_loop_of_a_real_box_goes_first_and_the_watch_before_it(tmp_path: Path) -> None:
    """Where the system allows it; threads that the loop begins, and whatever comes after it, are usual ones."""
    usual = (os.SCHED_OTHER, 0)
    first = allowed()
    assert ranks(tmp_path, simulated=False) == {
        "loop": (os.SCHED_RR, 1) if first else usual,
        "watch": (os.SCHED_RR, 2) if first else usual,
        "helper": usual,
        "afterwards": usual,
    }


def test_a_simulated_box_takes_no_precedence(tmp_path: Path) -> None:
    """It may run as fast as the machine goes, and would let nothing else run."""
    assert set(ranks(tmp_path, simulated=True).values()) == {(os.SCHED_OTHER, 0)}


def test_with_one_processor_the_loop_leaves_room_for_all_else(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A slow loop would let nothing else run there."""
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0})
    assert set(ranks(tmp_path, simulated=False).values()) == {(os.SCHED_OTHER, 0)}


def test_a_system_that_does_not_allow_it_is_told_of_and_lived_with(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """The loop runs as well as it can."""

    def refused(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "sched_setscheduler", refused)
    with caplog.at_level(logging.WARNING):
        assert ranks(tmp_path, simulated=False)["loop"] == (os.SCHED_OTHER, 0)
    assert "ticks may come late" in caplog.text
