"""Control dies at any instant and comes back: the panel, its dose and its next step are still there."""

import random
import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from sumlight.control import daemon
from sumlight.store.logbook.records import InterruptedExposure, NewSide, SideState
from sumlight.store.logbook.writer import GATHER_S, LogWriter
from tests.control.bench_box import BenchBox, demo_box, recipe_text
from tests.control.conftest import MakeBench

LIGHT_MW_CM2 = 4.6
"""More than a bank ever gives at the resist in these tests."""

METER_SHARE = 0.01
"""The measured dose may be off by that share of the true one without any kill."""

UNKNOWN_S = 0.5
"""Light that may be unknown after a kill, at most (design, §2)."""


def test_a_killed_exposure_is_offered_with_its_dose(make_bench: MakeBench) -> None:
    """Same panel, same recipe, a pause for the restart, and no light."""
    before = make_bench().light_up(dose_mj_cm2=40)
    dose = before.side().dose_mj_cm2
    before.kill()
    after = make_bench()
    assert (after.state, after.exposure.pause_cause) == ("paused", "restart")
    after.run(5.0)
    exposure = after.snapshot()["exposure"]
    assert (exposure["panel"], exposure["recipe"], exposure["pause_cause"]) == ("P1", "special", "restart")
    assert exposure["exposure_id"] == before.loop.recorder.exposure_id
    assert abs(dose - exposure["sides"][0]["dose_mj_cm2"]) <= UNKNOWN_S * LIGHT_MW_CM2
    assert set(after.exposure.may()) == {"dark", "go", "abandon"}
    assert not after.any_relay_lights()


def test_a_continued_exposure_ends_on_the_same_target(make_bench: MakeBench) -> None:
    """Both runs together give the dose, within what the record says it may be off."""
    before = make_bench().light_up(dose_mj_cm2=40)
    before.kill()
    before.clock.wait_until(before.clock.now_s + 1.0)
    first = before.true_dose()
    after = make_bench()
    after.until(lambda: "go" in after.exposure.may())
    after.ask("go")
    after.until_state("done")
    side = after.side()
    assert side.dose_mj_cm2 == pytest.approx(40, rel=0.003)
    assert abs(first + after.true_dose() - side.dose_mj_cm2) <= side.sum.doubt_mj_cm2 + 0.05
    assert 0.5 < side.sum.doubt_mj_cm2 <= UNKNOWN_S * LIGHT_MW_CM2
    assert side.pauses == 1
    with after.logbook() as book:
        row = book.recent()[0]
        full = book.exposure(row["exposure_id"])
    assert row["outcome"] == "completed"
    assert full is not None
    assert [pause["cause"] for pause in full["pauses"]] == ["restart"]
    assert full["pauses"][0]["gap_s"] is not None


def test_an_abandoned_exposure_is_not_offered_again(make_bench: MakeBench) -> None:
    """Closed in the record."""
    make_bench().light_up().kill()
    after = make_bench()
    after.run(1.0)
    after.ask("abandon")
    after.step()
    after.kill()
    again = make_bench()
    assert again.state == "idle"
    with again.logbook() as book:
        assert [row["outcome"] for row in book.recent()] == ["abandoned"]
    again.start().until_state("done")


@pytest.mark.parametrize("instant", range(20))
def test_a_kill_at_any_instant_leaves_less_light_unknown_than_it_says(make_bench: MakeBench, instant: int) -> None:
    """Twenty instants of one turned exposure with a pause in it, against what the panel got in the twin."""
    rng = random.Random(instant)
    before = make_bench(seed=instant)
    before.start_new(sides="turned", dose_mj_cm2=12)
    before.run(rng.uniform(0.0, 2.0))
    before.turn_panel()
    before.ask("go")
    ticks = rng.randrange(1500)
    for _ in range(ticks):
        before.step()
        if "go" in before.exposure.may():
            before.ask("go")
        if before.state == "turn" and before.loop.lid == "shut" and not before.exposure._opened_since_turn:
            before.turn_panel()
    measured = {side.plan.side: side.dose_mj_cm2 for side in before.exposure.sides}
    lit = [side.plan.side for side in before.exposure.sides if side.state in ("lit", "cut")]  # and its tail
    ended = before.state == "done"
    before.kill()
    before.clock.wait_until(before.clock.now_s + 1.0)
    truth = before.truth.dose_mj_cm2()
    after = make_bench()
    if ended:
        assert after.state == "idle"
        return
    for side in after.exposure.sides:
        name = side.plan.side
        if name in lit:
            off = abs(truth[name] - side.dose_mj_cm2)
            assert off <= UNKNOWN_S * LIGHT_MW_CM2
            if measured[name] > 3.0:  # before, and without an earlier panel, nobody knows what the lamps will give
                assert off <= side.sum.doubt_mj_cm2 + METER_SHARE * truth[name]
        else:
            assert side.dose_mj_cm2 == pytest.approx(measured[name], abs=0.02 * max(1.0, measured[name]))


