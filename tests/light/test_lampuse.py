"""From lamp hours to dates: use of the last weeks, dates as far as they may be told, and nothing beyond."""

from datetime import date

import pytest

from sumlight.light.ageing import LampPoint
from sumlight.light.lampanswer import BankAnswer, BankHistory, answer
from sumlight.light.lampuse import WEEKS, Use, present_use, replacement

TODAY = date(2026, 11, 25)
DAY = 739_945


def used(days: int, hours_a_day: float, *, until: int = DAY) -> list[LampPoint]:
    """A reading each day up to yesterday."""
    return [LampPoint(hours_a_day * (n + 1), 5.0, until - days + n) for n in range(days)]


def test_the_use_is_that_of_the_last_eight_weeks() -> None:
    """Half a year at 1 h a day, then eight weeks at 3 h: 21 h a week, whatever was before."""
    slow = used(180, 1.0, until=DAY - 7 * WEEKS)
    fast = [LampPoint(180 + 3.0 * (n + 1), 5.0, DAY - 7 * WEEKS + n) for n in range(7 * WEEKS)]
    found = present_use([*slow, *fast], 180 + 3.0 * 7 * WEEKS, DAY)
    assert found is not None
    assert found.hours_per_week == pytest.approx(21, rel=0.02)
    assert found.days == 7 * WEEKS


def test_use_of_young_lamps_is_that_of_their_life_once_it_is_two_weeks_long() -> None:
    """Before that nothing is said."""
    found = present_use(used(20, 2.0), 40.0, DAY)
    assert found is not None
    assert (found.hours_per_week, found.days) == (pytest.approx(14 * 19 / 20), 20)
    assert present_use(used(13, 2.0), 26.0, DAY) is None
    assert present_use([], 0.0, DAY) is None


def test_lamps_that_rest_are_not_used() -> None:
    """No reading for 100 days and no hour more."""
    found = present_use(used(50, 2.0, until=DAY - 100), 100.0, DAY)
    assert found is not None
    assert found.hours_per_week == 0.0


def told(
    left_h: tuple[float | None, float | None, float | None],
    use: Use | None,
    *,
    share: float = 0.85,
    cap_left_h: float = 3000.0,
) -> tuple[date | None, date | None, date | None, str]:
    """What is made of hours left."""
    found = BankAnswer("lower", 500.0, (), 0.7, share=(share, share, share), left_h=left_h, cap_left_h=cap_left_h)
    when = replacement(found, use, TODAY)
    return when.day, when.low, when.high, when.sentence


USE = Use(14.0, 56)


def test_hours_left_become_a_date_with_its_interval() -> None:
    """280 h at 14 h a week are 20 weeks (Gregorian calendar: 140 days after 2026-11-25 is 2027-04-14)."""
    day, low, high, sentence = told((280.0, 140.0, 420.0), USE)
    assert (day, low, high) == (date(2027, 4, 14), date(2027, 2, 3), date(2027, 6, 23))
    assert sentence == (
        "At the present use of 14.0 h a week the replacement level is reached about 2027-04-14 "
        "(2027-02-03 to 2027-06-23)."
    )


def test_what_lies_beyond_the_rules_limit_gets_no_date() -> None:
    """And it is said which day the limit falls on."""
    day, low, high, sentence = told((None, None, None), USE, cap_left_h=1400.0)
    assert (day, low, high) == (None, None, None)
    assert "no date is given: it lies after 2028-10-25, beyond six times the observed time" in sentence
    assert told((900.0, 140.0, None), USE)[3].endswith("is not reached before 2027-02-03; a later bound is not given.")


def test_dates_more_than_ten_years_ahead_are_not_told() -> None:
    """However sure the hours are."""
    assert told((280.0, 140.0, 420.0), Use(0.1, 56))[3].endswith("more than ten years ahead.")
    assert told((None, None, None), Use(0.01, 56))[3].endswith("more than ten years ahead.")


def test_without_use_or_at_the_level_there_is_no_date() -> None:
    """Each says why, or the answer itself has said it."""
    assert told((280.0, 140.0, 420.0), None)[3] == "No date is given before the use of 14 days is known."
    assert "not used in the last 56 days" in told((280.0, 140.0, 420.0), Use(0.0, 56))[3]
    assert told((0.0, 0.0, 0.0), USE, share=0.69)[3] == ""
    assert replacement(answer(BankHistory("lower", 20, [])), USE, TODAY).sentence == ""
