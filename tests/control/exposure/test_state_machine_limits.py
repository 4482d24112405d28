"""Limits of the exposure's state machine, each from just below and just above; added where a mutant had survived."""

import math
from dataclasses import FrozenInstanceError, replace

import pytest

from sumlight.control.exposure.dark_check import DARK_PATIENCE_S, LIGHTS_OUT_S
from sumlight.control.exposure.side import SideRun
from sumlight.control.exposure.state_machine import SURPLUS_SHARE, Event, Exposure
from sumlight.control.exposure.vacuum import Vacuum
from sumlight.control.refused import RefusedError
from sumlight.light.sample import Sample
from sumlight.light.sensors import AS7341
from sumlight.store.logbook.records import SideState
from sumlight.text.message import as_written
from tests.control.ideal_lamps import LIMITS, Bench, plan


@pytest.mark.parametrize("began_s", [1.0, 500.0])
def test_patience_in_the_dark_check_counts_from_its_beginning(began_s: float) -> None:
    """Also on a machine that was switched on a second ago."""
    bench = Bench()
    bench.now_s = began_s
    bench.start()
    bench.reads = False
    bench.run(DARK_PATIENCE_S - 0.01)
    assert bench.troubles == []
    bench.run(0.1)
    assert set(bench.troubles) == {"meter_lost"}


def test_a_panel_half_exposed_is_not_called_over_exposed() -> None:
    """Nor one that is just done."""
    bench = Bench().lit()
    assert 0 < bench.exposure.sides[0].dose_mj_cm2 < 8.0
    assert bench.exposure.why_doubtful() is None
    bench.until("done")
    assert bench.exposure.why_doubtful() is None


@pytest.mark.parametrize(
    ("share", "doubtful"), [(SURPLUS_SHARE - 0.001, False), (SURPLUS_SHARE + 0.001, True), (1.2, True)]
)
def test_a_surplus_is_told_from_its_limit_on(share: float, doubtful: bool) -> None:
    """Three percent."""
    bench = Bench().start().until("done")
    bench.exposure.sides[0].sum.assume(8.0 * (1 + share), 0.0)
    assert (bench.exposure.why_doubtful() is not None) == doubtful


@pytest.mark.parametrize("began_s", [0.2, 500.0])
def test_silence_is_counted_from_the_last_reading(began_s: float) -> None:
    """Half a second, also on a machine that was switched on a moment ago."""
    bench = Bench()
    bench.now_s, bench._next_s = began_s, began_s + AS7341.window_s
    bench.start().until("light")
    bench.reads = False
    bench.run(LIMITS.bridge_limit_s - 0.02)
    assert bench.exposure.light_known(bench.now_s)
    assert bench.troubles == []
    bench.run(0.3)
    assert not bench.exposure.light_known(bench.now_s)
    assert set(bench.troubles) == {"meter_lost"}


@pytest.mark.parametrize(("began_after_s", "counts"), [(-0.001, False), (0.001, True)])
def test_a_conversion_counts_as_darkness_if_it_began_after_the_afterglow(began_after_s: float, counts: bool) -> None:
    """One that began a millisecond earlier is not looked at."""
    bench = Bench().lit()
    bench.exposure.dark(bench.now_s)
    dark_s = bench.now_s
    bench.go()
    first_s = dark_s + LIGHTS_OUT_S + began_after_s
    sample = Sample(first_s + AS7341.window_s, first_s + AS7341.window_s / 2, (1,) * 6, 5, 0)
    bench.exposure.reading("lower", sample, 0.0)
    assert len(bench.exposure.darkness.readings["lower"]) == counts


def test_just_at_a_limit_nothing_is_told_yet() -> None:
    """Bridging, time guard, patience and forgiven gap each allow their full length."""
    bench = Bench().lit()
    exposure, side = bench.exposure, bench.exposure.sides[0]
    assert exposure.plan is not None
    side.longest_gap_s = exposure.plan.longest_gap_s
    assert exposure.why_doubtful() is None
    side.last_usable_s = 600.0
    assert exposure.light_known(600.0 + LIMITS.bridge_limit_s)
    side._lit_since_s, side.lit_s = 600.0, 0.0
    assert exposure._guards(side, 600.0 + LIMITS.bridge_limit_s) == []
    side.last_usable_s = 600.0 + side.plan.guard_s
    assert exposure._guards(side, 600.0 + side.plan.guard_s) == []
    waiting = Bench().start()
    waiting.exposure.darkness.since_s = 600.0
    assert waiting.exposure.tick(600.0 + DARK_PATIENCE_S) == []


def test_darkness_just_at_its_limit_is_dark_enough() -> None:
    """Five readings of exactly limits.dark_limit_mw_cm2."""
    bench = Bench()
    bench.daylight_mw_cm2 = LIMITS.dark_limit_mw_cm2
    bench.start().until("light")
    assert bench.troubles == []


