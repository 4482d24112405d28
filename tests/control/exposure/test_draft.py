"""A draft: a panel lit by time, until somebody has found it good. Judged by relay pins and by what the panel got."""

import random
import sqlite3
from contextlib import closing
from dataclasses import replace
from itertools import pairwise

import pytest

from sumlight.control.exposure.plan import Plan
from sumlight.control.exposure.side import SideRun
from sumlight.control.records.replay import replay_all
from sumlight.light.sample import Sample
from sumlight.light.sensors import AS7341
from sumlight.store.recipes import recipe_from_text
from tests.control import ideal_lamps
from tests.control.bench_box import BenchBox, demo_box
from tests.control.conftest import MakeBench

LIT_S = 12.0
"""Longer than a lamp may take to strike; still within the warm-up of cold lamps."""

DRAFT = """\
resist: Invented film
sides: {sides}
draft_lit_s: {lit_s:g}
transmission: {{a: 0.9, b: 0.8}}
time_guard_s: 100
hold_s: 60
interruptions: {{forgiven: 2, longest_gap_s: 60}}
"""

TICK_S = 0.006
"""Once from switching on to the grid's next tick; the cut itself is woken for."""


def drafted(bench: BenchBox, sides: str = "one", lit_s: float = LIT_S) -> BenchBox:
    """The box with a draft just started."""
    bench.save("draft", DRAFT.format(sides=sides, lit_s=lit_s))
    return bench.start("draft")


def relay_s(bench: BenchBox, bank: str = "lower", since_s: float = 0.0) -> float:
    """Seconds for which a bank's relay pin was told to light, as the pin itself tells them."""
    lights_when = bench._bank(bank).lights_when == "high"
    history = [*bench.pin(bench._bank(bank).relay_pin).history, (bench.clock.now_s, None)]
    spans = pairwise(history)
    return sum(
        end_s - max(since_s, at_s) for (at_s, level), (end_s, _) in spans if level == lights_when and end_s > since_s
    )


def go_on(bench: BenchBox) -> BenchBox:
    """A person's fresh word, as soon as it may be given, and then to the end."""
    bench.until(lambda: "go" in bench.exposure.may())
    bench.ask("go")
    bench.until(lambda: bench.state in ("done", "turn"))
    return bench


def test_a_draft_is_lit_for_its_time_from_the_strike(bench: BenchBox) -> None:
    """Warm-up included, as somebody with a kitchen timer counts; the dose is measured all the same."""
    drafted(bench).until_state("done")
    assert relay_s(bench) == pytest.approx(LIT_S, abs=TICK_S)
    (side,) = bench.snapshot()["exposure"]["sides"]
    assert side["target_mj_cm2"] is None
    assert side["dose_mj_cm2"] == pytest.approx(bench.true_dose(), rel=0.005)
    assert side["dose_mj_cm2"] > 20


def test_it_stops_at_the_lid_and_continues_with_what_is_left(bench: BenchBox) -> None:
    """Not with the whole time, and not by itself."""
    drafted(bench).until(bench.any_light)
    bench.run(4.0)
    bench.open_lid()
    assert not bench.any_relay_lights()
    bench.run(10.0)
    bench.shut_lid()
    bench.run(2.0)
    assert bench.state == "paused"
    go_on(bench)
    assert relay_s(bench) == pytest.approx(LIT_S, abs=0.03)
    assert bench.snapshot()["exposure"]["sides"][0]["pauses"] == 1
    assert bench.true_dose() == pytest.approx(bench.side().dose_mj_cm2, abs=bench.side().sum.doubt_mj_cm2 + 0.1)


def test_it_stops_at_a_fault_and_continues_with_what_is_left(bench: BenchBox) -> None:
    """A sensor that falls silent is a fault of a draft as well: nobody would know the dose."""
    drafted(bench).until(bench.any_light)
    bench.run(4.0)
    bench.bus_error(1.5)
    assert bench.faults == ["meter_lost"]
    assert not bench.any_relay_lights()
    bench.run(3.0)
    bench.ask("acknowledge")
    go_on(bench)
    assert relay_s(bench) == pytest.approx(LIT_S, abs=0.03)


