"""Jobs, cards and timers in the logbook: what is written is read back; a broken line keeps nothing from starting."""

from dataclasses import replace
from pathlib import Path

from sumlight.craft.jobs import plans
from sumlight.craft.jobs.card import Mark
from sumlight.craft.jobs.instructions import PanelNumbers
from sumlight.craft.jobs.timers import Ring, Schedule
from sumlight.store.logbook.export import rows
from sumlight.store.logbook.jobs import JobRecord, PanelRecord, TimerRecord
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.records import SideState
from sumlight.text.message import Message, say
from tests.store.making import ask, later, new_exposure

NUMBERS = PanelNumbers("sheet_two", "brass", 150.0, "blue-38", 60.0, 900.0, 28_800.0, 30.0, "iron", 10.0)
JOB = JobRecord(1, "gear", 2, NUMBERS, plans.added(plans.steps_of("sheet_two"), 3, "Own.", 99), later(0), "Ada")
TIMER = TimerRecord(
    1, 1, 17, say("step_etch"), Schedule((Ring(180.0, "half"), Ring(360.0, "look_etch")), 36.0), later(1), 5.0, later(6)
)
DONE = Mark("done", "2026-11-25T08:00:00.000000Z", "2026-11-25T08:10:00.000000Z", "two passes", "Ada")


def fill(book: Logbook) -> None:
    """One job with two panels, one step noted, one timer running."""
    book.jobs.put_job(JOB)
    book.jobs.put_panel(PanelRecord(1, 1, "blue-38 · 1"))
    book.jobs.put_panel(PanelRecord(2, 1, "blue-38 · 2"))
    book.jobs.put_mark(1, 5, DONE)
    book.jobs.put_timer(TIMER)


def test_what_is_open_is_read_back_as_it_was(path: Path) -> None:
    """To the last number; a timer's title is still a message."""
    with Logbook(path) as book:
        fill(book)
        kept = book.jobs.kept()
    assert kept.jobs == (JOB,)
    assert kept.last == JOB
    assert [panel.label for panel in kept.panels] == ["blue-38 · 1", "blue-38 · 2"]
    assert kept.marks == {1: {5: DONE}}
    assert kept.timers == (TIMER,)
    assert isinstance(kept.timers[0].title, Message)
    assert (kept.last_job_id, kept.last_panel_id, kept.last_timer_id, kept.unreadable) == (1, 2, 1, 0)


def test_what_was_exposed_is_told_with_its_panels(path: Path) -> None:
    """By the label; what did not get its dose is not among it."""
    with Logbook(path) as book:
        fill(book)
        begun = book.begin(new_exposure("blue-38 · 1", sides="AB"))
        book.put_sides([SideState(begun.side_ids["A"], "done", 60.0, 0.0, 15.0, 0, 0.0)], later(20))
        (told,) = book.jobs.kept().exposed
        assert (told.panel_id, told.side, told.ended_utc) == (1, "A", None)
        book.put_sides([SideState(begun.side_ids["B"], "done", 60.0, 0.0, 15.0, 0, 0.0)], later(40))
        book.finish(begun.exposure_id, "completed", False, later(41))
        assert [(one.side, one.ended_utc) for one in book.jobs.kept().exposed] == [("A", later(41)), ("B", later(41))]


def test_what_has_ended_is_kept_but_not_taken_up(path: Path) -> None:
    """Numbers go on from it."""
    with Logbook(path) as book:
        fill(book)
        book.jobs.put_timer(replace(TIMER, stopped_utc=later(9)))
        book.jobs.put_job(replace(JOB, ended_utc=later(10)))
        kept = book.jobs.kept()
    assert (kept.jobs, kept.panels, kept.marks, kept.timers) == ((), (), {}, ())
    assert kept.last is not None
    assert kept.last.artwork == "gear"
    assert (kept.last_job_id, kept.last_panel_id, kept.last_timer_id) == (1, 2, 1)


def test_a_mark_is_changed_and_taken_back(path: Path) -> None:
    """One row a step."""
    with Logbook(path) as book:
        fill(book)
        book.jobs.put_mark(1, 5, replace(DONE, state="wrong", word="a bubble"))
        assert book.jobs.kept().marks[1][5].state == "wrong"
        book.jobs.put_mark(1, 5, None)
        assert book.jobs.kept().marks == {}


def test_the_next_label_counts_panels_and_cards(path: Path) -> None:
    """One more than were exposed, or than the highest number in use; other recipes do not count."""
    with Logbook(path) as book:
        assert book.labels.next("blue-38", 1, []) == ["blue-38 · 1"]
        fill(book)
        assert book.labels.next("blue-38", 2, []) == ["blue-38 · 3", "blue-38 · 4"]
        assert book.labels.next("blue-38", 2, ["blue-38 · 4"]) == ["blue-38 · 3", "blue-38 · 5"]
        assert book.labels.next("blue", 1, []) == ["blue · 1"]
        book.begin(new_exposure("blue-38 · 7"))
        assert book.labels.next("blue-38", 1, []) == ["blue-38 · 8"]
        assert book.labels.highest() == {"blue-38": 7}


def test_a_line_that_makes_no_sense_is_left_out(path: Path) -> None:
    """A hand in the file must not keep a box from starting; the others are there."""
    with Logbook(path) as book:
        fill(book)
        book.jobs.put_job(replace(JOB, job_id=2))
        book.jobs.put_panel(PanelRecord(3, 2, "P3"))
        book._session.link.execute("UPDATE jobs SET numbers = '{\"gold\": 1}' WHERE job_id = 1")
        kept = book.jobs.kept()
    assert [job.job_id for job in kept.jobs] == [2]
    assert [panel.panel_id for panel in kept.panels] == [3]
    assert kept.unreadable == 1


def test_the_export_has_a_row_for_each_note(path: Path) -> None:
    """With what a spreadsheet needs to sort them."""
    with Logbook(path) as book:
        fill(book)
        (row,) = rows(book, "steps")
    assert (row["panel"], row["step"], row["state"], row["word"]) == ("blue-38 · 1", "laminate", "done", "two passes")
    assert (row["plan"], row["metal"], row["thickness_um"], row["artwork"]) == ("sheet_two", "brass", 150.0, "gear")


def test_a_panel_belongs_to_a_job(path: Path) -> None:
    """The tables refer to one another, so that damage shows."""
    with Logbook(path) as book:
        fill(book)
    assert ask(path, "PRAGMA foreign_key_check") == []
    assert ask(path, "SELECT count(*) FROM pragma_foreign_key_list('job_panels')") == [(1,)]