@pytest.mark.parametrize("gain_code", [4, 6])
def test_a_change_of_gain_either_way_begins_the_dark_reading_anew(gain_code: int) -> None:
    """Each gain has an offset of its own; a bank is known by its name, wherever the text came from."""
    bench = Bench().start()
    name = "".join(["low", "er"])
    for code in (5, 5, gain_code):
        bench.now_s += AS7341.window_s
        sample = Sample(bench.now_s, bench.now_s - AS7341.window_s / 2, (1,) * 6, code, 0)
        bench.exposure.reading(name, sample, 0.0)
    assert len(bench.exposure.darkness.readings["lower"]) == 1


def test_light_is_taken_in_by_the_name_of_its_bank() -> None:
    """Equal text, not the same object."""
    bench = Bench().lit()
    before = bench.exposure.sides[0].dose_mj_cm2
    bench.now_s += AS7341.window_s
    sample = Sample(bench.now_s, bench.now_s - AS7341.window_s / 2, (1,) * 6, 5, 0)
    bench.exposure.reading("".join(["low", "er"]), sample, 5.0)
    assert bench.exposure.sides[0].dose_mj_cm2 > before


def test_a_conversion_that_began_just_when_the_afterglow_is_over_counts() -> None:
    """To the last bit: a moment is sought at which the arithmetic is exact."""
    bench = Bench().lit()
    bench.exposure.dark(bench.now_s)
    bench.go()
    for step in range(1000):
        bench.exposure.darkness.lights_out_s = 600.0 + step / 1024
        over_s = bench.exposure.darkness.lights_out_s + LIGHTS_OUT_S
        mid_s = over_s + AS7341.window_s / 2
        if mid_s - AS7341.window_s / 2 == over_s:
            sample = Sample(mid_s + AS7341.window_s / 2, mid_s, (1,) * 6, 5, 0)
            bench.exposure.reading("lower", sample, 0.0)
            break
    assert len(bench.exposure.darkness.readings["lower"]) == 1


def darknesses(bench: Bench, *values_mw_cm2: float) -> list[bool]:
    """Readings of the dark check one after the other; whether each brought a trouble."""
    told = []
    for value in values_mw_cm2:
        bench.now_s += AS7341.window_s
        sample = Sample(bench.now_s, bench.now_s - AS7341.window_s / 2, (1,) * 6, 5, 0)
        told.append(bench.exposure.reading("lower", sample, value) is not None)
    return told


def test_light_in_the_dark_check_is_told_at_the_fifth_reading_and_at_every_later_one() -> None:
    """Four say nothing yet; the latest five count, however many there are."""
    assert darknesses(Bench().start(), *[0.2] * 6) == [False] * 4 + [True, True]
    assert darknesses(Bench().start(), *[0.0] * 6, *[0.2] * 4) == [False] * 8 + [True, True]


def test_only_the_latest_five_readings_count_as_darkness() -> None:
    """A bright one is forgotten with the sixth after it, on a machine just switched on, too."""
    bench = Bench()
    bench.now_s = 0.0
    assert darknesses(bench.start(), 0.9, *[0.0] * 5) == [False] * 4 + [True, False]
    assert len(bench.exposure.darkness.readings["lower"]) == 6


def test_patience_in_the_dark_check_is_three_seconds() -> None:
    """Ten times what five readings take."""
    assert DARK_PATIENCE_S == 3.0


def test_each_guard_of_wanted_holds_by_itself() -> None:
    """Even if the other one had been forgotten."""
    bench = Bench().lit()
    assert bench.exposure.wanted() == ("lower",)
    bench.exposure._faulted = True
    assert (bench.exposure.wanted(), bench.exposure.enable_wanted()) == ((), False)
    bench.exposure._faulted, bench.exposure._base = False, "paused"
    assert (bench.exposure.wanted(), bench.exposure.enable_wanted()) == ((), False)


def test_the_next_deadline_is_that_of_the_light_and_of_nothing_else() -> None:
    """Finite under light, infinite before and after."""
    bench = Bench()
    assert math.isinf(bench.exposure.next_deadline_s())
    bench.lit()
    assert bench.now_s < bench.exposure.next_deadline_s() < bench.now_s + 10
    bench.until("done")
    assert math.isinf(bench.exposure.next_deadline_s())


def test_the_next_step_is_the_legs_own_or_to_turn_the_panel() -> None:
    """A series says what to do before each leg."""
    bench = Bench().start("turned")
    assert "turn the panel" in bench.exposure.next_step()
    side = bench.exposure.sides[0]
    side.plan = replace(side.plan, before=as_written("Move the mask."))
    assert bench.exposure.next_step() == "Move the mask."
    bench.exposure.abandon(bench.now_s)
    assert "turn the panel" in bench.exposure.next_step()


def restored(*states: str) -> Bench:
    """A turned panel taken up with its sides in these states."""
    bench = Bench()
    run = plan("turned")
    sides = [SideRun(side, AS7341.window_s) for side in run.sides]
    for side, state in zip(sides, states, strict=True):
        lit_s = 0.0 if state == "waiting" else 1.0
        side.restore(SideState(1, state, 4.0 * lit_s, 0.0, lit_s, 0, 0.0), bench.now_s, 5.0, 4.0, 4.0)
    bench.exposure.restore(run, sides, bench.now_s)
    return bench


