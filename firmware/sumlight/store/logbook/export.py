"""Rows for CSV and JSON, a page at a time so that the first appear at once however long the logbook is."""

from collections.abc import Iterator
from typing import Any, Literal, get_args

from sumlight.store.logbook.reading import LogbookReader
from sumlight.store.logbook.weekly_statistics import week_rows

What = Literal["exposures", "sides", "lamps", "faults", "tubes", "weeks"]
WHATS: tuple[What, ...] = get_args(What)

PAGE = 500

_PAGES: dict[str, str] = {
    "exposures": "SELECT exposure_id AS row_id, exposure_id, label AS panel, kind, note, recipe_name, recipe_sha256,"
    " started_utc, ended_utc, utc_unsure, outcome, doubtful, hold_s, box_name, simulated, started_by, parameters"
    " FROM exposures JOIN panels USING (panel_id) WHERE exposure_id > ? ORDER BY exposure_id LIMIT ?",
    "sides": "SELECT side_id AS row_id, exposure_id, label AS panel, side, bank, started_utc, recipe_name,"
    " target_mj_cm2, transmission, state, dose_mj_cm2, doubt_mj_cm2,"
    " json_extract(budget, '$.expanded_repeat_mj_cm2') AS expanded_repeat_mj_cm2,"
    " json_extract(budget, '$.expanded_absolute_mj_cm2') AS expanded_absolute_mj_cm2,"
    " json_extract(budget, '$.relative') AS relative, lit_s, pauses, longest_gap_s FROM sides"
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


def rows(book: LogbookReader, what: What) -> Iterator[dict[str, Any]]:
    """Every row of a kind, oldest first. Raises LogbookError."""
    if what == "weeks":
        yield from week_rows(book)
        return
    after = 0
    while True:
        page = book.page(_PAGES[what], after, PAGE)
        for row in page:
            after = row.pop("row_id")
            yield row
        if len(page) < PAGE:
            return


def harmless(value: Any) -> Any:
    """A cell of a CSV file that no spreadsheet takes for a formula; numbers stay numbers."""
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r") else value
