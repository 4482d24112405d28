"""Vacuum pump, fan and beacon: what box.yaml declares is driven, by what is and not only by what was commanded.

The judge is the pins' own record and the twin's lamps.
"""

from pathlib import Path
from typing import Any

import pytest

from sumlight.box.description import AuxiliaryOutputs
from tests.control.bench_box import BenchBox, demo_box, recipe_text
from tests.control.conftest import MakeBench

FAN, PUMP, BEACON = 13, 6, 19
LEAD_S = 12.0


@pytest.fixture
def boxed(make_bench: MakeBench) -> BenchBox:
    """A box with everything declared; its recipe forgives pauses of 20 s."""
    comforts = AuxiliaryOutputs(fan_pin=FAN, fan_run_on_s=5.0, pump_pin=PUMP, pump_lead_s=LEAD_S, beacon_pin=BEACON)
    bench = make_bench(box=demo_box(comforts=comforts))
    bench.save("quick", recipe_text(longest_gap_s=20))
    return bench


def on(bench: BenchBox, pin: int) -> bool:
    """Whether an output is driven high."""
    return bench.pin(pin).history[-1][1] is True


def went(bench: BenchBox, pin: int, level: bool) -> list[float]:
    """When an output took a level."""
    return [at_s for at_s, found in bench.pin(pin).history if found is level]


def test_the_pump_runs_its_lead_before_light_and_until_dark(boxed: BenchBox) -> None:
    """A state of its own, told with what is missing; K1 and lamps wait for it."""
    boxed.ready().start()
    boxed.until_state("vacuum")
    boxed.step()
    assert "Pulling vacuum, 12 s." in boxed.snapshot()["sentence"]
    assert on(boxed, PUMP)
    boxed.run(LEAD_S - 2)
    assert boxed.state == "vacuum"
    assert not boxed.any_light()
    boxed.until(lambda: boxed.side().state == "lit")
    (began_s,) = went(boxed, PUMP, True)
    relay_s = [at_s for at_s, level in boxed.pin(17).history if level is False][-1]
    assert LEAD_S <= relay_s - began_s < LEAD_S + 1.5  # the dark check comes in between
    assert on(boxed, PUMP)
    boxed.until_state("done")
    assert not on(boxed, PUMP)


def test_a_lid_pause_keeps_the_vacuum_for_as_long_as_the_recipe_forgives(boxed: BenchBox) -> None:
    """On Continue nothing is waited for again."""
    boxed.ready().start()
    boxed.until(lambda: boxed.side().state == "lit")
    boxed.happen("lid_opens")
    boxed.run(15.0)
    assert on(boxed, PUMP)
    boxed.happen("lid_closes")
    boxed.run(1.0)
    assert "vacuum" not in boxed.snapshot()["sentence"]
    boxed.ask("go")
    boxed.step()
    assert boxed.state == "dark_check"


def test_after_the_forgiven_pause_the_pump_stops_and_the_whole_lead_is_waited_for(boxed: BenchBox) -> None:
    """The act says so before it is pressed."""
    boxed.ready().start()
    boxed.until(lambda: boxed.side().state == "lit")
    boxed.happen("lid_opens")
    boxed.run(20.2)
    assert not on(boxed, PUMP)
    boxed.happen("lid_closes")
    boxed.run(1.0)
    assert "12 s of vacuum come before the light." in boxed.snapshot()["sentence"]
    boxed.ask("go")
    boxed.run(LEAD_S - 1)
    assert boxed.state == "vacuum"
    boxed.until(lambda: boxed.side().state == "lit")


def test_a_lid_opened_during_the_lead_leaves_only_the_rest_to_wait_for(boxed: BenchBox) -> None:
    """The pump has run on meanwhile."""
    boxed.ready().start()
    boxed.until_state("vacuum")
    boxed.run(5.0)
    boxed.happen("lid_opens")
    boxed.run(1.0)
    boxed.happen("lid_closes")
    boxed.run(1.0)
    assert "5 s of vacuum come before the light." in boxed.snapshot()["sentence"]
    boxed.ask("go")
    boxed.run(4.0)
    assert boxed.state == "vacuum"
    boxed.until(lambda: boxed.side().state == "lit", 3.0)


def test_dark_during_the_lead_cancels_the_start(boxed: BenchBox) -> None:
    """Nothing was lit, and nothing waits to be continued."""
    boxed.ready().start()
    boxed.until_state("vacuum")
    boxed.ask("dark")
    boxed.run(0.5)
    assert (boxed.state, boxed.exposure.outcome) == ("done", "abandoned")
    assert not on(boxed, PUMP)
    boxed.run(LEAD_S + 2)
    assert not went(boxed, 17, False)


def test_dark_while_the_vacuum_of_a_continued_panel_is_pulled_only_pauses_it(boxed: BenchBox) -> None:
    """Its dose is kept."""
    boxed.ready().start()
    boxed.until(lambda: boxed.side().state == "lit" and boxed.side().dose_mj_cm2 > 1)
    boxed.ask("dark")
    assert not boxed.exposure.vacuum.running
    boxed.run(1.0)
    boxed.ask("go")
    boxed.until_state("vacuum")
    boxed.ask("dark")
    boxed.run(0.1)
    assert boxed.state == "paused"
    assert boxed.side().dose_mj_cm2 > 1


