"""Wrong lamps named before a panel is spoilt, a dirty diffuser told apart from ageing lamps; truth is the twin's."""

import math

import pytest

from tests.control.bench_box import BenchBox
from tests.control.conftest import MakeBench
from tests.control.tablet_person import tablet_run

TARGET_MJ_CM2 = 100.0
SPOILT = 0.02
"""Share of the target below which nothing happened to the panel: far below any resist's threshold."""


@pytest.fixture
def calibrated(make_bench: MakeBench) -> BenchBox:
    """A box with tubes of 300 h, calibrated by a tablet."""
    bench = make_bench(ageing="apart", lamp_hours=300.0)
    assert tablet_run(bench, panel=3)["applied"]
    return bench


def spoil_test(bench: BenchBox) -> float:
    """Start a panel and wait for its end or a fault; returns the share of the target that it truly got."""
    bench.start_new(dose_mj_cm2=TARGET_MJ_CM2)
    bench.until(lambda: bench.state in ("done", "faulted"))
    return bench.true_dose() / TARGET_MJ_CM2


@pytest.mark.parametrize("lamp_type", ["other_fluorescent", "led_365", "led_395", "led_405"])
def test_other_lamps_are_named_before_the_panel_is_spoilt(calibrated: BenchBox, lamp_type: str) -> None:
    """Phosphor in clear glass, or LEDs without mercury lines, where the calibrated tubes were."""
    calibrated.happen("lamps_swapped", lamp_type=lamp_type)
    assert spoil_test(calibrated) < SPOILT
    assert calibrated.faults == ["wrong_lamp"]
    assert calibrated.snapshot()["banks"][0]["spectrum"]["verdict"] == "other_lamp"


def test_a_missing_filter_is_named_before_the_panel_is_spoilt(calibrated: BenchBox) -> None:
    """The sensor then counts light that is none of the lamps' violet."""
    calibrated.happen("filter_removed")
    assert spoil_test(calibrated) < SPOILT
    assert calibrated.faults == ["wrong_lamp"]


def test_tubes_that_age_are_not_taken_for_others(calibrated: BenchBox) -> None:
    """Twelve hundred hours later the colour has drifted, as it does with age."""
    calibrated.world.burn_in("lower", 1200)
    calibrated.start_new(dose_mj_cm2=40).until_state("done")
    assert calibrated.faults == []
    assert calibrated.snapshot()["banks"][0]["spectrum"]["verdict"] == "drifting"


def test_without_a_calibration_there_is_nothing_to_compare_with(bench: BenchBox) -> None:
    """The number in box.yaml has no colour."""
    bench.start().until_state("done")
    assert bench.snapshot()["banks"][0]["spectrum"] is None


def test_new_lamps_begin_anew_and_are_not_measured_with_the_old_calibration(calibrated: BenchBox) -> None:
    """Recorded after the fault: hours and strikes from nothing, box.yaml's number with a wide doubt, a check due."""
    calibrated.happen("lamps_swapped", lamp_type="other_fluorescent")
    spoil_test(calibrated)
    calibrated.run(1.0)
    calibrated.ask("acknowledge", who="somebody")
    calibrated.ask("abandon")
    calibrated.run(0.1)
    reply = calibrated.ask("new_lamps", bank="lower", lamp_type="other tubes (invented)")
    assert reply["lamp_set"] == 1
    shown = calibrated.snapshot()
    assert (shown["banks"][0]["lamp_hours"], shown["banks"][0]["strikes"]) == (0.0, 0)
    found = shown["calibration"]["lower"]
    assert (found["origin"], found["check_due"]) == ("box.yaml", True)
    assert found["expanded_relative"] >= 0.6

    assert tablet_run(calibrated, panel=4)["applied"]
    calibrated.start_new(dose_mj_cm2=40).until_state("done")
    side = calibrated.snapshot()["exposure"]["sides"][0]
    assert abs(calibrated.true_dose() - side["dose_mj_cm2"]) < side["expanded_absolute_mj_cm2"]
    assert calibrated.faults == []


