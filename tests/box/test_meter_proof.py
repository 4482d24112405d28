"""A light meter that is not as it was set never gives a number without a word.

Every fault is made in the register-level chip. What is wanted stands here as published: 50.04 ms by
(29+1)·(599+1)·2.78 µs, the registers of datasheet DS000504, and the channel map of the reference table.
"""

from collections.abc import Callable
from itertools import pairwise

import pytest

from sumlight.box.colour_meter import ColourMeter
from sumlight.box.meter_proof import WindowClock
from sumlight.light.sample import SATURATED
from tests.box.parts import MeterBench

ENABLE, ATIME, CFG1, ASTEP_L, ASTEP_H = 0x80, 0x81, 0xAA, 0xCA, 0xCB


def swapped(one: int, other: int) -> Callable[[int], int]:
    """Two bits of a byte change places."""

    def swap(value: int) -> int:
        a, b = value >> one & 1, value >> other & 1
        return value & ~(1 << one | 1 << other) | a << other | b << one

    return swap


@pytest.fixture
def bench() -> MeterBench:
    """A meter in the dark whose lamps are known to be off; not connected yet."""
    made = MeterBench(ripple_depth=0.0)
    made.meter = ColourMeter(made.box.meters[0], made.world.bus(1), lambda: made.lit)
    return made


WRITTEN_WRONG = [
    (ATIME, lambda value: value | 0x02, "ATIME, register 0x81, reads 31, wanted 29"),
    (ATIME, lambda value: value & ~0x04, "ATIME, register 0x81, reads 25, wanted 29"),
    (ATIME, swapped(1, 2), "ATIME, register 0x81, reads 27, wanted 29"),
    (ASTEP_L, lambda value: value | 0x80, "ASTEP, register 0xca, reads 727, wanted 599"),
    (ASTEP_H, lambda value: value | 0x01, "ASTEP, register 0xca, reads 855, wanted 599"),
    (CFG1, lambda value: value | 0x02, "CFG1 (gain), register 0xaa, reads 7, wanted 5"),
    (ENABLE, lambda value: value | 0x08, "ENABLE, register 0x80, reads 11, wanted 3"),
    (0x01, lambda value: 0x00, "channel map (SMUX), register 0x01, reads 0, wanted 1"),
    (0x01, swapped(0, 1), "channel map (SMUX), register 0x01, reads 2, wanted 1"),
    (0x10, lambda value: 0x00, "channel map (SMUX), register 0x10, reads 0, wanted 1"),
]


@pytest.mark.parametrize(("register", "wrong", "words"), WRITTEN_WRONG)
def test_a_byte_that_arrives_wrong_is_named_before_any_reading(
    bench: MeterBench, register: int, wrong: Callable[[int], int], words: str
) -> None:
    """Bits stuck, lost or swapped: register, what it reads and what was wanted; no sample at all."""
    bench.chip.miswritten[register] = wrong
    assert not bench.meter.connect(bench.clock.now_s)
    assert bench.meter.lost is not None
    assert words in str(bench.meter.lost)
    assert "is not as it was set" in str(bench.meter.lost)
    assert bench.watch(1.0) == []
    bench.chip.miswritten.clear()
    assert bench.meter.connect(bench.clock.now_s)
    assert bench.watch(1.0)
    assert bench.meter.lost is None


@pytest.mark.parametrize(
    ("register", "value", "words"),
    [
        (ATIME, 31, "ATIME, register 0x81, reads 31, wanted 29"),
        (ATIME, 25, "ATIME, register 0x81, reads 25, wanted 29"),
        (ASTEP_H, 3, "ASTEP, register 0xca, reads 855, wanted 599"),
        (CFG1, 6, "CFG1 (gain), register 0xaa, reads 6, wanted 5"),
    ],
)
def test_a_register_that_changes_in_the_dark_is_seen_with_the_next_reading(
    bench: MeterBench, register: int, value: int, words: str
) -> None:
    """A dark check takes five readings (a quarter of a second): not one of them passes."""
    assert bench.meter.connect(bench.clock.now_s)
    bench.watch(1.0)
    bench.chip.disturb(bench.clock.now_s, register, value)
    assert bench.watch(1.0) == []
    assert bench.meter.lost is not None
    assert words in str(bench.meter.lost)


@pytest.mark.parametrize(
    ("register", "value"),
    [(0x01, 0x00), (0x10, 0x00), (0x01, 0x02)],
    ids=["half of F1 lost", "other half of F1 lost", "F1 on another ADC"],
)
def test_a_changed_channel_switch_is_seen_within_seconds(bench: MeterBench, register: int, value: int) -> None:
    """It is fetched back from the switch, not from the RAM, which still holds what was written."""
    assert bench.meter.connect(bench.clock.now_s)
    bench.watch(4.0)
    bench.chip.disturb(bench.clock.now_s, register, value)
    bench.watch(3.2)
    assert bench.meter.lost is not None
    assert f"register 0x{register:02x}, reads {value}, wanted 1" in str(bench.meter.lost)
    assert bench.watch(0.5) == []


def test_the_channel_map_is_left_alone_under_light(bench: MeterBench) -> None:
    """Fetching it stops the sensor, and that would be light nobody measured: conversions follow without a gap."""
    assert bench.meter.connect(bench.clock.now_s)
    bench.light()
    before, at_s = bench.chip.conversions, bench.chip.end_s
    bench.watch(10.0)
    spans = (bench.chip.end_s - at_s) / 0.05004
    assert spans == pytest.approx(bench.chip.conversions - before, abs=1e-6)


