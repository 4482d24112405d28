"""Guided commissioning on the twin: a sound box passes, and each way of wiring it wrongly is found."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from sumlight.box.description import BoxDescription
from sumlight.box.wiring import wiring_sha256
from sumlight.cli.attend import Attending
from sumlight.control.daemon import LOGBOOK
from sumlight.control.messages import BadRequestError
from sumlight.store.logbook import Logbook
from sumlight.store.records import CommissioningRecord
from tests.control.bench_box import BenchBox, demo_box
from tests.control.conftest import MakeBench
from tests.control.real_box import RealBox

ALL_STEPS = [
    "lid_shut",
    "lid_open",
    "shut_contact_held",
    "open_contact_held",
    "over_temperature",
    "bank_relay",
    "k1_mirror",
    "lid_under_light",
    "emergency_stop",
    "sensor_pulled",
    "light_blocked",
    "process_killed",
    "light_leak",
]


def commission(bench: BenchBox, **attending: Any) -> dict[str, Any]:
    """Let the attendant do it; returns the run's picture."""
    picture = Attending(bench, **attending).run()
    bench.loop = bench.daemon.loop
    bench.exposure = bench.loop.exposure
    return dict(picture["run"])


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


def test_the_reaction_to_the_lid_is_what_the_software_does(bench: BenchBox) -> None:
    """The lid's own switch is left out here: two ticks to the pins, then relay and afterglow."""
    run = commission(bench)
    assert run["outcome"] == "passed"
    lid = next(result for result in run["results"] if result["step"] == "lid_under_light")
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
    assert [result["step"] for result in json.loads(known.passed.results)] == ALL_STEPS
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
    assert "the lid reads shut, but it is open" in found


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
    assert "the lid read shut although it was open" in found