def test_a_dirty_diffuser_is_named_and_the_dose_corrected(calibrated: BenchBox) -> None:
    """12 % of the light lost in the window: the lamps did not change, the dose must not either."""
    assert calibrated.self_check()["verdict"] == "reference"
    calibrated.start_new(dose_mj_cm2=40).until_state("done")
    before = math.log(calibrated.true_dose() / 40)

    calibrated.happen("diffuser_fouls", transmission=0.88)
    found = calibrated.self_check()
    assert (found["verdict"], found["may_apply"]) == ("diffuser_dirty", True)
    assert found["diffuser"] == pytest.approx(0.88, abs=0.02)
    applied = calibrated.ask("self_check", bank="lower", apply=True)
    assert applied["result"]["may_apply"] is False
    calibrated.start_new(dose_mj_cm2=40).until_state("done")
    assert math.log(calibrated.true_dose() / 40) == pytest.approx(before, abs=0.02)
    assert calibrated.self_check()["may_apply"] is False

    calibrated.happen("diffuser_cleaned")
    assert calibrated.self_check()["verdict"] == "diffuser_cleaned"
    calibrated.ask("self_check", bank="lower", apply=True)
    calibrated.start_new(dose_mj_cm2=40).until_state("done")
    assert math.log(calibrated.true_dose() / 40) == pytest.approx(before, abs=0.02)


def test_old_lamps_do_not_look_like_dirt(calibrated: BenchBox) -> None:
    """A thousand hours later the LED reads as it did."""
    calibrated.self_check()
    calibrated.world.burn_in("lower", 1000)
    calibrated.start_new(dose_mj_cm2=20).until_state("done")
    found = calibrated.self_check()
    assert found["ln_shift"] == 0.0
    assert found["verdict"] in ("steady", "lamp_ages")


def test_dirt_that_a_tablet_may_have_seen_is_not_corrected_twice(calibrated: BenchBox) -> None:
    """The calibration made after the dirt came holds it already."""
    calibrated.self_check()
    calibrated.happen("diffuser_fouls", transmission=0.94)
    calibrated.world.burn_in("lower", 100)
    calibrated.loop.recorder.add_use("lower", 360_000.0, 0)
    assert tablet_run(calibrated, panel=5)["applied"]
    found = calibrated.self_check()
    assert (found["verdict"], found["may_apply"]) == ("diffuser_dirty", False)
    assert calibrated.refused("self_check", bank="lower", apply=True).code == "refused"
    assert calibrated.self_check()["ln_shift"] == 0.0


def test_the_self_check_needs_dark_lamps_and_keeps_them_dark(bench: BenchBox) -> None:
    """Refused during an exposure; and nothing is started while it runs."""
    bench.light_up()
    assert bench.refused("self_check", bank="lower").code == "refused"
    bench.ask("abandon")
    bench.run(1.0)
    shown = [bench.loop.banks["lower"].glass_mw_cm2 or 0.0]
    bench.after_step = lambda: shown.append(bench.loop.banks["lower"].glass_mw_cm2 or 0.0)
    bench.ask("self_check", bank="lower")
    assert bench.refused("start", recipe="quick", panel="").code == "refused"
    bench.run(3.0)
    assert max(shown) - shown[0] < 0.006, "the LED was taken for light in the box"
    assert bench.faults == []
    bench.ready().ask("start", recipe="quick", panel="")


def test_a_lid_that_opens_ends_the_self_check_with_the_led_off(bench: BenchBox) -> None:
    """And what was read of it counts for nothing."""
    bench.ready().ask("self_check", bank="lower")
    bench.run(0.3)
    assert bench.world._chips["below"]._led_ma > 0
    bench.open_lid()
    bench.run(0.1)
    assert bench.world._chips["below"]._led_ma == 0
    assert bench.snapshot()["banks"][0]["self_check"] == {"phase": "failed", "result": None}
