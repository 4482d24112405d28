"""The simulated box as a whole: true dose, what the meter makes of it, and sameness from run to run."""

import threading
from typing import Any

import pytest

from sumlight.box.description import load_box
from sumlight.twin import demo
from sumlight.twin.clock import TwinClock
from sumlight.twin.world import World
from tests.twin.rig import Rig, demo_box, scenario


def counts_over_gain(samples: list[tuple[int, ...]], dark: float) -> float:
    """Counts of F1 without dark counts over gain, summed over samples of gain 16: basic counts times ms."""
    return sum(counts[1] - dark for counts in samples) / 16


def f1_mean(samples: list[tuple[int, ...]]) -> float:
    """Mean counts of F1."""
    return sum(counts[1] for counts in samples) / len(samples)


@pytest.mark.parametrize("path", [demo.BOX, demo.TWO_BANK_BOX], ids=lambda path: str(path.stem))
def test_the_demo_boxes_carry_the_true_calibration(path: Any) -> None:
    """To five digits, for every meter."""
    box = load_box(path)
    world = World(TwinClock(), box, scenario())
    for meter in box.meters:
        assert meter.mw_cm2_per_basic_count == round(world.true_calibration(meter.name), 5)


@pytest.mark.parametrize(
    "keys",
    [
        {"lamp_hours": 100.0},
        {"lamp_hours": 1500.0, "room_c": 10.0, "mains_factor": 0.93, "ripple_hz": 120},
        {"lamp_hours": 0.0, "room_c": 35.0, "mains_factor": 1.07},
    ],
    ids=str,
)
def test_the_measured_dose_is_the_true_dose(keys: dict[str, Any]) -> None:
    """Summed conversions times the true calibration, from before the strike until after the afterglow: to 0.1 %."""
    rig = Rig(scenario(**keys))
    driver = rig.meter()
    dark = f1_mean(rig.samples(driver, 10.0))
    _ = driver._all_channels
    begin = rig.world.actinic_mj_cm2("lower")
    rig.relay.on()
    samples = rig.samples(driver, 15.0)
    rig.relay.off()
    samples += rig.samples(driver, 0.5)
    dose = rig.world.true_calibration("below") * counts_over_gain(samples, dark) / 1000
    true = rig.world.actinic_mj_cm2("lower") - begin
    assert true > 10
    assert dose == pytest.approx(true, rel=0.001)


def test_the_true_dose_stands_still_in_the_dark_and_never_falls() -> None:
    """Before the strike, after the afterglow."""
    rig = Rig()
    rig.run(5.0)
    assert rig.world.actinic_mj_cm2("lower") == 0.0
    rig.light()
    seen = []
    for _ in range(100):
        rig.run(0.01)
        seen.append(rig.world.actinic_mj_cm2("lower"))
    assert seen == sorted(seen)
    rig.relay.off()
    rig.run(0.1)
    end = rig.world.actinic_mj_cm2("lower")
    rig.run(100.0)
    assert rig.world.actinic_mj_cm2("lower") == pytest.approx(end, abs=1e-9)


def test_asking_for_the_true_dose_does_not_disturb_the_run() -> None:
    """Samples are the same whether somebody watches or not."""

    def run(watch: bool) -> list[tuple[int, ...]]:
        rig = Rig(scenario(seed=5))
        driver = rig.meter()
        rig.light()
        found = []
        for _ in range(40):
            found += rig.samples(driver, 0.085)
            if watch:
                rig.world.actinic_mj_cm2("lower")
        return found

    assert run(True) == run(False)


def test_the_true_irradiance_belongs_to_the_true_dose() -> None:
    """Its mean over whole periods of ripple is the dose's rise."""
    rig = Rig(scenario(ripple_depth=0.0))
    rig.light()
    before = rig.world.actinic_mj_cm2("lower")
    level = rig.world.actinic_mw_cm2("lower")
    rig.run(0.1)
    assert rig.world.actinic_mj_cm2("lower") - before == pytest.approx(0.1 * level, rel=1e-3)


def test_the_same_seed_gives_the_same_run_and_another_a_different_one() -> None:
    """Log, samples and dose, digit by digit."""

    def run(seed: int) -> tuple[Any, ...]:
        rig = Rig(
            scenario(
                {"at_s": 2.0, "since": "light", "do": "lid_opens"},
                {"at_s": 4.0, "since": "light", "do": "lid_closes"},
                seed=seed,
                release_jitter_s=0.0005,
            )
        )
        driver = rig.meter()
        rig.light()
        samples = rig.samples(driver, 8.0)
        return rig.world.log, samples, rig.world.actinic_mj_cm2("lower"), list(rig.shut.pin.history)

    assert run(3) == run(3)
    assert run(3)[1:3] != run(4)[1:3]


def test_events_since_light_count_from_the_first_light() -> None:
    """Not from the start and not from the switch."""
    rig = Rig(scenario({"at_s": 3.0, "since": "light", "do": "daylight_ends"}))
    rig.run(10.0)
    rig.light()
    rig.run(5.0)
    assert rig.when("daylight_ends") == [pytest.approx(rig.when("lower lights")[0] + 3.0)]


