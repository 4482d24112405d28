"""The light meter: the unmodified driver on the register-level chip, asked without waiting."""

import math
from itertools import pairwise
from typing import Any

import pytest

from sumlight.box.colour_meter import ASTATUS_SATURATED, ColourMeter
from sumlight.box.meter import DEFAULT_GAIN_CODE, RAISE_AFTER
from sumlight.light.sample import SATURATED, UNSETTLED
from sumlight.light.sensors import AS7341
from tests.box.parts import Bench, MeterBench

NOMINAL_MW_CM2 = 5.0


@pytest.fixture
def bench() -> MeterBench:
    """A connected meter in the dark."""
    made = MeterBench(ripple_depth=0.0)
    assert made.meter.connect(made.clock.now_s)
    return made


def test_a_new_meter_is_lost_until_it_is_connected() -> None:
    """And gives nothing."""
    bench = MeterBench()
    assert str(bench.meter.lost) == "not connected yet"
    assert bench.meter.last_seen_s is None
    assert bench.watch(1.0) == []


def test_a_connected_meter_is_seen_with_its_first_conversion(bench: MeterBench) -> None:
    """Answering alone is no reading."""
    assert bench.meter.lost is None
    assert bench.meter.last_seen_s is None
    bench.watch(0.1)
    assert bench.meter.last_seen_s == bench.samples[-1].end_s


@pytest.mark.parametrize("tick_s", [0.0005, 0.001, 0.005, 0.01])
def test_no_conversion_counts_twice_and_none_is_missed_however_often_one_looks(
    bench: MeterBench, tick_s: float
) -> None:
    """As many samples as the chip has made, up to a hundred looks for each."""
    bench.watch(0.1)
    before = bench.chip.conversions
    got = bench.watch(5.0, tick_s)
    assert abs(len(got) - (bench.chip.conversions - before)) <= 1
    assert len(got) == pytest.approx(5.0 / AS7341.window_s, abs=1.5)
    ends = [sample.end_s for sample in got]
    assert min(b - a for a, b in pairwise(ends)) > AS7341.window_s - tick_s - 1e-9


