"""Events of the twin's scenarios at meter, daylight and mains, and buttons, while lamps are on: they go dark.

The lid's own switch is left out of the lamps' supply here, so what darkens is the software alone. Events that end
a trouble must not bring light back: that takes a person's word.
"""

import re

import pytest

from sumlight.control.exposure.state_machine import Exposure
from sumlight.control.safety.permit import Permit
from sumlight.twin.events import EVENTS
from tests.control import test_events_of_the_box, test_events_of_the_chain
from tests.control.bench_box import BenchBox
from tests.control.conftest import MakeBench
from tests.control.events import BRIDGE_S, REACTION_S, STEP_SEEN_S, darkens_with, happens, stays_dark
from tests.control.frontpanel import test_go_and_stop


def test_each_kind_of_event_has_a_test_named_for_it() -> None:
    """A new kind of event must be proven, too."""
    modules = (test_events_of_the_box, test_events_of_the_chain, test_go_and_stop)
    tests = [*(name for module in modules for name in vars(module)), *globals()]
    missing = [do for do in EVENTS if not any(re.match(rf"test_{do}(_|$)", name) for name in tests)]
    assert missing == []


def test_meter_disappears_darkens_when_bridging_ends(bench: BenchBox) -> None:
    """Bridged for limits.bridge_limit_s and not longer."""
    bench.light_up()
    at_s = happens(bench, "meter_disappears")
    bench.run(1.0)
    assert BRIDGE_S - 0.06 <= bench.switched_off_after(at_s) <= BRIDGE_S + REACTION_S
    assert bench.faults == ["meter_lost"]
    stays_dark(bench)
    assert abs(bench.side().dose_mj_cm2 - bench.true_dose()) <= bench.side().sum.doubt_mj_cm2 + 0.05


