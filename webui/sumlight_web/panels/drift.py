"""Drift: held step, delivered dose and warm-up week by week against their own limits, so that it is seen before panels
fail. It warns; it never keeps anybody from working."""

from dataclasses import dataclass
from typing import Any

from sumlight.craft.control_chart import FEWEST, RULES, Chart, Signal
from sumlight.store.logbook.reading import LogbookReader
from sumlight.store.logbook.weekly_statistics import UNITS, Course, Measure, courses
from sumlight_web import words
from sumlight_web.language import N_, _, n_
from sumlight_web.texts import text_of

TITLES = {"held_step": N_("Held step"), "dose": N_("Delivered dose"), "warm_up": N_("Warm-up")}
TEXTS = {
    "held_step": N_("Step tablets show everything at once: lamps, resist, developer."),
    "dose": N_("Share of the wanted dose that panels got."),
    "warm_up": N_("Time until the lamps of side A had settled."),
}
NO_BREAK = "\N{NON-BREAKING HYPHEN}"
PLACES = {"held_step": 2, "dose": 2, "warm_up": 1}


@dataclass(frozen=True)
class Drift:
    """One measure for the page: words, what the drawing needs, rows newest first, limits as (name, value)."""

    title: str
    text: str
    sentence: str
    shifted: bool
    data: dict[str, Any]
    facts: list[tuple[str, str]]
    rows: list[tuple[str, str, str, str]]


def drifts(logbook: LogbookReader) -> list[Drift]:
    """Every measure."""
    return [_drift(course) for course in courses(logbook)]


_known: dict[tuple[str, int, int], list[Measure]] = {}
"""The last answer of `shifts`, for it changes only with a new exposure or tablet."""


def shifts(logbook: LogbookReader) -> list[str]:
    """Titles of the measures whose newest week broke a rule."""
    (row,) = logbook.page(
        "SELECT (SELECT max(exposure_id) FROM exposures WHERE ended_utc IS NOT NULL) AS exposure,"
        " (SELECT max(reading_id) FROM tablet_readings) AS reading"
    )
    mark = (str(logbook.path), row["exposure"] or 0, row["reading"] or 0)
    measures = _known.get(mark)
    if measures is None:
        measures = [course.measure for course in courses(logbook) if course.chart.latest]
        _known.clear()
        _known[mark] = measures
    return [_(TITLES[measure]) for measure in measures]


def _drift(course: Course) -> Drift:
    chart = course.chart
    places, unit = PLACES[course.measure], _unit(course)
    worst = {signal.index: _number(signal) for signal in reversed(chart.signals)}  # the first of a week counts most
    first = course.weeks[0].monday if course.weeks else None
    points = [
        [(week.monday - first).days // 7, week.value, index in worst, week.name]
        for index, week in enumerate(course.weeks)
        if first is not None
    ]
    data: dict[str, Any] = {"points": points, "unit": unit}
    facts = []
    if chart.limits is not None:
        data |= {"mean": chart.limits.mean, "low": chart.limits.low, "high": chart.limits.high}
        low, mean, high = (words.number(v, places) for v in (chart.limits.low, chart.limits.mean, chart.limits.high))
        facts = [
            (_("Mean"), f"{mean} {unit}"),
            (_("Control limits"), _("{low} to {high}", low=low, high=high) + f" {unit}"),
        ]
    rows = [
        (
            week.name.replace("-", NO_BREAK),
            f"{words.number(week.value, places)} {unit}",
            str(week.count),
            worst.get(index, ""),
        )
        for index, week in enumerate(course.weeks)
    ]
    return Drift(
        title=_(TITLES[course.measure]),
        text=_text(course),
        sentence=_sentence(chart),
        shifted=bool(chart.latest),
        data=data,
        facts=facts,
        rows=rows[::-1],
    )


def _unit(course: Course) -> str:
    return _("steps") if course.measure == "held_step" else UNITS[course.measure]


def _text(course: Course) -> str:
    if course.reference_mj_cm2 is not None:
        dose = words.target(course.reference_mj_cm2)
        where = _("Recipe {name}, worked out for {dose} mJ/cm².", name=course.recipe, dose=dose)
        return " ".join([_(TEXTS[course.measure]), where])
    return _(TEXTS[course.measure])


def _sentence(chart: Chart) -> str:
    if chart.limits is None:
        return n_(
            "{n} week so far; limits need {needed}.",
            "{n} weeks so far; limits need {needed}.",
            len(chart.values),
            needed=FEWEST,
        )
    if chart.latest:
        return _("Shifted: {rule}. Look for the cause before panels fail.", rule=_rule(chart.latest[0]))
    return _("Steady: the newest week breaks no rule.")


def _rule(signal: Signal) -> str:
    return text_of(signal.words)


def _number(signal: Signal) -> str:
    """The rule by its place in the list that the page shows."""
    number = 1 + list(RULES).index(signal.rule)
    return _("rule {n}, above", n=number) if signal.side > 0 else _("rule {n}, below", n=number)
