"""Lamp banks and the enable line: dark is the rest state, on strict pins with their full history."""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import Any

import pytest
from gpiozero.exc import GPIOZeroError

from sumlight.box import lamps
from sumlight.box.assembly import Box
from sumlight.box.lamps import LOCK_WAIT_S, EnableLine, LampBank, LightRefusedError, close_all
from tests.box.parts import Bench

RELAYS = [("low", True), ("high", False)]
"""The level that lights, and the level of rest."""


class LibraryError(Exception):
    """Pin libraries raise errors of their own, derived from Exception and nothing else."""


@pytest.fixture
def bench() -> Bench:
    """The demo box without control."""
    return Bench()


@pytest.mark.parametrize(("lights_when", "rest"), RELAYS)
def test_a_bank_is_dark_from_construction_to_the_end(bench: Bench, lights_when: str, rest: bool) -> None:
    """The pin floats, takes its rest level in one step, and floats again: nothing else, ever."""
    bank = LampBank(bench.bank(lights_when=lights_when), bench.pins, bench.may_light)
    bench.run(0.1)
    assert not bank.commanded
    bank.close()
    assert bench.levels(17) == [None, rest, None]


@pytest.mark.parametrize(("lights_when", "rest"), RELAYS)
def test_a_bank_switches_exactly_as_told(bench: Bench, lights_when: str, rest: bool) -> None:
    """Twice on and twice off, then closed while on: rest comes before the release."""
    bank = LampBank(bench.bank(lights_when=lights_when), bench.pins, bench.may_light)
    for _ in range(2):
        bank.light()
        bank.light()
        assert bank.commanded
        bank.dark()
        bank.dark()
        assert not bank.commanded
    bank.light()
    bank.close()
    lit = not rest
    assert bench.levels(17) == [None, rest, lit, rest, lit, rest, lit, rest, None]


@pytest.mark.parametrize(("lights_when", "rest"), RELAYS)
def test_light_without_leave_is_refused_and_dark(bench: Bench, lights_when: str, rest: bool) -> None:
    """The pin is never touched."""
    bench.leave = False
    bank = LampBank(bench.bank(lights_when=lights_when), bench.pins, bench.may_light)
    with pytest.raises(LightRefusedError, match="'lower' was asked to light without leave"):
        bank.light()
    assert not bank.commanded
    assert bench.levels(17) == [None, rest]


def test_light_asked_again_after_the_leave_has_gone_darkens(bench: Bench) -> None:
    """A bank that is on does not stay on by being asked again."""
    bank = LampBank(bench.bank(), bench.pins, bench.may_light)
    bank.light()
    bench.leave = False
    with pytest.raises(LightRefusedError):
        bank.light()
    assert not bank.commanded
    assert bench.levels(17) == [None, True, False, True]


def test_a_bank_cannot_be_built_without_asking_for_leave(bench: Bench) -> None:
    """The guard is part of it."""
    with pytest.raises(TypeError):
        LampBank(bench.bank(), bench.pins)  # type: ignore[call-arg]


def test_a_closed_bank_refuses_light_and_bears_dark_and_close(bench: Bench) -> None:
    """The pin stays released."""
    bank = LampBank(bench.bank(), bench.pins, bench.may_light)
    bank.close()
    bank.close()
    bank.dark()
    with pytest.raises(LightRefusedError):
        bank.light()
    assert bench.levels(17) == [None, True, None]


def test_the_enable_line_moves_with_every_beat_and_rests_low(bench: Bench) -> None:
    """Whatever level it rests from; resting twice changes nothing."""
    line = EnableLine(25, bench.pins, bench.may_light)
    for beats in (3, 2):
        for _ in range(beats):
            line.beat()
        line.rest()
        line.rest()
    assert bench.levels(25) == [None, False, True, False, True, False, True, False]


def test_the_enable_line_is_still_after_rest(bench: Bench) -> None:
    """No edge for K1's pump, however long."""
    line = EnableLine(25, bench.pins, bench.may_light)
    line.beat()
    line.rest()
    edges = len(bench.pin(25).history)
    bench.run(5.0)
    assert len(bench.pin(25).history) == edges


def test_the_enable_line_is_closed_low_and_only_once(bench: Bench) -> None:
    """A beat afterwards does nothing."""
    line = EnableLine(25, bench.pins, bench.may_light)
    line.beat()
    line.close()
    line.close()
    line.beat()
    line.rest()
    assert bench.levels(25) == [None, False, True, False, None]


def broken(raises: type[Exception], real: Callable[[], None] | None = None) -> Callable[[], None]:
    """A method that fails, after having done its work if `real` is given."""

    def method() -> None:
        if real is not None:
            real()
        raise raises("made for this test")

    return method