def test_the_proof_costs_less_than_a_second_of_readings(bench: MeterBench) -> None:
    """In ten dark seconds no two readings lie further apart than two windows, and few are missing."""
    assert bench.meter.connect(bench.clock.now_s)
    got = bench.watch(10.0)
    assert len(got) >= 10.0 / 0.05004 - 5
    assert max(b.end_s - a.end_s for a, b in pairwise(got)) <= 0.101


@pytest.mark.parametrize("register", [ATIME, ASTEP_L, ASTEP_H])
def test_a_byte_garbled_both_ways_is_found_by_the_clock(bench: MeterBench, register: int) -> None:
    """Two lines swapped read back as they were written; the conversions tell, within three seconds, and go on to."""
    bits = {ATIME: (1, 2), ASTEP_L: (3, 6), ASTEP_H: (0, 1)}[register]
    bench.chip.miswritten[register] = bench.chip.misread[register] = swapped(*bits)
    assert bench.meter.connect(bench.clock.now_s)
    bench.watch(3.0)
    assert bench.meter.lost is not None
    assert "a conversion takes" in str(bench.meter.lost)
    assert "wanted 50.0 ms" in str(bench.meter.lost)
    for _ in range(3):  # as control does, once a second
        assert bench.meter.connect(bench.clock.now_s)
        assert bench.watch(1.0) == []
        assert bench.meter.lost is not None
    bench.chip.miswritten.clear()
    bench.chip.misread.clear()
    assert bench.meter.connect(bench.clock.now_s)
    assert bench.watch(1.0)
    assert bench.meter.lost is None


@pytest.mark.parametrize(
    ("error", "tick_s"),
    [(error, tick_s) for tick_s in (0.002, 0.005) for error in (-0.045, -0.02, 0.0, 0.02, 0.045)]
    + [(0.0, 0.01), (0.02, 0.01), (0.045, 0.01)],  # looks at every 10 ms overtake no fast chip
)
def test_the_window_is_measured(error: float, tick_s: float) -> None:
    """A chip clock that is off by less than five per cent is no fault, and is known to half a per cent."""
    bench = MeterBench(ripple_depth=0.0, chip_clock_error=error)
    assert bench.meter.connect(bench.clock.now_s)
    assert bench.meter.measured_window_s is None
    assert len(bench.watch(10.0, tick_s)) > 180
    assert bench.meter.measured_window_s == pytest.approx(0.05004 * (1 + error), rel=0.006)
    assert bench.meter.lost is None


@pytest.mark.parametrize("error", [-0.08, 0.08])
def test_a_chip_clock_that_is_far_off_is_a_fault(bench: MeterBench, error: float) -> None:
    """Under light too."""
    assert bench.meter.connect(bench.clock.now_s)
    bench.light()
    bench.chip.disturb(bench.clock.now_s, ATIME, round(30 * (1 + error)) - 1)
    bench.watch(4.5)
    assert bench.meter.lost is not None
    assert "a conversion takes" in str(bench.meter.lost)


def test_a_loop_that_looks_late_is_not_taken_for_a_slow_chip(bench: MeterBench) -> None:
    """70 ms between looks say nothing of the chip: that is another fault, and has its own name."""
    assert bench.meter.connect(bench.clock.now_s)
    bench.watch(10.0, tick_s=0.07)
    assert bench.meter.lost is None
    assert bench.meter.measured_window_s is None


def test_clipping_that_only_the_second_flag_tells_is_saturation(bench: MeterBench) -> None:
    """The analogue part clips at 45 % of full scale and ASTATUS is silent: the counts are a lower bound."""
    assert bench.meter.connect(bench.clock.now_s)
    bench.light()
    level = bench.samples[-1].counts[0] / 18000
    bench.chip.clips_at = 0.7 * level
    got = bench.watch(0.12)
    assert got[-1].flags & SATURATED or got[0].flags & SATURATED


def test_a_switch_that_never_ends_its_command_does_not_hang_the_program(bench: MeterBench) -> None:
    """The driver itself would wait for ever."""
    bench.chip.misread[ENABLE] = lambda value: value | 0x10
    assert not bench.meter.connect(bench.clock.now_s)
    assert "bit 4 of ENABLE" in str(bench.meter.lost)


@pytest.mark.parametrize("late_s", [0.0, 0.02, 0.04])
def test_a_run_does_not_begin_while_the_looks_catch_up(late_s: float) -> None:
    """After a bus error an end is found late; each of the next is found at the first look, 45 ms after the one before.

    Counted from such an end on, forty conversions of 50 ms would be up to 2 % too short, and the dose too high by that.
    """
    clock = WindowClock(0.05)
    found_s, look_s = 1.0 + late_s, 0.005
    for number in range(1, 120):
        ended_s, due_s = 1.0 + 0.05 * number, found_s + 0.045
        at_s = due_s
        while at_s < ended_s - 1e-9:
            clock.looked(at_s)
            at_s += look_s
        assert clock.finished(at_s, due_s) is None
        found_s = at_s
    assert clock.measured_s == pytest.approx(0.05, rel=1e-6)
