"""Faults on record for good, and told of until light, clean panels or a look at the lamps say that they are over."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from sumlight.store.logbook.database import utc_text
from sumlight.store.logbook.lamps import NewTube
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.past_faults import CLEAN_ENOUGH, is_back
from sumlight.store.logbook.records import CommissioningRecord, FaultRecord, LampReading, NewExposure, NewSide
from sumlight.text.message import as_written, say
from tests.store.making import RECIPE_TEXT, later

LAMPS, TOLD = {"tube_out"}, {"clock_stepped"}
DARK_TUBE = say("less_light", bank="lower", share=0.2, limit=0.1)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    """A logbook with three whole panels of steady light."""
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as book:
        for at_h, light in ((0, 5.00), (1, 5.04), (2, 4.96)):
            panel(book, at_h, light)
        yield book


def panel(book: Logbook, at_h: float, light_mw_cm2: float, *, outcome: str = "completed") -> int:
    """One panel on the lower bank, with the light that it got."""
    utc = later(3600 * at_h)
    sides = (NewSide("A", "lower", 60.0, 0.84),)
    begun = book.begin(NewExposure("P", "", "film", RECIPE_TEXT, "0" * 64, sides, utc, "Bench box", True))
    book.lamps.add_lamp_reading(LampReading("lower", begun.side_ids["A"], utc, light_mw_cm2, 60.0))
    book.finish(begun.exposure_id, outcome, False, utc)
    return begun.exposure_id


def fault(book: Logbook, name: str = "tube_out", at_h: float = 3.5, *, cleared: bool = True) -> None:
    """A panel that a fault ended at 3 h, and its acknowledgement."""
    exposure_id = panel(book, 3, 4.0, outcome="faulted")
    book.add_fault(FaultRecord(name, DARK_TUBE, exposure_id, later(3600 * at_h)))
    if cleared:
        book.clear_fault(name, later(3600 * at_h + 60), "Ada")


def later_text(hours: float) -> str:
    """A time as the file keeps it."""
    return utc_text(later(3600 * hours))


def names(book: Logbook) -> list[str]:
    """What is still told of."""
    return [each["name"] for each in book.faults.not_mended(LAMPS, TOLD)]


def test_faults_are_kept_with_panel_time_and_who_cleared_them(book: Logbook) -> None:
    """Newest first, in pages; also one that came over no panel and that nobody has cleared."""
    fault(book)
    book.add_fault(FaultRecord("too_hot", DARK_TUBE, None, later(9e4)))
    newest, older = book.faults.past(5)
    assert (newest["name"], newest["panel"], newest["cleared_utc"]) == ("too_hot", None, None)
    assert (older["name"], older["panel"], older["cleared_by"]) == ("tube_out", "P", "Ada")
    assert older["detail"] == DARK_TUBE
    assert [each["name"] for each in book.faults.past(5, newest["fault_id"])] == ["tube_out"]


def test_a_cleared_fault_of_the_lamps_is_told_of_until_their_light_is_back(book: Logbook) -> None:
    """Two whole panels in the light of one tube less change nothing; one in the light of before does."""
    fault(book)
    assert names(book) == ["tube_out"]
    panel(book, 4, 4.1)
    panel(book, 5, 5.01, outcome="abandoned")
    assert names(book) == ["tube_out"]
    panel(book, 6, 4.98)
    assert names(book) == []


def _new_tubes(book: Logbook) -> None:
    book.lamps.fit_tubes("lower", [NewTube(1, "T8", "UV-A")], later(3600 * 4), whole=True)


def _a_look(book: Logbook) -> None:
    book.faults.look_at(book.faults.past(1)[0]["fault_id"], LAMPS, "a tube sat loose", "Bo", later(3600 * 4))


@pytest.mark.parametrize("after", [_new_tubes, _a_look])
def test_new_tubes_or_a_look_end_it_too(book: Logbook, after: Callable[[Logbook], None]) -> None:
    """Lamps that age do not keep an old fault on the page for ever."""
    fault(book)
    after(book)
    assert names(book) == []


def test_clean_panels_in_less_light_end_no_fault_of_the_lamps(book: Logbook) -> None:
    """However many: the field is still uneven, and nobody has looked. A dim one after a bright one changes nothing."""
    fault(book)
    for at_h in range(4, 4 + 2 * CLEAN_ENOUGH):
        panel(book, at_h, 4.1)
    assert names(book) == ["tube_out"]
    panel(book, 10, 4.98)
    panel(book, 11, 4.1)
    assert names(book) == []


def test_a_look_is_kept_with_word_name_and_time_and_only_for_faults_of_the_lamps(book: Logbook) -> None:
    """It takes no fault of a lid away, and an unknown number changes nothing."""
    fault(book)
    fault(book, "lid_bounces", at_h=3.6)
    for number in (1, 2, 99):
        book.faults.look_at(number, LAMPS, "a tube sat loose", "Bo", later(3600 * 4))
    lid, tube = book.faults.past(2)
    assert (tube["looked_word"], tube["looked_by"], tube["looked_utc"]) == ("a tube sat loose", "Bo", later_text(4))
    assert lid["looked_utc"] is None
    assert names(book) == ["lid_bounces"]


def test_a_fault_of_one_bank_does_not_hide_that_of_another(book: Logbook) -> None:
    """A look at the upper lamps says nothing of the lower ones."""
    fault(book)
    number = panel(book, 4, 4.1, outcome="faulted")
    book.add_fault(FaultRecord("tube_out", say("less_light", bank="upper", share=0.2, limit=0.1), number, later(14500)))
    book.faults.look_at(2, LAMPS, "a starter", "Bo", later(15000))
    assert [each["fault_id"] for each in book.faults.not_mended(LAMPS, TOLD)] == [1]


def test_a_panel_carries_the_faults_that_nothing_had_shown_to_be_over_when_it_was_lit(book: Logbook) -> None:
    """Also when light, a look or new tubes have said so since; the one that the fault ended does not."""
    fault(book)
    dim, bright = panel(book, 4, 4.1), panel(book, 5, 5.0)
    later_one = panel(book, 6, 5.0)
    told = [
        [each["name"] for each in book.faults.not_mended(LAMPS, TOLD, book.exposure(number))]
        for number in (4, dim, bright, later_one)
    ]
    assert told == [[], ["tube_out"], ["tube_out"], []]
    book.faults.look_at(1, LAMPS, "well", "Bo", later(3600 * 9))
    assert book.faults.not_mended(LAMPS, TOLD, book.exposure(dim))


def test_commissioning_that_was_passed_ends_other_faults_but_none_of_the_lamps(book: Logbook) -> None:
    """Each of the box's guards has its own step there; an uneven field has none."""
    fault(book)
    fault(book, "lid_bounces")
    run = CommissioningRecord(later(3600 * 4), "0" * 64, "Bench box", True, "Ada", 0, "[]")
    book.put_commissioning(replace(run, ended_utc=later(3600 * 5), outcome="failed"))
    book.add_fault(FaultRecord("tube_out", as_written("an old record names no bank"), None, later(3600 * 3.7)))
    assert names(book) == ["tube_out", "lid_bounces", "tube_out"]
    book.put_commissioning(replace(run, began_utc=later(3600 * 6), ended_utc=later(3600 * 7), outcome="passed"))
    assert names(book) == ["tube_out", "tube_out"]


