"""Guided commissioning on the twin: a sound box passes, and each way of wiring it wrongly is found."""

from pathlib import Path
from typing import Any

import pytest

from sumlight.box.description import BoxDescription
from sumlight.box.wiring import wiring_sha256
from sumlight.control.commissioning.facts import Facts
from sumlight.control.commissioning.state_machine import Commissioning
from sumlight.control.commissioning.steps import SETTLE_S, steps_for
from sumlight.protocol.walk import walk_from
from tests.control.bench_box import BenchBox, demo_box
from tests.control.commission_run import ALL_STEPS, at_step, commission
from tests.control.conftest import MakeBench


@pytest.fixture
def bench(make_bench: MakeBench) -> BenchBox:
    """A box with every hard-wired part."""
    return make_bench(hardwired_lid_switch=True)


def failed_step(run: dict[str, Any]) -> tuple[str, str]:
    """The step that ended the run, and what it found."""
    assert run["outcome"] == "failed"
    last = run["results"][-1]
    assert [result["passed"] for result in run["results"]] == [True] * (len(run["results"]) - 1) + [False]
    return last["step"], last["found"]


@pytest.mark.parametrize("two_banks", [False, True])
@pytest.mark.parametrize("lights_when", ["low", "high"])
def test_a_sound_box_passes_every_step(make_bench: MakeBench, two_banks: bool, lights_when: str) -> None:
    """Both polarities, one bank and two; every measured value keeps its limit, and the lamps are dark at the end."""
    box = demo_box(two_banks)
    banks = [bank.model_copy(update={"lights_when": lights_when}) for bank in box.banks]
    bench = make_bench(box=demo_box(two_banks, banks=banks), hardwired_lid_switch=True)
    run = commission(bench)
    assert run["outcome"] == "passed"
    assert [result["step"] for result in run["results"]] == ALL_STEPS
    measures = [measure for result in run["results"] for measure in result["measures"]]
    assert len(measures) >= 15
    assert all(measure["kept"] for measure in measures)
    bench.run(0.5)
    assert not bench.any_light()
    assert bench.exposure.state == "done"


def test_the_reaction_to_the_lid_is_what_the_software_does(make_bench: MakeBench) -> None:
    """The lid's own switch is left out here: two ticks to the pins, then relay and afterglow."""
    bench = make_bench(hardwired_lid_switch=False).ready()
    at_step(bench, "lid_under_light")
    bench.ask("commission_next")
    bench.until(lambda: bench.snapshot()["commissioning"]["run"]["phase"] == "act")
    bench.happen("lid_opens")
    bench.run(3.0)
    (lid,) = bench.snapshot()["commissioning"]["run"]["results"]
    assert lid["passed"]
    told, fell, k1 = (measure["value"] for measure in lid["measures"])
    assert told <= 0.010
    assert 0.01 <= fell <= 0.12
    assert 0.1 <= k1 <= 0.2


def test_a_run_is_recorded_with_its_wiring_and_a_dated_report(bench: BenchBox) -> None:
    """The report names box, person, every step with its limits, the pins, and what it cannot prove."""
    bench.daemon.commander.commissioning._reports = bench.data / "commissioning"
    run = commission(bench, who="A. Nyone <b>")
    with bench.logbook() as book:
        known = book.commissioned(wiring_sha256(demo_box()), simulated=True)
    assert known.passed is not None
    assert (known.passed.who, known.passed.outcome, known.passed.simulated) == ("A. Nyone <b>", "passed", True)
    assert [result["step"] for result in walk_from(known.passed.results).results] == ALL_STEPS
    (report,) = (bench.data / "commissioning").glob("commissioning-????????-??????.html")
    assert report.stem == f"commissioning-{known.passed.began_utc:%Y%m%d-%H%M%S}"
    text = report.read_text(encoding="utf-8")
    assert "A. Nyone &lt;b&gt;" in text
    for result in run["results"]:
        assert result["title"].replace("'", "&#x27;") in text
    for words in ("2006/25/EC", "GPIO25", known.passed.wiring_sha256, "cannot prove", "@media print", "limit 0.025 s"):
        assert words in text
    assert "http" not in text  # opens and prints without a network


def swapped(box: BoxDescription) -> BoxDescription:
    """shut_pin and open_pin the wrong way round."""
    lid = box.lid.model_copy(update={"shut_pin": box.lid.open_pin, "open_pin": box.lid.shut_pin})
    return box.model_copy(update={"lid": lid})


def inverted(box: BoxDescription) -> BoxDescription:
    """A relay board of the other polarity."""
    return box.model_copy(update={"banks": [box.banks[0].model_copy(update={"lights_when": "high"})]})


def crossed(box: BoxDescription) -> BoxDescription:
    """The wires of emergency stop and over-temperature contact swapped."""
    pins = {
        "emergency_stop_pin": box.signals.over_temperature_pin,
        "over_temperature_pin": box.signals.emergency_stop_pin,
    }
    return box.model_copy(update={"signals": box.signals.model_copy(update=pins)})


