"""What the loop makes of the light: which reading counts, whose it is, what is a fault, what is kept of it.

Judged by the simulated sensor and light, the relays' pins, and the logbook.
"""

import json
from typing import Any

import pytest

from sumlight.box.charge_pump import TICK_S
from sumlight.control.records.replay import replay
from sumlight.store.logbook.calibrations import GainStepRecord, MeasurementRecord
from sumlight.text.message import later
from tests.control.bench_box import BenchBox, demo_box
from tests.control.conftest import MakeBench


def test_a_moment_of_light_under_a_shut_lid_is_no_fault_and_a_second_of_it_is(bench: BenchBox) -> None:
    """A torch through the gap, and a lamp that burns unasked."""
    bench.ready()
    bench.happen("daylight_enters", level_mw_cm2=0.5)
    bench.run(0.7)
    bench.happen("daylight_ends")
    bench.run(2.0)
    assert bench.faults == []
    bench.happen("daylight_enters", level_mw_cm2=0.5)
    bench.run(1.5)
    assert bench.faults == ["light_while_dark"]


def test_light_through_an_open_lid_is_no_fault_and_no_lamp(bench: BenchBox) -> None:
    """The room is lit."""
    bench.ready().happen("lid_opens")
    bench.happen("daylight_enters", level_mw_cm2=2.0)
    bench.run(3.0)
    assert bench.faults == []
    assert not any(watch.bright for watch in bench.loop.banks.values())


def test_stray_light_below_the_limit_does_not_pass_for_lamps_that_have_struck(bench: BenchBox) -> None:
    """Dead lamps in a box that is not quite tight: the reading of darkness is taken off before the light is judged."""
    bench.ready().happen("tube_fails", tubes=6)
    bench.happen("daylight_enters", level_mw_cm2=0.03)
    bench.start().until(bench.any_relay_lights)
    bench.until_state("faulted")
    assert bench.faults == ["no_light"]


@pytest.mark.parametrize(("code", "doublings"), [(7, 2), (5, 0), (3, -2)])
def test_a_dose_is_kept_with_what_its_gain_was_known_to_be_off(bench: BenchBox, code: int, doublings: int) -> None:
    """Each doubling 1 % too large by lessons of little doubt: the errors add up away from gain 16, by hand."""
    watch = bench.loop.banks["lower"]
    for step in range(10):
        bench.loop.book.learn_gain(GainStepRecord(watch.meter.name, step, 0.01, 1e-4, bench.clock.utc().isoformat()))
    watch.meter.lamp_gain_code = code
    assert watch.gain_ln_error == pytest.approx(0.01 * doublings, rel=1e-3)


def test_a_reading_is_none_any_more_after_three_tenths_of_a_second(bench: BenchBox) -> None:
    """The picture says so from then on, neither sooner nor later."""
    bench.ready().happen("meter_hangs")
    last_s = bench.loop.banks["lower"].meter.last_seen_s
    assert last_s is not None
    bench.until(lambda: bench.snapshot()["banks"][0]["meter_ok"] is False, 2.0)
    assert bench.clock.mono_s() - (bench.loop.banks["lower"].meter.last_seen_s or 0) == pytest.approx(0.3, abs=0.011)
    watch = bench.loop.banks["lower"]
    watch.meter.lost, watch.meter.last_seen_s = None, 0.0
    assert watch.fresh(0.3)
    watch.meter.lost = later("sensor_not_connected_yet")
    assert not watch.fresh(0.1)
    watch.meter.lost, watch.meter.last_seen_s = None, None
    assert not watch.fresh(0.1)


def test_more_light_than_a_limit_is_more_and_known_now(bench: BenchBox) -> None:
    """As much as the limit is not more, and an old reading is none."""
    watch = bench.ready().loop.banks["lower"]
    now_s = bench.clock.mono_s()
    watch.glass_mw_cm2 = 0.2
    assert watch.sees(0.1, now_s)
    assert not watch.sees(0.2, now_s)
    assert not watch.sees(0.3, now_s)
    assert not watch.sees(0.1, now_s + 1.0)
    watch.glass_mw_cm2 = None
    assert not watch.sees(0.1, now_s)