def test_a_panel_taken_up_again_stands_where_it_was() -> None:
    """Done, turned or paused, and its record is on disk already."""
    assert (restored("done", "done").exposure.state, restored("done", "done").exposure.outcome) == ("done", "completed")
    turn = restored("done", "waiting")
    assert turn.exposure.state == "turn"
    with pytest.raises(RefusedError, match="not opened"):
        turn.go()
    paused = restored("lit", "waiting")
    assert (paused.exposure.state, paused.exposure.pause_cause) == ("paused", "restart")
    assert paused.exposure.record_ready
    paused.go().until("light")


@pytest.mark.parametrize(("between_s", "doubt_s"), [(0.0, 0.5), (0.25, 0.5), (0.6, 0.9), (4.0, 6.0)])
def test_the_doubt_after_a_kill_grows_where_records_came_seldom(between_s: float, doubt_s: float) -> None:
    """Half a second of light, or half as much again as lay between two records: a slow disk does not get faster."""
    side = SideRun(plan("turned").sides[0], AS7341.window_s)
    side.restore(SideState(1, "lit", 4.0, 0.0, 1.0, 0, 0.0), 10.0, 5.0, 4.0, 4.0, between_s)
    most_mw_cm2 = max(side.plan.effective_mw_cm2(4.0 * side.plan.transmission), 4.0)
    assert side.sum.doubt_mj_cm2 == pytest.approx(doubt_s * most_mw_cm2)


def test_an_event_is_as_it_happened() -> None:
    """It cannot be touched up before it is recorded."""
    with pytest.raises(FrozenInstanceError):
        Event("lit", 1.0).what = "dark"  # type: ignore[misc]


def test_a_leg_lit_for_a_time_has_no_surplus() -> None:
    """There is no target to exceed."""
    bench = Bench().lit()
    side = bench.exposure.sides[0]
    side.plan = replace(side.plan, target_mj_cm2=None, lit_for_s=5.0)
    assert bench.exposure.why_doubtful() is None


def test_of_two_sides_due_the_first_says_what_to_do_before() -> None:
    """Both are lit together; the words are the first one's."""
    bench = Bench().start("together")
    first, second = bench.exposure.sides
    first.plan = replace(first.plan, before=as_written("Lay the sheet on."))
    assert bench.exposure.next_step() == "Lay the sheet on."
    second.plan = replace(second.plan, before=as_written("Something else."))
    assert bench.exposure.next_step() == "Lay the sheet on."


def test_a_refusal_reads_as_message_and_remedy() -> None:
    """In the log and on the terminal."""
    assert str(RefusedError(as_written("Not now."), as_written("Try later."))) == "Not now. Try later."


def test_an_event_that_tells_of_no_time_has_none() -> None:
    """Only dark does."""
    assert Event("lit", 1.0) == Event("lit", 1.0, "", "", 0.0, "")


def told_of_sides(bench: Bench) -> list[str]:
    """Sides of which a change was told since last asked."""
    names = [event.side for event in bench.exposure.events if event.what == "side"]
    bench.exposure.events.clear()
    return names


def test_every_change_of_a_side_is_told_for_the_record() -> None:
    """When it is lit, cut, ended in its tail by something else than the dose, or abandoned."""
    bench = Bench().start()
    told_of_sides(bench)
    bench.until("light")
    assert told_of_sides(bench) == ["A"]
    while bench.exposure.sides[0].state != "cut":
        bench.tick()
    assert told_of_sides(bench) == ["A"]
    bench.move_lid("open")
    assert (bench.exposure.sides[0].state, told_of_sides(bench)) == ("done", ["A"])
    other = Bench().start("turned").until("turn")
    told_of_sides(other)
    other.exposure.abandon(other.now_s)
    assert told_of_sides(other) == ["B"]


def test_a_lead_of_less_than_a_second_is_waited_for_too() -> None:
    """Half a second of vacuum is a lead like any other."""
    exposure = Exposure(LIMITS, AS7341.window_s, 0.5)
    exposure.lid_is("shut", 500.0)
    exposure.start(plan(), 500.0)
    assert exposure.state == "vacuum"


def test_what_paused_a_panel_is_over_once_its_vacuum_is_pulled_again() -> None:
    """The picture says so while the pump runs, not only when light comes."""
    bench = Bench().lit().move_lid("open").move_lid("shut")
    bench.exposure.vacuum = Vacuum(30.0)
    assert bench.exposure.pause_cause == "lid"
    bench.go()
    assert (bench.exposure.state, bench.exposure.pause_cause) == ("vacuum", None)


def test_a_start_that_could_not_be_recorded_stops_the_pump() -> None:
    """Nothing will be lit, so nothing needs the vacuum: the next start waits for the whole of it."""
    exposure = Exposure(LIMITS, AS7341.window_s, 30.0)
    exposure.lid_is("shut", 500.0)
    exposure.start(plan(), 500.0)
    assert exposure.vacuum.missing_s(510.0) == 20.0
    exposure.record_failed()
    assert exposure.vacuum.missing_s(510.0) == 30.0