@pytest.mark.parametrize(
    ("mistake", "step", "words"),
    [
        (swapped, "lid_shut", "shut_pin and open_pin may be swapped"),
        (inverted, "bank_relay", "lights_when"),
        (crossed, "over_temperature", "over_temperature_pin"),
    ],
)
def test_a_box_yaml_that_is_not_as_wired_is_found(tmp_path: Path, mistake: Any, step: str, words: str) -> None:
    """By the first step that can show it, with a hint where to look."""
    bench = wrongly_described(tmp_path, mistake)
    name, found = failed_step(commission(bench))
    assert name == step
    assert words in found
    assert not bench.any_light()
    bench.close()


def wrongly_described(tmp_path: Path, mistake: Any) -> BenchBox:
    """A bench whose description has a mistake while the wires are those of the demo box."""
    return BenchBox(tmp_path / "data", box=mistake(demo_box()), wiring=demo_box())


def test_a_lid_that_always_says_shut_is_found(bench: BenchBox) -> None:
    """Both contacts bridged: open it, and it reads shut."""
    bench.happen("contact_sticks", contact="shut")
    bench.happen("contact_sticks", contact="open")
    step, found = failed_step(commission(bench))
    assert step == "lid_open"
    assert "The lid reads shut, but it is open." in found


def test_a_lid_with_one_contact_for_both_is_found(bench: BenchBox) -> None:
    """The second channel hangs on the first: holding one holds both, and the open lid reads shut."""
    bench.world._lid.contacts["open"].stick = lambda: None  # type: ignore[method-assign]

    def both() -> None:
        contact = bench.world._lid.contacts["shut"]
        contact.stuck = True
        bench.world._lid.contacts["open"].stuck = True

    bench.world._lid.contacts["shut"].stick = both  # type: ignore[method-assign]
    step, found = failed_step(commission(bench))
    assert step == "shut_contact_held"
    assert "The lid read shut although it was open" in found


@pytest.mark.parametrize(
    ("trouble", "step", "words"),
    [
        ({"do": "k1_welds"}, "bank_relay", "k1_welded"),
        ({"do": "wire_breaks", "wire": "shut"}, "lid_shut", "The lid reads disagree"),
        ({"do": "tube_fails", "tubes": 6}, "bank_relay", "no_light"),
        ({"do": "relay_welds"}, "bank_relay", "the relay may be welded"),
    ],
)
def test_a_broken_part_is_found(bench: BenchBox, trouble: dict[str, Any], step: str, words: str) -> None:
    """Whatever is welded, broken or burnt out."""
    bench.happen(**trouble)
    name, found = failed_step(commission(bench))
    assert name == step
    assert words in found


def test_lamps_that_burn_on_after_the_kill_fail_it(bench: BenchBox) -> None:
    """The person's answer decides."""
    step, found = failed_step(commission(bench, saw_dark=False))
    assert step == "process_killed"
    assert "burn on" in found


def test_a_leak_is_judged_by_the_time_it_permits(bench: BenchBox) -> None:
    """0.5 mW/cm² of UV-A are 5 W/m²: 10 000 / 5 = 2000 s a day (2006/25/EC), which is 33 minutes."""
    step, found = failed_step(commission(bench, leak_mw_cm2=0.5))
    assert step == "light_leak"
    assert "33 minutes a day" in found


def test_signals_left_out_are_left_out_of_the_steps_and_named(make_bench: MakeBench) -> None:
    """Without K1 and all three signals; the rest must pass."""
    out = {f"{name}_pin": "left_out" for name in ("k1_mirror", "emergency_stop", "over_temperature")}
    box = demo_box()
    bench = make_bench(box=demo_box(enable_pin=None, signals=box.signals.model_copy(update=out)))
    run = commission(bench)
    assert run["outcome"] == "passed"
    left = {"over_temperature", "k1_mirror", "emergency_stop", "k1_rest", "lid_alone", "stop_alone", "cut_out_alone"}
    assert [result["step"] for result in run["results"]] == [step for step in ALL_STEPS if step not in left]
    assert len(run["left_out"]) == len(left)
    assert {left_out["why"].partition(":")[0] for left_out in run["left_out"]} == {"Not proved here"}
    assert run["not_proved"] == [left_out["title"] for left_out in run["left_out"]]


def test_lamps_that_strike_twice_are_waited_for_from_the_second_time() -> None:
    """What is measured afterwards is measured in light that has settled."""
    steps = [step for step in steps_for(demo_box())[0] if step.lights and step.kind == "lamps"]
    run = Commissioning(steps, "A", disagreement_limit_s=1.0)

    def look(now_s: float, *, lit: bool) -> str:
        run.look(Facts(now_s, "light", "shut", True, lit, 5.0, 5.0, 0.0, False, True, ()))
        return run.phase

    run.next(Facts(0.0, "idle", "shut", False, False, None, None, 0.0, True, True, ()))
    assert [look(0.5, lit=True), look(SETTLE_S, lit=False), look(SETTLE_S + 0.5, lit=True)] == ["lighting"] * 3
    assert look(2 * SETTLE_S + 0.4, lit=True) == "lighting"
    assert look(2 * SETTLE_S + 0.5, lit=True) == "act"
