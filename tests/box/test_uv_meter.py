"""The UV meter: the unmodified AS7331 driver on a register-level chip, asked without waiting.

What is wanted stands here as published: 385 counts for each µW/cm² of UV-A at gain 2048 in 64 ms (the driver, after
DS001047), and that 64 ms is 6.4 half-periods of 50 Hz mains and 7.68 of 60 Hz.
"""

import math
from itertools import pairwise
from typing import Any

import pytest
from adafruit_as7331 import GAIN_16X, MODE_CMD, TIME_64MS

from sumlight.box.description import load_box
from sumlight.box.uv_meter import UvMeter
from sumlight.light.dose import DoseSum
from sumlight.light.sample import SATURATED
from sumlight.twin import demo
from sumlight.twin.uv_chip import UvChip
from tests.box.parts import MeterBench

CONVERSION_S = 0.064
CREG1, CREG3, BREAK, OSR = 0x06, 0x08, 0x09, 0x00


class UvBench(MeterBench):
    """A world with a UV meter, and lamps that the test switches past control."""

    def __init__(self, **scenario: Any) -> None:
        super().__init__(box_file=demo.UV_SENSOR_BOX, **scenario)
        self.meter = UvMeter(self.box.meters[0], self.world.bus(1), lambda: self.lit)

    def keep_lit(self) -> None:
        """One beat for K1, without a look at the meter."""
        self._enable.state = not self._enable.state

    def uv_chip(self) -> UvChip:
        """The chip as the world has it."""
        assert isinstance(self.chip, UvChip)
        return self.chip

    def irradiance_mw_cm2(self, seconds: float) -> float:
        """The mean of what the meter says."""
        found = [self.meter.basic_counts(sample) for sample in self.watch(seconds) if sample.usable]
        return sum(found) / len(found) * self.box.meters[0].mw_cm2_per_basic_count


@pytest.fixture
def bench() -> UvBench:
    """A connected meter in the dark, under lamps without ripple."""
    made = UvBench(ripple_depth=0.0)
    assert made.meter.connect(made.clock.now_s)
    return made


def test_conversions_follow_each_other_without_a_gap(bench: UvBench) -> None:
    """Ten seconds hold 156 conversions of 64 ms; between two of them no more than three steps of a microsecond."""
    got = bench.watch(10.0)
    assert len(got) == pytest.approx(10.0 / CONVERSION_S, abs=1.5)
    assert bench.uv_chip()._break_s < CONVERSION_S / 20_000
    assert all(b.end_s - a.end_s == pytest.approx(CONVERSION_S, abs=0.006) for a, b in pairwise(got))


def test_it_counts_what_its_responsivity_says(bench: UvBench) -> None:
    """Against the driver's own figure for counts, at the light that the lamps give behind this window."""
    bench.light()
    seen = bench.watch(1.0)[-1]
    gain = 2.0 ** (seen.gain_code - 1)
    uw_cm2 = seen.counts[0] / (385.0 * gain / 2048.0)
    truth_mw_cm2 = bench.world.actinic_mw_cm2("lower")
    # behind a diffuser of 0.3, and lamps of 368 nm are as good for the sensor (peak 360 nm) as for the resist (365 nm)
    assert uw_cm2 / 1000.0 == pytest.approx(0.3 * truth_mw_cm2, rel=0.1)
    assert seen.counts[1] < 0.02 * seen.counts[0]
    assert seen.counts[3:] == (0, 0, 0)


def test_a_steady_light_reads_true(bench: UvBench) -> None:
    """By the number of its box."""
    bench.light()
    assert bench.irradiance_mw_cm2(1.0) == pytest.approx(bench.world.actinic_mw_cm2("lower"), rel=0.003)


def test_the_gain_follows_the_light_both_ways(bench: UvBench) -> None:
    """From glare that saturates even weaker gains, and back; no saturated reading counts as usable."""
    bench.light()
    bench.meter.set_gain(10)
    got = bench.watch(2.0)
    assert got[1].flags & SATURATED
    assert not got[-1].flags
    strong = bench.meter.gain_code
    assert max(got[-1].counts) < 65_535
    bench.happen("diffuser_fouls", transmission=0.02)
    bench.watch(4.0)
    assert bench.meter.gain_code > strong
    assert bench.irradiance_mw_cm2(1.0) == pytest.approx(0.02 * bench.world.actinic_mw_cm2("lower"), rel=0.02)


