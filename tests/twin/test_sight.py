"""What a sensor sees when its window, its chip or the lamps are not as they were, through the real driver."""

from collections.abc import Mapping
from random import Random
from typing import Any

import pytest

from sumlight.box.description import Sight
from sumlight.twin.events import EVENTS
from sumlight.twin.optics import Sheet
from sumlight.twin.scenario import ScenarioMismatchError
from sumlight.twin.sight import gain_factors
from sumlight.twin.world import World
from tests.twin.rig import Rig, demo_box, scenario

F1, F2, F3, F4, CLEAR, NIR = range(1, 7)
STEADY = {"ripple_depth": 0.0}


def mean(rig: Rig, driver: Any, seconds: float = 1.0) -> list[float]:
    """Mean counts of the next whole conversions: status byte, then F1 to F4, Clear, NIR."""
    rig.run(0.12)
    _ = driver._all_channels
    samples = rig.samples(driver, seconds)
    return [sum(column) / len(samples) for column in zip(*samples, strict=True)]


def happen(world: World, do: str, **fields: Any) -> None:
    """Let an event happen now."""
    world.happen(EVENTS[do].model_validate({"at_s": 0.0, "do": do, **fields}))


def rest(rig: Rig, seconds: float) -> None:
    """Let time pass in one step, on a box whose K1 needs no heartbeat."""
    rig.clock.wait_until(rig.clock.now_s + seconds)
    rig.world.advance()


def settled(**keys: Any) -> tuple[Rig, Any]:
    """A bank that has burnt for a quarter of an hour, and the driver."""
    rig = Rig(scenario(**{**STEADY, **keys}), demo_box(enable_pin=None))
    driver = rig.meter()
    rig.light()
    rest(rig, 900.0)
    return rig, driver


@pytest.mark.parametrize(
    "keys",
    [
        {"lamp_hours": 1500.0},
        {"lamp_hours": 0.0, "ageing": "alike"},
        {"lamp_type": "other_fluorescent", "lamp_hours": 700.0},
        {"lamp_type": "led_385", "gain": 4.0},
        {"lamp_type": "led_365", "gain": 512.0},
        {"diffuser_transmission": 0.7, "sensor_drift_per_k": 0.003, "room_c": 12.0, "chip_clock_error": 0.02},
    ],
    ids=str,
)
def test_the_true_calibration_is_right_for_the_present_state(keys: Mapping[str, Any]) -> None:
    """Old lamps, other lamps, dirt, temperature, a slow clock: counts times it are the true irradiance, to 0.3 %."""
    given = dict(keys)
    gain = given.pop("gain", 16.0)
    rig = Rig(scenario(**STEADY, **given), demo_box(enable_pin=None))
    driver = rig.meter(gain_code={4.0: 3, 16.0: 5, 512.0: 10}[gain])
    dark = mean(rig, driver)[F1]
    rig.light()
    rest(rig, 600.0)
    before = rig.world.actinic_mw_cm2("lower")
    basic = (mean(rig, driver)[F1] - dark) / (gain * 50.04)
    true = (before + rig.world.actinic_mw_cm2("lower")) / 2
    assert rig.world.true_calibration("below") * basic == pytest.approx(true, rel=0.003)


def test_an_old_calibration_reads_too_much_under_old_lamps() -> None:
    """The proxy's limit: a factor from 100 h still used at 1500 h says 27 % more than the resist gets."""
    young, old = (
        Rig(scenario(lamp_hours=hours, ageing="apart")).world.true_calibration("below") for hours in (100.0, 1500.0)
    )
    assert young == pytest.approx(0.50673, abs=5e-6)
    assert young / old == pytest.approx(1.27, abs=0.01)
    alike = Rig(scenario(lamp_hours=1500.0, ageing="alike")).world.true_calibration("below")
    assert alike == pytest.approx(young)


def test_dirt_takes_its_share_of_the_light_and_cleaning_gives_it_back() -> None:
    """All channels alike; the true dose does not care."""
    rig, driver = settled()
    clean, true = mean(rig, driver), rig.world.actinic_mw_cm2("lower")
    happen(rig.world, "diffuser_fouls", transmission=0.8)
    dirty = mean(rig, driver)
    for channel in (F1, F2, CLEAR):
        assert dirty[channel] / clean[channel] == pytest.approx(0.8, abs=0.003)
    assert rig.world.actinic_mw_cm2("lower") == pytest.approx(true, rel=1e-3)
    happen(rig.world, "diffuser_cleaned")
    assert mean(rig, driver)[F1] == pytest.approx(clean[F1], rel=0.002)


