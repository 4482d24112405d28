"""The process week by week: what counts, which week it belongs to, and the held step at one dose."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from sumlight.store.logbook.calibrations import TabletRecord
from sumlight.store.logbook.database import utc_text
from sumlight.store.logbook.export import rows
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.records import LampReading, NewExposure, NewSide, SideState
from sumlight.store.logbook.weekly_statistics import Course, Week, course, courses
from tests.store.making import RECIPE_TEXT

MONDAY = datetime(2026, 11, 23, tzinfo=UTC)


def expose(
    book: Logbook,
    utc: datetime,
    *,
    kind: str = "panel",
    dose_mj_cm2: float = 60.0,
    warm_up_s: float | None = None,
    outcome: str = "completed",
    side: str = "A",
    recipe: str = "film",
) -> int:
    """One exposure of 60 mJ/cm²; returns its number."""
    sides = (NewSide(side, "lower", 60.0, 0.84),)
    begun = book.begin(NewExposure("P", "", recipe, RECIPE_TEXT, "0" * 64, sides, utc, "Bench box", True, kind))
    book.put_sides([SideState(begun.side_ids[side], "done", dose_mj_cm2, 0.0, 12.0, 0, 0.0)], utc)
    if warm_up_s is not None:
        book.lamps.add_lamp_reading(LampReading("lower", begun.side_ids[side], utc, 5.0, warm_up_s))
    book.finish(begun.exposure_id, outcome, False, utc)
    return begun.exposure_id


def read_tablet(book: Logbook, utc: datetime, *zones: tuple[float, str], recipe: str = "film") -> int:
    """A step tablet with zones of (dose, last held step)."""
    exposure_id = expose(book, utc, kind="tablet", recipe=recipe)
    for number, (dose_mj_cm2, step) in enumerate(zones, 1):
        book.calibrations.add_metrology(
            TabletRecord(exposure_id, str(number), dose_mj_cm2, step, "last_held", False, "", utc_text(utc))
        )
    return exposure_id


@pytest.fixture
def book(path: Path) -> Iterator[Logbook]:
    """An empty one."""
    with Logbook(path, durable=False) as book:
        yield book


def test_an_empty_logbook_has_no_weeks(book: Logbook) -> None:
    """Nor a mistake."""
    assert [found.weeks for found in courses(book)] == [(), (), ()]
    assert list(rows(book, "weeks")) == []


def test_a_week_goes_from_monday_to_sunday(book: Logbook) -> None:
    """Named as ISO 8601 names it; also across the turn of a year (2026 has a week 53)."""
    for day in (0, 6, 7, 41):
        expose(book, MONDAY + timedelta(days=day, hours=23, minutes=59), dose_mj_cm2=60.0 + day)
    found = course(book, "dose")
    assert [(week.monday, week.name, week.count) for week in found.weeks] == [
        (date(2026, 11, 23), "2026-W48", 2),
        (date(2026, 11, 30), "2026-W49", 1),
        (date(2026, 12, 28), "2026-W53", 1),
    ]
    assert [week.value for week in found.weeks] == pytest.approx([105.0, 100 * 67 / 60, 100 * 101 / 60])


def test_only_completed_panels_of_a_sure_date_count(book: Logbook) -> None:
    """No series, nothing given up, no guessed week, nothing older than the look back."""
    expose(book, MONDAY - timedelta(weeks=20), dose_mj_cm2=1.0)
    expose(book, MONDAY, dose_mj_cm2=60.6)
    expose(book, MONDAY + timedelta(hours=1), dose_mj_cm2=3.0, outcome="abandoned")
    expose(book, MONDAY + timedelta(hours=2), dose_mj_cm2=3.0, kind="strip")
    expose(book, MONDAY - timedelta(days=1), dose_mj_cm2=3.0)  # the clock is behind what was written: unsure
    assert course(book, "dose", weeks=19).weeks == (Week(date(2026, 11, 23), pytest.approx(101.0), 1),)  # type: ignore[arg-type]


def test_only_the_first_side_tells_how_the_lamps_warm_up(book: Logbook) -> None:
    """The second one finds them warm."""
    expose(book, MONDAY, warm_up_s=50.0)
    expose(book, MONDAY + timedelta(hours=1), warm_up_s=60.0)
    expose(book, MONDAY + timedelta(hours=2), warm_up_s=5.0, side="B")
    expose(book, MONDAY + timedelta(hours=3))
    assert [(week.value, week.count) for week in course(book, "warm_up").weeks] == [(55.0, 2)]


def test_the_held_step_is_worked_out_for_one_dose_of_one_recipe(book: Logbook) -> None:
    """The recipe with most tablets; zones of one tablet count together; step 8 at 60 is step 8 at half of 120, too."""
    read_tablet(book, MONDAY, (60.0, "8"), (60.0 * 10**0.15, "9"))
    read_tablet(book, MONDAY + timedelta(days=7), (60.0, "8"), (60.0, "all_held"))
    read_tablet(book, MONDAY + timedelta(days=8), (60.0, "7"))
    read_tablet(book, MONDAY + timedelta(days=9), (60.0, "3"), recipe="another")
    read_tablet(book, MONDAY + timedelta(days=15), (60.0, "all_gone"))
    found = course(book, "held_step")
    assert (found.recipe, found.reference_mj_cm2) == ("film", 60.0)
    assert [(week.name, week.value, week.count) for week in found.weeks] == [
        ("2026-W48", pytest.approx(8.5), 1),
        ("2026-W49", pytest.approx(8.0), 2),
    ]


def test_a_zone_that_was_read_again_counts_as_it_was_read_last(book: Logbook) -> None:
    """A slip of the pen is no drift."""
    number = read_tablet(book, MONDAY, (60.0, "3"))
    book.calibrations.add_metrology(TabletRecord(number, "1", 60.0, "8", "last_held", False, "", utc_text(MONDAY)))
    assert [week.value for week in course(book, "held_step").weeks] == pytest.approx([8.5])


def test_of_the_readings_that_earlier_versions_kept_the_last_one_counts(book: Logbook) -> None:
    """Every look at a tablet was a record of its own then."""
    number = read_tablet(book, MONDAY, (60.0, "3"), (60.0, "8"))
    book._session.link.execute(
        "INSERT INTO tablet_readings (exposure_id, zone, dose_mj_cm2, step, convention, half, lot, read_utc)"
        " SELECT exposure_id, zone, dose_mj_cm2, '8', convention, half, lot, read_utc FROM tablet_readings"
        " WHERE zone = '1'"
    )
    assert [(row["zone"], row["step"]) for row in book.calibrations.tablet_readings(number)] == [("2", "8"), ("1", "8")]
    assert [week.value for week in course(book, "held_step").weeks] == pytest.approx([8.5])


def test_a_shift_stands_in_the_rows_of_the_week_that_shows_it(book: Logbook) -> None:
    """With the limits it is judged by."""
    for week in range(16):
        utc = MONDAY + timedelta(weeks=week)
        expose(book, utc, dose_mj_cm2=60.0 + 0.06 * (week % 2) + (1.2 if week == 15 else 0.0))
    found = list(rows(book, "weeks"))
    assert [row["week"] for row in found][:2] == ["2026-W48", "2026-W49"]
    assert found[-1]["broken_rules"].startswith("one point beyond three standard deviations, above the mean")
    assert {row["broken_rules"] for row in found[:-1]} == {""}
    assert found[0]["low_limit"] < 100 < found[0]["high_limit"] < found[-1]["value"]


def test_weeks_without_work_are_left_out(book: Logbook) -> None:
    """The chart counts values, not calendar weeks."""
    for week in (0, 5):
        expose(book, MONDAY + timedelta(weeks=week))
    assert len(course(book, "dose").weeks) == 2
    assert Course("dose", ()).chart.limits is None