def test_a_look_before_the_next_conversion_does_not_touch_the_bus(
    bench: MeterBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Most ticks cost nothing: three looks for each conversion at 5 ms, and three more in the dark for the proof."""
    looks = 0
    real = type(bench.world.bus(1)).writeto_then_readfrom

    def counted(self: Any, *args: Any, **more: Any) -> None:
        nonlocal looks
        looks += 1
        real(self, *args, **more)

    monkeypatch.setattr(type(bench.world.bus(1)), "writeto_then_readfrom", counted)
    got = bench.watch(5.0)
    assert looks < 7 * len(got)
    bench.light()
    looks = 0
    got = bench.watch(5.0)
    assert looks < 4 * len(got)


def test_a_sample_is_stamped_in_the_middle_of_its_window(bench: MeterBench) -> None:
    """Its end is when it was seen, at most a tick after the chip had it."""
    bench.watch(0.1)
    for _ in range(200):
        for sample in bench.watch(0.005):
            truly_s = bench.chip.end_s - AS7341.window_s  # the next one has begun where this one ended
            assert 0.0 <= sample.end_s - truly_s <= 0.0051
            assert sample.mid_s == pytest.approx(sample.end_s - AS7341.window_s / 2)
    assert len(bench.samples) > 18


def test_the_six_counts_of_a_sample_belong_together(bench: MeterBench) -> None:
    """One burst with the status byte: channels in their order, the lamps' violet line strongest."""
    bench.light()
    violet, blue, _, green, clear, near_infrared = bench.samples[-1].counts
    assert violet > blue > green
    assert violet > clear > near_infrared
    assert bench.samples[-1].gain_code == DEFAULT_GAIN_CODE


def test_basic_counts_times_the_calibration_are_the_irradiance(bench: MeterBench) -> None:
    """Against the true light of the world, averaged over a second, dark offset included."""
    bench.light()
    before_mj, before_s = bench.world.actinic_mj_cm2("lower"), bench.clock.now_s
    got = bench.watch(1.0)
    truth = (bench.world.actinic_mj_cm2("lower") - before_mj) / (bench.clock.now_s - before_s)
    mean = sum(bench.meter.basic_counts(s) for s in got) / len(got)
    assert mean * bench.box.meters[0].mw_cm2_per_basic_count == pytest.approx(truth, rel=0.003)


def test_saturation_is_flagged_and_the_gain_falls_at_once(bench: MeterBench) -> None:
    """From far too high; in a few conversions the light is measured, every one on the way flagged."""
    bench.light()
    bench.meter.set_gain(10)
    got = bench.watch(0.8)
    settled = next(n for n, sample in enumerate(got) if n > 0 and sample.usable)
    assert settled <= 6
    assert all(not sample.usable for sample in got[1:settled])
    assert any(sample.flags & SATURATED for sample in got[:settled])
    assert all(sample.usable for sample in got[settled:])
    assert bench.meter.gain_code <= DEFAULT_GAIN_CODE
    assert max(got[-1].counts) < AS7341.full_scale


def test_analogue_saturation_below_full_scale_is_recognised(bench: MeterBench, monkeypatch: pytest.MonkeyPatch) -> None:
    """The counts look possible, the status byte says otherwise."""
    bench.light()
    real = bench.meter._driver._all_channels
    monkeypatch.setattr(
        type(bench.meter._driver), "_all_channels", (real[0] | ASTATUS_SATURATED, *real[1:]), raising=False
    )
    sample = bench.watch(0.06)[-1]
    assert sample.flags & SATURATED
    assert max(sample.counts) < AS7341.full_scale


def test_the_gain_rises_after_twenty_weak_readings(bench: MeterBench) -> None:
    """And not before."""
    bench.light()
    bench.meter.set_gain(1)
    bench.watch(0.11)
    weak = 0
    while bench.meter.gain_code == 1:
        weak += len(bench.watch(0.005))
        assert weak <= RAISE_AFTER + 2
    assert weak >= RAISE_AFTER - 2
    assert bench.meter.gain_code >= DEFAULT_GAIN_CODE - 1


def test_the_gain_does_not_rise_in_the_dark(bench: MeterBench) -> None:
    """It stays where the lamps will need it."""
    bench.watch(5.0)
    assert bench.meter.gain_code == DEFAULT_GAIN_CODE
    assert all(sample.gain_code == DEFAULT_GAIN_CODE for sample in bench.samples)


def test_after_glare_the_gain_returns_to_where_the_lamps_need_it(bench: MeterBench) -> None:
    """At the first dark reading, and no higher."""
    bench.happen("daylight_enters", level_mw_cm2=80.0)
    bench.watch(1.0)
    assert bench.meter.gain_code < DEFAULT_GAIN_CODE
    bench.happen("daylight_ends")
    bench.watch(0.16)
    assert bench.meter.gain_code == DEFAULT_GAIN_CODE


@pytest.mark.parametrize("delay_ticks", range(0, 10, 3))
def test_a_sample_across_a_gain_change_is_flagged_and_only_that(bench: MeterBench, delay_ticks: int) -> None:
    """Whenever within its window the change came; all others agree with each other."""
    bench.light()
    bench.watch(0.2 + 0.005 * delay_ticks)
    before = bench.samples[-1]
    bench.meter.set_gain(DEFAULT_GAIN_CODE - 1)
    got = bench.watch(0.5)
    assert [bool(sample.flags & UNSETTLED) for sample in got[:4]] == [True, False, False, False]
    for sample in got[1:]:
        assert bench.meter.basic_counts(sample) == pytest.approx(bench.meter.basic_counts(before), rel=0.01)


def test_a_bus_error_makes_the_meter_lost_with_its_reason_and_the_next_success_finds_it(bench: MeterBench) -> None:
    """Never a number; since when is known."""
    bench.light()
    bench.watch(0.2)
    seen_s = bench.meter.last_seen_s
    bench.chip.present = False
    assert bench.watch(0.3) == []
    assert bench.meter.lost is not None
    assert "0x39 does not answer" in str(bench.meter.lost)
    assert seen_s is not None
    assert bench.meter.last_seen_s == pytest.approx(seen_s, abs=AS7341.window_s + 0.01)
    bench.chip.present = True
    got = bench.watch(0.2)
    assert got
    assert got[0].usable
    assert bench.meter.lost is None


def test_connecting_to_nothing_fails_with_the_reason(bench: MeterBench) -> None:
    """As often as it is tried."""
    bench.chip.present = False
    for _ in range(3):
        assert not bench.meter.connect(bench.clock.now_s)
    assert "0x39 does not answer" in str(bench.meter.lost)


def test_something_else_at_the_address_is_not_taken_for_the_sensor(bench: MeterBench) -> None:
    """Its identity is asked for."""
    bench.chip._reg[0x92] = 0x11
    assert not bench.meter.connect(bench.clock.now_s)
    assert bench.meter.lost is not None


def test_a_sensor_that_lost_its_power_gives_nothing_until_it_is_set_up_anew(bench: MeterBench) -> None:
    """Then it measures as before, at the gain it had."""
    bench.light()
    bench.watch(0.2)
    level = bench.meter.basic_counts(bench.samples[-1])
    bench.chip.power_up()
    assert bench.watch(0.5) == []
    assert bench.meter.connect(bench.clock.now_s)
    got = bench.watch(0.5)
    assert got[-1].gain_code == bench.meter.gain_code
    assert bench.meter.basic_counts(got[-1]) == pytest.approx(level, rel=0.02)


def test_a_hung_sensor_gives_nothing_and_never_blocks(bench: MeterBench) -> None:
    """It answers, so it is not lost; it is only not seen any more."""
    bench.watch(0.2)
    seen_s = bench.meter.last_seen_s
    bench.happen("meter_hangs")
    bench.watch(0.1)
    assert bench.watch(2.0) == []
    assert bench.meter.last_seen_s is not None
    assert seen_s is not None
    assert bench.meter.last_seen_s - seen_s < 0.06
    assert bench.meter.lost is None


def test_a_gain_change_on_a_dead_bus_makes_the_meter_lost(bench: MeterBench) -> None:
    """It does not raise into the loop."""
    bench.watch(0.2)
    bench.chip.present = False
    bench.meter.set_gain(3)
    assert bench.meter.lost is not None


def test_light_readings_follow_ripple_only_a_little() -> None:
    """50.04 ms hold five half-periods of 50 Hz and six of 60 Hz: a third of ripple becomes less than a thousandth."""
    for hz in (100, 120):
        bench = MeterBench(ripple_hz=hz, ripple_depth=0.35)
        bench.meter.connect(bench.clock.now_s)
        bench.light()
        bench.watch(60.0)
        values = [bench.meter.basic_counts(sample) for sample in bench.watch(2.0)]
        mean = sum(values) / len(values)
        spread = math.sqrt(sum((value - mean) ** 2 for value in values) / len(values))
        assert spread / mean < 0.0015


def test_a_meter_is_set_to_fifty_milliseconds() -> None:
    """By the chip's own registers."""
    bench = Bench()
    meter = ColourMeter(bench.box.meters[0], bench.world.bus(1))
    meter.connect(bench.clock.now_s)
    assert pytest.approx(50.04) == AS7341.integration_ms
    assert bench.world._chips["below"]._span_s * 1000 == pytest.approx(AS7341.integration_ms)
    assert (meter._driver.atime, meter._driver.astep, meter._driver.gain) == (29, 599, DEFAULT_GAIN_CODE)


def test_the_boards_own_led_is_switched_on_and_off(bench: MeterBench) -> None:
    """For the self-check; its blue and yellow light shows in the channels above 415 nm."""
    bench.watch(0.3)
    dark = bench.samples[-1].counts[1]
    bench.meter.led(8)
    bench.watch(0.3)
    assert bench.samples[-1].counts[1] > dark + 1000
    bench.meter.led(0)
    bench.watch(0.3)
    assert bench.samples[-1].counts[1] < dark + 10