def test_other_faults_need_three_whole_panels_without_one(book: Logbook) -> None:
    """Good light says nothing about a lid; and a panel with a fault of its own does not count."""
    fault(book, "lid_bounces")
    panel(book, 4, 5.0)
    spoilt = panel(book, 5, 5.0)
    book.add_fault(FaultRecord("clock_stepped", DARK_TUBE, spoilt, later(3600 * 5)))
    panel(book, 6, 5.0)
    assert names(book) == ["lid_bounces"]
    panel(book, 7, 5.0)
    assert names(book) == []


def test_what_was_only_told_is_not_among_them_and_what_a_restart_swept_away_is(book: Logbook) -> None:
    """Switching the box off and on mends no tube; while it stands the page leaves it out by itself."""
    fault(book, cleared=False)
    fault(book, "clock_stepped")
    assert names(book) == ["tube_out"]


@pytest.mark.parametrize(
    ("light", "before", "back"),
    [
        (4.9, [5.0, 5.0, 5.0], True),  # 2 % of scatter are allowed for even where none was seen
        (4.6, [5.0, 5.0, 5.0], False),
        (4.6, [5.3, 5.0, 4.7], True),
        (5.0, [5.0], False),  # one reading tells of no scatter
    ],
)
def test_light_is_back_within_its_own_scatter(light: float, before: list[float], back: bool) -> None:
    """Three standard deviations below the median of before (worked out by hand)."""
    assert is_back(light, before) is back


def test_good_light_before_a_fault_that_came_between_panels_shows_nothing(book: Logbook) -> None:
    """The last panel was bright, then the lamps did not strike: only what comes after counts."""
    book.add_fault(FaultRecord("tube_out", DARK_TUBE, None, later(3600 * 2.5)))
    book.clear_fault("tube_out", later(3600 * 2.6), "Ada")
    assert names(book) == ["tube_out"]
    panel(book, 3, 5.0)
    assert names(book) == []


def steps_taken(book: Logbook) -> int:
    """How many hundreds of steps of SQLite's machine the question takes."""
    taken = [0]

    def step() -> int:
        taken[0] += 1
        return 0

    book._session.link.set_progress_handler(step, 100)
    assert names(book) == ["tube_out"]
    book._session.link.set_progress_handler(None, 100)
    return taken[0]


def test_years_of_panels_after_a_fault_cost_the_page_no_time(book: Logbook) -> None:
    """The page asks every two seconds; ten times as many panels in less light take hardly more work."""
    fault(book)
    last = panel(book, 4, 4.1)
    taken = []
    for many in (300, 3000):
        for table, key, other in (
            ("exposures", "exposure_id", ""),
            ("sides", "side_id", "exposure_id"),
            ("lamp_readings", "reading_id", "side_id"),
        ):
            rows = book._session.link.execute(f"PRAGMA table_info({table})").fetchall()
            kept = ", ".join(row["name"] for row in rows if row["name"] not in (key, other))
            named = f"{key}{', ' + other if other else ''}"
            numbers = "n, n" if other else "n"
            book._session.link.execute(
                f"WITH RECURSIVE more(n) AS (SELECT 10 UNION ALL SELECT n + 1 FROM more WHERE n < 10 + {many})"
                f" INSERT OR IGNORE INTO {table} ({named}, {kept}) SELECT {numbers}, {kept}"
                f" FROM {table}, more WHERE {key} = {last}"
            )
        taken.append(steps_taken(book))
    assert taken[1] < 1.5 * taken[0]
