"""A box whose sensor measures UV-A itself: panels, breaks, and what it says of what it cannot see.

The judge of doses is the simulation, which knows what the resist got.
"""

import pytest

from sumlight.box.description import BoxDescription, load_box
from sumlight.control.records.replay import replay
from sumlight.protocol.snapshot import FaultName
from sumlight.twin import demo
from tests.control.bench_box import BenchBox, demo_box
from tests.control.conftest import MakeBench
from tests.control.records.test_replay import stretches
from tests.control.tablet_person import expose_zones


def uv_box() -> BoxDescription:
    """The demo box with a UV sensor."""
    return load_box(demo.UV_SENSOR_BOX)


@pytest.fixture
def bench(make_bench: MakeBench) -> BenchBox:
    """Its control, nothing planned to happen."""
    return make_bench(box=uv_box())


def panel(bench: BenchBox, dose_mj_cm2: float = 20.0) -> tuple[float, float]:
    """Expose one; returns its dose and what the simulation knows of it."""
    bench.start_new(dose_mj_cm2=dose_mj_cm2)
    bench.until_state("done")
    side = bench.exposure.sides[0]
    return side.dose_mj_cm2, bench.truth.dose_mj_cm2()["A"]


@pytest.mark.parametrize("lamps", ["fluorescent", "led_365"])
@pytest.mark.parametrize("hz", [100, 120])
def test_it_exposes_a_panel_to_the_true_dose(make_bench: MakeBench, lamps: str, hz: int) -> None:
    """With the number that is true for these lamps, within half a per cent, ripple or not."""
    made = make_bench(box=uv_box(), lamp_type=lamps, ripple_hz=hz)
    k = made.world.true_calibration("below")
    meter = uv_box().meters[0].model_copy(update={"mw_cm2_per_basic_count": k})
    made.close()
    made = make_bench(box=uv_box().model_copy(update={"meters": [meter]}), lamp_type=lamps, ripple_hz=hz)
    dose, truth = panel(made)
    assert made.faults == []
    assert dose == pytest.approx(20.0, rel=0.005)
    assert truth == pytest.approx(20.0, rel=0.005)


def test_its_panels_are_recorded_with_the_scale_that_gives_their_dose_again(bench: BenchBox) -> None:
    """Samples, conversions of 64 ms and the number of the box give the dose that was told, a gap included."""
    bench.start_new(dose_mj_cm2=20)
    bench.until(lambda: bench.exposure.sides[0].dose_mj_cm2 > 8.0)
    bench.loop.banks["lower"].meter.set_gain(6)
    bench.until_state("done")
    dose = bench.exposure.sides[0].dose_mj_cm2
    (stretch,) = stretches(bench)
    assert stretch.begin.integration_ms == 64.0
    assert replay(stretch).replayed_mj_cm2 == pytest.approx(dose, abs=1e-9)


def test_an_unplugged_sensor_ends_light(bench: BenchBox) -> None:
    """Within the bridged half second, with the dose kept."""
    bench.light_up()
    dose = bench.exposure.sides[0].dose_mj_cm2
    bench.happen("meter_disappears")
    bench.until(lambda: not bench.loop.box.banks[0].commanded, 1.0)
    assert bench.faults == [FaultName.METER_LOST]
    assert bench.exposure.sides[0].dose_mj_cm2 >= dose
    bench.happen("meter_returns")
    bench.run(2.0)
    bench.ask("acknowledge", who="me")
    assert bench.faults == []


def test_light_that_is_too_strong_for_it_is_called_so(bench: BenchBox) -> None:
    """Nine of its windows are longer than the half second that is bridged: a meter that answers is not silent."""
    bench.light_up()
    bench.world._chips["below"].clips_at = 0.001
    bench.until(lambda: not bench.loop.box.banks[0].commanded, 2.0)
    assert bench.faults == [FaultName.METER_SATURATED]
    assert "full scale" in str(bench.loop.desk.standing()[0].detail)


def test_one_that_always_gives_the_same_ends_light(bench: BenchBox) -> None:
    """As with the other kind."""
    bench.light_up()
    bench.happen("meter_freezes")
    bench.until(lambda: not bench.loop.box.banks[0].commanded, 2.0)
    assert bench.faults == [FaultName.METER_STUCK]


def test_a_panel_goes_on_after_a_restart(make_bench: MakeBench) -> None:
    """What it got before counts; together it is the true dose."""
    before = make_bench(box=uv_box()).light_up(dose_mj_cm2=40)
    before.kill()
    truth = before.truth.dose_mj_cm2()["A"]
    after = make_bench(box=uv_box())
    after.until(lambda: "go" in after.exposure.may(), 20.0)
    after.ask("go")
    after.until_state("done")
    assert truth + after.truth.dose_mj_cm2()["A"] == pytest.approx(40.0, rel=0.03)


def test_what_it_cannot_see_is_said_and_nothing_fails_for_it(bench: BenchBox) -> None:
    """No colour, no LED: neither asked for nor due, and refused in words."""
    bench.ready()
    block = bench.ask("calibration")["banks"]["lower"]
    assert "It sees no colour and has no self-check LED." in block["sentence"]
    assert block["self_check_due"] is False
    assert bench.snapshot()["banks"][0]["self_check"] is None
    error = bench.refused("self_check", bank="lower")
    assert str(error.args[0]) == "This sensor has no LED of its own: a self-check is not possible with it."
    panel(bench)
    assert bench.snapshot()["banks"][0]["spectrum"] is None
    assert bench.faults == []


