"""A panel is lit once: nothing is lit again until the lid was open since the last light ended.

Judged by the light that the simulated lamps really give, not by what control says of itself.
"""

from dataclasses import replace
from pathlib import Path

import pytest

from sumlight.control.exposure.side import SideRun
from sumlight.control.exposure.state_machine import Exposure
from sumlight.light.sensors import AS7341
from sumlight.store.logbook.logbook import Logbook
from tests.control.bench_box import BenchBox
from tests.control.conftest import MakeBench
from tests.control.ideal_lamps import LIMITS, Bench, plan

TAKE_OUT = "Take the panel out: open the lid, shut it again."


def light_seen(bench: BenchBox, seconds: float = 8.0) -> bool:
    """Whether any lamp gave light within some seconds."""
    seen = []
    bench.after_step = lambda: seen.append(bench.any_light())
    bench.run(seconds)
    bench.after_step = None
    return any(seen)


def done(bench: BenchBox) -> BenchBox:
    """A panel has had its light; it still lies inside, and what the meter saw is over."""
    bench.start().until_state("done")
    bench.run(1.0)
    return bench


def test_a_second_start_without_the_lid_lights_nothing(bench: BenchBox) -> None:
    """The press that everybody makes by mistake: Start again, the panel still in the box."""
    done(bench)
    error = bench.refused("start", recipe="quick", panel="P1")
    assert (error.code, error.remedy) == ("refused", TAKE_OUT)
    assert not light_seen(bench)
    assert "start" not in bench.snapshot()["may"]
    assert bench.snapshot()["sentence"].endswith(TAKE_OUT)
    assert bench.true_dose() == pytest.approx(20, rel=0.01)


def test_after_the_lid_was_opened_and_shut_the_next_panel_is_lit(bench: BenchBox) -> None:
    """And only then: while it is open nothing may start either."""
    done(bench).open_lid()
    assert "start" not in bench.snapshot()["may"]
    bench.run(1.0)
    bench.shut_lid()
    assert "start" in bench.snapshot()["may"]
    bench.ask("start", recipe="quick", panel="P2")
    assert light_seen(bench)


def test_contacts_that_bounce_or_disagree_are_no_open_lid(bench: BenchBox) -> None:
    """A knock at the box takes no panel out."""
    done(bench)
    bench.happen("contact_sticks", contact="open")
    bench.happen("lid_opens")
    bench.run(0.05)
    bench.happen("lid_closes")
    bench.happen("contact_frees", contact="open")
    bench.run(1.0)
    bench.ask("acknowledge")
    bench.run(0.5)
    assert bench.refused("start", recipe="quick", panel="P1").code == "refused"
    assert not light_seen(bench)


@pytest.mark.parametrize("kind", ["tablet", "strip", "compare", "field", "teach", "steady"])
def test_no_series_lights_what_was_lit(bench: BenchBox, kind: str) -> None:
    """Whatever it is for."""
    done(bench)
    error = bench.refused("series", kind=kind, recipe="quick", panel="s", seconds=3.0)
    assert error.remedy == TAKE_OUT
    assert not light_seen(bench)


def test_a_panel_does_not_follow_a_series_without_the_lid(bench: BenchBox) -> None:
    """What is started as a panel may have lain under the measuring light."""
    bench.ready().ask("series", kind="steady", recipe="quick", panel="steady light", seconds=3.0)
    bench.until_state("done")
    bench.run(1.0)
    error = bench.refused("start", recipe="quick", panel="P1")
    assert error.remedy == "Before a panel is lit, open the lid and shut it again."
    assert not light_seen(bench)


def test_steady_light_may_follow_steady_light(bench: BenchBox) -> None:
    """The one exception: nothing lies inside that could be lit twice. A panel still has to wait for the lid after."""
    for _ in range(2):
        bench.until(bench.sees_light)
        bench.until(lambda: bench.loop.lid == "shut")
        bench.ask("series", kind="steady", recipe="quick", panel="steady light", seconds=3.0)
        assert light_seen(bench)
        bench.until_state("done")
    bench.ask("series", kind="steady", recipe="quick", panel="steady light", seconds=3.0)
    bench.ask("dark")  # before any lamp was on
    bench.ask("abandon")
    bench.run(0.5)
    assert bench.refused("start", recipe="quick", panel="P1").code == "refused"


def test_what_was_cancelled_in_the_dark_may_start_at_once(bench: BenchBox) -> None:
    """No lamp was on: the panel is as it was."""
    bench.start().ask("dark")
    bench.ask("abandon")
    bench.run(0.5)
    assert "start" in bench.snapshot()["may"]
    bench.ask("start", recipe="quick", panel="P1")
    assert light_seen(bench)


def test_what_was_cancelled_in_the_dark_may_start_after_a_restart_too(make_bench: MakeBench) -> None:
    """The record says that nothing was left inside."""
    before = make_bench().start()
    before.ask("dark")
    before.ask("abandon")
    before.run(0.5)
    before.close()
    after = make_bench()
    after.until(lambda: after.loop.lid == "shut" and after.sees_light())
    assert "start" in after.snapshot()["may"]