def test_a_fault_stops_the_pump(boxed: BenchBox) -> None:
    """And the panel waits."""
    boxed.ready().start()
    boxed.until_state("vacuum")
    boxed.happen("stop_pressed")
    boxed.run(0.2)
    assert boxed.state == "faulted"
    assert not on(boxed, PUMP)


def test_a_turned_panel_is_pulled_tight_again(boxed: BenchBox) -> None:
    """Its frame was opened."""
    boxed.save("both", recipe_text(sides="turned"))
    boxed.ready().start("both")
    boxed.until_state("turn")
    assert not on(boxed, PUMP)
    boxed.happen("lid_opens")
    boxed.run(1.0)
    boxed.happen("lid_closes")
    boxed.run(1.0)
    boxed.ask("go")
    boxed.run(LEAD_S - 1)
    assert boxed.state == "vacuum"
    boxed.until_state("done")


def test_a_box_without_a_pump_or_with_no_lead_does_not_wait(make_bench: MakeBench) -> None:
    """From start to darkness at once."""
    bench = make_bench(box=demo_box(comforts=AuxiliaryOutputs(pump_pin=PUMP, pump_lead_s=0)))
    bench.ready().start()
    bench.step()
    assert bench.state == "dark_check"
    assert on(bench, PUMP)


def test_measurements_without_a_panel_pull_no_vacuum(boxed: BenchBox) -> None:
    """The sensor lies on the glass, not a frame."""
    boxed.ready()
    boxed.ask("series", kind="steady", recipe="quick", panel="", seconds=5.0)
    boxed.step()
    assert boxed.state == "dark_check"
    assert not on(boxed, PUMP)


def test_closing_stops_pump_fan_and_beacon(boxed: BenchBox) -> None:
    """Their pins are let go at rest."""
    boxed.ready().start()
    boxed.until(lambda: boxed.side().state == "lit")
    assert [on(boxed, pin) for pin in (FAN, PUMP, BEACON)] == [True, True, True]
    boxed.daemon.close()
    for pin in (FAN, PUMP, BEACON):
        assert [level for _, level in boxed.pin(pin).history][-2:] == [False, None]


def test_the_fan_runs_while_it_is_hot_though_the_lamps_are_off(boxed: BenchBox) -> None:
    """And its run-on longer."""
    boxed.ready()
    boxed.happen("overheats")
    boxed.run(30.0)
    assert on(boxed, FAN)
    boxed.happen("cools")
    boxed.run(0.2)
    boxed.ask("acknowledge")
    boxed.run(4.0)
    assert on(boxed, FAN)
    boxed.run(1.5)
    assert not on(boxed, FAN)


def test_the_beacon_shines_while_tubes_burn_that_nobody_commanded(make_bench: MakeBench) -> None:
    """A welded relay in a box without K1."""
    signals = demo_box().signals.model_copy(update={"k1_mirror_pin": "left_out"})
    box = demo_box(comforts=AuxiliaryOutputs(beacon_pin=BEACON), enable_pin=None, signals=signals)
    bench = make_bench(box=box).light_up()
    assert on(bench, BEACON)
    bench.happen("relay_welds")
    bench.ask("dark")
    bench.run(1.0)
    assert bench.any_light()
    assert not bench.loop.banks["lower"].bank.commanded
    assert on(bench, BEACON)
    bench.happen("lid_opens")
    bench.run(0.5)
    assert bench.any_light()
    assert on(bench, BEACON)  # now most of all
    bench.happen("relay_frees")
    bench.run(1.0)
    assert not on(bench, BEACON)


def test_a_lost_supply_of_the_inputs_is_one_fault_with_its_own_name(boxed: BenchBox) -> None:
    """Not four at once, one of which says to pull the plug. Dark comes at once, as from an opened lid."""
    boxed.ready().start()
    boxed.until(lambda: boxed.side().state == "lit")
    at_s = boxed.clock.now_s
    boxed.happen("field_supply_fails")
    boxed.run(0.02)
    assert boxed.switched_off_after(at_s) <= 0.01
    boxed.run(3.0)
    assert boxed.faults == ["inputs_unpowered"]
    boxed.happen("field_supply_returns")
    boxed.run(0.5)
    boxed.ask("acknowledge")
    assert boxed.faults == []
    boxed.ask("go")
    boxed.until_state("done")


@pytest.mark.parametrize(
    ("events", "expected"),
    [
        ([("wire_breaks", {"wire": "shut"}), ("stop_pressed", {})], {"emergency_stop", "lid_mismatch"}),
        ([("wire_breaks", {"wire": "shut"}), ("overheats", {})], {"too_hot", "lid_mismatch"}),
    ],
)
def test_single_open_inputs_keep_their_own_names(
    boxed: BenchBox, events: list[tuple[str, dict[str, Any]]], expected: set[str]
) -> None:
    """As long as one other input still reads closed, the supply is there."""
    boxed.ready()
    for do, fields in events:
        boxed.happen(do, **fields)
    boxed.run(1.0)
    assert set(boxed.faults) == expected


def test_a_box_without_other_signals_still_names_the_lid(make_bench: MakeBench, tmp_path: Path) -> None:
    """It cannot tell a lost supply from two broken wires."""
    left_out = dict.fromkeys(("emergency_stop_pin", "over_temperature_pin"), "left_out")
    bench = make_bench(box=demo_box(signals=demo_box().signals.model_copy(update=left_out))).ready()
    bench.happen("field_supply_fails")
    bench.run(1.0)
    assert "lid_mismatch" in bench.faults
    assert "inputs_unpowered" not in bench.faults
