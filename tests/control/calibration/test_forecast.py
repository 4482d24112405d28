"""What is told before light: a guard that would end it, light too weak for the dose, light longer than calibrated."""

import math
from dataclasses import replace

import pytest

from sumlight.box.description import BoxDescription
from sumlight.control.calibration.forecast import Forecast, of_plan, refuse_hopeless, remarks
from sumlight.control.refused import RefusedError
from tests.control.bench_box import BenchBox, demo_box
from tests.control.conftest import MakeBench
from tests.control.ideal_lamps import plan
from tests.control.tablet_person import tablet_run


def test_time_is_dose_over_irradiance_behind_the_stack() -> None:
    """60 mJ/cm² at 2.5 mW/cm² take 24 s (t = H/E); 3.125 at the glass are 2.5 behind 0.8."""
    (found,) = of_plan(plan(target_mj_cm2=60.0, guard_s=30.0), {"lower": 3.125})
    assert (found.needs_s, found.guard_s) == pytest.approx((24.0, 30.0))


def test_a_resist_that_departs_from_reciprocity_takes_longer_in_weak_light() -> None:
    """p = 0.9 and half the irradiance: 2.16012 times the time (Schwarzschild; reference values §5)."""
    made = plan(target_mj_cm2=60.0)
    side = replace(made.sides[0], found_at_mw_cm2=2.5, reciprocity_p=0.9)
    (found,) = of_plan(replace(made, sides=(side,)), {"lower": 3.125 / 2})
    (usual,) = of_plan(replace(made, sides=(side,)), {"lower": 3.125})
    assert usual.needs_s == pytest.approx(24.0)
    assert found.needs_s == pytest.approx(24.0 * 2.16012, rel=1e-5)


def test_nothing_is_foretold_of_light_that_nobody_has_seen() -> None:
    """Nor of a leg that is lit for a set time."""
    made = plan()
    assert of_plan(made, {}) == []
    timed = replace(made, sides=(replace(made.sides[0], target_mj_cm2=None, lit_for_s=3.0),))
    assert of_plan(timed, {"lower": 5.0}) == []


@pytest.mark.parametrize(("guard_s", "words"), [(600.0, "time_guard_s"), (1800.0, "lit_limit_s")])
def test_a_guard_far_shorter_than_the_forecast_is_refused_by_its_name(guard_s: float, words: str) -> None:
    """Forty minutes; the recipe's own guard, or the box's."""
    with pytest.raises(RefusedError) as caught:
        refuse_hopeless([Forecast("A", "lower", 2400.0, guard_s)], 1800.0)
    assert words in caught.value.message
    refuse_hopeless([Forecast("A", "lower", 1.2 * guard_s, guard_s)], 1800.0)


def test_a_guard_that_is_close_is_told() -> None:
    """From four fifths on."""
    assert remarks([Forecast("A", "lower", 70.0, 100.0)], {}) == []
    (told,) = remarks([Forecast("B", "lower", 95.0, 100.0)], {})
    assert "Side B" in told
    assert "close" in told


def test_light_far_longer_than_that_of_the_calibration_is_told() -> None:
    """Four seconds then, five minutes now: lamps that are warm."""
    assert remarks([Forecast("A", "lower", 300.0, 1800.0)], {"lower": None}) == []
    assert remarks([Forecast("A", "lower", 300.0, 1800.0)], {"lower": 200.0}) == []
    assert remarks([Forecast("A", "lower", 30.0, 1800.0)], {"lower": 4.0}) == []
    (told,) = remarks([Forecast("A", "lower", 300.0, 1800.0)], {"lower": 4.0})
    assert "4 s" in told


def short_of_time(limit_s: float) -> BoxDescription:
    """The demo box with another limit of light."""
    box = demo_box()
    return box.model_copy(update={"limits": box.limits.model_copy(update={"lit_limit_s": limit_s})})


def one_panel(bench: BenchBox) -> BenchBox:
    """So that the box knows its light."""
    bench.start_new(dose_mj_cm2=20, time_guard_s=100).until_state("done")
    return bench.ready()


def test_a_hopeless_panel_is_not_lit(make_bench: MakeBench) -> None:
    """200 mJ/cm² take some 50 s of this light; a guard of 20 s would waste the panel."""
    bench = one_panel(make_bench())
    bench.save("special", _with(bench, "time_guard_s: 100", "time_guard_s: 20", dose="200"))
    strikes = bench.snapshot()["banks"][0]["strikes"]
    error = bench.refused("start", recipe="special", panel="P2")
    assert error.code == "refused"
    assert "time_guard_s" in str(error)
    bench.run(2.0)
    assert bench.snapshot()["banks"][0]["strikes"] == strikes


def test_a_recipe_whose_guard_the_box_cuts_is_refused_by_the_boxes_name(make_bench: MakeBench) -> None:
    """Its 100 s are more than the box allows."""
    bench = one_panel(make_bench(box=short_of_time(25.0)))
    bench.save("special", _with(bench, "time_guard_s: 100", "time_guard_s: 100", dose="200"))
    assert "lit_limit_s" in str(bench.refused("start", recipe="special", panel="P2"))


def _with(bench: BenchBox, old: str, new: str, *, dose: str) -> str:
    text = bench.daemon.shelf.load("special").text
    return text.replace(old, new).replace("dose_mj_cm2: 20\n", f"dose_mj_cm2: {dose}\n")


def test_a_close_guard_is_among_the_remarks_while_the_panel_is_under_way(make_bench: MakeBench) -> None:
    """And over with it."""
    bench = one_panel(make_bench())
    bench.save("special", _with(bench, "time_guard_s: 100", "time_guard_s: 60", dose="190"))
    bench.ask("start", recipe="special", panel="P2")
    assert any("close" in told for told in bench.snapshot()["warnings"])
    bench.ask("dark")
    bench.run(0.1)
    bench.ask("abandon")
    assert not any("close" in told for told in bench.snapshot()["warnings"])


def test_long_light_after_a_short_calibration_is_among_the_remarks(make_bench: MakeBench) -> None:
    """The zones of a tablet take some seconds each."""
    bench = make_bench()
    tablet_run(bench, panel=3)
    one_panel(bench)
    bench.save("special", _with(bench, "time_guard_s: 100", "time_guard_s: 1000", dose="600"))
    bench.ask("start", recipe="special", panel="P2")
    assert any("exposed as long" in told for told in bench.snapshot()["warnings"])


def test_the_forecast_is_what_the_light_then_takes(make_bench: MakeBench) -> None:
    """Within the warm-up: the lamps were colder when the first panel saw them."""
    bench = one_panel(make_bench())
    before = bench.loop.book.expected("lower", 0.0).before
    assert before is not None
    foretold_s = 60 / (0.8 * before.basic_counts[0] * bench.loop.banks["lower"].anchor.mw_cm2_per_basic_count)
    bench.start_new(dose_mj_cm2=60).until_state("done")
    assert bench.side().lit_s == pytest.approx(foretold_s, rel=0.2)
    assert not math.isnan(foretold_s)