def test_a_converter_that_clips_below_full_scale_is_saturated(bench: UvBench) -> None:
    """Only the status says so; the counts look like any others."""
    bench.light()
    bench.meter.set_gain(7)
    bench.watch(0.3)
    bench.chip.clips_at = 0.1
    got = bench.watch(0.3)
    assert any(sample.flags & SATURATED for sample in got)
    assert max(max(sample.counts) for sample in got) < 0.15 * 65_535
    assert bench.meter.gain_code < 7


WRITTEN_WRONG = [
    (CREG1, lambda value: value & ~0x10, "CREG1 (gain, time), register 0x06, reads 102, wanted 118"),
    (CREG1, lambda value: value | 0x01, "CREG1 (gain, time), register 0x06, reads 119, wanted 118"),
    (CREG3, lambda value: value | 0x01, "CREG3 (mode, clock), register 0x08, reads 1, wanted 0"),
    (BREAK, lambda value: value | 0x40, "BREAK, register 0x09, reads 64, wanted 0"),
]


@pytest.mark.parametrize(("register", "wrong", "words"), WRITTEN_WRONG)
def test_a_byte_that_arrives_wrong_is_named_before_any_reading(register: int, wrong: Any, words: str) -> None:
    """Gain 16 and 64 ms are 0x76 by the driver's tables: 7 for gain 16, 6 for 64 ms."""
    assert GAIN_16X << 4 | TIME_64MS == 0x76
    made = UvBench(ripple_depth=0.0)
    made.chip.miswritten[register] = wrong
    assert not made.meter.connect(made.clock.now_s)
    assert words in str(made.meter.lost)
    assert made.watch(1.0) == []


def test_a_gain_that_arrives_wrong_is_named_under_light_too(bench: UvBench) -> None:
    """It cannot be read back while the sensor measures, so it is read back when it is written."""
    bench.light()
    bench.chip.miswritten[CREG1] = lambda value: value | 0x10
    bench.meter.set_gain(6)
    assert "CREG1 (gain, time)" in str(bench.meter.lost)
    assert bench.watch(1.0) == []


def test_what_changes_in_the_dark_is_seen_within_seconds(bench: UvBench) -> None:
    """The configuration can only be read while the sensor stands still; lamps that burn are left alone."""
    bench.watch(1.0)
    bench.chip._reg[CREG1] ^= 0x10
    bench.watch(3.2)
    assert "CREG1 (gain, time)" in str(bench.meter.lost)


def test_it_never_stands_still_under_light(bench: UvBench) -> None:
    """Reading the configuration back would be light that nobody measured."""
    bench.light()
    before, at_s = bench.chip.conversions, bench.chip.end_s
    bench.watch(10.0)
    assert (bench.chip.end_s - at_s) / CONVERSION_S == pytest.approx(bench.chip.conversions - before, abs=0.01)


def test_a_sensor_that_stops_or_starts_anew_by_itself_is_no_meter(bench: UvBench) -> None:
    """After a dip of its supply it stands in its configuration, where other registers have the results' addresses."""
    bench.light()
    bench.chip.power_up()
    assert bench.watch(1.0) == []
    assert "OSR" in str(bench.meter.lost)
    bench.dark()
    assert bench.meter.connect(bench.clock.now_s)
    assert bench.watch(1.0)
    assert bench.meter.lost is None


def test_an_unplugged_one_is_lost_and_found(bench: UvBench) -> None:
    """No number meanwhile."""
    bench.happen("meter_disappears")
    assert bench.watch(0.5) == []
    assert "no answer" in str(bench.meter.lost)
    bench.happen("meter_returns")
    assert bench.meter.connect(bench.clock.now_s)
    assert bench.watch(0.5)


@pytest.mark.parametrize("error", [-0.04, 0.0, 0.04])
def test_the_length_of_its_conversions_is_measured(error: float) -> None:
    """Its clock may be a few per cent off, which the scale is then reckoned with."""
    made = UvBench(ripple_depth=0.0, chip_clock_error=error)
    assert made.meter.connect(made.clock.now_s)
    made.watch(10.0)
    assert made.meter.measured_window_s == pytest.approx(CONVERSION_S * (1 + error), rel=0.004)