@pytest.mark.parametrize(
    ("event", "fault"),
    [
        ({"do": "tube_fails", "tubes": 6}, "light_lost"),
        ({"do": "daylight_enters", "level_mw_cm2": 2.0}, "foreign_light"),
    ],
)
def test_every_guard_of_the_light_stays(bench: BenchBox, event: dict[str, object], fault: str) -> None:
    """Time alone never ends a draft whose light is not what it should be."""
    drafted(bench, lit_s=30.0).until(bench.any_light)
    bench.run(8.0)
    bench.happen(**event)  # type: ignore[arg-type]
    bench.run(3.0)
    assert fault in bench.faults or "tube_out" in bench.faults
    assert not bench.any_relay_lights()


def test_lamps_that_do_not_strike_are_a_fault_before_the_time_is_over(bench: BenchBox) -> None:
    """Else an unlit panel would be called done."""
    bench.happen("tube_fails", tubes=6)
    drafted(bench).until(lambda: bool(bench.faults), 30.0)
    assert bench.faults == ["no_light"]


def test_side_b_gets_the_dose_that_side_a_got(bench: BenchBox) -> None:
    """Lamps that are warm by then give it in less time; both faces are to be alike."""
    drafted(bench, "turned").until_state("turn")
    cold_s, dose = relay_s(bench), bench.true_dose("A")
    bench.turn_panel()
    turned_s = bench.clock.now_s
    go_on(bench)
    assert bench.state == "done"
    assert bench.true_dose("B") == pytest.approx(dose, rel=0.005)
    assert cold_s == pytest.approx(LIT_S, abs=TICK_S)
    assert relay_s(bench, since_s=turned_s) != pytest.approx(LIT_S, abs=0.2)
    a, b = bench.snapshot()["exposure"]["sides"]
    assert b["target_mj_cm2"] == pytest.approx(a["dose_mj_cm2"])


@pytest.mark.parametrize("weak", ["upper", "lower"])
def test_of_two_lit_together_side_b_ends_with_the_dose_of_side_a(make_bench: MakeBench, weak: str) -> None:
    """With two tubes fewer on either side: B is lit longer than A, or ends before it."""
    bench = make_bench(box=demo_box(two_banks=True))
    bench.happen("tube_fails", bank=weak, tubes=2)
    drafted(bench, "together", 40.0).until_state("done")
    assert relay_s(bench, bench.side("A").plan.bank) == pytest.approx(40.0, abs=TICK_S)
    assert bench.true_dose("B") == pytest.approx(bench.true_dose("A"), rel=0.02)


def test_of_two_lit_together_side_b_is_not_cut_while_the_lamps_of_a_strike_again(make_bench: MakeBench) -> None:
    """After a pause A gives nothing at first: that does not foretell what it ends with."""
    bench = make_bench(box=demo_box(two_banks=True))
    drafted(bench, "together", 30.0).until(lambda: relay_s(bench) > 20.0)
    bench.open_lid()
    bench.run(5.0)
    bench.shut_lid()
    go_on(bench)
    assert bench.true_dose("B") == pytest.approx(bench.true_dose("A"), rel=0.03)


def test_a_side_a_that_strikes_later_than_side_b_foretells_nothing() -> None:
    """Fluorescent tubes take up to seconds. Until A's are back B stays lit; then it ends with A, not at once."""
    bench = ideal_lamps.Bench()
    bench.exposure.start(recipe_sides(guard_s=60.0), bench.now_s)
    a, b = bench.exposure.sides
    for side in (a, b):
        _feed(side, 0.0, 8.0)
        side.interrupt(8.0)
        side.light(20.0, 19.9, 0.0)
    _feed(b, 20.0, 0.6)
    _feed(a, 20.0, 0.6, mw_cm2=0.001)
    assert b.off_at_s() > 60.0
    _feed(b, 20.6, 0.4)
    _feed(a, 20.6, 0.4)
    assert 21.0 < b.off_at_s() < 22.0