def test_meter_disappears_darkens_by_the_permit_alone(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """Even if the exposure's own guard slept, no permit without readings."""
    bench.light_up()
    monkeypatch.setattr(Exposure, "_guards", lambda *_: [])
    at_s = happens(bench, "meter_disappears")
    bench.run(1.0)
    assert bench.switched_off_after(at_s) <= BRIDGE_S + REACTION_S


def test_meter_disappears_darkens_by_the_exposure_alone(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """Even if the permit did not ask for readings, the guard would raise its fault."""
    bench.light_up()
    monkeypatch.setattr(Permit, "renew", lambda *_: True)
    at_s = happens(bench, "meter_disappears")
    bench.run(1.0)
    assert bench.switched_off_after(at_s) <= BRIDGE_S + REACTION_S


def test_meter_returns_without_its_settings_while_lit_darkens(bench: BenchBox) -> None:
    """A sensor that lost power converts nothing: it counts as silent although it answers."""
    bench.light_up()
    at_s = happens(bench, "meter_disappears")
    bench.run(0.1)
    bench.happen("meter_returns")
    bench.run(1.0)
    assert bench.switched_off_after(at_s) <= BRIDGE_S + REACTION_S
    assert bench.faults == ["meter_lost"]


def test_meter_returns_does_not_bring_light_back(bench: BenchBox) -> None:
    """It is set up anew and read again, but light takes an acknowledgement and a go."""
    bench.light_up()
    bench.happen("meter_disappears")
    bench.run(2.0)
    bench.happen("meter_returns")
    stays_dark(bench)
    assert bench.sees_light()
    assert bench.state == "faulted"
    bench.ask("acknowledge")
    stays_dark(bench)
    assert bench.state == "paused"


def test_meter_hangs_darkens_when_bridging_ends(bench: BenchBox) -> None:
    """It answers but has nothing new."""
    bench.light_up()
    at_s = happens(bench, "meter_hangs")
    bench.run(1.0)
    assert bench.switched_off_after(at_s) <= BRIDGE_S + REACTION_S
    assert bench.faults == ["meter_lost"]
    stays_dark(bench)


def test_meter_freezes_darkens_with_a_fault(bench: BenchBox) -> None:
    """The same counts again and again are no measurement."""
    bench.light_up()
    at_s = happens(bench, "meter_freezes")
    bench.run(1.5)
    assert bench.switched_off_after(at_s) <= 0.7
    assert bench.faults == ["meter_stuck"]
    stays_dark(bench)


@pytest.mark.parametrize("level_mw_cm2", [0.1, 0.5, 2.0, 20.0])
def test_daylight_enters_darkens_with_a_fault(bench: BenchBox, level_mw_cm2: float) -> None:
    """By the rise it brings or, where that is within the limit, by its near infrared."""
    bench.light_up()
    at_s = happens(bench, "daylight_enters", level_mw_cm2=level_mw_cm2)
    bench.run(1.5)
    assert bench.switched_off_after(at_s) <= 1.2
    assert set(bench.faults) & {"foreign_light", "meter_saturated"}
    assert not bench.any_relay_lights()


def test_daylight_enters_before_the_start_and_nothing_is_lit(bench: BenchBox) -> None:
    """The dark check refuses."""
    bench.ready().happen("daylight_enters", level_mw_cm2=2.0)
    bench.ask("start", recipe="quick")
    bench.run(3.0)
    assert bench.faults == ["light_while_dark"]
    assert [level for _, level in bench.pin(17).history] == [None, True]


def test_daylight_ends_does_not_bring_light_back(bench: BenchBox) -> None:
    """Dark outside again: the fault waits for its acknowledgement, the panel for a go."""
    bench.light_up()
    bench.happen("daylight_enters", level_mw_cm2=2.0)
    bench.run(2.0)
    assert bench.state == "faulted"
    bench.happen("daylight_ends")
    stays_dark(bench)
    bench.ask("acknowledge")
    stays_dark(bench)
    assert bench.state == "paused"


@pytest.mark.parametrize(("value", "fault"), [(0.85, "tube_out"), (1.15, "light_unlikely")])
def test_mains_factor_that_jumps_darkens_with_a_fault(bench: BenchBox, value: float, fault: str) -> None:
    """By the light alone a fall of the mains cannot be told from a lost tube; a rise has no daylight in its colour."""
    bench.light_up()
    at_s = happens(bench, "mains_factor", value=value)
    bench.run(0.5)
    assert bench.switched_off_after(at_s) <= STEP_SEEN_S
    assert bench.faults == [fault]
    stays_dark(bench)


def test_mains_factor_that_wanders_only_changes_the_time(bench: BenchBox) -> None:
    """Five percent are everyday life: no fault, and the dose is right."""
    bench.light_up(dose_mj_cm2=40)
    bench.happen("mains_factor", value=0.95)
    bench.until_state("done")
    assert bench.true_dose() == pytest.approx(40, rel=0.003)


def test_room_c_that_changes_only_changes_the_time(bench: BenchBox) -> None:
    """Cold air from a door: lamps fade slowly, the dose is right."""
    bench.light_up(dose_mj_cm2=60)
    bench.happen("room_c", value=8.0)
    bench.until_state("done")
    assert bench.true_dose() == pytest.approx(60, rel=0.003)


def test_lamps_swapped_under_light_darkens_with_a_fault(bench: BenchBox) -> None:
    """They lose power for it: the light goes out."""
    darkens_with(bench.light_up(), "light_lost", "lamps_swapped")


def test_diffuser_fouls_suddenly_darkens_with_a_fault(bench: BenchBox) -> None:
    """By its reading something like a lost tube."""
    darkens_with(bench.light_up(), "tube_out", "diffuser_fouls", transmission=0.7)


def test_diffuser_cleaned_under_light_darkens_with_a_fault(bench: BenchBox) -> None:
    """A sudden rise of the same colour: the mains, another bank, or what it is."""
    bench.happen("diffuser_fouls", transmission=0.7)
    darkens_with(bench.light_up(), "light_unlikely", "diffuser_cleaned")


def test_filter_removed_under_light_darkens_with_a_fault(bench: BenchBox) -> None:
    """More of everything reaches the sensor."""
    darkens_with(bench.light_up(), "foreign_light", "filter_removed")


def test_filter_fitted_under_light_darkens_with_a_fault(bench: BenchBox) -> None:
    """Less of everything."""
    bench.happen("filter_removed")
    darkens_with(bench.light_up(), "tube_out", "filter_fitted")


def test_sheet_laid_on_the_meter_under_light_darkens_with_a_fault(bench: BenchBox) -> None:
    """A meter half covered would give the panel too much."""
    darkens_with(bench.light_up(), "tube_out", "sheet_laid", transmission=0.85)


def test_sheet_lifted_under_light_darkens_with_a_fault(bench: BenchBox) -> None:
    """So much for the dose measured until then."""
    bench.happen("sheet_laid", transmission=0.85)
    darkens_with(bench.light_up(), "light_unlikely", "sheet_lifted")


def test_tube_flickers_and_the_dose_is_right_all_the_same(bench: BenchBox) -> None:
    """A worn tube is a matter for its reading, not for darkness: every conversion counts what it saw."""
    bench.happen("tube_flickers", depth=0.5, hz=4.0)
    bench.start_new(dose_mj_cm2=40).until_state("done")
    assert bench.faults == []
    assert bench.true_dose() == pytest.approx(40, rel=0.005)


def test_tube_taken_out_darkens_with_a_fault(bench: BenchBox) -> None:
    """As one that fails: its light is missing."""
    darkens_with(bench.light_up(), "tube_out", "tube_taken_out", place=3)


def test_tube_put_in_darkens_with_a_fault(bench: BenchBox) -> None:
    """Nobody puts one in under a shut lid: light that jumps up is not that of these lamps."""
    bench.happen("tube_taken_out", place=3)
    darkens_with(bench.light_up(), "light_unlikely", "tube_put_in", place=3)


def test_sensor_moved_to_the_edge_darkens_with_a_fault(bench: BenchBox) -> None:
    """A place with much less light."""
    darkens_with(bench.light_up(), "tube_out", "sensor_moved", x_mm=170.0, y_mm=0.0)


@pytest.mark.parametrize(("button", "state", "outcome"), [("dark", "paused", None), ("abandon", "done", "abandoned")])
def test_press_darkens_at_the_next_tick(make_bench: MakeBench, button: str, state: str, outcome: str | None) -> None:
    """Either button ends the light; dark keeps the panel for later."""
    bench = make_bench({"at_s": 6.0, "since": "light", "do": "press", "button": button})
    bench.start_new(dose_mj_cm2=200)
    bench.until(bench.any_light)
    at_s = bench.clock.now_s + 6.0
    bench.run(7.0)
    assert bench.switched_off_after(at_s) <= REACTION_S
    assert (bench.state, bench.exposure.outcome) == (state, outcome)
    stays_dark(bench)


def test_press_of_go_while_lit_changes_nothing(make_bench: MakeBench) -> None:
    """There is nothing to continue."""
    bench = make_bench({"at_s": 2.0, "since": "light", "do": "press", "button": "go"})
    bench.start().until_state("done")
    assert bench.true_dose() == pytest.approx(20, rel=0.003)
    assert any("go was refused" in words for _, words in bench.world.log)