def test_the_dose_after_a_kill_is_as_often_too_high_as_too_low(make_bench: MakeBench) -> None:
    """Forty kills at all instants between two records: the mean error is a small part of what was unseen."""
    errors = []
    for instant in range(40):
        before = make_bench().light_up(dose_mj_cm2=200, settled_s=3.0 + 0.065 * instant)
        before.kill()
        before.clock.wait_until(before.clock.now_s + 1.0)
        after = make_bench()
        errors.append((after.side().dose_mj_cm2 - before.true_dose()) / LIGHT_MW_CM2)
        after.until(lambda box=after: "abandon" in box.exposure.may())  # type: ignore[misc]
        after.ask("abandon")
        after.step()
        after.close()
        after.killed = True
    assert max(abs(error) for error in errors) < UNKNOWN_S
    assert abs(sum(errors) / len(errors)) < 0.1
    assert min(errors) < 0 < max(errors)


@pytest.mark.parametrize("not_told_s", [0.0, 0.3, 0.8, 1.1])
def test_after_a_power_cut_the_doubt_holds_what_the_logbook_was_not_told(
    make_bench: MakeBench, not_told_s: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """States wait for the logbook for 0.8 s, and a sync may take some 0.3 s; a kill would leave them beside it."""
    before = make_bench().light_up(dose_mj_cm2=40)
    before.run(4.0)
    before.kill()
    truth = before.true_dose()
    with before.logbook() as book, closing(sqlite3.connect(book._session.path)) as link, link:
        link.execute("DELETE FROM dose_journal WHERE lit_s > (SELECT max(lit_s) FROM dose_journal) - ?", (not_told_s,))
        ((dose, lit_s),) = link.execute("SELECT dose_mj_cm2, lit_s FROM dose_journal ORDER BY entry_id DESC LIMIT 1")
        link.execute("UPDATE sides SET dose_mj_cm2 = ?, lit_s = ?", (dose, lit_s))
    before.clock.wait_until(before.clock.now_s + 1.0)
    monkeypatch.setattr(daemon, "_gather_s", lambda _threaded: GATHER_S)
    side = make_bench().side()
    assert abs(truth - side.dose_mj_cm2) <= side.sum.doubt_mj_cm2 + METER_SHARE * truth
    assert side.sum.doubt_mj_cm2 <= 2 * GATHER_S * LIGHT_MW_CM2


def test_after_a_kill_no_more_is_unknown_for_the_cards_sake() -> None:
    """What stands beside the logbook tells how often it was written; only a side without it rests on the logbook."""
    state = SideState(1, "lit", 5.0, 0.0, 2.0, 0, 0.0)
    sides = tuple((NewSide(name, "lower", 40.0, 0.8), state) for name in "ABCD")
    left = InterruptedExposure(1, "panel", 1, "P1", "r", "", "", sides, 0, 0.0, datetime.now(UTC))
    left = replace(left, between_records_s={"A": 0.8, "B": 0.8, "C": 1.4})
    found = daemon._as_known(left, {"A": 0.26}, GATHER_S)
    assert found is not None
    assert found.between_records_s == {"A": 0.26, "B": GATHER_S, "C": 1.4, "D": GATHER_S}
    assert daemon._as_known(None, {}, GATHER_S) is None


def test_a_panel_that_waits_to_be_turned_still_waits(make_bench: MakeBench) -> None:
    """Side A is done; side B needs the lid opened and a go."""
    before = make_bench()
    before.start_new(sides="turned", dose_mj_cm2=12)
    before.until_state("turn")
    dose = before.side("A").dose_mj_cm2
    before.kill()
    after = make_bench()
    after.run(1.0)
    assert after.state == "turn"
    assert "turn the panel" in after.snapshot()["sentence"]
    assert after.side("A").dose_mj_cm2 == dose
    assert after.refused("go").code == "refused"
    after.turn_panel()
    after.ask("go")
    after.until_state("done")
    assert after.true_dose("B") == pytest.approx(12, rel=0.005)
    assert after.world.actinic_mj_cm2("lower") * 0.8 == pytest.approx(after.true_dose("B"), rel=1e-6)


def test_side_b_killed_under_light_is_continued_without_turning(make_bench: MakeBench) -> None:
    """It is paused, not waiting to be turned."""
    before = make_bench()
    before.start_new(sides="turned", dose_mj_cm2=12)
    before.until_state("turn")
    before.turn_panel()
    before.ask("go")
    before.until(lambda: before.side("B").dose_mj_cm2 > 6)
    before.kill()
    after = make_bench()
    assert after.state == "paused"
    after.until(lambda: "go" in after.exposure.may())
    after.ask("go")
    after.until_state("done")
    assert [side.pauses for side in after.exposure.sides] == [0, 1]


def test_both_banks_are_continued_each_with_its_own_dose(make_bench: MakeBench) -> None:
    """With two tubes missing above, the doses differ; each ends on the target."""
    box = demo_box(two_banks=True)
    before = make_bench(box=box)
    before.happen("tube_fails", bank="upper", tubes=2)
    before.start_new(sides="together", dose_mj_cm2=30)
    before.until(lambda: before.side("A").dose_mj_cm2 > 15)
    before.kill()
    after = make_bench(box=box)
    assert after.side("A").dose_mj_cm2 > 1.2 * after.side("B").dose_mj_cm2 > 5
    after.until(lambda: "go" in after.exposure.may())
    after.ask("go")
    after.until_state("done")
    for side in "AB":
        assert after.side(side).dose_mj_cm2 == pytest.approx(30, rel=0.003)


def test_a_kill_before_any_light_offers_the_whole_dose(make_bench: MakeBench) -> None:
    """The panel was begun, nothing was lit, nothing counts as an interruption."""
    before = make_bench().start()
    before.run(0.1)
    assert before.state == "dark_check"
    before.kill()
    after = make_bench()
    assert (after.state, after.side().dose_mj_cm2) == ("paused", 0.0)
    after.until(lambda: "go" in after.exposure.may())
    after.ask("go")
    after.until_state("done")
    assert after.true_dose() == pytest.approx(20, rel=0.003)
    assert after.side().pauses == 0


@pytest.mark.parametrize("at", ["cut", "done"])
def test_a_side_that_had_its_dose_is_not_lit_again(
    make_bench: MakeBench, monkeypatch: pytest.MonkeyPatch, at: str
) -> None:
    """Killed in the tail, or between the record of the side and that of the end: it is closed as completed."""
    before = make_bench().start()
    with monkeypatch.context() as patch:
        patch.setattr(LogWriter, "finish", lambda *_: None)
        before.until(lambda: before.side().state == at)
        before.run(0.01)
        before.kill()
    after = make_bench()
    after.run(1.0)
    assert (after.state, after.exposure.outcome) == ("done", "completed")
    assert [level for _, level in after.pin(17).history] == [None, True]
    after.kill()
    again = make_bench()
    assert again.state == "idle"
    with again.logbook() as book:
        assert [row["outcome"] for row in book.recent()] == ["completed"]


def test_a_paused_exposure_survives_a_restart_with_its_pauses(make_bench: MakeBench) -> None:
    """The kill adds none: nothing was lit."""
    before = make_bench().light_up(dose_mj_cm2=40)
    before.open_lid()
    before.run(1.0)
    dose, pauses = before.side().dose_mj_cm2, before.side().pauses
    before.kill()
    after = make_bench()
    assert (after.side().dose_mj_cm2, after.side().pauses) == (pytest.approx(dose), pauses)
    after.until(lambda: "go" in after.exposure.may())
    after.ask("go")
    after.until_state("done")
    assert after.side().pauses == 1


def test_an_orderly_stop_under_light_is_offered_just_the_same(make_bench: MakeBench) -> None:
    """Lamps go dark before the pins are released."""
    before = make_bench().light_up(dose_mj_cm2=40)
    dose = before.side().dose_mj_cm2
    before.close()
    assert [level for _, level in before.pin(17).history][-2:] == [True, None]
    after = make_bench()
    assert after.state == "paused"
    assert after.side().dose_mj_cm2 >= dose - UNKNOWN_S * LIGHT_MW_CM2


def test_restarting_again_and_again_keeps_the_dose(make_bench: MakeBench) -> None:
    """Five kills on the way to one target; every stretch of light counts."""
    bench = make_bench()
    bench.start_new(dose_mj_cm2=40)
    truth = 0.0
    for _ in range(5):
        bench.until(bench.any_light)
        bench.run(1.5)
        bench.kill()
        bench.clock.wait_until(bench.clock.now_s + 1.0)
        truth += bench.true_dose()
        bench = make_bench()
        bench.until(lambda box=bench: "go" in box.exposure.may())  # type: ignore[misc]
        bench.ask("go")
    bench.until_state("done")
    truth += bench.true_dose()
    assert abs(truth - 40) <= bench.side().sum.doubt_mj_cm2 + 0.2
    assert bench.snapshot()["exposure"]["doubtful"] is True


@pytest.mark.parametrize("after_s", [0.2, 0.5, 0.9])
def test_the_first_second_of_light_is_doubted_by_what_the_bank_gave_before(
    make_bench: MakeBench, after_s: float
) -> None:
    """The mean light so far still holds the strike, and would promise too much."""
    bench = make_bench()
    bench.start_new(dose_mj_cm2=10)
    bench.until_state("done")
    bench.start_new(dose_mj_cm2=40)
    bench.until(bench.any_light)
    bench.run(after_s)
    dose_mj_cm2 = bench.side().dose_mj_cm2
    bench.kill()
    side = make_bench().side()
    assert abs(dose_mj_cm2 - side.dose_mj_cm2) <= side.sum.doubt_mj_cm2 <= UNKNOWN_S * LIGHT_MW_CM2
    assert side.sum.doubt_mj_cm2 > 0.8 * UNKNOWN_S * bench.side().cut_off.mw_cm2


def test_a_long_night_between_makes_the_panel_doubtful(make_bench: MakeBench) -> None:
    """The gap is taken from the wall clock, the only one that goes on."""
    before = make_bench()
    before.set_wall_clock(-8 * 3600.0)
    before.light_up(dose_mj_cm2=40)
    before.kill()
    after = make_bench()
    after.until(lambda: "go" in after.exposure.may())
    after.ask("go")
    after.until_state("done")
    assert "lay dark" in after.snapshot()["exposure"]["doubtful_why"]


@pytest.mark.parametrize("back_s", [3600.0, 2.0])
def test_a_clock_that_is_not_past_the_last_record_makes_the_panel_doubtful(
    make_bench: MakeBench, back_s: float
) -> None:
    """A Pi without a battery boots in the past: nobody knows whether it lay dark for a second or for a night."""
    before = make_bench().light_up(dose_mj_cm2=40)
    before.kill()
    after = make_bench(clock_back_s=back_s)
    after.until(lambda: "go" in after.exposure.may())
    after.ask("go")
    after.until_state("done")
    assert after.side().dose_mj_cm2 == pytest.approx(40, rel=0.003)
    assert "nobody knows how long side A lay dark" in after.snapshot()["exposure"]["doubtful_why"]
    with after.logbook() as book:
        full = book.exposure(1)
    assert full is not None
    assert full["doubtful"]
    assert [(pause["cause"], pause["gap_s"]) for pause in full["pauses"]] == [("restart", None)]


def test_an_unknown_gap_is_not_forgotten_at_the_next_restart(make_bench: MakeBench) -> None:
    """Killed once with the clock behind, and once more with a clock that is right."""
    make_bench().light_up(dose_mj_cm2=60).kill()
    behind = make_bench(clock_back_s=3600)
    behind.until(lambda: "go" in behind.exposure.may())
    behind.ask("go")
    behind.until(behind.any_light)
    behind.run(1.0)
    behind.kill()
    after = make_bench(clock_back_s=-7200)
    assert "nobody knows" in str(after.exposure.why_doubtful())


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ("UPDATE exposures SET recipe_text = replace(recipe_text, 'dose_mj_cm2: 40', 'dose_mj_cm2: 600')", "hash"),
        ("UPDATE exposures SET recipe_sha256 = 'ab'", "hash"),
        ("UPDATE sides SET target_mj_cm2 = 600", "the target on record, 600, is not the recipe's 40"),
        ("UPDATE sides SET target_mj_cm2 = NULL", "no target on record, but one in the recipe"),
        ("UPDATE sides SET transmission = 0.1", "the transmission"),
        ("UPDATE sides SET dose_mj_cm2 = -1000", "a dose of -1000 is impossible"),
        ("UPDATE sides SET dose_mj_cm2 = 9e999", "a dose of inf is impossible"),
        ("UPDATE sides SET doubt_mj_cm2 = -1", "a doubt of -1 is impossible"),
        ("UPDATE sides SET lit_s = 9e999", "a time with light of inf is impossible"),
        ("UPDATE sides SET lit_s = 0", "without any time with light"),
        ("UPDATE sides SET longest_gap_s = -5", "a longest pause of -5 is impossible"),
        ("UPDATE sides SET pauses = -1", "-1 pauses are impossible"),
        ("UPDATE sides SET state = 'burning'", "is not a state of a side"),
        ("UPDATE sides SET side = 'C'", "the record has others"),
        ("UPDATE dose_journal SET written_utc = 'yesterday'", "the time 'yesterday' on record is not a time"),
    ],
)
def test_what_contradicts_itself_is_closed_and_told_not_lit(make_bench: MakeBench, change: str, why: str) -> None:
    """A record edited by hand, or by a failing card, in the logbook of a panel under way."""
    before = make_bench().light_up(dose_mj_cm2=40)
    before.kill()
    with closing(sqlite3.connect(before.data / "logbook.sqlite")) as link, link:
        link.execute(change)
    after = make_bench()
    after.run(1.0)
    assert after.state == "idle"
    assert not after.any_relay_lights()
    told = [fault["detail"] for fault in after.snapshot()["faults"] if fault["name"] == "logbook_unsound"]
    assert len(told) == 1
    assert "P1" in told[0]
    assert why in told[0]
    with after.logbook() as book:
        row = book.recent()[0]
        care = book.care.upkeep(5)
    assert (row["outcome"], bool(row["doubtful"])) == ("abandoned", True)
    assert [line["what"] for line in care] == ["closed"]
    after.ask("acknowledge")
    after.start().until_state("done")