def test_the_driver_and_the_chip_agree_on_what_a_count_is(bench: UvBench) -> None:
    """The driver's own sum from counts to µW/cm² against ours, at another gain and time than the meter's."""
    bench.light()
    driver = bench.meter._driver
    driver.power_down = True
    driver.measurement_mode, driver.integration_time, driver.gain = MODE_CMD, TIME_64MS + 1, GAIN_16X - 1
    driver.power_down = False
    bench.run(0.2, bench.keep_lit)
    counts, *_ = driver._read_all_uv()
    uw_cm2 = driver._counts_to_irradiance(counts, 385.0)
    assert uw_cm2 / 1000.0 == pytest.approx(0.3 * bench.world.actinic_mw_cm2("lower"), rel=0.1)


def rippling(hz: float, depth: float, phase: float, at_s: float) -> float:
    """Light so far of a lamp with a mean of 1: the integral in closed form."""
    omega = 2 * math.pi * hz
    return at_s + depth * (math.sin(omega * at_s + phase) - math.sin(phase)) / omega


@pytest.mark.parametrize("hz", [100, 120])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_dose_of_ten_seconds_is_right_on_a_rippling_lamp(hz: int, seed: int) -> None:
    """Within a thousandth: conversions follow each other and are summed, so ripple is left at the two ends only.

    Each conversion of it still holds a piece of a half-period and is off by up to a per cent or two.
    """
    bench = UvBench(ripple_hz=hz, ripple_depth=0.6, seed=seed)
    assert bench.meter.connect(bench.clock.now_s)
    bench.light()
    k = bench.box.meters[0].mw_cm2_per_basic_count
    first = bench.watch(0.1)[-1]
    total, began_mj_cm2 = DoseSum(CONVERSION_S), bench.world.actinic_mj_cm2("lower")
    began_at_s = bench.clock.now_s
    total.begin(first.end_s)
    light = []
    for sample in bench.watch(10.0):
        light.append(bench.meter.basic_counts(sample) * k)
        total.add(sample.end_s, light[-1])
    truth = bench.world.actinic_mj_cm2("lower") - began_mj_cm2
    mean = truth / (bench.clock.now_s - began_at_s)
    unseen_s = (bench.clock.now_s - bench.samples[-1].end_s) - (began_at_s - first.end_s)
    assert total.dose_mj_cm2 + mean * unseen_s == pytest.approx(truth, rel=0.001)
    assert max(light) / min(light) > 1.02


@pytest.mark.parametrize("hz", [100, 120])
def test_a_conversion_started_every_fifty_milliseconds_would_be_wrong_by_per_cents(hz: int) -> None:
    """Why it is not done so: 32 ms out of every 50 always catch the same part of the half-periods."""
    worst = 0.0
    for step in range(24):
        phase = 2 * math.pi * step / 24
        starts = [0.05 * number for number in range(200)]
        seen = sum(rippling(hz, 0.6, phase, t + 0.032) - rippling(hz, 0.6, phase, t) for t in starts) * 50 / 32
        worst = max(worst, abs(seen / rippling(hz, 0.6, phase, 10.0) - 1))
    assert worst > 0.01


def test_the_box_file_is_told_what_cannot_be(tmp_path: Any) -> None:
    """An address that the chip does not have, and two kinds in one box."""
    text = demo.UV_SENSOR_BOX.read_text().replace("0x74", "0x39")
    (tmp_path / "box.yaml").write_text(text)
    with pytest.raises(ValueError, match="an AS7331 answers at 0x74 to 0x77 only, not at 0x39"):
        load_box(tmp_path / "box.yaml")
    two = demo.TWO_BANK_BOX.read_text()
    at = two.rindex("kind: as7341")
    (tmp_path / "box.yaml").write_text(two[:at] + two[at:].replace("as7341", "as7331").replace("0x39", "0x75"))
    with pytest.raises(ValueError, match="is as7331 beside as7341; both meters of a box must be of one kind"):
        load_box(tmp_path / "box.yaml")