def led_reading(rig: Rig, driver: Any, current_ma: int = 20) -> list[float]:
    """Counts with the board's LED less those without, lamps off."""
    dark = mean(rig, driver)
    driver.led_current = current_ma
    driver.led = True
    lit = mean(rig, driver)
    driver.led = False
    return [with_led - without for with_led, without in zip(lit, dark, strict=True)]


def test_the_led_of_the_board_shows_in_the_visible_channels_by_its_current() -> None:
    """Strong in F2 and F4, nothing in the near infrared, in proportion to the milliamperes; none once it is off."""
    rig = Rig()
    driver = rig.meter()
    some, twice = led_reading(rig, driver, 20), led_reading(rig, driver, 40)
    assert some[F2] == pytest.approx(6000, rel=0.01)
    assert some[F4] > 1000
    assert abs(some[NIR]) < 10
    assert twice[F2] / some[F2] == pytest.approx(2.0, rel=0.005)
    assert mean(rig, driver)[F2] < 6


def test_the_led_stays_dark_until_the_chip_is_told_to_drive_it() -> None:
    """CONFIG bit 3 gives the LED register its say; the driver sets it when it starts."""
    rig = Rig()
    driver = rig.meter()
    driver._led_control_enabled = False
    assert abs(led_reading(rig, driver)[F2]) < 3


def test_the_led_exposes_nothing() -> None:
    """It is no actinic light."""
    rig = Rig()
    driver = rig.meter()
    led_reading(rig, driver)
    assert rig.world.actinic_mj_cm2("lower") == 0.0


def test_the_led_counts_from_the_moment_it_is_switched() -> None:
    """The conversion in which it goes on is a mix."""
    rig = Rig()
    driver = rig.meter()
    driver.led_current = 20
    rig.clock.wait_until(rig.start_s + 0.050)
    _ = driver._all_channels
    rig.clock.wait_until(rig.start_s + 1.5 * 0.05004)
    driver.led = True
    rig.clock.wait_until(rig.start_s + 2.5 * 0.05004)
    mixed = driver._all_channels[F2]
    rig.clock.wait_until(rig.start_s + 3.5 * 0.05004)
    assert mixed / driver._all_channels[F2] == pytest.approx(0.5, abs=0.01)


@pytest.mark.parametrize("transmission", [0.95, 0.8, 0.6])
def test_dirt_shows_under_the_led_nearly_as_under_the_lamps(transmission: float) -> None:
    """Half of its light passes the dirt twice, half not at all: (1 + T²) / 2."""
    rig = Rig()
    driver = rig.meter()
    clean = led_reading(rig, driver)[F2]
    happen(rig.world, "diffuser_fouls", transmission=transmission)
    assert led_reading(rig, driver)[F2] / clean == pytest.approx(0.54 + 0.46 * transmission**2, abs=0.003)


def test_ageing_lamps_leave_the_led_reading_alone() -> None:
    """So the two can be told apart."""
    young, old = (Rig(scenario(lamp_hours=hours)) for hours in (100.0, 1500.0))
    first, later = (led_reading(rig, rig.meter())[F2] for rig in (young, old))
    assert later == pytest.approx(first, rel=0.002)


def test_ageing_shows_in_the_colours_as_a_slow_drift() -> None:
    """Clear, which sees some ultraviolet, falls against F1; F2, which sees lines, does not."""
    counts = [mean(*settled(lamp_hours=hours, ageing="apart")) for hours in (100.0, 1500.0)]
    clear, f2 = ([seen[channel] / seen[F1] for seen in counts] for channel in (CLEAR, F2))
    assert 0.7 < clear[1] / clear[0] < 0.85
    assert f2[1] / f2[0] == pytest.approx(1.0, abs=0.02)


def test_a_missing_filter_changes_the_colours_and_fitting_it_brings_them_back() -> None:
    """More Clear over F1, ten times the near infrared."""
    rig, driver = settled()
    fitted = mean(rig, driver)
    happen(rig.world, "filter_removed")
    without = mean(rig, driver)
    assert without[CLEAR] / without[F1] > 1.3 * fitted[CLEAR] / fitted[F1]
    assert without[NIR] > 6 * fitted[NIR]
    happen(rig.world, "filter_fitted")
    assert mean(rig, driver)[CLEAR] == pytest.approx(fitted[CLEAR], rel=0.003)


