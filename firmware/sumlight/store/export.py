"""Rows for CSV and JSON, a page at a time so that the first appear at once however long the logbook is."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any, Literal, get_args

from sumlight.store.database import utc_text
from sumlight.store.reading import LogbookReader

What = Literal["exposures", "sides", "lamps", "faults", "tubes"]
WHATS: tuple[What, ...] = get_args(What)

PAGE = 500
WEEKS = 104
"""Weeks a control chart looks back."""

_PAGES: dict[What, str] = {
    "exposures": "SELECT exposure_id AS row_id, exposure_id, label AS panel, kind, note, recipe_name, recipe_sha256,"
    " started_utc, ended_utc, utc_unsure, outcome, doubtful, hold_s, box_name, simulated"
    " FROM exposures JOIN panels USING (panel_id) WHERE exposure_id > ? ORDER BY exposure_id LIMIT ?",
    "sides": "SELECT side_id AS row_id, exposure_id, label AS panel, side, bank, started_utc, recipe_name,"
    " target_mj_cm2, transmission, state, dose_mj_cm2, doubt_mj_cm2, lit_s, pauses, longest_gap_s FROM sides"
    " JOIN exposures USING (exposure_id) JOIN panels USING (panel_id) WHERE side_id > ? ORDER BY side_id LIMIT ?",
    "lamps": "SELECT reading_id AS row_id, bank, read_utc, lit_s / 3600 AS lamp_hours, strikes,"
    " settled_mw_cm2 AS irradiance_mw_cm2, warm_up_s, strike_s, burned_s, air_c, self_check,"
    " flicker"
    " FROM lamp_readings WHERE reading_id > ? ORDER BY reading_id LIMIT ?",
    "faults": "SELECT fault_id AS row_id, name, detail, exposure_id, raised_utc, cleared_utc, cleared_by"
    " FROM faults WHERE fault_id > ? ORDER BY fault_id LIMIT ?",
    "tubes": "SELECT tube_id AS row_id, bank, position, label, lamp_type, wavelength_class, expected_life_h,"
    " fitted_utc, hours_at_fitting, strikes_at_fitting, removed_utc, hours_at_removal, strikes_at_removal"
    " FROM tubes WHERE tube_id > ? ORDER BY tube_id LIMIT ?",
}
_WEEKLY = {
    "dose": "100 * avg(dose_mj_cm2 / target_mj_cm2)",
    "warm_up": "avg(warm_up_s)",
}


def rows(book: LogbookReader, what: What) -> Iterator[dict[str, Any]]:
    """Every row of a kind, oldest first. Raises LogbookError."""
    after = 0
    while True:
        page = book.page(_PAGES[what], after, PAGE)
        for row in page:
            after = row.pop("row_id")
            yield row
        if len(page) < PAGE:
            return


def weekly(book: LogbookReader, what: Literal["dose", "warm_up"], until: datetime, weeks: int = WEEKS) -> list[float]:
    """One value for each week with completed panels, oldest first: dose in percent of target, or warm-up in seconds.

    For a control chart (craft/control_chart.py). Exposures with an unsure date are left out.
    """
    sql = (
        f"SELECT {_WEEKLY[what]} AS value FROM exposures JOIN sides USING (exposure_id)"  # noqa: S608 - from this module
        + (" JOIN lamp_readings USING (side_id)" if what == "warm_up" else "")
        + " WHERE started_utc >= ? AND started_utc < ? AND outcome = 'completed' AND NOT utc_unsure"
        + (" AND warm_up_s IS NOT NULL" if what == "warm_up" else " AND target_mj_cm2 IS NOT NULL")
        + " GROUP BY CAST(julianday(started_utc) / 7 AS INTEGER) ORDER BY min(started_utc)"
    )
    since = utc_text(until - timedelta(weeks=weeks))
    return [row["value"] for row in book.page(sql, since, utc_text(until))]