def test_an_abandoned_panel_is_not_lit_again(bench: BenchBox) -> None:
    """Though it was lit for a second only."""
    bench.light_up(settled_s=0.5).ask("dark")
    bench.ask("abandon")
    bench.run(1.0)
    assert bench.refused("start", recipe="quick", panel="P1").remedy == TAKE_OUT
    assert not light_seen(bench)


@pytest.mark.parametrize("end", ["close", "kill"])
def test_a_restart_forgets_nothing(make_bench: MakeBench, end: str) -> None:
    """Stopped in good order or killed: the panel still lies inside. The lid parts them, and that is remembered too."""
    before = done(make_bench())
    getattr(before, end)()
    after = make_bench()
    after.until(lambda: after.loop.lid == "shut" and after.sees_light())
    assert after.refused("start", recipe="quick", panel="P1").remedy == TAKE_OUT
    assert after.snapshot()["sentence"] == TAKE_OUT
    assert not light_seen(after)
    after.change_panel()
    getattr(after, end)()
    third = make_bench()
    third.until(lambda: "start" in third.snapshot()["may"] and third.sees_light())
    third.ask("start", recipe="quick", panel="P2")
    assert light_seen(third)


@pytest.mark.parametrize("at_s", [0.0, 0.01, 0.05, 0.3, 1.0, 2.0])
def test_killed_at_any_moment_around_the_first_light(make_bench: MakeBench, at_s: float) -> None:
    """Given up after the restart, the panel is not started anew: it may have had light."""
    before = make_bench().start()
    before.until(before.any_relay_lights)
    before.run(at_s)
    before.kill()
    after = make_bench()
    after.until(lambda: after.loop.lid == "shut" and after.sees_light())
    after.ask("abandon")
    after.run(0.5)
    assert after.refused("start", recipe="quick", panel="P1").remedy == TAKE_OUT
    after.kill()
    third = make_bench()
    third.until(lambda: third.loop.lid == "shut" and third.sees_light())
    assert third.refused("start", recipe="quick", panel="P1").remedy == TAKE_OUT
    assert not light_seen(third)


def test_a_lid_opened_before_the_end_does_not_count_for_later(make_bench: MakeBench) -> None:
    """Opened in a pause that a restart made, then completed: the panel lies inside since it was completed."""
    before = make_bench().light_up(dose_mj_cm2=40)
    before.kill()
    after = make_bench()
    after.turn_panel()
    after.until(lambda: "go" in after.exposure.may() and after.sees_light())
    after.ask("go")
    after.until_state("done")
    after.run(1.0)
    after.kill()
    third = make_bench()
    third.until(lambda: third.loop.lid == "shut" and third.sees_light())
    assert third.refused("start", recipe="quick", panel="P1").remedy == TAKE_OUT
    assert not light_seen(third)


def test_a_series_that_a_restart_ended_lies_inside(make_bench: MakeBench) -> None:
    """It cannot be continued; that does not take the panel out."""
    before = make_bench().ready()
    before.ask("series", kind="teach", recipe="quick", panel="t", seconds=9.0)
    before.until(before.any_light)
    before.kill()
    after = make_bench()
    after.until(lambda: after.loop.lid == "shut" and after.sees_light())
    assert after.refused("start", recipe="quick", panel="P1").remedy == TAKE_OUT
    assert not light_seen(after)


def test_a_logbook_that_was_set_aside_asks_for_the_lid(make_bench: MakeBench) -> None:
    """Nobody knows what lies inside."""
    before = done(make_bench()).change_panel()
    before.close()
    path = Path(before.data) / "logbook.sqlite"
    path.write_bytes(b"no logbook at all" * 1000)
    after = make_bench()
    after.until(lambda: after.loop.lid == "shut" and after.sees_light())
    after.ask("acknowledge")
    after.run(0.2)
    assert after.refused("start", recipe="quick", panel="P1").remedy == TAKE_OUT
    assert not light_seen(after)


def test_a_new_box_asks_for_nothing(tmp_path: Path) -> None:
    """Nothing was ever lit in it."""
    with Logbook(tmp_path / "logbook.sqlite") as book:
        assert book.left_inside() is None


def test_a_record_without_light_does_not_prove_darkness() -> None:
    """A kill may come between the lamps and their record: given up after the restart, it asks for the lid."""
    exposure = Exposure(LIMITS, AS7341.window_s)
    exposure.lid_is("shut", 500.0)
    run = plan("one")
    exposure.restore(run, [SideRun(side, AS7341.window_s) for side in run.sides], 500.0)
    exposure.abandon(501.0)
    assert exposure.left_inside == "panel"
    assert "start" not in exposure.may()


def test_a_start_that_could_not_be_recorded_forgets_nothing_of_the_run_before() -> None:
    """No lid has parted the two, so what the first lit still lies inside."""
    bench, steady = Bench(), replace(plan("one"), kind="steady")
    bench.exposure.start(steady, bench.now_s)
    bench.exposure.record_ready = True
    bench.until("done")
    bench.exposure.start(steady, bench.now_s)
    bench.exposure.record_failed()
    assert bench.exposure.left_inside == "steady"
    assert bench.exposure.state == "idle"