def test_a_sheet_on_the_sensor_takes_its_share_until_it_is_lifted() -> None:
    """A clear one from all light alike; nothing on the true dose."""
    rig, driver = settled()
    bare = mean(rig, driver)
    happen(rig.world, "sheet_laid", transmission=0.9)
    assert mean(rig, driver)[F1] / bare[F1] == pytest.approx(0.9, abs=0.003)
    assert rig.world.true_transmission("lower", Sheet(0.9)) == pytest.approx(0.9)
    happen(rig.world, "sheet_laid", transmission=0.9, blocks_uv=True)
    blocked = mean(rig, driver)
    assert blocked[F1] / bare[F1] > 0.7
    assert blocked[CLEAR] / bare[CLEAR] < 0.2
    assert rig.world.true_transmission("lower", Sheet(0.9, blocks_uv=True)) < 0.02
    happen(rig.world, "sheet_lifted")
    assert mean(rig, driver)[F1] == pytest.approx(bare[F1], rel=0.002)


def test_a_moved_sensor_reads_the_field_at_its_place() -> None:
    """Lamp light by the field of its bank; daylight stays."""
    rig, driver = settled()
    middle = mean(rig, driver)
    happen(rig.world, "sensor_moved", x_mm=120.0, y_mm=-100.0)
    share = rig.world.field("lower").relative(120.0, -100.0)
    assert share < 0.9
    assert mean(rig, driver)[F1] / middle[F1] == pytest.approx(share, abs=0.003)


def test_a_tube_that_is_out_takes_its_own_part_from_panel_and_sensor() -> None:
    """One at the edge is a small part, and all parts make the whole; put in again, all is as before."""
    rig, driver = settled()
    bare, lamps, parts = mean(rig, driver)[F1], rig.world.lamp("lower"), []
    light = lamps.output(rig.clock.now_s)
    for place in range(1, 7):
        happen(rig.world, "tube_taken_out", place=place)
        left = mean(rig, driver)[F1] / bare
        assert left == pytest.approx(lamps.output(rig.clock.now_s) / light, rel=0.01)
        parts.append(1 - left)
        happen(rig.world, "tube_put_in", place=place)
    assert sum(parts) == pytest.approx(1.0, abs=0.03)
    assert max(parts[0], parts[5]) < 0.5 * min(parts[2], parts[3])
    assert mean(rig, driver)[F1] == pytest.approx(bare, rel=0.01)
    happen(rig.world, "tube_taken_out", place=3)
    happen(rig.world, "lamps_swapped")
    assert rig.world.field("lower").left == 1.0


def test_a_head_that_takes_no_light_from_aside_does_not_see_the_outer_tubes() -> None:
    """As box.yaml says of it: 40° at 80 mm reach 67 mm, the outer axes lie 125 mm aside."""
    sight = Sight(tubes=6, pitch_mm=50, height_mm=80, accepts_deg=40)
    box = demo_box(enable_pin=None)
    box = box.model_copy(update={"meters": [box.meters[0].model_copy(update={"sight": sight})]})
    rig = Rig(scenario(**STEADY), box)
    driver = rig.meter()
    rig.light()
    rest(rig, 900.0)
    bare = mean(rig, driver)[F1]
    happen(rig.world, "tube_taken_out", place=6)
    assert mean(rig, driver)[F1] == pytest.approx(bare, rel=0.005)
    assert rig.world.field("lower").left < 0.95
    happen(rig.world, "tube_taken_out", place=4)
    assert mean(rig, driver)[F1] < 0.8 * bare


def test_a_tube_that_the_bank_does_not_have_is_refused() -> None:
    """By its field, with the places there are."""
    rig = Rig(scenario())
    with pytest.raises(ScenarioMismatchError, match=r"events\[0\]\.place: bank 'lower' of .* use 1 to 6, not 7"):
        happen(rig.world, "tube_taken_out", place=7)


def test_the_true_dose_at_a_place_follows_the_field() -> None:
    """Lamp light only: daylight falls everywhere alike."""
    rig = Rig(scenario({"at_s": 0.0, "do": "daylight_enters", "level_mw_cm2": 5.0}))
    rig.run(10.0)
    day = rig.world.actinic_mj_cm2("lower")
    assert rig.world.actinic_mj_cm2("lower", 150.0, 0.0) == day
    rig.light()
    rig.run(10.0)
    rig.relay.off()
    happen(rig.world, "daylight_ends")
    share = rig.world.field("lower").relative(150.0, 0.0)
    middle, edge = (rig.world.actinic_mj_cm2("lower", x_mm, 0.0) for x_mm in (0.0, 150.0))
    assert middle - edge == pytest.approx((1 - share) * (middle - day), rel=0.05)


