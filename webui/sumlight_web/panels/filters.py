"""What narrows the list of panels, and how that is asked of the logbook. Days are days of the box's clock."""

from collections.abc import Mapping
from datetime import date, datetime, timedelta

from sumlight import days
from sumlight.store.logbook.reading import utc_text
from sumlight.text.message import Message, say_named
from sumlight_web.language import N_

LONGEST = 100
DAYS = ("from", "until")

FILTERS: dict[str, tuple[str, dict[str, str] | None]] = {
    "panel": (N_("Label"), None),
    "recipe": (N_("Recipe"), None),
    "text": (N_("In note or result"), None),
    "outcome": (
        N_("Outcome"),
        {"": N_("any")}
        | {name: say_named(f"outcome_{name}") for name in ("completed", "abandoned", "faulted", "unfinished")},
    ),
    "doubtful": (N_("Doubtful"), {"": N_("any"), "yes": N_("yes"), "no": N_("no")}),
    "kind": (N_("Made for"), {"": N_("any"), "panel": N_("panels"), "series": N_("tests and measurements")}),
    "from": (N_("From day, such as 30 Nov 2026"), None),
    "until": (N_("Until day, such as 30 Nov 2026"), None),
}
"""Each filter with its label and, for a choice, what there is to choose."""


def asked(given: Mapping[str, str]) -> dict[str, str]:
    """The filters that were given and mean something."""
    found = {}
    for name, (_, choices) in FILTERS.items():
        value = given.get(name, "").strip()[:LONGEST]
        if not value or (choices is not None and value not in choices) or "\x00" in value:
            continue
        if name in DAYS:
            day = _day(value)
            if day is None:
                continue
            value = day.isoformat()
        found[name] = value
    return found


def mistaken(given: Mapping[str, str]) -> dict[str, Message]:
    """What is wrong with the days that were given; nothing is asked by them."""
    found = {}
    for name in DAYS:
        value = given.get(name, "").strip()
        try:
            if value:
                days.read(value)
        except days.DayError as error:
            found[name] = error.message
    return found


def wanted(chosen: Mapping[str, str]) -> dict[str, str]:
    """What to ask the logbook for; see `store.logbook.search.condition`."""
    found = {name: value for name, value in chosen.items() if name not in DAYS}
    begin, end = _day(chosen.get("from", "")), _day(chosen.get("until", ""))
    if begin is not None:
        found["from_utc"] = _begin_of(begin)
    if end is not None:
        found["until_utc"] = _begin_of(end + timedelta(days=1))
    return found


def _day(text: str) -> date | None:
    try:
        day = days.read(text)
    except days.DayError:
        return None
    return day if 1970 < day.year < 9999 else None


def _begin_of(day: date) -> str:
    return utc_text(datetime(day.year, day.month, day.day).astimezone())
