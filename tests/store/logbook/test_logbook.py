"""What control writes is what the page and the next start read."""

from dataclasses import replace
from pathlib import Path

import pytest

from sumlight.store.logbook.logbook import Logbook, LogbookError
from sumlight.store.logbook.records import (
    BankState,
    FaultRecord,
    LampReading,
    NewSide,
    Pause,
    SideState,
    TraceChunk,
)
from sumlight.text.message import as_written
from tests.store.making import RECIPE_TEXT, START_UTC, ask, later, new_exposure, sample, state


def test_an_exposure_is_read_back_as_it_was_written(path: Path) -> None:
    """Everything control handed over stands in the answer, times in UTC."""
    new = new_exposure()
    with Logbook(path) as book:
        begun = book.begin(new)
        side_a, side_b = begun.side_ids["A"], begun.side_ids["B"]
        book.put_sides([state(side_a, 10), state(side_b, 0, "waiting")], later(1))
        book.put_sides([state(side_a, 60.01, "done")], later(12))
        book.finish(begun.exposure_id, "completed", True, later(30))
        found = book.exposure(begun.exposure_id)
    assert found == {
        "exposure_id": begun.exposure_id,
        "kind": "panel",
        "result": "",
        "noted_by": "",
        "panel_id": begun.panel_id,
        "panel": "P12",
        "note": "first try",
        "recipe_name": "invented-38",
        "recipe_text": RECIPE_TEXT,
        "recipe_sha256": new.recipe_sha256,
        "hold_s": 900.0,
        "hold_limit_s": 86400.0,
        "box_name": "Bench box",
        "simulated": True,
        "started_by": "Ada",
        "started_utc": "2026-11-25T08:00:00.123456Z",
        "ended_utc": "2026-11-25T08:00:30.123456Z",
        "outcome": "completed",
        "doubtful": True,
        "utc_unsure": False,
        "parameters": None,
        "verdict": "",
        "judged_by": "",
        "network_darks": [],
        "sides": [
            {
                "side_id": side_a,
                "side": "A",
                "bank": "lower",
                "target_mj_cm2": 60.0,
                "transmission": 0.84,
                "state": "done",
                "dose_mj_cm2": 60.01,
                "doubt_mj_cm2": 0.6001,
                "lit_s": 60.01 / 5,
                "pauses": 0,
                "longest_gap_s": 0.0,
                "budget": None,
            },
            {
                "side_id": side_b,
                "side": "B",
                "bank": "lower",
                "target_mj_cm2": 60.0,
                "transmission": 0.84,
                "state": "waiting",
                "dose_mj_cm2": 0.0,
                "doubt_mj_cm2": 0.0,
                "lit_s": 0.0,
                "pauses": 0,
                "longest_gap_s": 0.0,
                "budget": None,
            },
        ],
        "pauses": [],
        "faults": [],
        "journal_length": 3,
    }


def test_an_exposure_that_does_not_exist_is_none(path: Path) -> None:
    """Asking for it is not an error."""
    with Logbook(path) as book:
        assert book.exposure(77) is None


def test_recent_lists_newest_first_and_pages_backwards(path: Path) -> None:
    """`before_id` continues where the last page ended, without repeats or holes."""
    with Logbook(path, durable=False) as book:
        ids = [book.begin(new_exposure(f"P{number}")).exposure_id for number in range(5)]
        first = book.recent(limit=2)
        second = book.recent(limit=2, before_id=first[-1]["exposure_id"])
        third = book.recent(limit=2, before_id=second[-1]["exposure_id"])
        everything = book.recent()
    assert [row["exposure_id"] for row in first + second + third] == ids[::-1]
    assert [row["panel"] for row in everything] == ["P4", "P3", "P2", "P1", "P0"]
    assert [side["side"] for side in everything[0]["sides"]] == ["A", "B"]


