"""Every kind of event of the twin's scenarios, while lamps are on: the lamps go dark, or stay dark, by themselves.

The lid's own switch is left out of the lamps' supply here, so what darkens is the software alone. Events that end
a trouble must not bring light back: that takes a person's word.
"""

import re
import sys
from collections.abc import Callable

import pytest

from sumlight.control.exposure import Exposure
from sumlight.control.permit import Permit
from sumlight.twin.scenario import EVENTS
from tests.control.bench_box import BenchBox
from tests.control.conftest import MakeBench

REACTION_S = 0.010
"""Two ticks: lid contact to lamp outputs off (design, §10)."""

STEP_SEEN_S = 0.3
"""Three conversions show a step, the first of them cut in two by it, and one must end first."""

BRIDGE_S = 0.5
"""limits.bridge_limit_s of the demo box."""


def stays_dark(bench: BenchBox, seconds: float = 5.0) -> None:
    """Nothing comes back by itself; the relay pin is never touched."""
    changes = len(bench.pin(17).history)
    bench.run(seconds)
    assert len(bench.pin(17).history) == changes
    assert not bench.any_relay_lights()
    assert not bench.any_light()


def happens(bench: BenchBox, do: str, **extra: object) -> float:
    """Let it happen; returns when it did."""
    bench.happen(do, **extra)
    return bench.clock.now_s


def test_each_kind_of_event_has_a_test_named_for_it() -> None:
    """A new kind of event must be proven, too."""
    tests = [name for name in vars(sys.modules[__name__]) if name.startswith("test_")]
    missing = [do for do in EVENTS if not any(re.match(rf"test_{do}(_|$)", name) for name in tests)]
    assert missing == []


def test_lid_opens_darkens_within_two_ticks_and_keeps_the_dose(bench: BenchBox) -> None:
    """Dark, paused by the lid, no fault; the measured dose still agrees with the true one."""
    bench.light_up()
    at_s = happens(bench, "lid_opens")
    bench.run(0.1)
    assert bench.switched_off_after(at_s) <= REACTION_S
    assert (bench.state, bench.exposure.pause_cause, bench.faults) == ("paused", "lid", [])
    stays_dark(bench)
    assert bench.side().dose_mj_cm2 == pytest.approx(bench.true_dose(), abs=bench.side().sum.doubt_mj_cm2 + 0.1)


