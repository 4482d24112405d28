"""LEDs in place of other LEDs, by each kind of sensor; the judge of doses is the simulation."""

from typing import Any

import pytest

from sumlight.box.description import load_box
from sumlight.protocol.snapshot import FaultName
from sumlight.twin import demo
from tests.control.bench_box import BenchBox, demo_box
from tests.control.conftest import MakeBench


def calibrated(make_bench: MakeBench, lamp_type: str, *, uv: bool, built_in: bool = False) -> BenchBox:
    """A box with LEDs, calibrated by a radiometer that reads true, and its first panel done."""
    box = load_box(demo.UV_SENSOR_BOX) if uv else demo_box()
    bank = box.banks[0].model_copy(update={"lamps": "led", "leds_built_in": built_in})
    bench = make_bench(box=box.model_copy(update={"banks": [bank]}), lamp_type=lamp_type)
    bench.ready().ask("series", kind="steady", recipe="quick", panel="", seconds=6.0)
    bench.until(lambda: bench.world.is_lit("lower"))
    bench.run(5.0)
    watch: Any = bench.loop.banks["lower"]
    seen_counts = watch.glass_mw_cm2 / watch.anchor.mw_cm2_per_basic_count
    reads = seen_counts * bench.world.true_calibration("below")
    bench.ask("radiometer", bank="lower", mw_cm2=reads, relative_uncertainty=0.03)
    bench.until_state("done")
    panel(bench)
    return bench


def panel(bench: BenchBox) -> None:
    """One more panel, to its end or its fault."""
    bench.change_panel().start_new(dose_mj_cm2=20)
    bench.until(lambda: bool(bench.faults) or bench.state == "done", 40.0)


def test_a_sound_panel_under_leds_at_385_nm_is_not_stopped(make_bench: MakeBench) -> None:
    """They give next to nothing at 445 nm, and what rounding leaves there is no colour."""
    bench = calibrated(make_bench, "led_385", uv=False)
    assert bench.faults == []
    assert bench.truth.dose_mj_cm2()["A"] == pytest.approx(20.0, rel=0.02)


@pytest.mark.parametrize(("first", "then"), [("led_385", "led_395"), ("led_405", "led_385")])
def test_a_sensor_that_sees_colours_stops_other_leds(make_bench: MakeBench, first: str, then: str) -> None:
    """Before the panel got a tenth of its dose."""
    bench = calibrated(make_bench, first, uv=False)
    bench.happen("lamps_swapped", lamp_type=then, hours=100.0)
    panel(bench)
    assert bench.faults == [FaultName.WRONG_LAMP]
    assert bench.truth.dose_mj_cm2()["A"] < 2.0


def share(bench: BenchBox) -> float:
    """The ± of the last panel over its dose."""
    worth = bench.loop.appraiser.of(bench.exposure.sides[0]).budget
    return worth.expanded_absolute_mj_cm2 / worth.dose_mj_cm2


@pytest.mark.parametrize(("first", "then"), [("led_365", "led_405"), ("led_395", "led_365")])
def test_a_uv_sensor_alone_tells_their_level_and_is_less_sure(make_bench: MakeBench, first: str, then: str) -> None:
    """The panels are completed, and the truth is inside of what is stated, at the third as at the first."""
    bench = calibrated(make_bench, first, uv=True, built_in=True)
    assert not any("Other LEDs?" in str(told) for told in bench.snapshot()["warnings"])
    bench.happen("lamps_swapped", lamp_type=then, hours=100.0)
    for _ in range(3):
        panel(bench)
        assert any("Other LEDs?" in str(told) for told in bench.snapshot()["warnings"])
        assert abs(bench.truth.dose_mj_cm2()["A"] / 20.0 - 1) < share(bench)


def test_leds_that_are_not_said_to_be_built_in_may_be_others_at_any_time(make_bench: MakeBench) -> None:
    """Others of the same UV give no sign at all to a UV sensor."""
    bench = calibrated(make_bench, "led_365", uv=True)
    told = str(bench.ask("calibration")["banks"]["lower"]["sentence"])
    assert "does not tell these LEDs from others, so ± covers other ones" in told
    assert share(bench) > 0.9


@pytest.mark.parametrize(("lamp_type", "uv"), [("led_365", True), ("led_385", False)])
def test_leds_that_are_built_in_or_seen_are_taken_for_the_same(make_bench: MakeBench, lamp_type: str, uv: bool) -> None:
    """A sensor that sees colours needs no word of box.yaml."""
    bench = calibrated(make_bench, lamp_type, uv=uv, built_in=uv)
    told = str(bench.ask("calibration")["banks"]["lower"]["sentence"])
    assert ("does not tell these LEDs from others: record new ones" in told) == uv
    assert share(bench) < 0.1