def test_hold_times_are_unknown_when_the_recipe_text_does_not_tell(path: Path) -> None:
    """An exposure is recorded even if its recipe text cannot be read."""
    with Logbook(path) as book:
        book.begin(new_exposure(recipe_text="not a recipe"))
        row = book.recent()[0]
    assert (row["hold_s"], row["hold_limit_s"]) == (None, None)


def test_the_journal_keeps_every_step_and_the_side_the_last(path: Path) -> None:
    """The journal tells how the dose grew."""
    with Logbook(path) as book:
        side_id = book.begin(new_exposure(sides="A")).side_ids["A"]
        for second in range(4):
            book.put_sides([state(side_id, 5.0 * second)], later(second))
        journal = book.journal(side_id)
        side = book.recent()[0]["sides"][0]
    assert [line["dose_mj_cm2"] for line in journal] == [0.0, 5.0, 10.0, 15.0]
    assert journal[2] == {
        "written_utc": "2026-11-25T08:00:02.123456Z",
        "state": "lit",
        "dose_mj_cm2": 10.0,
        "doubt_mj_cm2": 0.1,
        "lit_s": 2.0,
    }
    assert side["dose_mj_cm2"] == 15.0


def test_a_trace_in_chunks_comes_back_whole_and_in_order(path: Path) -> None:
    """Chunks of one side are joined; other sides stay apart."""
    samples = [sample(number) for number in range(100)]
    with Logbook(path) as book:
        begun = book.begin(new_exposure())
        side_a, side_b = begun.side_ids["A"], begun.side_ids["B"]
        book.add_trace(TraceChunk(side_a, tuple(samples[:30])))
        book.add_trace(TraceChunk(side_b, tuple(samples[40:42])))
        book.add_trace(TraceChunk(side_a, ()))
        book.add_trace(TraceChunk(side_a, tuple(samples[30:])))
        assert book.trace(side_a) == samples
        assert book.trace(side_b) == samples[40:42]
        assert book.trace(999) == []
    assert ask(path, "SELECT sample_count FROM traces") == [(30,), (2,), (70,)]


def test_a_damaged_trace_is_named(path: Path) -> None:
    """The message says which trace of which side."""
    with Logbook(path) as book:
        side_id = book.begin(new_exposure(sides="A")).side_ids["A"]
        book.add_trace(TraceChunk(side_id, (sample(1),)))
        book._session.link.execute("UPDATE traces SET packed = x'01aabb'")
        with pytest.raises(LogbookError, match=f"trace 1 of side {side_id}: a trace is damaged"):
            book.trace(side_id)


def test_a_pause_is_completed_by_the_same_pause_with_its_length(path: Path) -> None:
    """One row a pause; a late repeat without length does not take the length away."""
    with Logbook(path) as book:
        exposure_id = book.begin(new_exposure()).exposure_id
        book.add_pause(Pause(exposure_id, "lid", later(3), None))
        book.add_pause(Pause(exposure_id, "lid", later(3), 4.25))
        book.add_pause(Pause(exposure_id, "lid", later(3), None))
        book.add_pause(Pause(exposure_id, "dark_command", later(20), None))
        found = book.exposure(exposure_id)
    assert found is not None
    assert found["pauses"] == [
        {"cause": "lid", "began_utc": "2026-11-25T08:00:03.123456Z", "gap_s": 4.25},
        {"cause": "dark_command", "began_utc": "2026-11-25T08:00:20.123456Z", "gap_s": None},
    ]