def test_a_failing_tube_shows_as_a_step_in_the_readings() -> None:
    """One of six: −17 %, within one conversion."""
    rig = Rig(scenario({"at_s": 5.0, "since": "light", "do": "tube_fails"}))
    driver = rig.meter()
    rig.light()
    rig.run(4.5)
    before = f1_mean(rig.samples(driver, 0.4))
    rig.run(0.2)
    _ = driver._all_channels
    rig.run(0.1)
    assert f1_mean(rig.samples(driver, 0.4)) / before == pytest.approx(5 / 6, abs=0.01)


def test_all_tubes_failing_darkens_the_bank() -> None:
    """Power on, no light."""
    rig = Rig(scenario({"at_s": 1.0, "since": "light", "do": "tube_fails", "tubes": 6}))
    rig.light()
    rig.run(2.0)
    assert rig.world.lamp("lower").burning
    assert not rig.world.is_lit("lower")


def test_daylight_shows_at_the_meter_and_in_the_true_dose() -> None:
    """With lamps off, strongest in Clear; gone when it ends."""
    rig = Rig(
        scenario({"at_s": 1.0, "do": "daylight_enters", "level_mw_cm2": 0.5}, {"at_s": 3.0, "do": "daylight_ends"})
    )
    driver = rig.meter()
    rig.run(1.2)
    _ = driver._all_channels
    sample = rig.samples(driver, 0.1)[-1]
    assert sample[5] > sample[1] > 1000
    rig.run(3.0)
    dose = rig.world.actinic_mj_cm2("lower")
    assert dose == pytest.approx(0.5 * 2.0 * 0.0305, rel=0.02)
    _ = driver._all_channels
    assert max(rig.samples(driver, 0.1)[-1][1:]) < 10


def test_a_mains_step_changes_the_light_at_once() -> None:
    """5 % down in voltage, 6.4 % in light."""
    rig = Rig(scenario({"at_s": 5.0, "since": "light", "do": "mains_factor", "value": 0.95}))
    driver = rig.meter()
    rig.light()
    rig.run(4.5)
    before = f1_mean(rig.samples(driver, 0.4))
    rig.run(0.3)
    _ = driver._all_channels
    assert f1_mean(rig.samples(driver, 0.4)) / before == pytest.approx(0.95**1.3, abs=0.004)


@pytest.mark.parametrize(
    "event",
    [
        {"do": "lid_opens"},
        {"do": "tube_fails", "tubes": 6},
        {"do": "mains_factor", "value": 1.2},
        {"do": "daylight_ends"},
        {"do": "press", "button": "go"},  # nothing changes, but the true dose is asked for
    ],
    ids=lambda event: str(event["do"]),
)
def test_a_finished_conversion_is_not_touched_by_what_comes_after(event: dict[str, Any]) -> None:
    """It ended 30 ms before something happened, and is read 10 ms after that: it shows the light before."""
    rig = Rig(
        scenario(
            {"at_s": 0.0, "do": "daylight_enters", "level_mw_cm2": 0.5}, {"at_s": 10.0, **event}, ripple_depth=0.0
        ),
        demo_box(enable_pin=None),
    )
    driver = rig.meter()
    rig.light()
    happens_s = rig.start_s + 10.0
    rig.clock.wait_until(happens_s - 0.030 - 2 * 30 * 600 * 2.78e-6)
    driver._color_meas_enabled = False
    driver._color_meas_enabled = True
    rig.clock.wait_until(happens_s - 0.079)
    first = driver._all_channels
    rig.clock.wait_until(happens_s + 0.010)
    rig.world.actinic_mj_cm2("lower")
    assert driver._data_ready_bit
    assert driver._all_channels[1] == pytest.approx(first[1], rel=0.005)


def test_nothing_runs_between_events() -> None:
    """Reading pins costs one comparison while nothing is due: the speed of the twin rests on it."""
    rig = Rig(box=demo_box(enable_pin=None))
    rig.meter()
    assert rig.world.next_s == float("inf")
    rig.relay.on()
    assert rig.world.next_s == pytest.approx(rig.clock.now_s + 0.010)


def test_many_steps_and_one_step_lead_to_the_same_world() -> None:
    """Stepping is lazy, yet things happen at their own moments: same log, same dose."""

    def run(step_s: float) -> tuple[Any, ...]:
        clock = TwinClock()
        script = scenario({"at_s": 30.0, "do": "lid_opens"}, {"at_s": 40.0, "do": "lid_closes"})
        world = World(clock, demo_box(enable_pin=None), script)
        world.pin_factory.pin(17).output_with_state(False)
        start_s = clock.now_s
        while clock.now_s < start_s + 60.0:
            clock.wait_until(min(start_s + 60.0, clock.now_s + step_s))
            world.advance()
        return world.log, round(world.actinic_mj_cm2("lower"), 9)

    assert run(60.0) == run(0.1) == run(7.3)


def test_another_thread_may_switch_the_lamps_off() -> None:
    """A watchdog's thread works on the same world as the loop."""
    rig = Rig()
    rig.light()
    thread = threading.Thread(target=rig.relay.off)
    thread.start()
    thread.join()
    rig.run(0.1)
    assert not rig.world.is_lit("lower")
