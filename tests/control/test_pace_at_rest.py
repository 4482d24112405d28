"""The loop's slower pace while the box rests, and that nothing which counts is done at it."""

import itertools

import pytest

from sumlight.box.charge_pump import TICK_S, needed_ticks_hz
from sumlight.box.description import load_box
from sumlight.box.meter import LightMeter
from sumlight.control.loop import OFF_AGAIN_S
from sumlight.control.pace import IDLE_TICK_S, LINGER_S, TickRate
from sumlight.protocol.snapshot import FaultName
from sumlight.text.message import as_written
from sumlight.twin.demo import BOTH_SENSORS_BOX
from tests.control.bench_box import BenchBox
from tests.control.conftest import MakeBench

WINDOW_S = (29 + 1) * (599 + 1) * 2.78e-6
"""By the data sheet of the AS7341, for the numbers that its registers get."""

IDLE_S = 0.02
"""The issue's own figure, as are the ten seconds."""


def gaps_s(bench: BenchBox, seconds: float) -> list[float]:
    """Times between ticks for a while."""
    at_s = [bench.clock.mono_s()]
    until_s = at_s[0] + seconds
    while at_s[-1] < until_s:
        bench.step()
        at_s.append(bench.clock.mono_s())
    return [after - before for before, after in itertools.pairwise(at_s)]


def conversions_seen(bench: BenchBox, meter: LightMeter, seconds: float) -> int:
    """How many conversions the box takes in meanwhile."""
    seen, until_s = set(), bench.clock.mono_s() + seconds
    while bench.clock.mono_s() < until_s:
        bench.step()
        seen.add(meter.last_seen_s)
    return len(seen)


def rested(bench: BenchBox) -> BenchBox:
    """With its lid shut and its pace slowed down."""
    bench.ready()
    bench.run(LINGER_S + 1.0)
    return bench


def test_a_box_at_rest_is_looked_after_every_twenty_milliseconds(bench: BenchBox) -> None:
    """Less than a third as often as under light, looks at the meter included, and never later than said."""
    found = gaps_s(rested(bench), 10.0)
    assert len(found) <= 0.33 * 10.0 / TICK_S
    assert max(found) <= IDLE_S + 1e-6


def test_a_box_that_begins_keeps_the_pace_for_ten_seconds_and_rests_then(bench: BenchBox) -> None:
    """Whatever the clock shows that it begins at."""
    assert max(gaps_s(bench, LINGER_S - 0.5)) <= TICK_S + 1e-6
    bench.run(1.0)
    assert max(gaps_s(bench, 1.0)) > 2 * TICK_S


def test_no_conversion_is_missed_at_rest(bench: BenchBox) -> None:
    """What the meter sees in the dark goes on proving itself: one reading a window, and its length is measured."""
    meter = next(iter(rested(bench).loop.banks.values())).meter
    assert conversions_seen(bench, meter, 10.0) == pytest.approx(10.0 / WINDOW_S, abs=3)
    assert meter.measured_window_s == pytest.approx(WINDOW_S, rel=0.002)


@pytest.mark.parametrize("clock_error", [-0.04, -0.02, 0.02, 0.04])
def test_the_looks_at_rest_keep_up_with_a_chip_whose_clock_is_off(make_bench: MakeBench, clock_error: float) -> None:
    """The data sheet allows 5 %: no conversion is missed, and the window is measured as it is."""
    bench = make_bench(chip_clock_error=clock_error)
    window_s = WINDOW_S * (1 + clock_error)
    meter = next(iter(rested(bench).loop.banks.values())).meter
    assert conversions_seen(bench, meter, 20.0) == pytest.approx(20.0 / window_s, rel=0.02)
    assert meter.measured_window_s == pytest.approx(window_s, rel=0.003)


def test_neither_sensor_of_a_head_of_two_is_missed_at_rest(make_bench: MakeBench) -> None:
    """Their windows differ, so that a look at one falls anywhere into the other's."""
    bench = rested(make_bench(box=load_box(BOTH_SENSORS_BOX)))
    colour = next(iter(bench.loop.banks.values())).meter.beside
    assert colour is not None
    assert conversions_seen(bench, colour, 20.0) == pytest.approx(20.0 / WINDOW_S, abs=4)
    assert colour.measured_window_s == pytest.approx(WINDOW_S, rel=0.002)


def test_a_meter_that_does_not_answer_is_no_reason_to_hurry(bench: BenchBox) -> None:
    """It is asked at the pace of the rest."""
    rested(bench).world._chips["below"].present = False
    bench.run(1.0)
    assert len(gaps_s(bench, 5.0)) <= 1.1 * 5.0 / IDLE_S


def test_every_tick_counts_from_the_first_after_a_press_to_ten_seconds_after_light(bench: BenchBox) -> None:
    """The tick in which the press came may be the last slow one."""
    rested(bench).start_new(dose_mj_cm2=10)
    bench.step()
    while bench.state != "done":
        assert max(gaps_s(bench, 0.2)) <= TICK_S + 1e-6
    assert max(gaps_s(bench, LINGER_S - 0.5)) <= TICK_S + 1e-6
    bench.run(1.0)
    assert max(gaps_s(bench, 1.0)) > 2 * TICK_S


def test_a_step_of_commissioning_is_looked_after_as_light_is(bench: BenchBox) -> None:
    """Contacts are judged in it, however long it takes; ten seconds after it the box rests."""
    rested(bench).ask("commission_begin", who="A")
    bench.run(LINGER_S + 1.0)
    assert max(gaps_s(bench, 1.0)) <= TICK_S + 1e-6
    bench.ask("commission_abort")
    bench.run(LINGER_S + 1.0)
    assert max(gaps_s(bench, 1.0)) > 2 * TICK_S


@pytest.mark.parametrize("late_by", [0.0, 0.3, 0.6, 0.9])
def test_an_opening_of_one_slow_tick_is_always_seen(bench: BenchBox, late_by: float) -> None:
    """Whenever it comes between two of them: the lid's contacts must be shut for a while again to be believed."""
    rested(bench)
    bench.clock.wait_until(bench.clock.mono_s() + late_by * IDLE_S)
    bench.happen("lid_opens")
    shut_s, seen = bench.clock.mono_s() + IDLE_S, False
    while bench.clock.mono_s() < shut_s:
        bench.step()
        seen |= bench.loop.lid != "shut"
    bench.happen("lid_closes")
    bench.step()
    assert seen or bench.loop.lid != "shut"


def test_the_pace_at_rest_is_no_rate_to_judge_the_computer_by(bench: BenchBox) -> None:
    """It would be too slow for the pump."""
    loop = rested(bench).loop
    loop.rate = TickRate(needed_ticks_hz(), real_time=True, trial_hz=2 * needed_ticks_hz())
    for number in range(400):
        loop.rate.ticked(number * IDLE_S, held=False)
    assert loop.rate.trouble() is not None
    bench.step()
    assert loop.rate.measured_hz == loop.rate.trial_hz
    assert loop.rate.trouble() is None


def test_off_is_written_ten_times_a_second_whatever_the_pace() -> None:
    """By the longest that a tick can come late for it."""
    assert OFF_AGAIN_S + IDLE_TICK_S <= 0.1


def test_a_computer_that_was_too_slow_is_measured_on_until_somebody_has_read_it(bench: BenchBox) -> None:
    """Otherwise the slow pace would hide the cause."""
    rested(bench).loop.tell(FaultName.TOO_SLOW, as_written("as told under light"))
    bench.run(LINGER_S + 1.0)
    assert max(gaps_s(bench, 1.0)) <= TICK_S + 1e-6