@pytest.mark.parametrize(
    ("trouble", "step", "words"),
    [
        ({"do": "k1_welds"}, "bank_relay", "k1_welded"),
        ({"do": "wire_breaks", "wire": "shut"}, "lid_shut", "the lid reads disagree"),
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
    left = ("over_temperature", "k1_mirror", "emergency_stop")
    assert [result["step"] for result in run["results"]] == [step for step in ALL_STEPS if step not in left]
    assert len(run["left_out"]) == 3


# -- commands ----------------------------------------------------------------------------------------------------


def test_next_is_refused_while_a_step_waits_for_something_else(bench: BenchBox) -> None:
    """With what is to be done instead."""
    bench.ready()
    assert "Begin one" in str(bench.refused("commission_next").remedy)
    bench.ask("commission_begin", who="A")
    assert bench.refused("commission_begin", who="B").code == "refused"
    bench.ask("commission_next")
    bench.open_lid()
    bench.ask("commission_next")
    assert "not shut" in bench.refused("commission_next").message
    assert bench.refused("start", recipe="quick").message == "Commissioning is under way."
    bench.ask("commission_abort")
    assert bench.snapshot()["commissioning"]["run"]["outcome"] == "aborted"
    assert bench.refused("commission_abort").code == "refused"


def test_a_press_for_a_step_that_is_over_does_not_skip_the_next(bench: BenchBox) -> None:
    """Two browsers press at once: the second press is refused, also when the same step now waits for something else."""
    bench.ready()
    first = bench.ask("commission_begin", who="A")["commissioning"]["run"]["at"]
    second = bench.ask("commission_next", at=first)["commissioning"]["run"]
    assert (second["step"], second["phase"]) == ("lid_open", "act")
    assert "gone on meanwhile" in bench.refused("commission_next", at=first).message
    assert bench.snapshot()["commissioning"]["run"] == second
    bench.open_lid()
    bench.ask("commission_next", at=second["at"])
    bench.shut_lid()
    assert "gone on meanwhile" in bench.refused("commission_next", at=second["at"]).message
    undo = bench.snapshot()["commissioning"]["run"]
    assert (undo["step"], undo["phase"]) == ("lid_open", "undo")
    assert bench.refused("commission_next", at=7).field == "at"


def test_a_press_for_an_earlier_run_does_not_count_for_a_new_one(bench: BenchBox) -> None:
    """Begun anew, the first step looks the same."""
    bench.ready()
    old = bench.ask("commission_begin", who="A")["commissioning"]["run"]["at"]
    bench.ask("commission_abort")
    bench.run(0.1)
    new = bench.ask("commission_begin", who="A")["commissioning"]["run"]["at"]
    assert bench.refused("commission_next", at=old).code == "refused"
    bench.ask("commission_next", at=new)


def test_hands_at_the_simulated_box_do_what_the_step_asks(bench: BenchBox) -> None:
    """For whoever walks through it on the page; when nothing is asked, nothing is done."""
    bench.ready()
    assert bench.refused("simulate", do="as_asked").field == "do"
    bench.ask("commission_begin", who="A")
    bench.ask("commission_next")
    bench.ask("simulate", do="as_asked")
    bench.until(lambda: bench.loop.lid == "open", 2.0)
    bench.ask("commission_next")
    bench.ask("simulate", do="as_asked")
    bench.until(lambda: bench.loop.lid == "shut", 2.0)
    desk = bench.daemon.commander.commissioning
    assert desk._run is not None
    desk._run.index, desk._run.phase = ALL_STEPS.index("process_killed"), "act"
    assert "no process of its own" in bench.refused("simulate", do="as_asked").message
    killed: list[str] = []
    bench._kill = lambda: killed.append("control")
    bench.ask("simulate", do="as_asked")
    assert killed == ["control"]


def test_an_abort_under_light_darkens_at_once(bench: BenchBox) -> None:
    """And the light is on record."""
    bench.ready()
    desk = bench.daemon.commander.commissioning
    bench.ask("commission_begin", who="A")
    assert desk._run is not None
    desk._run.index = ALL_STEPS.index("light_leak")
    desk._run._enter()
    bench.ask("commission_next")
    bench.until(bench.any_light)
    at_s = bench.clock.now_s
    bench.ask("commission_abort")
    assert bench.switched_off_after(at_s) <= 0.001
    bench.run(1.0)
    with bench.logbook() as book:
        row = book.recent()[0]
    assert (row["kind"], row["outcome"]) == ("commission", "abandoned")


@pytest.mark.parametrize("value", [None, -1.0, 2000.0])
def test_a_leak_without_a_possible_reading_is_refused(bench: BenchBox, value: float | None) -> None:
    """No number, no verdict."""
    bench.ready()
    bench.ask("commission_begin", who="A")
    run = bench.daemon.commander.commissioning._run
    assert run is not None
    run.index, run.phase = ALL_STEPS.index("light_leak"), "act"
    values = {} if value is None else {"leak_mw_cm2": value}
    assert "leak_mw_cm2" in str(bench.refused("commission_next", **values).remedy)


@pytest.mark.parametrize("values", [{}, {"who": ""}, {"who": 7}])
def test_a_run_needs_a_name(bench: BenchBox, values: dict[str, Any]) -> None:
    """Somebody answers for it."""
    bench.ready()
    assert bench.refused("commission_begin", **values).code == "bad_value"


def test_a_fault_that_stands_stops_the_run_before_it_could_be_taken_for_the_one_awaited(bench: BenchBox) -> None:
    """Too hot from the beginning: the step that takes the wire off is not reached."""
    bench.ready().happen("overheats")
    bench.run(0.1)
    bench.ask("commission_begin", who="A")
    bench.ask("commission_next")
    bench.open_lid()
    bench.ask("commission_next")
    bench.shut_lid()
    assert "too hot" in bench.refused("commission_next").message
    bench.happen("cools")
    bench.run(0.1)
    bench.ask("commission_next")
    assert bench.snapshot()["commissioning"]["run"]["step"] == "shut_contact_held"


# -- the lock of a real box --------------------------------------------------------------------------------------


@pytest.fixture
def real_box(tmp_path: Path) -> Iterator[RealBox]:
    """A real box that nobody has commissioned."""
    box = RealBox(tmp_path / "data", demo_box())
    box.run(1.0)
    yield box
    box.daemon.close()


def passed_before(real_box: RealBox, box: BoxDescription) -> None:
    """The logbook says that commissioning of `box` has passed."""
    utc = real_box.clock.utc()
    real_box.daemon.writer.put_commissioning(
        CommissioningRecord(utc, wiring_sha256(box), box.name, False, "A", 12, "[]", utc, "passed")
    )


@pytest.mark.parametrize("command", ["start", "series", "go"])
def test_a_real_box_refuses_light_until_it_is_commissioned(real_box: RealBox, command: str) -> None:
    """And says so at all times."""
    values = {"start": {"recipe": "quick"}, "series": {"kind": "steady", "recipe": "quick", "seconds": 2}, "go": {}}
    with pytest.raises(BadRequestError, match="has not been commissioned") as error:
        real_box.ask(command, **values[command])
    assert error.value.code == "refused"
    assert "sumlight commission" in str(error.value.remedy)
    snapshot = real_box.ask("state")
    assert snapshot["commissioning"]["locked"] is True
    assert not {"start", "go"} & set(snapshot["may"])
    assert any("exposures are locked" in warning for warning in snapshot["warnings"])


def test_an_override_unlocks_is_recorded_and_shown_also_after_a_restart(real_box: RealBox) -> None:
    """With a name and a reason."""
    for values in ({"who": "", "reason": "urgent repair"}, {"who": "B", "reason": "later"}):
        with pytest.raises(BadRequestError, match="in words"):
            real_box.ask("commission_override", **values)
    real_box.ask("commission_override", who="B. Ench", reason="the radiometer comes tomorrow")
    again = restart(real_box, demo_box())
    for box in (real_box, again):
        snapshot = box.ask("state")
        assert (snapshot["commissioning"]["locked"], snapshot["commissioning"]["overridden"]) == (False, True)
        told = snapshot["commissioning"]["override"]
        assert (told["who"], told["reason"]) == ("B. Ench", "the radiometer comes tomorrow")
        assert any("B. Ench" in line and "radiometer" in line for line in snapshot["warnings"])
    assert again.ask("start", recipe="quick")["state"] == "dark_check"
    with pytest.raises(BadRequestError, match="not locked"):
        again.ask("commission_override", who="B. Ench", reason="once more, please")
    again.daemon.close()


def restart(real_box: RealBox, box: BoxDescription) -> RealBox:
    """Control again over the same data, perhaps with other wiring."""
    real_box.daemon.writer.drain(1)
    again = RealBox(real_box.data, box)
    again.run(1.0)
    return again


def test_commissioning_unlocks_this_wiring_and_no_other(real_box: RealBox) -> None:
    """A moved wire locks again; a new calibration or limit does not."""
    passed_before(real_box, demo_box())
    box = demo_box()
    moved = box.model_copy(update={"lid": box.lid.model_copy(update={"shut_pin": 22})})
    tuned = box.model_copy(
        update={
            "limits": box.limits.model_copy(update={"drop_limit": 0.2}),
            "meters": [box.meters[0].model_copy(update={"mw_cm2_per_basic_count": 0.6})],
        }
    )
    for wiring, locked in ((box, False), (tuned, False), (moved, True)):
        again = restart(real_box, wiring)
        assert again.ask("state")["commissioning"]["locked"] is locked
        again.daemon.close()


@pytest.mark.parametrize(("lit", "asked"), [(False, False), (True, True)])
def test_a_restart_before_the_lamps_burnt_is_not_the_kill_that_was_asked_for(
    bench: BenchBox, lit: bool, asked: bool
) -> None:
    """Nobody can say then whether they went dark: the run is aborted, and nobody is asked."""
    bench.ready()
    bench.ask("commission_begin", who="A")
    desk = bench.daemon.commander.commissioning
    assert desk._run is not None
    desk._run.index = ALL_STEPS.index("process_killed") - 1
    desk._run.phase = "undo"
    bench.ask("commission_next")
    assert bench.snapshot()["commissioning"]["run"]["step"] == "process_killed"
    if lit:
        bench.ask("commission_next")
        bench.until(lambda: bench.snapshot()["commissioning"]["run"]["phase"] == "act")
    bench.kill_control()
    bench.loop = bench.daemon.loop
    run = bench.snapshot()["commissioning"]["run"]
    assert (run is not None and run["phase"] == "confirm") is asked


def test_what_the_twin_passed_does_not_unlock_a_real_box(bench: BenchBox) -> None:
    """Same wiring, same data folder: nobody has seen those contacts."""
    assert commission(bench)["outcome"] == "passed"
    bench.daemon.writer.drain(1)
    with bench.logbook() as book:
        assert book.commissioned(wiring_sha256(demo_box()), simulated=True).passed is not None
    box = RealBox(bench.data, demo_box())
    state = box.ask("state")["commissioning"]
    assert (state["locked"], state["needed"], state["passed_by"]) == (True, True, None)
    box.daemon.close()


def test_a_run_cut_off_by_anything_but_the_asked_for_kill_is_aborted(bench: BenchBox) -> None:
    """It is begun anew."""
    bench.ready()
    bench.ask("commission_begin", who="A")
    bench.ask("commission_next")
    bench.kill_control()
    assert bench.snapshot()["commissioning"]["run"] is None
    with Logbook.open_reader(bench.data / LOGBOOK) as book:
        assert book.commissioned(wiring_sha256(demo_box()), simulated=True).cut_off is None
    bench.loop = bench.daemon.loop
