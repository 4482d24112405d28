"""The one door to dark, attacked: late and lost writes, parts that raise, a log that takes its time.

The judge is the twin's lamps and the pins' own record, which know nothing of what control believes.
"""

import contextlib
import logging
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest
from gpiozero import PinSetInput

from sumlight.box.description import AuxiliaryOutputs
from sumlight.box.lamps import LampBank, LightRefusedError
from sumlight.cli.simulated import SimulatedBox
from sumlight.control.daemon import LOGBOOK
from sumlight.control.safety.dark import DarkDoor
from sumlight.control.safety.permit import ALL_MET, Permit
from sumlight.control.safety.watchdog import STALL_S, Watchdog
from sumlight.protocol.snapshot import FaultName
from sumlight.store.datalock import DataLock
from sumlight.store.logbook.logbook import Logbook
from sumlight.text.message import Later, Message, as_written
from sumlight.twin.scenario import Scenario
from tests.benchmarks.dose import bench_recipe
from tests.box.parts import Bench
from tests.control.bench_box import BenchBox, demo_box
from tests.control.conftest import MakeBench

LATE_S = 0.35


@contextmanager
def writes(pin: Any, instead: Callable[[Callable[[float], None], float], None]) -> Iterator[None]:
    """For a while what is written to one pin goes through `instead(real, value)`."""
    kind = type(pin)
    real = kind._write

    def write(self: Any, value: float) -> None:
        if self is pin:
            instead(lambda level: real(self, level), value)
        else:
            real(self, value)

    before = kind.state
    kind.state = property(kind._read, write)
    try:
        yield
    finally:
        kind.state = before


@pytest.mark.parametrize("enable_pin", [None, 25], ids=["without K1", "with K1"])
def test_an_on_write_that_takes_effect_after_the_watch_ends_dark(tmp_path: Path, enable_pin: int | None) -> None:
    """The loop hangs in its 'on' for longer than the watch waits; the watch's 'off' must not be overtaken for good."""
    description = demo_box()
    if enable_pin is None:
        signals = description.signals.model_copy(update={"k1_mirror_pin": "left_out"})
        description = description.model_copy(update={"enable_pin": None, "signals": signals})
    box = SimulatedBox(description, Scenario(), tmp_path, speed=1.0, attended=False, threaded=True)
    box.daemon.shelf.save("bench", bench_recipe(5000.0))
    late: list[float] = []

    def hold_up(real: Callable[[float], None], value: float) -> None:
        if value == lights and not late:
            late.append(time.monotonic())
            time.sleep(LATE_S)
        real(value)

    lights = description.banks[0].lights_when == "high"
    pin = box.world.pin_factory.pin(description.banks[0].relay_pin)
    box.daemon.loop.watch.start()
    try:
        with writes(pin, hold_up):
            stop_s = time.monotonic() + 60
            while not late and time.monotonic() < stop_s:
                box.step()
                begin(box)
            until_s = late[0] + LATE_S + 0.1
            while time.monotonic() < until_s:
                box.step()
        assert pin.state is not lights
        edge_s = pin.history[-1][0]
        while time.monotonic() < until_s + 1.0:
            box.step()
        assert pin.history[-1][0] == edge_s, "the relay moved again"
        assert "loop_late" in [fault.kind.fault for fault in box.daemon.loop.desk.standing()]
    finally:
        box.daemon.close()


def begin(box: SimulatedBox) -> None:
    """Press start as soon as it is possible."""
    exposure = box.daemon.loop.exposure
    if "start" in exposure.may() and exposure.plan is None:
        with contextlib.suppress(ValueError):
            box.press("start", recipe="bench")


@pytest.mark.parametrize("which", [17, 25], ids=["relay", "enable line"])
def test_a_lost_off_is_written_again_within_a_tenth_of_a_second(make_bench: MakeBench, which: int) -> None:
    """The first write of the rest level does nothing; nothing is commanded, and yet the level is put right."""
    bench = make_bench().light_up()
    pin = bench.pin(which)
    rest = which == 17
    lost: list[float] = []

    def lose(real: Callable[[float], None], value: float) -> None:
        if value == rest and pin.state is not rest and not lost:
            lost.append(bench.clock.now_s)
            return
        real(value)

    if which == 25:
        bench.until(lambda: bench.pin(25).history[-1][1] is True)
    with writes(pin, lose):
        bench.ask("dark")
        bench.run(0.11)
    assert lost
    assert pin.state is rest