def test_clearing_a_fault_is_recorded_with_who_and_when(path: Path) -> None:
    """Only the standing fault of that name is cleared, and an earlier clearing is not overwritten."""
    with Logbook(path) as book:
        exposure_id = book.begin(new_exposure()).exposure_id
        first = book.add_fault(FaultRecord("meter_lost", as_written("no answer for 0.6 s"), exposure_id, later(5)))
        book.clear_fault("meter_lost", later(8), "bench")
        second = book.add_fault(FaultRecord("meter_lost", as_written("no answer for 0.7 s"), exposure_id, later(9)))
        other = book.add_fault(FaultRecord("stray_light", as_written("0.5 mW/cm²"), exposure_id, later(9)))
        book.clear_fault("meter_lost", later(10), "page")
        found = book.exposure(exposure_id)
        book.add_fault(FaultRecord("no_light", as_written("outside any exposure"), None, later(11)))
    assert found is not None
    told = [(fault["fault_id"], fault["cleared_utc"], fault["cleared_by"]) for fault in found["faults"]]
    assert told == [
        (first, "2026-11-25T08:00:08.123456Z", "bench"),
        (second, "2026-11-25T08:00:10.123456Z", "page"),
        (other, None, None),
    ]


def test_lamp_hours_and_strikes_add_up(path: Path) -> None:
    """A bank never seen has none."""
    with Logbook(path) as book:
        assert book.bank_state("lower") == BankState("lower", 0.0, 0, None, None)
        book.lamps.add_lamp_use("lower", 12.5, 1)
        book.lamps.add_lamp_use("lower", 7.5, 2)
        book.put_bank_state("lower", 0.0105, 5)
        assert book.bank_state("lower") == BankState("lower", 20.0, 3, 0.0105, 5)
        assert book.bank_state("upper") == BankState("upper", 0.0, 0, None, None)


def test_a_lamp_reading_stands_beside_the_age_of_the_lamps(path: Path) -> None:
    """Hours and strikes are those when it was read, not those of today."""
    with Logbook(path) as book:
        side_id = book.begin(new_exposure()).side_ids["A"]
        book.lamps.add_lamp_use("lower", 100.0, 4)
        book.lamps.add_lamp_reading(LampReading("lower", side_id, later(60), 4.93, None))
        book.lamps.add_lamp_use("lower", 50.0, 1)
        book.lamps.add_lamp_reading(LampReading("lower", side_id, later(90), 4.91, 41.5))
        found = book.lamps.lamp_readings("lower")
        assert book.lamps.lamp_readings("upper") == []
    assert [(row["settled_mw_cm2"], row["warm_up_s"], row["lit_s"], row["strikes"]) for row in found] == [
        (4.93, None, 100.0, 4),
        (4.91, 41.5, 150.0, 5),
    ]
    assert found[0]["read_utc"] == "2026-11-25T08:01:00.123456Z"


def test_no_exposure_is_interrupted_when_all_have_ended(path: Path) -> None:
    """Neither in an empty logbook nor after a proper end."""
    with Logbook(path) as book:
        assert book.interrupted() is None
        begun = book.begin(new_exposure())
        assert book.interrupted() is not None
        book.finish(begun.exposure_id, "abandoned", False, later(1))
        assert book.interrupted() is None


def test_an_interrupted_exposure_is_found_with_every_side(path: Path) -> None:
    """The newest one without an end, its doses, pauses and the last time it was heard of."""
    new = new_exposure()
    done = SideState(0, "done", 60.0, 0.0, 12.0, 1, 9.0)
    with Logbook(path) as book:
        book.begin(new_exposure("older"))
        begun = book.begin(new)
        side_a, side_b = begun.side_ids["A"], begun.side_ids["B"]
        done = SideState(side_a, "done", 60.0, 0.0, 12.0, 1, 9.0)
        book.put_sides([done, state(side_b, 7.5)], later(40))
        book.add_pause(Pause(begun.exposure_id, "lid", later(5), 9.0))
        book.add_pause(Pause(begun.exposure_id, "fault", later(41), None))
    with Logbook(path) as book:
        found = book.interrupted()
    assert found is not None
    assert (found.exposure_id, found.panel_id, found.panel) == (begun.exposure_id, begun.panel_id, "P12")
    assert (found.recipe_name, found.recipe_text) == ("invented-38", RECIPE_TEXT)
    assert found.recipe_sha256 == new.recipe_sha256
    plan = NewSide("A", "lower", 60.0, 0.84)
    assert found.sides == ((plan, done), (NewSide("B", "lower", 60.0, 0.84), state(side_b, 7.5)))
    assert (found.pauses, found.longest_gap_s, found.last_known_utc) == (2, 9.0, later(41))