def test_lid_opens_darkens_by_the_permit_alone(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """Even if the exposure did not listen to the lid, the permit would not be renewed."""
    bench.light_up()
    monkeypatch.setattr(Exposure, "lid_is", lambda *_: None)
    at_s = happens(bench, "lid_opens")
    bench.run(0.1)
    assert bench.switched_off_after(at_s) <= REACTION_S
    assert bench.exposure.wanted() == ("lower",)


def test_lid_opens_darkens_by_the_exposure_alone(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """Even if the permit were granted whatever the lid does, the exposure would not ask for light."""
    bench.light_up()
    monkeypatch.setattr(Permit, "renew", lambda *_: True)
    at_s = happens(bench, "lid_opens")
    bench.run(0.1)
    assert bench.switched_off_after(at_s) <= REACTION_S


def test_lid_opens_during_the_tail_of_a_cut_side_ends_it_without_light(bench: BenchBox) -> None:
    """The side had its dose; nothing is lit again."""
    bench.start().until(lambda: bench.side().state == "cut")
    bench.happen("lid_opens")
    bench.run(0.1)
    assert (bench.state, bench.exposure.outcome) == ("done", "completed")
    stays_dark(bench)


def test_lid_closes_does_not_bring_light_back(bench: BenchBox) -> None:
    """A shut lid is a condition for light, never a command."""
    bench.light_up()
    bench.open_lid()
    bench.run(1.0)
    bench.happen("lid_closes")
    stays_dark(bench, 20.0)
    assert bench.state == "paused"
    assert "go" in bench.exposure.may()


@pytest.mark.parametrize("contact", ["shut", "open"])
def test_contact_sticks_and_the_lid_opens_darkens_within_two_ticks(bench: BenchBox, contact: str) -> None:
    """The other contact tells; two that disagree for long are a fault."""
    bench.light_up()
    bench.happen("contact_sticks", contact=contact)
    bench.run(0.5)
    assert bench.state == "light"
    at_s = happens(bench, "lid_opens")
    bench.run(0.1)
    assert bench.switched_off_after(at_s) <= REACTION_S + 0.004  # the second contact follows the first
    assert bench.faults == []
    stays_dark(bench, 0.5)
    assert bench.faults == ["lid_mismatch"]


def test_contact_sticks_open_while_the_lid_is_shut_again_gives_no_go(bench: BenchBox) -> None:
    """The shut contact hangs: with the lid shut neither says anything."""
    bench.light_up()
    bench.open_lid()
    bench.happen("contact_sticks", contact="shut")
    bench.happen("lid_closes")
    stays_dark(bench, 1.0)
    assert bench.refused("go").code == "refused"
    assert bench.faults == ["lid_mismatch"]


def test_contact_frees_does_not_bring_light_back(bench: BenchBox) -> None:
    """The fault stays until somebody acknowledges it, and then still waits for a go."""
    bench.light_up()
    bench.happen("contact_sticks", contact="open")
    bench.happen("lid_opens")
    bench.run(1.0)
    bench.happen("lid_closes")
    bench.happen("contact_frees", contact="open")
    stays_dark(bench)
    assert bench.state == "faulted"
    bench.ask("acknowledge")
    stays_dark(bench)
    assert bench.state == "paused"


def test_tube_fails_darkens_with_a_fault(bench: BenchBox) -> None:
    """One of six: a sudden step down by a sixth."""
    bench.light_up()
    at_s = happens(bench, "tube_fails")
    bench.run(0.5)
    assert bench.faults == ["tube_out"]
    assert bench.switched_off_after(at_s) <= STEP_SEEN_S
    stays_dark(bench)


def test_tube_fails_for_all_tubes_darkens_with_a_fault(bench: BenchBox) -> None:
    """All light is gone: dead lamps, or something before the sensor."""
    bench.light_up()
    at_s = happens(bench, "tube_fails", tubes=6)
    bench.run(0.5)
    assert bench.faults == ["light_lost"]
    assert bench.switched_off_after(at_s) <= STEP_SEEN_S


def test_tube_fails_before_the_start_ends_the_wait_for_light(bench: BenchBox) -> None:
    """Nothing lights: dark again after limits.strike_limit_s."""
    bench.ready().happen("tube_fails", tubes=6)
    bench.start().until(bench.any_relay_lights)
    began_s = bench.clock.now_s
    bench.until(lambda: not bench.any_relay_lights())
    assert bench.clock.now_s - began_s == pytest.approx(6.0, abs=0.1)
    assert bench.faults == ["no_light"]
    assert bench.side().dose_mj_cm2 < 0.05


def test_relay_welds_and_k1_takes_the_light_away(bench: BenchBox) -> None:
    """At the cut the relay does not open: the light that goes on is seen, K1 is let go, and a fault stands."""
    bench.happen("relay_welds")
    bench.start().until(lambda: bench.side().state == "cut")
    assert not bench.any_relay_lights()
    bench.run(0.3)
    assert bench.any_light()
    bench.run(0.7)
    assert not bench.any_light()
    assert bench.faults == ["light_while_dark"]
    assert bench.world.log[-1][1] == "lower loses power"


def test_relay_welds_and_opening_the_lid_lets_go_of_k1(bench: BenchBox) -> None:
    """Relay stuck, lid switch bridged: the enable line rests at once, K1 drops when its pump has run dry."""
    bench.happen("relay_welds")
    bench.light_up()
    at_s = happens(bench, "lid_opens")
    bench.until(lambda: not bench.any_light(), 1.0)
    assert bench.clock.now_s - at_s == pytest.approx(0.17, abs=0.03)


def test_relay_frees_does_not_bring_light_back(bench: BenchBox) -> None:
    """After a weld the fault stands whatever the relay then does."""
    bench.happen("relay_welds")
    bench.start().until(lambda: bench.faults == ["light_while_dark"])
    bench.run(1.0)
    bench.happen("relay_frees")
    stays_dark(bench)
    assert bench.faults == ["light_while_dark"]


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


@pytest.mark.parametrize("level_mw_cm2", [0.5, 2.0, 20.0])
def test_daylight_enters_darkens_with_a_fault(bench: BenchBox, level_mw_cm2: float) -> None:
    """By its near infrared or by the rise it brings."""
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


@pytest.mark.parametrize(("value", "fault"), [(0.85, "tube_out"), (1.15, "foreign_light")])
def test_mains_factor_that_jumps_darkens_with_a_fault(bench: BenchBox, value: float, fault: str) -> None:
    """By the light alone a jump of the mains cannot be told from a lost tube or from foreign light."""
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


def darkens_with(bench: BenchBox, fault: str, do: str, **extra: object) -> None:
    """The event changes the reading suddenly while lamps are on: dark within the time a step takes to be seen."""
    at_s = happens(bench, do, **extra)
    bench.run(0.6)
    assert bench.switched_off_after(at_s) <= STEP_SEEN_S
    assert bench.faults == [fault]
    stays_dark(bench)


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
    """A sudden rise is foreign light until somebody has looked."""
    bench.happen("diffuser_fouls", transmission=0.7)
    darkens_with(bench.light_up(), "foreign_light", "diffuser_cleaned")


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
    darkens_with(bench.light_up(), "foreign_light", "sheet_lifted")


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


def test_k1_welds_and_its_mirror_tells(bench: BenchBox) -> None:
    """Bank relays darken at the cut; half a second later the contactor that did not drop is a fault."""
    bench.happen("k1_welds")
    bench.start().until(lambda: bench.side().state == "done")
    assert not bench.any_light()
    bench.until(lambda: bool(bench.faults), 2.0)
    assert bench.faults == ["k1_welded"]
    stays_dark(bench)
    assert bench.ask("acknowledge") == {"cleared": [], "standing": ["k1_welded"]}
    assert bench.refused("start", recipe="quick").code == "refused"


def test_k1_frees_does_not_bring_light_back(bench: BenchBox) -> None:
    """Replaced by an electrician, acknowledged: then a new panel may be started."""
    bench.happen("k1_welds")
    bench.light_up()
    bench.ask("dark")
    bench.run(1.0)
    assert bench.faults == ["k1_welded"]
    bench.happen("k1_frees")
    stays_dark(bench)
    assert bench.ask("acknowledge") == {"cleared": ["k1_welded"], "standing": []}
    stays_dark(bench)
    assert bench.state == "paused"


def test_stop_pressed_darkens_within_two_ticks_by_software(make_bench: MakeBench) -> None:
    """Left out of K1's coil circuit here: the signal alone does it."""
    bench = make_bench(hardwired_stop=False).light_up()
    at_s = happens(bench, "stop_pressed")
    bench.run(0.1)
    assert bench.switched_off_after(at_s) <= REACTION_S
    assert bench.faults == ["emergency_stop"]
    stays_dark(bench)
    assert bench.ask("acknowledge") == {"cleared": [], "standing": ["emergency_stop"]}


def test_stop_pressed_darkens_by_its_wire_alone(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """K1 drops, whatever the program does."""
    bench.light_up()
    monkeypatch.setattr(type(bench.loop), "_look_at_chain", lambda *_: None)
    at_s = happens(bench, "stop_pressed")
    bench.until(lambda: not bench.any_light(), 1.0)
    assert bench.clock.now_s - at_s <= 0.02 + 0.02


def test_stop_released_does_not_bring_light_back(bench: BenchBox) -> None:
    """Release alone restarts nothing (IEC 60204-1, from memory); acknowledge and go do."""
    bench.light_up(dose_mj_cm2=40)
    bench.happen("stop_pressed")
    bench.run(1.0)
    bench.happen("stop_released")
    stays_dark(bench)
    bench.ask("acknowledge")
    stays_dark(bench)
    bench.ask("go")
    bench.until_state("done")
    assert bench.true_dose() == pytest.approx(40, rel=0.01)


def test_overheats_darkens_within_two_ticks(bench: BenchBox) -> None:
    """And cannot be acknowledged while it is hot."""
    bench.light_up()
    at_s = happens(bench, "overheats")
    bench.run(0.1)
    assert bench.switched_off_after(at_s) <= REACTION_S
    assert bench.faults == ["too_hot"]
    assert bench.ask("acknowledge") == {"cleared": [], "standing": ["too_hot"]}
    stays_dark(bench)


def test_cools_does_not_bring_light_back(bench: BenchBox) -> None:
    """A person looks first."""
    bench.light_up()
    bench.happen("overheats")
    bench.run(1.0)
    bench.happen("cools")
    stays_dark(bench)
    assert bench.ask("acknowledge") == {"cleared": ["too_hot"], "standing": []}
    stays_dark(bench)


WIRES = {
    "shut": (None, REACTION_S),
    "emergency_stop": ("emergency_stop", REACTION_S),
    "over_temperature": ("too_hot", REACTION_S),
}


@pytest.mark.parametrize("wire", WIRES)
def test_wire_breaks_darkens_within_two_ticks(bench: BenchBox, wire: str) -> None:
    """A broken wire reads as an opened contact."""
    fault, limit_s = WIRES[wire]
    bench.light_up()
    at_s = happens(bench, "wire_breaks", wire=wire)
    bench.run(1.0)
    assert bench.switched_off_after(at_s) <= limit_s
    assert bench.faults == [fault or "lid_mismatch"]
    stays_dark(bench)


def test_wire_breaks_at_the_mirror_is_seen_after_light(bench: BenchBox) -> None:
    """It then looks as if K1 were welded: no further light until it is mended."""
    bench.light_up()
    bench.happen("wire_breaks", wire="k1_mirror")
    bench.run(2.0)
    assert bench.state == "light"
    bench.ask("dark")
    bench.run(1.0)
    assert bench.faults == ["k1_welded"]


def test_wire_breaks_at_the_open_contact_is_seen_when_the_lid_is_opened(bench: BenchBox) -> None:
    """Shut it reads as before; open, neither contact says anything, which is never a shut lid."""
    bench.light_up()
    bench.happen("wire_breaks", wire="open")
    bench.run(1.0)
    assert bench.state == "light"
    at_s = happens(bench, "lid_opens")
    bench.run(1.0)
    assert bench.switched_off_after(at_s) <= REACTION_S
    assert bench.faults == ["lid_mismatch"]


def test_wire_mended_does_not_bring_light_back(bench: BenchBox) -> None:
    """Acknowledged, the panel waits for a go."""
    bench.light_up()
    bench.happen("wire_breaks", wire="emergency_stop")
    bench.run(1.0)
    bench.happen("wire_mended", wire="emergency_stop")
    stays_dark(bench)
    bench.ask("acknowledge")
    stays_dark(bench)
    assert bench.state == "paused"


def test_supply_sags_is_told_and_does_not_darken(bench: BenchBox) -> None:
    """The lamps have nothing to do with the computer's supply."""
    bench.light_up()
    bench.happen("supply_sags")
    bench.run(2.0)
    assert [fault["name"] for fault in bench.snapshot()["faults"]] == ["supply_low"]
    assert bench.state == "light"
    assert bench.any_light()
    assert bench.ask("acknowledge") == {"cleared": [], "standing": ["supply_low"]}


def test_supply_recovers_and_the_remark_can_be_acknowledged(bench: BenchBox) -> None:
    """Told until somebody has read it."""
    bench.light_up()
    bench.happen("supply_sags")
    bench.run(2.0)
    bench.happen("supply_recovers")
    bench.run(2.0)
    assert bench.ask("acknowledge") == {"cleared": ["supply_low"], "standing": []}
    assert bench.state == "light"


CAUSES: dict[str, Callable[[BenchBox], None]] = {
    "lid": lambda bench: bench.open_lid(),
    "meter": lambda bench: bench.happen("meter_disappears"),
    "tube": lambda bench: bench.happen("tube_fails"),
    "dark": lambda bench: bench.ask("dark") and None,
}


@pytest.mark.parametrize("cause", CAUSES)
def test_k1_is_let_go_whatever_ends_the_light(bench: BenchBox, cause: str) -> None:
    """The enable line comes to rest low and K1 drops, so that even a welded relay gives no light."""
    bench.light_up()
    CAUSES[cause](bench)
    bench.until(lambda: not bench.any_relay_lights(), 2.0)
    bench.run(0.3)
    assert bench.pin(25).history[-1][1] is False
    assert bench.world.log[-1][1] == "K1 opens"