def test_other_lamps_pass_unseen_and_a_level_that_cannot_be_does_not(make_bench: MakeBench) -> None:
    """Other tubes look alike to it; a tenth of the light that the last panel had does not."""
    made = make_bench(box=uv_box())
    panel(made)
    made.change_panel()
    made.happen("lamps_swapped", lamp_type="other_fluorescent", hours=100.0)
    panel(made)
    assert made.faults == []
    made.change_panel()
    made.happen("diffuser_fouls", transmission=0.1)
    made.start_new(dose_mj_cm2=20)
    made.until(lambda: bool(made.faults), 20.0)
    assert made.faults == [FaultName.LIGHT_UNLIKELY]
    assert made.loop.desk.standing()[0].detail.code == "level_changed_since"


def of_kind(kind: str) -> BoxDescription:
    """The demo box with its one meter of either kind, by the same name at the same place."""
    return uv_box() if kind == "as7331" else demo_box()


@pytest.mark.parametrize(("first", "then"), [("as7341", "as7331"), ("as7331", "as7341")])
def test_a_calibration_holds_for_its_own_kind_of_sensor_only(make_bench: MakeBench, first: str, then: str) -> None:
    """Whoever fits another kind is told, by either way round, and the number of box.yaml has to do until a tablet."""
    before = make_bench(box=of_kind(first))
    before.ready().ask("series", kind="steady", recipe="quick", panel="", seconds=20.0)
    before.until(lambda: before.world.is_lit("lower"))
    before.run(5.0)
    reply = before.ask("radiometer", bank="lower", mw_cm2=2.0, relative_uncertainty=0.03)
    assert reply["calibration"]["origin"] == "radiometer"
    before.ask("dark")
    before.close()
    after = make_bench(box=of_kind(then))
    block = after.ask("calibration")["banks"]["lower"]
    assert (block["origin"], block["check_due"]) == ("box.yaml", True)
    assert "The calibrations were made with another kind of light sensor" in block["sentence"]
    assert block["mw_cm2_per_basic_count"] == of_kind(then).meters[0].mw_cm2_per_basic_count
    assert block["expanded_relative"] >= (1.0 if then == "as7331" else 0.6)  # no colour tells it other lamps
    after.close()
    again = make_bench(box=of_kind(first))
    assert again.ask("calibration")["banks"]["lower"]["origin"] == "radiometer"


def test_what_was_taught_with_one_kind_is_refused_for_the_other(make_bench: MakeBench) -> None:
    """Its dose is in units of the sensor that saw it."""
    before = make_bench(box=of_kind("as7341"))
    before.ready().ask("series", kind="teach", recipe="quick", panel="", seconds=3.0)
    before.until_state("done")
    before.close()
    error = make_bench(box=of_kind("as7331")).refused("teach", exposure_id=1)
    assert str(error.args[0]) == "This was exposed with another kind of light sensor."


@pytest.mark.parametrize(("first", "then"), [("as7341", "as7331"), ("as7331", "as7341")])
def test_a_tablet_exposed_under_one_kind_calibrates_no_other(make_bench: MakeBench, first: str, then: str) -> None:
    """Read after the old sensor was put back it may be looked at, and sets neither calibration nor recipe."""
    before = make_bench(box=of_kind(then))
    before.ready().ask("series", kind="steady", recipe="quick", panel="", seconds=20.0)
    before.until(lambda: before.world.is_lit("lower"))
    before.run(5.0)
    before.ask("radiometer", bank="lower", mw_cm2=2.0, relative_uncertainty=0.03)
    before.until_state("done")
    before.close()
    between = make_bench(box=of_kind(first))
    expose_zones(between, [20.0])
    number = between.snapshot()["exposure"]["exposure_id"]
    between.close()
    after = make_bench(box=of_kind(then))
    known = after.ask("calibration")["banks"]["lower"]
    read = {"exposure_id": number, "convention": "last_held", "readings": [{"zone": "1", "step": 6}], "target_step": 6}
    assert after.ask("tablet_readings", **read)["surprise"] is None
    for apply in ("calibration", "recipe"):
        error = after.refused("tablet_readings", **read, apply=apply, sure=True)
        assert str(error.args[0]) == "This tablet was exposed with another kind of light sensor."
    assert known["origin"] == "radiometer"
    assert after.ask("calibration")["banks"]["lower"] == known


def test_gains_are_learned_with_it(make_bench: MakeBench) -> None:
    """Each doubling within the 3 % that the simulated chip's may be off."""
    made = make_bench(box=uv_box(), gain_errors=True)
    made.ready().ask("series", kind="steady", recipe="quick", panel="", seconds=60.0)
    made.until(lambda: made.world.is_lit("lower"))
    made.run(5.0)
    made.loop.banks["lower"].meter.set_gain(7)
    made.run(1.0)
    made.ask("learn_gains", bank="lower")
    made.run(20.0)
    truth = made.world.quirks("below").gain_factors
    steps = made.loop.book.gains["below (as7331)"].steps()
    for code in (5, 6):
        assert 1 + steps[code].ln_error == pytest.approx(truth[code + 1] / truth[code], abs=0.004)


def test_two_of_them_share_one_bus(make_bench: MakeBench) -> None:
    """Unlike the other kind they have addresses of their own; each bank ends on its own dose."""
    two = demo_box(two_banks=True)
    k = uv_box().meters[0].mw_cm2_per_basic_count
    meters = [
        meter.model_copy(
            update={"kind": "as7331", "i2c_bus": 1, "i2c_address": 0x74 + number, "mw_cm2_per_basic_count": k}
        )
        for number, meter in enumerate(two.meters)
    ]
    made = make_bench(box=two.model_copy(update={"meters": meters}))
    made.start_new(sides="together", dose_mj_cm2=20)
    made.until_state("done")
    assert made.faults == []
    assert list(made.truth.dose_mj_cm2().values()) == pytest.approx([20.0, 20.0], rel=0.01)
