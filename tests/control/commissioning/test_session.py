"""Commissioning as it is asked for: presses, several clients, giving up, and control that restarts in the middle."""

from collections.abc import Callable
from typing import Any

import pytest

from sumlight.box.wiring import wiring_sha256
from sumlight.control.commissioning.facts import Result
from sumlight.control.daemon import LOGBOOK
from sumlight.store.logbook.logbook import Logbook
from sumlight.text.message import as_written
from tests.control.bench_box import BenchBox, demo_box
from tests.control.commission_run import ALL_STEPS, at_step, where_k1_may_be_held
from tests.control.conftest import MakeBench


def test_next_is_refused_while_a_step_waits_for_something_else(bench: BenchBox) -> None:
    """With what is to be done instead."""
    bench.ready()
    assert "Begin one" in str(bench.refused("commission_next").remedy)
    bench.ask("commission_begin", who="A")
    assert bench.refused("commission_begin", who="B").code == "refused"
    bench.ask("commission_next")
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
    bench.ask("commission_next", at=first)
    second = bench.ask("commission_next")["commissioning"]["run"]
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
    """Too hot from the beginning: the step that opens that contact is not reached."""
    bench.ready().happen("overheats")
    bench.run(0.1)
    bench.ask("commission_begin", who="A")
    bench.ask("commission_next")
    bench.ask("commission_next")
    bench.open_lid()
    bench.ask("commission_next")
    bench.shut_lid()
    assert "too hot" in bench.refused("commission_next").message
    bench.happen("cools")
    bench.run(0.1)
    bench.ask("commission_next")
    assert bench.snapshot()["commissioning"]["run"]["step"] == "shut_contact_held"


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
    desk._run.results = [
        Result(step, as_written(step), True, as_written("")) for step in ALL_STEPS[: desk._run.index + 1]
    ]
    desk._run.phase = "undo"
    bench.ask("commission_next")
    assert bench.snapshot()["commissioning"]["run"]["step"] == "process_killed"
    if lit:
        bench.ask("commission_next")
        bench.until(lambda: bench.snapshot()["commissioning"]["run"]["phase"] == "act")
    bench.kill_control()
    bench.loop = bench.daemon.loop
    snapshot = bench.snapshot()
    run = snapshot["commissioning"]["run"]
    assert (run is not None and run["phase"] == "confirm") is asked
    # the exposure that the kill cut off has no recipe; that is no damage of the record
    assert "logbook_unsound" not in [fault["name"] for fault in snapshot["faults"]]


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


def test_k1_is_held_only_for_somebody_at_the_box_and_after_it_was_shown_to_give_no_light(make_bench: MakeBench) -> None:
    """Each refusal alone; a held K1 comes only with both."""
    bench = make_bench(hardwired_lid_switch=True).ready()
    run = where_k1_may_be_held(bench)
    assert "stands at the box" in bench.refused("commission_next").message
    run.k1_shown = False
    assert "has not been seen held" in bench.refused("commission_next", at_the_box=True).message
    assert not bench.loop.permit.k1.lent
    run.k1_shown = True
    bench.ask("commission_next", at_the_box=True)
    assert bench.loop.permit.k1.lent
    bench.ask("commission_abort")
    assert not bench.loop.permit.k1.lent


@pytest.mark.parametrize(
    ("happens", "words"),
    [
        (lambda bench: bench.happen("daylight_enters", level_mw_cm2=0.5), "There is light with all lamps off"),
        (lambda bench: bench.happen("lid_opens"), "The lid is not shut"),
        (lambda bench: bench.happen("meter_disappears"), "A light meter gives no reading"),
    ],
    ids=["light", "lid", "meter"],
)
def test_k1_is_not_lent_to_a_box_that_is_not_dark_shut_and_seen(
    make_bench: MakeBench, happens: Callable[[BenchBox], None], words: str
) -> None:
    """Before it is lent, not only while it is held; the walk itself has nothing against it."""
    bench = make_bench(hardwired_lid_switch=True).ready()
    where_k1_may_be_held(bench)
    happens(bench)
    bench.run(0.4)
    assert words in bench.refused("commission_next", at_the_box=True).message
    assert not bench.loop.permit.k1.lent


def test_the_person_is_asked_to_act_once_k1_was_held_for_half_a_second(make_bench: MakeBench) -> None:
    """A K1 that only twitches is not held: whoever opened the lid then would prove nothing."""
    bench = make_bench(hardwired_lid_switch=True).ready()
    run = where_k1_may_be_held(bench)
    bench.ask("commission_next", at_the_box=True)
    assert run.alone is not None
    bench.until(lambda: run.alone is not None and run.alone.held_s is not None)
    held_s = run.alone.held_s
    assert held_s is not None
    assert run.phase == "holding"
    bench.until(lambda: run.phase == "act")
    assert bench.clock.now_s - held_s == pytest.approx(0.5, abs=0.02)


def test_dark_during_a_held_k1_fails_the_step_in_words(make_bench: MakeBench) -> None:
    """The run is over, and says that somebody wanted dark."""
    bench = make_bench(hardwired_lid_switch=True).ready()
    run = where_k1_may_be_held(bench)
    bench.ask("commission_next", at_the_box=True)
    bench.run(1.0)
    assert run.phase == "act"
    bench.ask("dark")
    bench.run(0.1)
    assert run.outcome == "failed"
    assert "somebody wanted dark" in run.results[-1].found


def test_a_mirror_that_shows_k1_closed_after_the_kill_fails_it(make_bench: MakeBench) -> None:
    """Whatever the person saw: something else than the pump holds K1."""
    bench = make_bench(hardwired_lid_switch=True).ready()
    at_step(bench, "process_killed")
    run = bench.daemon.commander.commissioning._run
    assert run is not None
    run.phase = "confirm"
    bench.happen("wire_breaks", wire="k1_mirror")
    bench.run(0.1)
    bench.ask("commission_next", answer="yes")
    assert run.outcome == "failed"
    assert "K1's mirror shows it closed" in run.results[-1].found