def test_a_box_rebuilt_meanwhile_closes_what_it_cannot_continue(make_bench: MakeBench) -> None:
    """A panel for two banks on a box that now has one."""
    before = make_bench(box=demo_box(two_banks=True))
    before.start_new(sides="together", dose_mj_cm2=30)
    before.until_state("light")
    before.kill()
    after = make_bench()
    assert after.state == "idle"
    with after.logbook() as book:
        row = book.recent()[0]
    assert (row["outcome"], bool(row["doubtful"])) == ("abandoned", True)
    after.start().until_state("done")


def test_the_recipe_of_the_record_is_continued_not_a_newer_one(make_bench: MakeBench) -> None:
    """Somebody edited the file meanwhile."""
    before = make_bench().start()
    before.run(3.0)
    before.kill()
    (before.data / "recipes" / "quick.yaml").write_text(recipe_text(dose_mj_cm2=300))
    after = make_bench()
    assert after.side().plan.target_mj_cm2 == 20


def test_lamp_hours_and_strikes_go_on_counting(make_bench: MakeBench) -> None:
    """From the 100 hours that the scenario's lamps have behind them, in the logbook, over restarts."""
    first = make_bench().start()
    first.until_state("done")
    lit_s = first.side().lit_s
    first.close()
    second: BenchBox = make_bench().start()
    second.until_state("done")
    bank = second.snapshot()["banks"][0]
    assert bank["strikes"] == 2
    assert bank["lamp_hours"] - 100 == pytest.approx((lit_s + second.side().lit_s) / 3600, rel=0.01)
