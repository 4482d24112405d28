"""Commissioning tube by tube on the twin: what the sensor is shown to see, and what the box says of it from then on."""

import json
from typing import Any

import pytest

from sumlight.box.description import BoxDescription, Sight
from sumlight.box.wiring import wiring_sha256
from sumlight.control.commissioning import steps
from sumlight.control.commissioning.facts import Result
from sumlight.control.commissioning.steps import COOL_FACTOR, steps_for
from sumlight.text.message import as_written
from tests.control.bench_box import BenchBox, demo_box
from tests.control.commission_run import ALL_STEPS, commission
from tests.control.conftest import MakeBench

LIT_S = 2.0
STEP = "tubes_lower"


def sighted_box(two_banks: bool = False, accepts_deg: float = 70.0, across_mm: float = 0.0) -> BoxDescription:
    """The demo box with a sensor that looks at three tubes."""
    box = demo_box(two_banks)
    sight = Sight(tubes=3, pitch_mm=50, height_mm=80, across_mm=across_mm, accepts_deg=accepts_deg)
    meters = [box.meters[0].model_copy(update={"sight": sight}), *box.meters[1:]]
    return demo_box(two_banks, meters=meters)


@pytest.fixture(autouse=True)
def _short_lights(monkeypatch: pytest.MonkeyPatch) -> None:
    """A minute each would be 40,000 ticks a tube."""
    monkeypatch.setattr(steps, "TUBES_LIT_S", LIT_S)


def at_tubes(bench: BenchBox) -> None:
    """Begin a run that has done all but this."""
    bench.ready().ask("commission_begin", who="A")
    run = bench.daemon.commander.commissioning._run
    assert run is not None
    run.results = [Result(step, as_written(step), True, as_written("")) for step in ALL_STEPS]
    run.index = len(run.results)
    run._enter()
    assert run.step.name == STEP


def told(bench: BenchBox) -> Any:
    """Where the run stands."""
    return bench.snapshot()["commissioning"]["run"]


def light(bench: BenchBox) -> None:
    """Wait for cold tubes, light them, and see the look through."""
    bench.run(COOL_FACTOR * LIT_S)
    bench.ask("commission_next")
    assert told(bench)["phase"] == "lighting"
    bench.until(lambda: (run := told(bench))["phase"] != "lighting" or run["outcome"] is not None, 10.0, every_s=0.1)


def all_looks(bench: BenchBox, *, hands: bool = True) -> Any:
    """All lights, with the hands of the simulated box or without; returns the step's result."""
    at_tubes(bench)
    bench.ask("commission_next", answer="yes")
    while (run := told(bench))["outcome"] is None:
        if hands and (run["tubes"]["back"] or run["tubes"]["out"]):
            bench.ask("simulate", do="as_asked")
        light(bench)
    return run["results"][-1]


@pytest.fixture
def bench(make_bench: MakeBench) -> BenchBox:
    """A box with three tubes, all seen."""
    return make_bench(box=sighted_box(), hardwired_lid_switch=True)


def test_the_twins_attendant_takes_out_each_tube(make_bench: MakeBench) -> None:
    """The whole walk: it is the last step, the lamps are dark in the end, and all tubes are in."""
    bench = make_bench(box=sighted_box(), hardwired_lid_switch=True)
    before = bench.world.field("lower").left
    run = commission(bench)
    assert run["outcome"] == "passed"
    assert [result["step"] for result in run["results"]] == [*ALL_STEPS, STEP]
    assert run["not_proved"] == []
    assert "sees 3 of 3 tubes" in run["results"][-1]["found"]
    bench.run(0.5)
    assert not bench.any_light()
    assert bench.world.field("lower").left == before == 1.0
    assert not any("sensor" in warning for warning in bench.snapshot()["warnings"])


def test_what_the_box_finds_is_what_the_twin_is_built_of(bench: BenchBox) -> None:
    """Parts of the three tubes as the twin's own field has them; short lights leave 2 % to lamps that still warm up."""
    lamps, whole = bench.world.field("lower"), bench.world.field("lower").relative(0.0, 0.0, 70.0)
    parts = []
    for place in (1, 2, 3):
        lamps.move(place, out=True)
        parts.append(1 - lamps.left * lamps.relative(0.0, 0.0, 70.0) / whole)
        lamps.move(place, out=False)
    result = all_looks(bench)
    values = result["found"].values["parts"]
    assert [part.values["part"] for part in values] == pytest.approx(parts, abs=0.02)
    bench.daemon.writer.drain(1)
    with bench.logbook() as book:  # light without a tube says nothing of how lamps age, nor of a tube that went out
        assert book.lamps.lamp_readings("lower") == []
        assert len(book.recent()) == 5


def test_a_tube_that_the_real_head_does_not_see_is_found_and_named_at_all_times(make_bench: MakeBench) -> None:
    """box.yaml says 70°, a deep collar leaves 30°; the walk passes, and nothing is claimed about the far tube."""
    wiring = sighted_box(accepts_deg=30.0, across_mm=25.0)
    bench = make_bench(box=sighted_box(across_mm=25.0), wiring=wiring, hardwired_lid_switch=True)
    result = all_looks(bench)
    assert (result["passed"], result["proved"], result["unseen"]) == (True, True, [1])
    assert "sees 2 of 3 tubes" in result["found"]
    assert "Not seen: 1." in result["found"]
    bench.daemon.writer.drain(1)
    with bench.logbook() as book:
        known = book.commissioned(wiring_sha256(bench.loop.box.description), simulated=True).passed
    assert known is not None
    assert json.loads(known.results)["results"][-1]["unseen"] == [1]
    for _ in range(2):
        assert any("does not see these: 1." in warning for warning in bench.snapshot()["warnings"])
        bench.kill_control()
        bench.loop = bench.daemon.loop
        bench.run(1.0)


