"""From lamp hours to the calendar: how much lamps are used at present, and when they should then be replaced. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

from sumlight.light.ageing import LampPoint
from sumlight.light.lampanswer import BankAnswer
from sumlight.text.message import NOTHING, Message, say

WEEKS = 8
"""The present use is that of so many weeks."""

FEWEST_DAYS = 14
FARTHEST_DAYS = 3653
"""Nothing is said of dates further ahead than ten years: use will not stay what it is (common practice, no source)."""


@dataclass(frozen=True)
class Use:
    """Lamp hours a week, over the last `days`."""

    hours_per_week: float
    days: int


@dataclass(frozen=True)
class Replacement:
    """When the replacement level is reached at the present use: date with interval, None where it is not told."""

    use: Use | None
    day: date | None
    low: date | None
    high: date | None
    sentence: Message


def present_use(points: Sequence[LampPoint], hours: float, today: int) -> Use | None:
    """Use of the last WEEKS weeks, or of as long as there are readings; None before FEWEST_DAYS of them.

    `points` with the lamps' age on their `day`, `hours` their age now; `today` is numbered as `day` is.
    """
    days = sorted((p.day, p.hours) for p in points if p.day < today)
    begin = today - 7 * WEEKS
    if not days or today - days[0][0] < FEWEST_DAYS:
        return None
    if days[0][0] > begin:
        begin, begin_h = days[0]
    else:
        begin_h = _between([*days, (today, hours)], begin)
    return Use(max(0.0, hours - begin_h) / (today - begin) * 7, today - begin)


def replacement(answer: BankAnswer, use: Use | None, today: date) -> Replacement:
    """The date of the replacement level, as far as the answer's own limit lets it be told."""

    def on(left_h: float | None) -> date | None:
        if left_h is None or use is None or not use.hours_per_week:
            return None
        ahead = 7 * left_h / use.hours_per_week
        return today + timedelta(days=round(ahead)) if ahead <= FARTHEST_DAYS else None

    if answer.left_h is None or answer.share is None or answer.share[0] <= answer.level:
        return Replacement(use, None, None, None, NOTHING)
    day, low, high = (on(left_h) for left_h in answer.left_h)
    return Replacement(use, day, low, high, _words(answer, use, day, low, high, on(answer.cap_left_h)))


def _words(
    answer: BankAnswer, use: Use | None, day: date | None, low: date | None, high: date | None, cap: date | None
) -> Message:
    if use is None:
        return say("use_not_known", days=FEWEST_DAYS)
    if not use.hours_per_week:
        return say("lamps_not_used", days=use.days)
    use_h = use.hours_per_week
    if low is None:
        if answer.left_h is not None and answer.left_h[1] is None and cap is not None:
            return say("date_beyond_cap", use_h=use_h, day=str(cap))
        return say("date_far_ahead", use_h=use_h)
    if day is None or high is None:
        return say("date_not_before", use_h=use_h, day=str(low))
    return say("date_about", use_h=use_h, day=str(day), low=str(low), high=str(high))


def _between(days: Sequence[tuple[int, float]], day: int) -> float:
    """Age on a day between two with readings."""
    for (day0, h0), (day1, h1) in pairwise(days):
        if day0 <= day <= day1 and day1 > day0:
            return h0 + (h1 - h0) * (day - day0) / (day1 - day0)
    return days[-1][1]