def test_a_lost_off_at_the_dose_is_written_again_while_k1_is_held(make_bench: MakeBench) -> None:
    """The side has its dose, its relay's off is lost; the tail goes on holding K1, which would feed the lamp."""
    bench = make_bench(box=demo_box(two_banks=True)).light_up(sides="together")
    pin = bench.pin(17)
    lost: list[float] = []

    def lose(real: Callable[[float], None], value: float) -> None:
        if value == 1 and pin.state is not True and not lost:
            lost.append(bench.clock.now_s)
            return
        real(value)

    with writes(pin, lose):
        bench.until(lambda: bool(lost))
        assert bench.loop.exposure.enable_wanted()
        bench.run(0.11)
        assert pin.state is True


def test_a_bank_that_a_late_write_switched_on_beside_a_lit_one_goes_dark_within_a_tenth_of_a_second(
    make_bench: MakeBench,
) -> None:
    """The lower bank is lit by plan; a write of before reaches the relay of the upper one, which nobody asked for."""
    bench = make_bench(box=demo_box(two_banks=True)).light_up(sides="one")
    pin, times = bench.pin(27), bench.loop.door.times
    rest = pin.state
    pin.state = not rest
    bench.run(0.11)
    assert pin.state is rest
    assert bench.pin(17).state is False, "the bank that is lit by plan"
    assert (bench.state, bench.faults, bench.loop.door.times) == ("light", [], times)


def test_a_bank_asks_for_leave_again_after_it_was_switched_on(bench: BenchBox) -> None:
    """Leave that ran out during a long write is no leave."""
    parts = Bench()
    bank = LampBank(parts.bank(), parts.pins, parts.may_light)
    relay = bank._relay
    assert relay is not None
    real = relay.on

    def slow() -> None:
        real()
        parts.leave = False

    relay.on = slow
    with pytest.raises(LightRefusedError):
        bank.light()
    assert not bank.commanded
    assert parts.levels(17) == [None, True, False, True]


def test_a_word_for_dark_during_a_long_write_is_obeyed_after_it(bench: BenchBox) -> None:
    """Though leave still stands; and the word does not wait for longer than a moment."""
    parts = Bench()
    bank = LampBank(parts.bank(), parts.pins, parts.may_light)
    relay = bank._relay
    assert relay is not None
    real, writing, go_on = relay.on, threading.Event(), threading.Event()

    def slow() -> None:
        writing.set()
        assert go_on.wait(60)
        real()

    relay.on = slow
    refused: list[bool] = []

    def light() -> None:
        try:
            bank.light()
        except LightRefusedError:
            refused.append(True)

    lighting = threading.Thread(target=light)
    lighting.start()
    assert writing.wait(60)
    began_s = time.monotonic()
    bank.dark()
    assert time.monotonic() - began_s < 20.0  # asks for 0.05 s; one that waits for the write would wait for a minute
    go_on.set()
    lighting.join(60)
    assert refused == [True]
    assert not bank.commanded
    assert parts.levels(17)[-1] is True


class SlowLog(logging.Handler):
    """A log on a card that does not answer."""

    def __init__(self, seen: Callable[[], object]) -> None:
        super().__init__()
        self.levels: list[object] = []
        self._seen = seen

    def emit(self, record: logging.LogRecord) -> None:
        """Look at the pins when the first word is written."""
        self.levels.append(self._seen())


def test_nothing_is_logged_before_every_part_was_driven_dark(make_bench: MakeBench) -> None:
    """A slow log would add its time to the light."""
    bench = make_bench(box=demo_box(two_banks=True)).light_up(sides="together")
    log = logging.getLogger("sumlight")
    handler = SlowLog(lambda: [bench.pin(number).history[-1][1] for number in (17, 27, 25)])
    log.addHandler(handler)
    try:
        bench.loop.go_dark("a test")
    finally:
        log.removeHandler(handler)
    assert handler.levels[0] == [True, True, False]
    assert bench.loop.door.reason == "a test"


