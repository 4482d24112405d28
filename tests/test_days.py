"""Days as people type them, against the Unicode CLDR as babel has it: what those locales write is read back."""

from datetime import date, timedelta
from typing import Literal

import pytest
from babel.dates import format_date, get_month_names

from sumlight import days
from sumlight.language import text_of

FIRST = date(2024, 1, 1)
EVERY = [FIRST + timedelta(days=number) for number in range(0, 731, 5)]
"""A leap year and one that is none."""


@pytest.mark.parametrize(
    ("locale", "pattern"),
    [
        *(("de", pattern) for pattern in ("long", "medium", "d. MMM y", "dd.MM.yyyy", "d.M.y", "d. MMMM y", "d MMM y")),
        *(("de_AT", pattern) for pattern in ("long", "d. MMM y")),
        *(("en_GB", pattern) for pattern in ("long", "medium", "d MMM y", "d MMMM, y")),
        *(("en_US", pattern) for pattern in ("long", "medium", "MMM d y")),
        *(("en", pattern) for pattern in ("yyyy-MM-dd", "yyyy/MM/dd", "y-M-d")),
    ],
)
def test_what_a_locale_writes_is_read(locale: str, pattern: str) -> None:
    """Every fifth day of two years."""
    for day in EVERY:
        typed = format_date(day, pattern, locale=locale)
        assert days.read(typed) == day, typed
        assert days.read(f"  {typed.upper()} ") == day, typed


@pytest.mark.parametrize("locale", ["en_GB", "en_US", "de", "de_AT"])
@pytest.mark.parametrize("width", ["wide", "abbreviated"])
def test_every_name_of_a_month_is_known(locale: str, width: Literal["wide", "abbreviated"]) -> None:
    """With its point and without."""
    for number, name in get_month_names(width, locale=locale).items():
        for typed in (f"7 {name} 2026", f"7. {name.rstrip('.')} 2026"):
            assert days.read(typed) == date(2026, number, 7), typed


@pytest.mark.parametrize(
    "typed", ["30/11/2026", "11/30/2026", "30-11-2026", "11-30-2026", "30th November 2026", "Nov 30th, 2026"]
)
def test_what_can_only_be_one_day_is_read(typed: str) -> None:
    """A number above twelve is no month."""
    assert days.read(typed) == date(2026, 11, 30)


def test_what_can_be_two_days_is_refused_with_both() -> None:
    """In words and as they are to be written; the same number twice is one day."""
    for typed in ("03/04/2026", "3-4-2026"):
        with pytest.raises(days.DayError) as refused:
            days.read(typed)
        told = f"'{typed}' can be 3 April 2026 or 4 March 2026: write 2026-04-03 or 2026-03-04"
        assert text_of(refused.value.message) == told
    assert days.read("04/04/2026") == date(2026, 4, 4)
    assert days.read("03.04.2026") == date(2026, 4, 3)


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        *((typed, "day_short_year") for typed in ("30.11.26", "30 Nov 26", "11/30/26")),
        *((typed, "day_is_none") for typed in ("1 March", "yesterday", "31.04.2026", "29 Feb 2026", "2026-13-01")),
        *(
            (typed, "day_is_none")
            for typed in ("31/31/2026", "3 Ju 2026", "3 Ma 2026", "3 Juniper 2026", "", "1.1.0000")
        ),
        *((typed, "day_is_none") for typed in ("30.11-2026", "2026-11", "x" * 4000, "30 Nov 2026 10:00")),
    ],
)
def test_what_is_no_day_says_how_to_write_one(typed: str, code: str) -> None:
    """Nothing is made up: neither a year nor a day that a month has not."""
    with pytest.raises(days.DayError) as refused:
        days.read(typed)
    assert refused.value.message.code == code
    assert len(text_of(refused.value.message)) < 200