def test_a_sensor_that_sees_one_tube_alone_proves_nothing(make_bench: MakeBench) -> None:
    """Without it there is no light to look at."""
    bench = make_bench(box=sighted_box(), wiring=sighted_box(accepts_deg=20.0), hardwired_lid_switch=True)
    result = all_looks(bench)
    assert (result["passed"], result["proved"]) == (True, False)
    assert "sees only the tube that was out" in result["found"]


def test_hands_that_move_no_tube_prove_nothing(bench: BenchBox) -> None:
    """Then every tube seems to give nothing, which cannot be: the parts make no whole."""
    result = all_looks(bench, hands=False)
    assert (result["passed"], result["proved"]) == (True, False)
    assert "The parts of all tubes make" in result["found"]
    assert "unseen" not in result


def test_warm_tubes_are_not_lit_nor_touched(bench: BenchBox) -> None:
    """The next light waits three times as long as the last one burnt; until then nothing is lit."""
    at_tubes(bench)
    bench.ask("commission_next", answer="yes")
    light(bench)
    bench.run(COOL_FACTOR * LIT_S - 1.0)
    no = bench.refused("commission_next")
    assert "still warm" in no.message
    assert "let the tubes cool" in str(no.remedy)
    bench.run(0.5)
    assert not bench.any_light()
    assert told(bench)["phase"] == "prepare"
    bench.run(1.0)
    bench.ask("commission_next")
    bench.until(bench.any_light, 5.0)


def test_only_the_bank_at_hand_is_lit(make_bench: MakeBench) -> None:
    """Light of the other one would stand beside what the tubes give."""
    bench = make_bench(box=sighted_box(two_banks=True), hardwired_lid_switch=True)
    at_tubes(bench)
    bench.ask("commission_next", answer="yes")
    bench.ask("commission_next")
    bench.until(lambda: bench.world.is_lit("lower"), 5.0)
    bench.run(1.0)
    assert not bench.world.is_lit("upper")


def test_who_does_not_take_tubes_out_has_it_left_open(bench: BenchBox) -> None:
    """Nothing is lit for it, and the box says at all times what nobody has tried."""
    at_tubes(bench)
    bench.ask("commission_next", answer="no")
    run = told(bench)
    assert run["outcome"] == "passed"
    assert run["results"][-1]["proved"] is False
    assert "the tubes were not taken out" in run["results"][-1]["found"]
    assert not bench.any_light()


def test_a_bank_that_stays_dark_without_a_tube_proves_nothing_against_the_box(bench: BenchBox) -> None:
    """One ballast for all tubes: the look ends, its fault is cleared, and the walk has passed."""
    at_tubes(bench)
    bench.ask("commission_next", answer="yes")
    light(bench)
    bench.happen("tube_fails", tubes=6)
    light(bench)
    run = told(bench)
    assert (run["outcome"], run["results"][-1]["proved"]) == ("passed", False)
    assert "no_light" in run["results"][-1]["found"]
    bench.run(0.1)
    assert bench.snapshot()["faults"] == []


def test_a_weld_among_the_looks_fails_it_as_anywhere(bench: BenchBox) -> None:
    """A contactor that does not let go is nothing that a tube brings about."""
    at_tubes(bench)
    bench.ask("commission_next", answer="yes")
    bench.run(0.1)
    bench.ask("commission_next")
    bench.until(bench.any_light, 5.0)
    bench.happen("overheats")
    bench.run(0.5)
    run = told(bench)
    assert run["outcome"] == "failed"
    assert "too_hot" in run["results"][-1]["found"]
    assert not bench.any_light()


def test_the_boxs_plug_may_be_pulled_for_a_tube(bench: BenchBox) -> None:
    """The walk is not lost with it: the looks begin anew, and what passed before stays."""
    at_tubes(bench)
    bench.ask("commission_next", answer="yes")
    light(bench)
    bench.kill_control()
    bench.loop = bench.daemon.loop
    found = told(bench)
    assert (found["step"], found["phase"], found["outcome"]) == (STEP, "ask", None)
    assert [result["step"] for result in found["results"]] == ALL_STEPS
    assert found["tubes"] == {"bank": "lower", "back": 0, "out": 0}


@pytest.mark.parametrize(
    "changes", [{"lamps": "led"}, {"sight": None}, {"tubes": 1}], ids=["leds", "no sight", "one tube"]
)
def test_a_box_without_several_tubes_to_see_has_no_such_step(changes: dict[str, Any]) -> None:
    """Nothing is claimed there that could be proved."""
    box = sighted_box()
    bank, meter = box.banks[0], box.meters[0]
    assert meter.sight is not None
    if "lamps" in changes:
        box = box.model_copy(update={"banks": [bank.model_copy(update=changes)]})
    else:
        sight = None if "sight" in changes else meter.sight.model_copy(update=changes)
        box = box.model_copy(update={"meters": [meter.model_copy(update={"sight": sight})]})
    assert [step.name for step in steps_for(box)[0]] == ALL_STEPS