def test_records_that_came_seldom_are_told(path: Path) -> None:
    """A slow disk keeps the newest state only: what lies between two records shows how much light goes unrecorded.

    The first ones of a long exposure no longer count, nor does the end of the light, which is written at once.
    """
    with Logbook(path) as book:
        begun = book.begin(new_exposure(sides="A"))
        lit = state(begun.side_ids["A"], 0.0)
        times_s = [0.25, 5.25, *(5.25 + 0.25 * n for n in range(1, 100))]
        for lit_s in times_s:
            book.put_sides([replace(lit, lit_s=lit_s)], later(lit_s))
        found = book.interrupted()
        assert found is not None
        assert found.between_records_s == {"A": 5.0}
        for number in range(300):
            book.put_sides([replace(lit, lit_s=31.25 + 0.25 * number)], later(32 + number))
        book.put_sides([replace(lit, state="cut", lit_s=200.0)], later(400))
        found = book.interrupted()
    assert found is not None
    assert found.between_records_s == {"A": 0.25}


def test_an_exposure_interrupted_before_any_light_was_last_heard_of_at_its_start(path: Path) -> None:
    """No journal and no pauses yet."""
    with Logbook(path) as book:
        book.begin(new_exposure())
        found = book.interrupted()
    assert found is not None
    assert (found.last_known_utc, found.pauses, found.longest_gap_s) == (START_UTC, 0, 0.0)


def test_a_record_of_an_unknown_side_or_exposure_is_refused_for_good(path: Path) -> None:
    """Foreign keys are on; such a record would never fit, so it must not be tried again."""
    with Logbook(path) as book:
        with pytest.raises(LogbookError, match="does not fit the logbook") as side:
            book.put_sides([state(99, 1.0)], later(1))
        with pytest.raises(LogbookError, match="does not fit the logbook"):
            book.add_trace(TraceChunk(99, (sample(1),)))
        with pytest.raises(LogbookError, match="does not fit the logbook"):
            book.add_pause(Pause(99, "lid", later(1), None))
        with pytest.raises(LogbookError, match="exposure 99 cannot be ended") as end:
            book.finish(99, "completed", False, later(1))
    assert (side.value.may_pass, end.value.may_pass) == (False, False)


def test_a_dose_that_is_not_a_number_is_refused_as_a_whole(path: Path) -> None:
    """Neither side of the same call is written: one transaction."""
    with Logbook(path) as book:
        begun = book.begin(new_exposure())
        side_a, side_b = begun.side_ids["A"], begun.side_ids["B"]
        with pytest.raises(LogbookError, match="does not fit the logbook"):
            book.put_sides([state(side_a, 5.0), state(side_b, float("nan"))], later(1))
        assert book.journal(side_a) == []
        assert book.recent()[0]["sides"][0]["dose_mj_cm2"] == 0.0


def test_a_beginning_that_fails_leaves_nothing_behind(path: Path) -> None:
    """No panel without exposure, no exposure without sides."""
    with Logbook(path) as book, pytest.raises(LogbookError, match="beginning the exposure of panel 'P12'"):
        book.begin(new_exposure(sides="AA"))
    assert ask(path, "SELECT (SELECT count(*) FROM panels), (SELECT count(*) FROM exposures)") == [(0, 0)]


def test_a_time_without_a_zone_is_refused(path: Path) -> None:
    """It could mean any hour of the day."""
    with Logbook(path) as book, pytest.raises(ValueError, match="has no time zone; give it in UTC"):
        book.clear_fault("meter_lost", START_UTC.replace(tzinfo=None), "bench")