def test_no_reading_is_judged_as_light_once_the_relay_is_at_rest(
    bench: BenchBox, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever moment of a conversion the door to dark comes in."""
    bench.light_up(dose_mj_cm2=4000, forgiven=100, time_guard_s=500)
    watch = bench.loop.banks["lower"]
    seen: list[bool] = []
    real = watch.witness.lit

    def lit(*given: Any) -> Any:
        seen.append(bench.relay_lights("lower"))
        return real(*given)

    monkeypatch.setattr(watch.witness, "lit", lit)
    for phase in range(11):
        bench.run(0.3 + phase * TICK_S)
        bench.ask("dark")
        bench.run(0.4)
        bench.ask("go")
        bench.until_state("light", 5.0)
    assert len(seen) > 30
    assert all(seen)


@pytest.mark.parametrize("welded", ["lower", "upper"])
def test_a_welded_relay_of_either_bank_is_seen_half_a_second_after_its_own_cut(
    make_bench: MakeBench, welded: str
) -> None:
    """While the other side is still lit: each bank's light is judged by its own side."""
    other = {"lower": "upper", "upper": "lower"}[welded]
    bench = make_bench(box=demo_box(two_banks=True))
    bench.happen("tube_fails", bank=other, tubes=4)
    bench.happen("relay_welds", bank=welded)
    bench.start_new(sides="together", dose_mj_cm2=15)
    side = next(side for side in bench.exposure.sides if side.plan.bank == welded)
    bench.until(lambda: side.state == "cut")
    assert any(s.state == "lit" for s in bench.exposure.sides)
    at_s = bench.clock.mono_s()
    bench.until(lambda: bench.faults != [], 3.0)
    assert bench.faults == ["light_while_dark"]
    assert f"bank {welded}" in bench.loop.desk.standing()[0].detail
    assert 0.4 < bench.clock.mono_s() - at_s < 0.7


def test_darkness_after_a_cut_is_judged_by_what_the_lamps_gave_at_the_glass(
    make_bench: MakeBench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of the bank's own side, without what the film takes away; in the dark before it there is nothing to judge by."""
    bench = make_bench(box=demo_box(two_banks=True))
    bench.happen("tube_fails", bank="upper", tubes=3)
    told: dict[str, list[float]] = {"lower": [], "upper": []}
    for name, watch in bench.loop.banks.items():

        def dark(sample: Any, mw_cm2: float, cut: float, name: str = name, real: Any = watch.witness.dark) -> Any:
            told[name].append(cut)
            return real(sample, mw_cm2, cut)

        monkeypatch.setattr(watch.witness, "dark", dark)
    bench.start_new(sides="together", dose_mj_cm2=15)
    bench.until(lambda: all(side.state == "lit" for side in bench.exposure.sides))
    assert told["lower"]
    assert not any(told["lower"] + told["upper"])
    given: dict[str, float] = {}

    def look() -> None:
        for side in bench.exposure.sides:
            if side.state == "lit":
                given[side.plan.bank] = bench.loop.banks[side.plan.bank].glass_mw_cm2 or 0.0

    bench.after_step = look
    bench.until_state("done")
    for name in given:
        (at_cut,) = {cut for cut in told[name] if cut}
        assert at_cut == pytest.approx(given[name], rel=0.05), name


def test_each_side_keeps_the_readings_of_its_own_bank(make_bench: MakeBench) -> None:
    """As many as there were conversions, each as strong as its side's light: the weak bank's and the strong one's."""
    bench = make_bench(box=demo_box(two_banks=True))
    bench.happen("tube_fails", bank="upper", tubes=3)
    bench.start_new(sides="together", dose_mj_cm2=15).until_state("done")
    with bench.logbook() as book:
        sides = book.recent()[0]["sides"]
        traces = {side["bank"]: book.trace(side["side_id"]) for side in sides}
        lit_s = {side["bank"]: side["lit_s"] for side in sides}
    for bank, trace in traces.items():
        assert len(trace) == pytest.approx(lit_s[bank] / 0.05004, abs=12), bank
    basic = {bank: [s.counts[0] / 2.0**s.gain_code for s in trace if s.usable] for bank, trace in traces.items()}
    middle = {bank: sorted(values)[len(values) // 2] for bank, values in basic.items()}
    assert middle["upper"] < 0.75 * middle["lower"]
    for bank, values in basic.items():
        near = [value for value in values if 0.85 * middle[bank] < value < 1.1 * middle[bank]]
        assert len(near) > 0.75 * len(values), bank


def test_what_is_kept_of_the_light_is_net_of_darkness_and_at_the_resist(bench: BenchBox) -> None:
    """Stray light is most of the limit, as the sensor sees it; the curve agrees with what the panel gets."""
    bench.ready().happen("daylight_enters", level_mw_cm2=0.03)
    bench.light_up(dose_mj_cm2=40)
    *_, (_, name, net, _) = bench.ask("trace")["samples"]
    assert name == "A"
    dose_before, at_s = bench.true_dose(), bench.clock.mono_s()
    bench.run(1.0)
    rate = (bench.true_dose() - dose_before) / (bench.clock.mono_s() - at_s)
    assert net == pytest.approx(rate, rel=0.004)


@pytest.mark.parametrize("stray_mw_cm2", [0.0, 0.03])
def test_what_lamps_gave_last_is_kept_for_the_book(bench: BenchBox, stray_mw_cm2: float) -> None:
    """Basic counts of the 415 nm channel without those of darkness: by the anchor, the light of the lamps alone."""
    if stray_mw_cm2:
        bench.ready().happen("daylight_enters", level_mw_cm2=stray_mw_cm2)
    bench.start().until_state("done")
    watch, side = bench.loop.banks["lower"], bench.side()
    assert watch.settled_basic_counts is not None
    glass = watch.settled_basic_counts * watch.anchor.mw_cm2_per_basic_count
    assert glass == pytest.approx(side.cut_mw_cm2 / side.plan.transmission, rel=0.006)


def test_lamps_that_never_lit_leave_nothing_for_the_book(bench: BenchBox) -> None:
    """And no error of the program."""
    bench.ready().happen("tube_fails", tubes=6)
    bench.start().until_state("faulted")
    bench.run(1.0)
    assert bench.faults == ["no_light"]
    assert bench.loop.banks["lower"].settled_basic_counts is None


def test_a_stretch_of_light_is_kept_with_the_scale_that_gives_its_dose_again(bench: BenchBox) -> None:
    """From the raw counts of the record alone."""
    bench.start().until_state("done")
    assert bench.daemon.writer.drain(0)
    with bench.logbook() as book:
        (found,) = list(book.intervals.stretches())
    again = replay(found)
    assert again.verdict == "same"
    assert again.replayed_mj_cm2 == pytest.approx(bench.true_dose(), rel=0.003)


def test_the_record_says_what_a_dose_is_worth(bench: BenchBox) -> None:
    """The figures of the picture at the end, with the parts they come from."""
    bench.start().until_state("done")
    shown = bench.snapshot()["exposure"]["sides"][0]["expanded_absolute_mj_cm2"]
    assert bench.daemon.writer.drain(0)
    with bench.logbook() as book:
        (row,) = book.page("SELECT budget FROM sides")
    kept = json.loads(row["budget"])
    assert kept["expanded_absolute_mj_cm2"] == pytest.approx(shown)
    assert {"calibration", "gaps", "cut-off"} <= {part["name"] for part in kept["components"]}


def test_what_was_measured_of_the_field_counts_after_a_restart(make_bench: MakeBench) -> None:
    """It is a part of what the dose is worth."""
    first = make_bench().start()
    first.until_state("done")
    with first.logbook() as book:
        number = book.recent()[0]["exposure_id"]
    place = '{"place": {"standard": 0.02, "factor": 1.0}}'
    first.daemon.writer.add_metrology(MeasurementRecord("field", number, first.clock.utc().isoformat(), place))
    first.close()
    after = make_bench().start()
    after.until_state("light")
    after.run(3.0)
    shares = after.loop.appraiser.of(after.side()).budget.shares
    assert "field" in {share.name for share in shares}


@pytest.mark.parametrize(("do", "reads"), [("lid_opens", "lid"), ("stop_pressed", "stop")])
def test_a_look_at_the_sensors_own_led_ends_with_whatever_might_be_seen(bench: BenchBox, do: str, reads: str) -> None:
    """An open lid lets in light, a fault wants eyes on it: the LED is off at once, and the look has failed."""
    chip = bench.world._chips["below"]
    bench.ready().ask("self_check", bank="lower")
    bench.run(0.3)
    assert chip._led_ma > 0, reads
    bench.happen(do)
    bench.run(0.05)
    assert chip._led_ma == 0
    assert bench.loop.banks["lower"].led.phase == "failed"


def test_a_gain_lesson_learns_from_the_readings_under_light(bench: BenchBox) -> None:
    """Each step of the gain is a doubling by the data sheet (AS7341, DS000504), and nearly so on the simulated chip."""
    bench.light_up()
    lesson = bench.loop.banks["lower"].lesson
    lesson.begin(bench.loop.banks["lower"].meter.gain_code)
    bench.until(lambda: lesson.phase != "running", 30.0)
    assert lesson.steps
    assert all(abs(step.ln_error) < 0.05 for step in lesson.steps)


def test_a_gain_lesson_ends_with_the_light(bench: BenchBox) -> None:
    """The gain goes back to the one in use: darkness is read at it."""
    bench.light_up()
    watch = bench.loop.banks["lower"]
    gain_code = watch.meter.gain_code
    watch.lesson.begin(gain_code)
    bench.run(0.2)
    assert watch.meter.gain_code != gain_code
    bench.ask("dark")
    bench.step()
    assert watch.lesson.phase == "failed"
    assert watch.meter.gain_code == gain_code