def test_gain_steps_are_off_by_up_to_three_percent_each() -> None:
    """Seeded, gain 16 exact, and every doubling within its limit."""
    steps = []
    for seed in range(200):
        factors = gain_factors(Random(seed))
        assert factors[5] == 1.0
        steps += [factors[code + 1] / factors[code] - 1 for code in range(10)]
    assert max(map(abs, steps)) <= 0.03
    assert max(steps) > 0.029
    assert min(steps) < -0.029


def test_the_chip_counts_with_its_true_gains() -> None:
    """Neighbouring gains on a steady lamp show the error; without `gain_errors` there is none."""
    for errors in (True, False):
        rig, driver = settled(seed=6, gain_errors=errors)
        low = mean(rig, driver)[F1] - 2.5
        driver.gain = 6
        high = mean(rig, driver)[F1] - 3.0
        factors = rig.world.quirks("below").gain_factors
        assert high / low / 2 == pytest.approx(factors[6] / factors[5], abs=0.001)
        assert (abs(factors[6] - 1) > 0.002) is errors


def test_temperature_drift_follows_the_air_in_the_box() -> None:
    """25 °C is neutral; lamps warm the box by some kelvin, a cold room cools it."""
    rig, driver = settled(sensor_drift_per_k=0.01)
    plain, plain_driver = settled()
    warm = mean(rig, driver)[F1] / mean(plain, plain_driver)[F1]
    assert warm == pytest.approx(1 + 0.01 * 0.3 * 17, abs=0.002)
    assert rig.world.lamp("lower").air_c(rig.clock.now_s) == pytest.approx(25 + 0.3 * 17, abs=0.1)


@pytest.mark.parametrize("error", [0.02, -0.02])
def test_a_wrong_chip_clock_makes_conversions_longer_or_shorter(error: float) -> None:
    """2 % fewer or more conversions a minute, and as many more or fewer counts in each."""
    rig, driver = settled(chip_clock_error=error)
    plain, plain_driver = settled()
    assert mean(rig, driver)[F1] / mean(plain, plain_driver)[F1] == pytest.approx(1 + error, abs=0.002)
    assert len(rig.samples(driver, 60.0)) == pytest.approx(60 / (0.05004 * (1 + error)), abs=2)


def test_swapped_lamps_strike_anew_with_their_own_light() -> None:
    """Power is gone for a moment, hours and strikes begin anew, the true dose goes on from where it was."""
    rig, driver = settled(lamp_hours=900.0)
    happen(rig.world, "tube_fails")
    old, dose = mean(rig, driver), rig.world.actinic_mj_cm2("lower")
    happen(rig.world, "lamps_swapped", lamp_type="other_fluorescent", hours=12.0)
    assert rig.world.actinic_mj_cm2("lower") == pytest.approx(dose, abs=1e-9)
    assert not rig.world.is_lit("lower")
    rest(rig, 900.0)
    new = mean(rig, driver)
    lamp = rig.world.lamp("lower")
    assert lamp.kind.name == "other_fluorescent"
    assert lamp.hours == pytest.approx(12.25, abs=0.01)
    assert (lamp.strikes, lamp.tubes) == (1, 6)
    assert new[F2] / new[F1] > 1.3 * old[F2] / old[F1]
    before, level = rig.world.actinic_mj_cm2("lower"), rig.world.actinic_mw_cm2("lower")
    rig.run(10.0)
    assert rig.world.actinic_mj_cm2("lower") - before == pytest.approx(10 * level, rel=1e-3)
    assert before > dose + 100


def test_a_conversion_across_a_change_of_the_window_is_a_mix() -> None:
    """Half clean, half dirty: what came before the change is kept as it was."""
    rig, driver = settled()
    clean = mean(rig, driver)[F1]
    driver._color_meas_enabled = False
    driver._color_meas_enabled = True
    begin_s = rig.clock.now_s
    rig.clock.wait_until(begin_s + 0.05004 / 2)
    happen(rig.world, "diffuser_fouls", transmission=0.5)
    rig.clock.wait_until(begin_s + 0.0501)
    assert driver._all_channels[F1] / clean == pytest.approx(0.75, abs=0.005)


def test_hours_can_be_burnt_without_being_simulated() -> None:
    """A life of lamps in no time; dose and time stand still."""
    rig = Rig(scenario(lamp_hours=100.0))
    rig.world.burn_in("lower", 400.0)
    assert rig.world.lamp("lower").hours == pytest.approx(500.0)
    assert rig.world.actinic_mj_cm2("lower") == 0.0
    assert rig.world.true_calibration("below") == pytest.approx(
        Rig(scenario(lamp_hours=500.0)).world.true_calibration("below")
    )
