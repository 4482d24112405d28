"""Timers over kills, restarts and clocks that are set."""

import pytest

from tests.control.bench_box import BenchBox
from tests.control.conftest import MakeBench


def timer(bench: BenchBox) -> dict[str, object]:
    """The only one."""
    (found,) = bench.snapshot()["jobs"]["timers"]
    assert isinstance(found, dict)
    return found


def begin_etch(bench: BenchBox) -> None:
    """A board of 35 µm in a bath that eats 70 µm a minute: 30 s, first look after 24, then every 2.4 (by hand)."""
    bench.run(0.5)
    made = bench.ask("job_new", recipe="quick")
    bench.ask("job_numbers", job_id=made["job_id"], etchant="iron", rate_um_min=70.0)
    card = bench.ask("card", panel_id=made["panel_ids"][0])
    etch = next(step["step_id"] for step in card["steps"] if step["kind"] == "etch")
    bench.ask("job_step", panel_id=made["panel_ids"][0], step_id=etch, act="begin")


def test_an_etch_rings_for_looks_until_somebody_says_done(bench: BenchBox) -> None:
    """Half-way, at the lower end, then every tenth; it never names an end."""
    begin_etch(bench)
    assert (timer(bench)["rings"], timer(bench)["next_s"]) == (None, pytest.approx(12, abs=0.2))
    bench.run(12.5)
    assert timer(bench)["rings"] == "half of the time: turn the panel, rock the tray"
    number = timer(bench)["timer_id"]
    bench.ask("timer_answer", timer_id=number)
    assert timer(bench)["rings"] is None
    heard = []
    for _look in range(6):
        bench.until(lambda: timer(bench)["rings"] is not None)
        heard.append(timer(bench)["elapsed_s"])
        assert timer(bench)["rings"] == "look: the places that go last"
        bench.ask("timer_answer", timer_id=number)
    assert heard == pytest.approx([24, 26.4, 28.8, 31.2, 33.6, 36.0], abs=0.1)


def test_a_timer_by_hand_rings_once_and_is_over_with_the_answer(bench: BenchBox) -> None:
    """And it may be stopped before."""
    bench.run(0.5)
    bench.ask("timer_start", seconds=5.0, title="rinse")
    bench.run(5.5)
    assert (timer(bench)["title"], timer(bench)["rings"]) == ("rinse", "the time is over")
    bench.ask("timer_answer", timer_id=timer(bench)["timer_id"])
    assert bench.snapshot()["jobs"]["timers"] == []
    bench.ask("timer_start", seconds=500.0)
    bench.ask("timer_answer", timer_id=timer(bench)["timer_id"], stop=True)
    assert bench.snapshot()["jobs"]["timers"] == []


def test_a_timer_survives_a_kill(make_bench: MakeBench) -> None:
    """Its time goes on while the box is off: 30 s before, 1 s between (the wall clock of the next run), 10 s after."""
    before = make_bench()
    before.run(0.5)
    before.ask("timer_start", seconds=300.0)
    before.run(30)
    before.kill()
    after = make_bench()
    after.run(10)
    assert timer(after)["elapsed_s"] == pytest.approx(41, abs=1.0)
    assert timer(after)["unsure"] is False


def test_a_ring_that_nobody_answered_rings_after_a_kill(make_bench: MakeBench) -> None:
    """And one that was answered does not."""
    before = make_bench()
    before.run(0.5)
    before.ask("timer_start", seconds=5.0, title="a")
    before.run(6)
    before.kill()
    after = make_bench()
    after.run(0.5)
    assert timer(after)["rings"] == "the time is over"
    after.ask("timer_answer", timer_id=timer(after)["timer_id"])
    after.kill()
    last = make_bench()
    last.run(0.5)
    assert last.snapshot()["jobs"]["timers"] == []


def test_a_clock_set_while_control_runs_moves_no_timer(bench: BenchBox) -> None:
    """It counts on the steady clock; a restart later counts from the new time."""
    bench.run(0.5)
    bench.ask("timer_start", seconds=900.0)
    bench.run(20)
    bench.set_wall_clock(-7200)
    bench.run(20)
    bench.set_wall_clock(86_400)
    bench.run(20)
    assert timer(bench)["elapsed_s"] == pytest.approx(60, abs=0.5)
    assert timer(bench)["unsure"] is False


def test_a_clock_set_while_control_runs_is_noted_at_once(make_bench: MakeBench) -> None:
    """So that a kill soon after does not count a day that never was."""
    before = make_bench()
    before.run(0.5)
    before.ask("timer_start", seconds=90_000.0)
    before.run(20)
    before.set_wall_clock(86_400)
    before.run(3)
    before.kill()
    after = make_bench()
    after.run(1)
    assert timer(after)["elapsed_s"] == pytest.approx(25, abs=2.5)


def test_a_clock_that_starts_in_the_past_makes_a_timer_unsure(make_bench: MakeBench) -> None:
    """A Pi without a battery: at least what was known has passed; when the clock is set, the time off is counted."""
    before = make_bench()
    before.run(0.5)
    before.ask("timer_start", seconds=900.0)
    before.run(65)
    before.kill()
    after = make_bench(clock_back_s=3600)
    after.run(5)
    assert timer(after)["unsure"] is True
    assert timer(after)["elapsed_s"] == pytest.approx(66, abs=7)
    after.set_wall_clock(3600 + 120)
    after.run(5)
    assert timer(after)["unsure"] is True
    assert timer(after)["elapsed_s"] == pytest.approx(66 + 5 + 120 + 5, abs=8)


def test_there_are_not_endless_timers(bench: BenchBox) -> None:
    """A stuck finger must not fill the card."""
    bench.run(0.5)
    for _ in range(24):
        bench.ask("timer_start", seconds=500.0)
    assert str(bench.refused("timer_start", seconds=500.0).message) == "24 timers run already"


def test_going_on_stops_the_timer_of_what_lay_before(bench: BenchBox) -> None:
    """Whoever rinses has taken the panel out of the bath."""
    begin_etch(bench)
    panel = bench.snapshot()["jobs"]["due"]["panel_id"]
    card = bench.ask("card", panel_id=panel)
    part = next(step["step_id"] for step in card["steps"] if step["kind"] == "strip")
    bench.ask("job_step", panel_id=panel, step_id=part, act="begin")
    assert bench.snapshot()["jobs"]["timers"] == []