def test_no_words_are_found_for_a_fault_before_every_part_was_driven_dark(
    make_bench: MakeBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Words can be missing or slow; the fault is then known by its code, and dark has come first."""
    bench = make_bench(hardwired_stop=False).light_up()
    levels, said = [], Later.said

    def watched(told: Later) -> Message:
        levels.append([bench.pin(number).history[-1][1] for number in (17, 25)])
        return said(told)

    monkeypatch.setattr(Later, "said", watched)
    bench.happen("stop_pressed")
    bench.run(0.1)
    assert bench.faults == ["emergency_stop"]
    assert levels[0] == [True, False]


def test_one_part_that_raises_keeps_no_other_lit(make_bench: MakeBench) -> None:
    """It comes back by name."""
    bench = make_bench(box=demo_box(two_banks=True)).light_up(sides="together")

    def broken(real: Callable[[float], None], value: float) -> None:
        raise PinSetInput("made for this test")

    with writes(bench.pin(17), broken):
        failed = bench.loop.go_dark("a test")
    assert [name for name, _ in failed] == ["lower"]
    assert [bench.pin(number).history[-1][1] for number in (27, 25)] == [True, False]


def test_the_door_takes_every_leave_away(bench: BenchBox) -> None:
    """Whatever lit before cannot light again on the same leave."""
    permit = Permit()
    permit.renew(0.0, ALL_MET)
    DarkDoor(permit, bench.loop.box).go_dark("a test")
    assert not permit.granted(0.0)
    permit.lend_k1(0.0)
    DarkDoor(permit, bench.loop.box).go_dark("a test")
    assert not permit.k1.lent


class Parts:
    """Stands in for a box: `failed` is what cannot be put to rest."""

    def __init__(self) -> None:
        self.failed: list[tuple[str, Exception]] = []

    def dark(self) -> list[tuple[str, Exception]]:
        """What failed."""
        return self.failed


def test_the_door_counts_every_call_and_says_each_reason_once(caplog: pytest.LogCaptureFixture) -> None:
    """It is called ten times a second for as long as nothing is to be on; a part that fails then is said, too."""
    parts = Parts()
    door = DarkDoor(Permit(), parts)  # type: ignore[arg-type]
    assert (door.times, door.reason) == (0, "")
    for reason in ("lid", "lid", "heat"):
        assert door.go_dark(reason) == []
    assert (door.times, door.reason) == (3, "heat")
    assert caplog.messages == ["dark: lid", "dark: heat"]
    caplog.clear()
    parts.failed = [("lower", OSError("no pin")), ("upper", ValueError("odd"))]
    for _ in range(2):
        assert door.go_dark("heat") == parts.failed
    assert caplog.messages == [
        "dark: heat",
        "lower could not be put to rest: OSError: no pin",
        "upper could not be put to rest: ValueError: odd",
    ]
    caplog.clear()
    parts.failed = []
    door.go_dark("heat")
    assert caplog.messages == ["dark: heat"]


def test_the_watch_notes_its_trip_before_it_darkens() -> None:
    """A loop that comes by in between must find the trip, or it would renew its permit and light again."""
    seen: list[float | None] = []
    watch = Watchdog(lambda: seen.append(watch.tripped_after_s), lambda: True)
    watch.alive(0.0)
    watch.check(STALL_S + 0.1)
    assert seen == [pytest.approx(STALL_S + 0.1)]


@pytest.mark.parametrize("name", [FaultName.LIGHT_WHILE_DARK, FaultName.FOREIGN_LIGHT])
def test_light_that_nobody_asked_for_calls_the_door_again(bench: BenchBox, name: FaultName) -> None:
    """Whatever was written before."""
    times = bench.loop.door.times
    bench.loop.tell(name, as_written("made for this test"))
    assert bench.loop.door.times == times + 1
    assert bench.loop.door.reason == name


def test_a_trip_that_is_taken_in_calls_the_door_again(bench: BenchBox) -> None:
    """The loop may have been in the middle of a write when the watch darkened."""
    bench.loop.watch.tripped_after_s = 0.4
    bench.step()
    assert bench.loop.door.reason == "the loop stood still"


def test_closing_guards_every_part_and_says_what_failed(
    make_bench: MakeBench, caplog: pytest.LogCaptureFixture
) -> None:
    """A lid that raises leaves neither fan nor beacon driven."""
    comforts = AuxiliaryOutputs(fan_pin=6, beacon_pin=13)
    bench = make_bench(box=demo_box().model_copy(update={"comforts": comforts}))
    box = bench.loop.box

    def broken() -> None:
        raise OSError("made for this test")

    assert box.lid is not None
    assert box.comforts
    let_go = box.lid.close
    box.lid.close = broken  # type: ignore[method-assign]
    outputs = [comfort._output for comfort in box.comforts.values()]
    failed = box.close()
    assert [name for name, _ in failed] == ["lid"]
    assert "closing lid: OSError: made for this test" in caplog.text
    assert [output.closed for output in outputs] == [True, True]
    let_go()


@pytest.mark.parametrize("part", ["watch", "notifier", "night", "service", "writer"])
def test_closing_control_closes_every_part_whichever_fails(
    part: str, tmp_path: Path, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pins let go of, socket gone, records on disk, folder free for the next; the failure is in the log."""
    bench = BenchBox(tmp_path, threaded=True)
    daemon = bench.daemon
    daemon.serve(tmp_path / "control.sock")
    bench.light_up()
    broken = {"watch": daemon.loop.watch, "notifier": daemon._notifier, "night": daemon._night}.get(part)
    broken = getattr(daemon, part) if broken is None else broken
    real = broken.close  # type: ignore[union-attr]

    def close() -> None:
        real()
        raise OSError("made for this test")

    monkeypatch.setattr(broken, "close", close)
    assert [str(error) for _, error in daemon.close()] == ["made for this test"]
    assert "OSError: made for this test" in caplog.text
    assert not bench.any_relay_lights()
    assert bench.loop.box.lid is None  # let go of
    assert not (tmp_path / "control.sock").exists()
    assert daemon._night is not None
    with DataLock(tmp_path), closing(Logbook(tmp_path / LOGBOOK)) as book:
        assert book.recent()[0]["sides"][0]["dose_mj_cm2"] > 0


@pytest.mark.parametrize("act", ["a fault", "a command that breaks"])
def test_a_slow_log_adds_nothing_to_the_light(bench: BenchBox, act: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """At the first word that is written, whatever it says, the relay is at rest and the enable line low."""
    bench.light_up()
    log = logging.getLogger("sumlight")
    handler = SlowLog(lambda: [bench.pin(number).history[-1][1] for number in (17, 25)])
    log.addHandler(handler)
    try:
        if act == "a fault":
            bench.happen("stop_pressed")
            bench.run(0.05)
        else:
            monkeypatch.setattr(bench.daemon.commander, "_carry_out", lambda _request: 1 / 0)
            bench.refused("go")
    finally:
        log.removeHandler(handler)
    assert handler.levels
    assert handler.levels[0] == [True, False]


def test_abandon_goes_through_the_door(bench: BenchBox) -> None:
    """Dark at the word, not at the next tick."""
    bench.light_up()
    bench.ask("abandon")
    assert not bench.any_relay_lights()
    assert not bench.loop.permit.granted(bench.clock.now_s)


def test_the_witness_hears_of_a_bank_that_the_door_darkened(bench: BenchBox) -> None:
    """Or it would take the afterglow for light in the dark."""
    bench.light_up()
    bench.ask("dark")
    bench.step()
    assert bench.loop.banks["lower"].witness.first_light_s is None


def test_a_standstill_alone_withdraws_and_darkens_before_it_is_told(
    bench: BenchBox, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither the watch nor the fault that follows does it for it."""
    bench.light_up()
    loop, told = bench.loop, []
    monkeypatch.setattr(loop, "_report", lambda name, *_: told.append((name, bench.any_relay_lights())))
    loop._stood_still(STALL_S + 0.01, bench.clock.now_s)
    assert told == [("loop_late", False)]
    assert not loop.permit.granted(bench.clock.now_s)


def test_a_loop_that_comes_back_before_the_watch_looked_finds_its_own_stall(
    bench: BenchBox, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In real time only, which the loop's own clock does not show; its sign of life must not wipe it away."""
    bench.light_up()
    monkeypatch.setattr(Watchdog, "watching", property(lambda _: True))
    monkeypatch.setattr(bench.loop, "_stood_still", lambda *_: None)
    bench.loop.watch.alive(time.monotonic() - STALL_S - 0.1)
    bench.step()
    assert bench.faults == ["loop_late"]
    assert not bench.any_relay_lights()
