"""The watch over the loop, on a clock made by hand."""

import threading
import time
from pathlib import Path

import pytest

from sumlight.control.safety.watchdog import STALL_S, Watchdog
from tests.control.bench_box import BenchBox


class Lamps:
    """Lamps that are on until darkened."""

    def __init__(self) -> None:
        self.on = True
        self.darkened = 0

    def darken(self) -> None:
        """Off."""
        self.on = False
        self.darkened += 1


@pytest.fixture
def lamps() -> Lamps:
    """Lamps that are on."""
    return Lamps()


def test_a_loop_that_comes_by_is_left_alone(lamps: Lamps) -> None:
    """Up to the limit nothing happens."""
    watch = Watchdog(lamps.darken, lambda: lamps.on)
    watch.alive(50.0)
    assert not watch.check(50.0 + STALL_S - 0.001)
    assert (lamps.on, watch.take_trip()) == (True, None)


def test_two_tenths_of_a_second_are_the_limit(lamps: Lamps) -> None:
    """They are still allowed; what comes after is not."""
    watch = Watchdog(lamps.darken, lambda: lamps.on)
    watch.alive(0.0)
    assert not watch.check(0.2)
    assert watch.check(0.2001)


def test_a_stalled_loop_is_darkened_and_told(lamps: Lamps) -> None:
    """Once: the trip is taken by the loop when it is back."""
    watch = Watchdog(lamps.darken, lambda: lamps.on)
    watch.alive(50.0)
    assert watch.check(50.3)
    assert not lamps.on
    assert watch.take_trip() == pytest.approx(0.3)
    assert watch.take_trip() is None


def test_a_stall_with_dark_lamps_is_no_matter(lamps: Lamps) -> None:
    """Nothing to switch off."""
    lamps.on = False
    watch = Watchdog(lamps.darken, lambda: lamps.on)
    watch.alive(50.0)
    assert not watch.check(60.0)
    assert lamps.darkened == 0


def test_lamps_that_are_still_commanded_are_darkened_again(lamps: Lamps) -> None:
    """As often as needed."""
    watch = Watchdog(lamps.darken, lambda: True)
    watch.alive(50.0)
    watch.check(50.3)
    watch.check(50.4)
    assert lamps.darkened == 2


def test_a_loop_that_never_began_is_not_watched(lamps: Lamps) -> None:
    """Lamps are dark then anyway."""
    assert not Watchdog(lamps.darken, lambda: True).check(1e9)


def test_closing_the_watch_ends_its_thread(lamps: Lamps) -> None:
    """Also when it was never started."""
    Watchdog(lamps.darken, lambda: lamps.on).close()
    watch = Watchdog(lamps.darken, lambda: lamps.on)
    watch.start()
    assert "watch" in [thread.name for thread in threading.enumerate()]
    watch.close()
    assert "watch" not in [thread.name for thread in threading.enumerate()]


def test_the_number_of_the_thread_is_the_systems_own(lamps: Lamps) -> None:
    """By which it is put before others; while nobody watches there is none."""
    watch = Watchdog(lamps.darken, lambda: lamps.on)
    assert watch.thread_id is None
    watch.start()
    try:
        (thread,) = (thread for thread in threading.enumerate() if thread.name == "watch")
        assert watch.thread_id == thread.native_id
        assert watch.thread_id in {int(task.name) for task in Path("/proc/self/task").iterdir()}
    finally:
        watch.close()
    assert watch.thread_id is None


class Asked(threading.Event):
    """An event that notes for how long it is waited for."""

    def __init__(self) -> None:
        super().__init__()
        self.asked_s: set[float | None] = set()

    def wait(self, timeout: float | None = None) -> bool:
        """As any event."""
        self.asked_s.add(timeout)
        return super().wait(timeout)


def test_the_thread_looks_twenty_times_a_second_and_outlives_nobody(lamps: Lamps) -> None:
    """Often enough for the limit, seldom enough for the machine; the end of the process does not wait for it."""
    looks: list[float] = []
    watch = Watchdog(lamps.darken, lambda: not looks.append(time.monotonic()))
    watch._stop = asked = Asked()
    assert not watch.watching
    began_s = time.monotonic()
    watch.alive(began_s)
    watch.start()
    try:
        assert watch.watching is True
        (thread,) = (thread for thread in threading.enumerate() if thread.name == "watch")
        assert thread.daemon
        while lamps.on and time.monotonic() < began_s + 60:
            time.sleep(0.01)
    finally:
        watch.close()
    assert not watch.watching
    assert asked.asked_s == {0.05}  # how soon the machine then lets it look is the machine's
    assert len(looks) <= (looks[-1] - began_s) / 0.05 + 1
    assert not lamps.on


def test_a_stalled_loop_with_lamps_on_goes_dark_and_latches_loop_late(bench: BenchBox) -> None:
    """The watch switches relay and enable line off; when the loop is back, the dose is kept, a fault stands."""
    bench.light_up()
    watch = bench.loop.watch
    assert watch._seen_s is not None
    assert watch.check(watch._seen_s + 0.5)
    assert not bench.any_relay_lights()
    assert bench.pin(25).history[-1][1] is False
    assert bench.loop.door.reason == "the loop stands still"
    assert not bench.loop.permit.granted(bench.clock.now_s), "the door takes every leave away, too"
    dose = bench.side().dose_mj_cm2
    bench.run(0.1)
    assert bench.faults == ["loop_late"]
    assert "0.50 s" in bench.loop.desk.standing()[0].detail
    assert not bench.any_relay_lights()
    assert bench.side().dose_mj_cm2 >= dose
    bench.ask("acknowledge")
    assert bench.state == "paused"
    bench.ask("go")
    bench.run(3.0)
    assert bench.state == "light"


def test_a_trip_that_the_loop_has_not_seen_refuses_the_permit(bench: BenchBox) -> None:
    """Even before the fault is latched."""
    bench.light_up()
    bench.loop.watch.tripped_after_s = 0.5
    bench.loop._apply(bench.clock.now_s)
    assert not bench.any_relay_lights()
    assert bench.loop.permit.conditions.refusals() == ("the control loop was held up",)
