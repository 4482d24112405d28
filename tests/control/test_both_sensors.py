"""A box with both sensors on one head: the UV sensor counts, the other watches colour and window.

The judge of doses is the simulation, which knows what the resist got.
"""

import math
from pathlib import Path

import pytest

from sumlight.box.description import BoxDescription, load_box
from sumlight.checkedfile import FileProblemsError
from sumlight.light.lampsigns import LampSigns
from sumlight.protocol.snapshot import FaultName
from sumlight.twin import demo
from tests.control.bench_box import BenchBox
from tests.control.conftest import MakeBench

SILENT = "The colour sensor beside the UV sensor says nothing"


def both() -> BoxDescription:
    """The demo box with both sensors."""
    return load_box(demo.BOTH_SENSORS_BOX)


@pytest.fixture
def bench(make_bench: MakeBench) -> BenchBox:
    """Its control, nothing planned to happen."""
    return make_bench(box=both())


def panel(bench: BenchBox, dose_mj_cm2: float = 20.0) -> float:
    """Expose one; returns what the simulation knows of its dose."""
    bench.start_new(dose_mj_cm2=dose_mj_cm2)
    bench.until_state("done")
    return bench.truth.dose_mj_cm2()["A"]


def told(bench: BenchBox) -> list[str]:
    """The remarks of the moment."""
    return [str(remark) for remark in bench.snapshot()["warnings"]]


def refusal_of(bench: BenchBox) -> str:
    """The code of the one fault that a panel ended with."""
    bench.change_panel()
    bench.start_new(dose_mj_cm2=60)
    bench.until(lambda: bool(bench.faults) or bench.state == "done", 40.0)
    (fault,) = bench.loop.desk.standing()
    return fault.detail.code


def calibrate(bench: BenchBox) -> None:
    """By a radiometer that reads what the glass gets."""
    bench.ready().ask("series", kind="steady", recipe="quick", panel="", seconds=6.0)
    bench.until(lambda: bench.world.is_lit("lower"))
    bench.run(5.0)
    truth = bench.loop.banks["lower"].glass_mw_cm2  # the number in the demo's box.yaml is true for its lamps
    bench.ask("radiometer", bank="lower", mw_cm2=truth, relative_uncertainty=0.03)
    bench.until_state("done")


def test_the_uv_sensor_counts_and_the_other_tells_the_colour(bench: BenchBox) -> None:
    """Two panels and a calibration between: the dose is true, the fingerprint the colour sensor's, nothing odd."""
    assert panel(bench) == pytest.approx(20.0, rel=0.005)
    calibrate(bench)
    bench.change_panel()
    assert panel(bench, 25.0) == pytest.approx(25.0, rel=0.01)
    spectrum = bench.loop.banks["lower"].spectrum
    assert bench.faults == []
    assert bench.loop.banks["lower"].anchor.reference is not None
    assert spectrum.comparison is not None
    assert spectrum.comparison.verdict == "same"
    assert spectrum.judge.apart_ln == 0.0
    block = bench.ask("calibration")["banks"]["lower"]
    assert "sees no colour" not in str(block["sentence"])
    assert not any(SILENT in remark for remark in told(bench))


def with_leds(make_bench: MakeBench) -> BenchBox:
    """A box with LEDs of 365 nm and both sensors, calibrated."""
    box = both()
    leds = box.model_copy(update={"banks": [box.banks[0].model_copy(update={"lamps": "led"})]})
    bench = make_bench(box=leds, lamp_type="led_365")
    calibrate(bench)
    return bench


def test_other_leds_while_the_colour_sensor_is_silent_are_within_the_doubt(make_bench: MakeBench) -> None:
    """A fifth more than counted, by the simulation; while it is not silent the same box is sure of its LEDs."""
    bench = with_leds(make_bench)
    panel(bench.change_panel())
    sure = bench.loop.appraiser.of(bench.exposure.sides[0]).budget.expanded_absolute_mj_cm2
    bench.happen("meter_disappears", meter="below-colour")
    bench.run(1.5)
    bench.happen("lamps_swapped", lamp_type="led_385", hours=0.0)
    true = panel(bench.change_panel())
    worth = bench.loop.appraiser.of(bench.exposure.sides[0]).budget.expanded_absolute_mj_cm2
    assert 20.0 + 3 * sure < true < 20.0 + worth


def test_leds_that_are_still_do_not_seem_to_ripple(make_bench: MakeBench) -> None:
    """Two chips end their conversions in any order, and neither gets light of the time after its end."""
    bench = with_leds(make_bench)
    panel(bench.change_panel(), 60.0)
    signs = bench.loop.banks["lower"].spectrum.signs
    assert signs is not None
    assert signs.swing is not None
    assert signs.swing < 0.002
    assert not any("ripple" in remark for remark in told(bench))


def test_the_self_check_uses_the_colour_sensors_led(bench: BenchBox) -> None:
    """Dirt before the head is found, and is the same for both: the dose after it is true again."""
    assert bench.self_check()["verdict"] == "reference"
    panel(bench)
    bench.happen("diffuser_fouls", transmission=0.85)
    panel(bench.change_panel())
    found = bench.self_check()
    assert math.exp(-found["ln_shift"]) == pytest.approx(0.85, abs=0.02)
    if found["may_apply"]:
        bench.ask("self_check", bank="lower", apply=True)
    assert panel(bench.change_panel()) == pytest.approx(20.0, rel=0.03)