def _feed(side: SideRun, at_s: float, seconds: float, mw_cm2: float = 5.0) -> None:
    """Light of one strength at the glass, a conversion every window."""
    if at_s == 0.0:
        side.light(at_s, at_s, 0.0)
    for number in range(1, round(seconds / AS7341.window_s) + 1):
        end_s = at_s + number * AS7341.window_s
        side.reading(Sample(end_s, end_s - AS7341.window_s / 2, (1, 1, 1, 1, 1, 1), 5, 0), mw_cm2)


def test_the_time_guard_stands_behind_side_b(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its light has become so weak that A's dose is out of reach."""
    sides = recipe_sides(guard_s=15.0)
    bench = ideal_lamps.Bench()
    bench.exposure.start(sides, bench.now_s)
    bench.exposure.record_ready = True
    bench.until("turn").move_lid("open").move_lid("shut")
    monkeypatch.setattr(ideal_lamps, "GLASS_MW_CM2", 1.0)
    bench.go().until("light").run(15.5)
    assert "time_guard" in bench.troubles


def test_a_side_b_that_got_more_than_side_a_makes_the_panel_doubtful() -> None:
    """What it is measured by is A's dose; the recipe has none."""
    bench = ideal_lamps.Bench()
    bench.exposure.start(recipe_sides(guard_s=15.0), bench.now_s)
    bench.exposure.record_ready = True
    bench.until("turn").move_lid("open").move_lid("shut").go().until("done")
    assert bench.exposure.why_doubtful() is None
    bench.exposure.sides[1].sum.dose_mj_cm2 *= 1.05
    assert bench.exposure.why_doubtful() == "side B got 5% more than its target"


def recipe_sides(guard_s: float) -> Plan:
    """A plan for ideal lamps: A by time, B to A's dose."""
    base = ideal_lamps.plan("turned", guard_s=guard_s)
    a, b = (replace(side, target_mj_cm2=None, lit_for_s=10.0) for side in base.sides)
    return replace(base, sides=(a, replace(b, follows="A")))


@pytest.mark.parametrize("instant", range(8))
def test_a_kill_leaves_what_is_left_of_the_time_and_a_doubt_that_holds(make_bench: MakeBench, instant: int) -> None:
    """At any instant: both runs of control together light for the time, to half a second, and say how unsure it is."""
    rng = random.Random(instant)
    before = drafted(make_bench(seed=instant), lit_s=20.0)
    before.until(before.any_light)
    before.run(rng.uniform(3.0, 15.0))
    before.kill()
    before.clock.wait_until(before.clock.now_s + 1.0)
    first_s, first = relay_s(before), before.true_dose()
    after = make_bench()
    assert (after.state, after.exposure.pause_cause) == ("paused", "restart")
    go_on(after)
    assert first_s + relay_s(after) == pytest.approx(20.0, abs=0.5)
    side = after.side()
    assert side.sum.doubt_mj_cm2 > 0.5
    assert abs(first + after.true_dose() - side.dose_mj_cm2) <= side.sum.doubt_mj_cm2 + 0.01 * first


def test_seconds_lost_with_a_kill_are_as_often_too_many_as_too_few(make_bench: MakeBench) -> None:
    """The middle of what no record tells of is counted as lit; without it every restart would add light."""
    errors = []
    for instant in range(12):
        before = drafted(make_bench(), lit_s=60.0)
        before.until(before.any_light)
        before.run(5.0 + 0.065 * instant)
        before.kill()
        after = make_bench()
        errors.append(after.side().lit_s - relay_s(before))
        after.until(lambda box=after: "abandon" in box.exposure.may())  # type: ignore[misc]
        after.ask("abandon")
        after.step()
        after.close()
        after.killed = True
    assert max(map(abs, errors)) < 0.5
    assert abs(sum(errors) / len(errors)) < 0.1


def test_side_b_keeps_to_side_a_after_a_restart(make_bench: MakeBench) -> None:
    """Killed while it waits to be turned, and once more under the light of B."""
    before = drafted(make_bench(), "turned")
    before.until_state("turn")
    dose = before.true_dose("A")
    before.kill()
    middle = make_bench()
    middle.run(1.0)
    middle.turn_panel()
    middle.ask("go")
    middle.until(middle.any_light)
    middle.run(3.0)
    middle.kill()
    middle.clock.wait_until(middle.clock.now_s + 1.0)
    first = middle.true_dose("B")
    after = go_on(make_bench())
    assert after.state == "done"
    doubt = after.side("B").sum.doubt_mj_cm2
    assert first + after.true_dose("B") == pytest.approx(dose, abs=doubt + 0.01 * dose)


def test_the_record_keeps_the_measured_dose_and_that_nothing_was_aimed_at(bench: BenchBox) -> None:
    """Its recipe's text says the time; no target was made up afterwards."""
    drafted(bench, "turned").until_state("turn")
    bench.turn_panel()
    go_on(bench).run(1.0)
    with bench.logbook() as book:
        row = book.exposure(1)
    assert row is not None
    assert recipe_from_text(row["recipe_text"], "draft").recipe.draft_lit_s == LIT_S
    assert [side["target_mj_cm2"] for side in row["sides"]] == [None, None]
    assert [side["dose_mj_cm2"] for side in row["sides"]] == pytest.approx(
        [bench.true_dose("A"), bench.true_dose("B")], rel=0.005
    )
    assert row["sides"][0]["lit_s"] == pytest.approx(LIT_S, abs=TICK_S)
    assert not row["doubtful"]


@pytest.mark.parametrize(
    ("lit_s", "says"), [(1800.0, "lights a side for 1800 s at most"), (6.0, "a lamp that does not strike")]
)
def test_a_time_that_does_not_suit_the_box_is_refused_before_any_light(
    bench: BenchBox, lit_s: float, says: str
) -> None:
    """Too long it would end in a fault; too short nobody would notice dead lamps."""
    bench.save("draft", DRAFT.format(sides="one", lit_s=lit_s).replace("guard_s: 100", "guard_s: 3600"))
    refused = bench.ready().refused("start", recipe="draft", panel="P1")
    assert (refused.code, refused.field) == ("bad_value", "draft_lit_s")
    assert says in refused.in_full
    assert bench.state == "idle"


def test_a_recipe_without_dose_or_time_lights_test_strips_only(bench: BenchBox) -> None:
    """Nothing would end the light of a panel."""
    bench.save("nothing", DRAFT.format(sides="one", lit_s=1).replace("draft_lit_s: 1", "dose_unknown: true"))
    refused = bench.ready().refused("start", recipe="nothing", panel="P1")
    assert "test strip" in refused.in_full
    bench.ask("series", kind="strip", recipe="nothing", panel="strip", doses_mj_cm2=[10.0])
    bench.until_state("done")
    assert bench.true_dose("1") == pytest.approx(10.0, rel=0.01)


def test_a_target_slipped_into_the_record_of_a_draft_is_not_lit(make_bench: MakeBench) -> None:
    """The recipe has none: somebody, or a failing card, wrote it."""
    before = drafted(make_bench())
    before.until(before.any_light)
    before.run(3.0)
    before.kill()
    with closing(sqlite3.connect(before.data / "logbook.sqlite")) as link, link:
        link.execute("UPDATE sides SET target_mj_cm2 = 500")
    after = make_bench()
    after.run(1.0)
    assert after.state == "idle"
    told = [fault["detail"] for fault in after.snapshot()["faults"] if fault["name"] == "logbook_unsound"]
    assert ["a target on record" in each for each in told] == [True]


def test_a_draft_is_replayed_from_its_samples(bench: BenchBox) -> None:
    """The record alone gives the same dose again."""
    drafted(bench).until_state("done")
    bench.run(1.0)
    with bench.logbook() as book:
        found = list(replay_all(book.intervals.stretches()))
    assert [each.verdict for each in found] == ["same"]