@pytest.mark.parametrize("raises", [GPIOZeroError, OSError, RuntimeError, LibraryError])
@pytest.mark.parametrize("method", ["off", "close"])
@pytest.mark.parametrize("first", [0, 1])
def test_a_part_that_fails_to_close_does_not_stop_the_others(
    monkeypatch: pytest.MonkeyPatch, raises: type[Exception], method: str, first: int
) -> None:
    """Every other pin ends dark and released, whatever the library raises."""
    bench = Bench(two_banks=True)
    banks = [LampBank(bank, bench.pins, bench.may_light) for bank in bench.box.banks]
    line = EnableLine(25, bench.pins, bench.may_light)
    for bank in banks:
        bank.light()
    line.beat()
    monkeypatch.setattr(banks[first]._relay, method, broken(raises))
    failed = close_all(banks, line)
    assert {name for name, _ in failed} == {banks[first].name}
    other = (27, 17)[first]
    assert bench.levels(other) == [None, True, False, True, None]
    assert bench.levels(25) == [None, False, True, False, None]
    if method == "off":
        assert bench.levels((17, 27)[first])[-1] is None


def test_all_banks_are_dark_before_any_pin_is_released(monkeypatch: pytest.MonkeyPatch) -> None:
    """Releasing takes its time on some libraries; light must not wait for it."""
    bench = Bench(two_banks=True)
    banks = [LampBank(bank, bench.pins, bench.may_light) for bank in bench.box.banks]
    for bank in banks:
        bank.light()
    seen: list[list[bool | None]] = []
    relay = banks[0]._relay
    assert relay is not None
    real = relay.close
    monkeypatch.setattr(relay, "close", lambda: (seen.append([bench.levels(17)[-1], bench.levels(27)[-1]]), real()))
    close_all(banks, None)
    assert seen[0] == [True, True]


def whole_box(bench: Bench) -> Box:
    """Everything that the description names."""
    return Box(bench.box, bench.pins, bench.world.bus, bench.may_light, bench.may_light)


@pytest.mark.parametrize("raises", [GPIOZeroError, LibraryError])
def test_dark_reaches_every_bank_and_the_enable_line_even_if_one_fails(
    monkeypatch: pytest.MonkeyPatch, raises: type[Exception]
) -> None:
    """The failure comes back, by the name of the part."""
    bench = Bench(two_banks=True)
    box = whole_box(bench)
    for bank in box.banks:
        bank.light()
    assert box.enable is not None
    box.enable.beat()
    for number in (0, 1):
        with monkeypatch.context() as patch:
            patch.setattr(box.banks[number]._relay, "off", broken(raises))
            ((name, error),) = box.dark()
        assert name == box.banks[number].name
        assert isinstance(error, raises)
        other = (27, 17)[number]
        assert bench.levels(other)[-1] is True
        assert bench.levels(25)[-1] is False
        box.banks[1 - number].light()
    box.close()


def test_a_box_is_dark_from_the_first_pin_to_the_last() -> None:
    """Opened, closed, closed again: both relays see their rest level and nothing else."""
    bench = Bench(two_banks=True)
    box = whole_box(bench)
    bench.run(1.0)
    box.close()
    box.close()
    assert bench.levels(17) == bench.levels(27) == [None, True, None]
    assert bench.levels(25) == [None, False, None]


def test_a_box_that_cannot_be_opened_whole_leaves_nothing_open() -> None:
    """The second meter's bus is missing: pins that were taken are dark and released again."""
    bench = Bench(two_banks=True)

    def bus(number: int) -> object:
        if number == 3:
            raise OSError("no such bus")
        return bench.world.bus(number)

    with pytest.raises(OSError, match="no such bus"):
        Box(bench.box, bench.pins, bus, bench.may_light, bench.may_light)
    assert bench.levels(17) == bench.levels(27) == [None, True, None]
    whole_box(bench).close()


@pytest.mark.parametrize("device", [LampBank, EnableLine])
def test_the_first_line_about_a_device_names_its_fail_safe_state(device: type) -> None:
    """So that a reader meets it before anything else."""
    assert "Fail-safe:" in str(device.__doc__).splitlines()[0]


def test_the_enable_line_without_leave_does_not_stay_high(bench: Bench) -> None:
    """Leave is asked once it has risen: each beat ends at rest."""
    line = EnableLine(25, bench.pins, bench.may_light)
    bench.leave = False
    line.beat()
    assert bench.levels(25) == [None, False, True, False]


def test_the_first_beat_after_a_rest_rises(bench: Bench) -> None:
    """Or the pump would lose a beat."""
    line = EnableLine(25, bench.pins, bench.may_light)
    line.beat()
    line.rest()
    line.beat()
    assert bench.levels(25) == [None, False, True, False, True]


