"""The process week by week, for control charts (craft/control_chart.py): held step, delivered dose, warm-up.

A week begins on Monday, UTC. Only completed panels of a sure date count, for the held step completed step tablets.
"""

import statistics
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby
from typing import Any, Literal, get_args

from sumlight import checkedfile
from sumlight.craft.control_chart import Chart, chart_of
from sumlight.craft.tablet import edge_step
from sumlight.store.logbook.calibrations import READ_LAST, tablet_reading
from sumlight.store.logbook.database import utc_from, utc_text
from sumlight.store.logbook.lamps import date_of
from sumlight.store.logbook.reading import LogbookReader
from sumlight.store.recipe import Recipe

Measure = Literal["held_step", "dose", "warm_up"]
MEASURES: tuple[Measure, ...] = get_args(Measure)
UNITS: dict[Measure, str] = {"held_step": "steps", "dose": "%", "warm_up": "s"}

WEEKS = 104
"""Weeks a control chart looks back."""

_DAY = "CAST(julianday(substr(started_utc, 1, 10)) + 0.5 AS INTEGER)"
"""Julian day number at noon of the day; that of a Monday is a multiple of 7."""

_VALUES: dict[str, str] = {
    "dose": "100 * dose_mj_cm2 / target_mj_cm2 AS value FROM exposures JOIN sides USING (exposure_id)"
    " WHERE target_mj_cm2 IS NOT NULL",
    # The second side finds the lamps warm: only the first one tells how they warm up.
    "warm_up": "warm_up_s AS value FROM exposures JOIN sides USING (exposure_id)"
    " JOIN lamp_readings USING (side_id) WHERE warm_up_s IS NOT NULL AND side = 'A'",
}
"""What is averaged, and where it stands."""

_SURE = " AND started_utc > ? AND started_utc <= ? AND outcome = 'completed' AND NOT utc_unsure"


@dataclass(frozen=True)
class Week:
    """One week: `value` is the mean of `count` panels or tablets, in the measure's unit of `UNITS`."""

    monday: date
    value: float
    count: int

    @property
    def name(self) -> str:
        """As ISO 8601 names it: `2026-W48`."""
        year, week, _ = self.monday.isocalendar()
        return f"{year}-W{week:02}"


@dataclass(frozen=True)
class Course:
    """How one measure went: weeks with panels, oldest first.

    The held step is that of one recipe, worked out for `reference_mj_cm2`, so that a changed dose is no drift.
    """

    measure: Measure
    weeks: tuple[Week, ...]
    recipe: str = ""
    reference_mj_cm2: float | None = None

    @property
    def chart(self) -> Chart:
        """Against its own limits."""
        return chart_of([week.value for week in self.weeks])


def courses(book: LogbookReader, weeks: int = WEEKS) -> list[Course]:
    """All three. Raises LogbookError."""
    return [course(book, measure, weeks) for measure in MEASURES]


def course(book: LogbookReader, measure: Measure, weeks: int = WEEKS) -> Course:
    """One measure over the weeks before the newest exposure: held step, dose in percent of its target, warm-up in
    seconds. Raises LogbookError."""
    (newest,) = book.page("SELECT max(started_utc) AS utc FROM exposures WHERE NOT utc_unsure")
    if newest["utc"] is None:
        return Course(measure, ())
    span = utc_text(utc_from(newest["utc"]) - timedelta(weeks=weeks)), newest["utc"]
    if measure == "held_step":
        return _held_steps(book, span)
    each = f"SELECT {_DAY} AS day, exposure_id, {_VALUES[measure]} AND kind = 'panel'{_SURE}"
    sql = (
        f"SELECT day - day % 7 AS day, avg(value) AS value,"  # noqa: S608 - from this module
        f" count(DISTINCT exposure_id) AS count FROM ({each}) GROUP BY 1 ORDER BY 1"
    )
    rows = book.page(sql, *span)
    return Course(measure, tuple(Week(date_of(row["day"]), row["value"], row["count"]) for row in rows))


def week_rows(book: LogbookReader) -> Iterator[dict[str, Any]]:
    """Every week of every measure with limits and broken rules, as rows for CSV."""
    for found in courses(book):
        chart = found.chart
        for index, week in enumerate(found.weeks):
            yield {
                "measure": found.measure,
                "unit": UNITS[found.measure],
                "recipe_name": found.recipe,
                "reference_mj_cm2": found.reference_mj_cm2,
                "week": week.name,
                "monday": week.monday.isoformat(),
                "value": week.value,
                "count": week.count,
                "mean": chart.limits.mean if chart.limits else None,
                "low_limit": chart.limits.low if chart.limits else None,
                "high_limit": chart.limits.high if chart.limits else None,
                "broken_rules": "; ".join(signal.words for signal in chart.signals if signal.index == index),
            }


def _held_steps(book: LogbookReader, span: tuple[str, str]) -> Course:
    """The recipe with most tablets; every tablet counts with the mean of its zones."""
    rows = book.page(
        f"SELECT {_DAY} AS day, exposure_id, recipe_name, tablet_readings.dose_mj_cm2,"  # noqa: S608
        " zone, step, convention, half, certificate"
        f" FROM tablet_readings JOIN exposures USING (exposure_id) WHERE kind = 'tablet'{_SURE} AND {READ_LAST}"
        " ORDER BY exposure_id, reading_id",
        *span,
    )
    tablets: dict[str, set[int]] = {}
    for row in rows:
        tablets.setdefault(row["recipe_name"], set()).add(row["exposure_id"])
    if not tablets:
        return Course("held_step", ())
    recipe = max(tablets, key=lambda name: (len(tablets[name]), name))
    rows = [row for row in rows if row["recipe_name"] == recipe]
    reference = _dose_of(book, max(tablets[recipe])) or rows[-1]["dose_mj_cm2"]
    means: list[tuple[date, float]] = []
    for (_, day), group in groupby(rows, key=lambda row: (row["exposure_id"], row["day"])):
        steps = [step for row in group if (step := edge_step(tablet_reading(row), reference)) is not None]
        if steps:
            means.append((date_of(day - day % 7), statistics.fmean(steps)))
    found = []
    for monday, pairs in groupby(sorted(means), key=lambda pair: pair[0]):
        values = [value for _, value in pairs]
        found.append(Week(monday, statistics.fmean(values), len(values)))
    return Course("held_step", tuple(found), recipe, reference)


def _dose_of(book: LogbookReader, exposure_id: int) -> float | None:
    """The dose of the recipe as it was run; None where its text does not tell."""
    (row,) = book.page("SELECT recipe_text FROM exposures WHERE exposure_id = ?", exposure_id)
    try:
        return checkedfile.parse(row["recipe_text"], Recipe, "recipe").dose_mj_cm2
    except checkedfile.FileProblemsError:
        return None
