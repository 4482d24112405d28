"""Days as people type them, in forms and on the command line: 30.11.2026, 30 Nov 2026, 2026-11-30. Pure.

One that can be read in two ways is refused, both readings told: half of the world writes the month first. With dots the
day stands first (DIN 5008). Files and commands hold ISO 8601 only.
"""

import re
import unicodedata
from datetime import date
from typing import Final

from sumlight.text.message import Message, say

LONGEST: Final = 40
"""Characters that a day may have."""
LEAST_LETTERS = 3

_MONTHS: Final = (
    ("january", "januar", "jänner"),
    ("february", "februar", "feber"),
    ("march", "märz", "maerz", "mrz"),
    ("april",),
    ("may", "mai"),
    ("june", "juni"),
    ("july", "juli"),
    ("august",),
    ("september",),
    ("october", "oktober"),
    ("november",),
    ("december", "dezember"),
)
"""English and German names, as the Unicode CLDR has them; three letters are enough."""
_NAMES: Final = (
    *(say("month_1"), say("month_2"), say("month_3"), say("month_4"), say("month_5"), say("month_6")),
    *(say("month_7"), say("month_8"), say("month_9"), say("month_10"), say("month_11"), say("month_12")),
)
_YEAR_FIRST = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})")
_YEAR_LAST = re.compile(r"(\d{1,2})([-/.]) ?(\d{1,2})\2 ?(\d+)")
_DAY_WORD = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?\.? ?([^\W\d_]+)\.?,? ?(\d+)")
_WORD_DAY = re.compile(r"([^\W\d_]+)\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d+)")


class DayError(ValueError):
    """What was typed is no day that may stand here; `message` says what is wrong with it and what to do."""

    def __init__(self, message: Message) -> None:
        self.message = message
        super().__init__(message)


def read(text: str) -> date:
    """The day that a person typed. Raises DayError for none, for one that can be two, and for a short year."""
    typed = " ".join(unicodedata.normalize("NFKC", text).split()).casefold()
    if len(typed) > LONGEST:
        raise DayError(_none(text))
    if found := _YEAR_FIRST.fullmatch(typed):
        return _day(text, found[1], int(found[3]), int(found[4]))
    if found := _YEAR_LAST.fullmatch(typed):
        first, second = int(found[1]), int(found[3])
        return _year_last(text, found[4], first, second, dotted=found[2] == ".")
    if found := _DAY_WORD.fullmatch(typed):
        return _day(text, found[3], _month(text, found[2]), int(found[1]))
    if found := _WORD_DAY.fullmatch(typed):
        return _day(text, found[3], _month(text, found[1]), int(found[2]))
    raise DayError(_none(text))


def _year_last(text: str, year: str, first: int, second: int, *, dotted: bool) -> date:
    if dotted or first == second or first > 12:
        return _day(text, year, second, first)
    if second > 12:
        return _day(text, year, first, second)
    one, other = _day(text, year, second, first), _day(text, year, first, second)
    told = say(
        "day_two_ways",
        given=text.strip(),
        day=one.day,
        month=_NAMES[one.month - 1],
        other_day=other.day,
        other_month=_NAMES[other.month - 1],
        year=year,
        iso=str(one),
        other_iso=str(other),
    )
    raise DayError(told)


def _day(text: str, year: str, month: int, day: int) -> date:
    if len(year) != 4:
        raise DayError(say("day_short_year", given=text.strip()[:LONGEST]))
    try:
        return date(int(year), month, day)
    except ValueError:
        raise DayError(_none(text)) from None


def _month(text: str, word: str) -> int:
    found = [n for n, names in enumerate(_MONTHS, 1) if any(name.startswith(word) for name in names)]
    if len(word) < LEAST_LETTERS or len(found) != 1:
        raise DayError(_none(text))
    return found[0]


def _none(text: str) -> Message:
    return say("day_is_none", given=text.strip()[:LONGEST])