class Held:
    """A write that has reached the pin and does not come back until it is let go."""

    def __init__(self) -> None:
        self.writing = threading.Event()
        self.go_on = threading.Event()

    def hang(self) -> None:
        """Say that the pin is written; wait."""
        self.writing.set()
        assert self.go_on.wait(60)


@contextmanager
def hanging(act: Callable[[], Any]) -> Iterator[None]:
    """Another thread is in the middle of `act`, and holds whatever it holds, until the block ends."""
    thread = threading.Thread(target=act)
    thread.start()
    try:
        yield
    finally:
        thread.join(120)
        assert not thread.is_alive()


@pytest.mark.parametrize(("lights_when", "rest"), RELAYS)
def test_a_bank_goes_dark_while_another_thread_still_hangs_in_its_write(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, lights_when: str, rest: bool
) -> None:
    """The lamps burn already; dark does not wait until that write comes back, which may be never."""
    bank = LampBank(bench.bank(lights_when=lights_when), bench.pins, bench.may_light)
    held, relay = Held(), bank._relay
    assert relay is not None
    on = relay.on
    monkeypatch.setattr(relay, "on", lambda: (on(), held.hang()))
    refused: list[bool] = []

    def light() -> None:
        try:
            bank.light()
        except LightRefusedError:
            refused.append(True)

    with hanging(light):
        assert held.writing.wait(60)
        assert bench.levels(17)[-1] is not rest
        bank.dark()
        seen = (bench.levels(17)[-1], bank.commanded)
        held.go_on.set()
    assert seen == (rest, False)
    assert refused == [True]
    assert bench.levels(17) == [None, rest, not rest, rest]
    bank.light()  # the lock is free again
    bank.close()


def test_the_enable_line_goes_low_while_another_thread_still_hangs_in_its_write(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Rest does not wait for it either; the next beat rises as after any rest."""
    line = EnableLine(25, bench.pins, bench.may_light)
    held, pin = Held(), bench.pin(25)
    kind = type(pin)
    write = kind._write

    def slow(self: Any, value: float) -> None:
        write(self, value)
        if self is pin and value and not held.writing.is_set():
            held.hang()

    monkeypatch.setattr(kind, "state", property(kind._read, slow))
    with hanging(line.beat):
        assert held.writing.wait(60)
        assert bench.levels(25)[-1] is True
        line.rest()
        seen = bench.levels(25)[-1]
        held.go_on.set()
    assert seen is False
    line.beat()
    line.close()
    assert bench.levels(25) == [None, False, True, False, True, False, None]


@pytest.mark.parametrize("part", ["bank", "enable line"])
def test_a_word_for_dark_comes_after_a_write_that_is_under_way_so_that_no_light_follows_it(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, part: str
) -> None:
    """Flag and pin are written under one lock: whoever has said dark, and heard that it is done, sees no later *on*."""
    monkeypatch.setattr(lamps, "LOCK_WAIT_S", 60.0)  # for as long as a slow machine may take
    bank = LampBank(bench.bank(), bench.pins, bench.may_light)
    line = EnableLine(25, bench.pins, bench.may_light)
    pin = bench.pin(17 if part == "bank" else 25)
    kind = type(pin)
    write = kind._write
    held, on = Held(), pin.state is False

    def late(self: Any, value: float) -> None:
        if self is pin and bool(value) is on and not held.writing.is_set():
            held.hang()  # before the pin has moved
        write(self, value)

    def light() -> None:
        with suppress(LightRefusedError):
            bank.light()

    monkeypatch.setattr(kind, "state", property(kind._read, late))
    said: list[bool] = []
    speaker = threading.Thread(target=lambda: (bank.dark() if part == "bank" else line.rest(), said.append(pin.state)))
    with hanging(light if part == "bank" else line.beat):
        assert held.writing.wait(60)
        speaker.start()
        speaker.join(0.2)
        too_early = list(said)
        held.go_on.set()
    speaker.join(60)
    assert too_early == []
    assert said == [not on]
    assert pin.state is not on
    assert not bank.commanded
    bank.close()
    line.close()


def test_closing_releases_the_pins_itself(bench: Bench) -> None:
    """Also where somebody else still knows the device, so that nothing but close lets go of it."""
    bank = LampBank(bench.bank(), bench.pins, bench.may_light)
    line = EnableLine(25, bench.pins, bench.may_light)
    devices = [bank._relay, line._line]
    assert close_all([bank], line) == []
    assert [device is not None and device.closed for device in devices] == [True, True]
    assert [bench.levels(number)[-1] for number in (17, 25)] == [None, None]


def test_three_outputs_whose_writes_hang_are_given_up_within_half_a_second() -> None:
    """Dark within 0.5 s is the issue's figure; the door goes to two banks and the enable line one after the other."""
    assert 3 * LOCK_WAIT_S < 0.5