@pytest.mark.parametrize("lamp_type", ["other_fluorescent", "led_365", "led_395"])
def test_other_lamps_are_found_without_any_calibration(bench: BenchBox, lamp_type: str) -> None:
    """By their colour against the last panel's; the same swaps pass unseen under a UV sensor alone."""
    panel(bench)
    bench.happen("lamps_swapped", lamp_type=lamp_type, hours=100.0)
    code = refusal_of(bench)
    assert code in ("sensors_contradict", "no_blue_of_mercury", "too_blue_for_tubes", "blue_changed_since")
    assert bench.loop.banks["lower"].spectrum.judge.unlikely is not None
    assert bench.truth.dose_mj_cm2()["A"] < 20.0


def test_a_window_that_is_dirty_before_one_of_them_is_told(bench: BenchBox) -> None:
    """A sixth less violet beside the same UV: said, and the ± is wider by it. Half: no panel may go on."""
    panel(bench)
    bench.happen("diffuser_fouls", meter="below-colour", transmission=0.84)
    before = bench.loop.appraiser.of(bench.exposure.sides[0]).budget.expanded_repeat_mj_cm2
    panel(bench.change_panel())
    assert bench.faults == []
    assert any("violet beside UV changed by 19%" in remark for remark in told(bench))
    after = bench.loop.appraiser.of(bench.exposure.sides[0]).budget.expanded_repeat_mj_cm2
    assert after > before + 2 * 0.17 * 20.0 * 0.9
    bench.happen("diffuser_fouls", meter="below-colour", transmission=0.4)
    assert refusal_of(bench) == "sensors_contradict"


def test_a_colour_sensor_that_is_gone_is_named_and_found_again(bench: BenchBox) -> None:
    """Light goes on by the UV sensor, and the ± no longer believes that somebody sees the lamps."""
    bench.light_up(dose_mj_cm2=20, settled_s=1.0)
    bench.happen("meter_disappears", meter="below-colour")
    bench.until_state("done")
    assert bench.faults == []
    assert bench.truth.dose_mj_cm2()["A"] == pytest.approx(20.0, rel=0.005)
    assert any(SILENT in remark and "0x39" in remark for remark in told(bench))
    worth = bench.loop.appraiser.of(bench.exposure.sides[0]).budget
    assert {share.name: share.u_mj_cm2 for share in worth.shares}["other lamps"] > 0.49 * 20.0
    assert bench.refused("commission_begin", who="me").args[0].code == "colour_is_silent"
    bench.happen("meter_returns", meter="below-colour")
    bench.change_panel().run(8.0)
    assert not any(SILENT in remark for remark in told(bench))


def test_a_colour_sensor_that_only_stops_converting_is_named_too(bench: BenchBox) -> None:
    """It answers, and gives nothing new."""
    bench.ready()
    bench.happen("meter_hangs", meter="below-colour")
    bench.run(1.5)
    assert any("no reading for a second" in remark for remark in told(bench))


def test_both_prove_their_registers(bench: BenchBox) -> None:
    """A wrong time in the colour sensor silences that one, by name of the register; the UV sensor goes on."""
    bench.ready()
    chip = bench.world._chips["below-colour"]
    chip._reg[0x81] = 31
    bench.run(1.5)
    (remark,) = [remark for remark in told(bench) if SILENT in remark]
    assert "ATIME" in remark
    assert panel(bench) == pytest.approx(20.0, rel=0.005)


def test_a_lost_uv_sensor_ends_light(bench: BenchBox) -> None:
    """The colour sensor is no substitute: it counts nothing."""
    bench.light_up()
    bench.happen("meter_disappears", meter="below")
    bench.until(lambda: not bench.loop.box.banks[0].commanded, 1.0)
    assert bench.faults == [FaultName.METER_LOST]


def test_a_calibration_holds_with_and_without_the_colour_sensor(make_bench: MakeBench) -> None:
    """It is the UV sensor's: who fits the other one later, or loses it, calibrates nothing anew."""
    first = make_bench(box=both())
    calibrate(first)
    first.close()
    alone = make_bench(box=load_box(demo.UV_SENSOR_BOX))
    assert alone.ask("calibration")["banks"]["lower"]["origin"] == "radiometer"
    panel(alone)
    alone.close()
    again = make_bench(box=both())
    assert again.ask("calibration")["banks"]["lower"]["origin"] == "radiometer"
    assert panel(again.change_panel()) == pytest.approx(20.0, rel=0.02)
    assert again.faults == []


def test_the_calibrations_record_keeps_violet_beside_uv(bench: BenchBox) -> None:
    """And an older record without it is read as one that says nothing of it."""
    calibrate(bench)
    signs = bench.loop.book.k("lower", 0.0).signs
    assert signs is not None
    assert signs.violet_share is not None
    assert signs.violet_share > 0
    assert LampSigns(1.0).violet_share is None


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ("as7331", "as7341", "colour_i2c_address"),
        ("0x39", "0x74", "i2c_bus"),
    ],
)
def test_what_cannot_be_is_refused(tmp_path: Path, old: str, new: str, place: str) -> None:
    """A colour sensor beside one that sees colours, and two chips at one address."""
    path = tmp_path / "box.yaml"
    path.write_text(demo.BOTH_SENSORS_BOX.read_text().replace(f": {old}", f": {new}", 1))
    with pytest.raises(FileProblemsError) as found:
        load_box(path)
    assert any(place in str(problem) for problem in found.value.problems)
