"""Rows for CSV and JSON, a page at a time so that the first appear at once however long the logbook is."""

from collections.abc import Iterator
from typing import Any, Literal, get_args

from sumlight.store.logbook.reading import LogbookReader
from sumlight.store.logbook.weekly_statistics import week_rows
from sumlight.text.message import read_stored

What = Literal[
    "exposures", "sides", "lamps", "faults", "tubes", "findings", "steps", "baths", "stock", "darks", "weeks"
]
WHATS: tuple[What, ...] = get_args(What)

PAGE = 500

_PAGES: dict[str, str] = {
    "exposures": "SELECT exposure_id AS row_id, exposure_id, label AS panel, kind, note, recipe_name, recipe_sha256,"
    " started_utc, ended_utc, utc_unsure, outcome, doubtful, hold_s, box_name, simulated, started_by, parameters,"
    " verdict"
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
    "faults": "SELECT fault_id AS row_id, name, detail, exposure_id, raised_utc, cleared_utc, cleared_by,"
    " looked_utc, looked_by, looked_word FROM faults WHERE fault_id > ? ORDER BY fault_id LIMIT ?",
    "tubes": "SELECT tube_id AS row_id, bank, position, label, lamp_type, wavelength_class, expected_life_h,"
    " fitted_utc, hours_at_fitting, strikes_at_fitting, removed_utc, hours_at_removal, strikes_at_removal"
    " FROM tubes WHERE tube_id > ? ORDER BY tube_id LIMIT ?",
    "findings": "SELECT exposure_id AS row_id, exposure_id, label AS panel, recipe_name, simulated, signs, known,"
    " found_utc, found_by, (SELECT json_group_array(cause) FROM confirmed_causes"
    " WHERE confirmed_causes.exposure_id = findings.exposure_id) AS confirmed FROM findings"
    " JOIN exposures USING (exposure_id) JOIN panels USING (panel_id) WHERE exposure_id > ?"
    " ORDER BY exposure_id LIMIT ?",
    "steps": "SELECT job_steps.rowid AS row_id, job_id, artwork, label AS panel,"
    " json_extract(numbers, '$.plan') AS plan, json_extract(numbers, '$.recipe') AS recipe_name,"
    " json_extract(numbers, '$.metal') AS metal, json_extract(numbers, '$.thickness_um') AS thickness_um,"
    " (SELECT json_extract(value, '$.kind') FROM json_each(steps)"
    " WHERE json_extract(value, '$.step_id') = job_steps.step_id) AS step, job_steps.step_id, state, began_utc,"
    " job_steps.ended_utc, word, noted_by, job_panels.outcome FROM job_steps JOIN job_panels USING (job_panel_id)"
    " JOIN jobs USING (job_id) WHERE job_steps.rowid > ? ORDER BY job_steps.rowid LIMIT ?",
    "baths": "SELECT bath_id AS row_id, bath_id, contents, mixed_utc, mixed_by, waste_utc, waste_into, waste_by,"
    " (SELECT count(*) FROM bath_panels WHERE bath_panels.bath_id = baths.bath_id) AS panels FROM baths"
    " WHERE bath_id > ? ORDER BY bath_id LIMIT ?",
    "stock": "SELECT stock_id AS row_id, stock_id, kind, content, noted_utc, noted_by, ended_utc,"
    " (SELECT count(*) FROM stock_uses WHERE stock_uses.stock_id = stock.stock_id)"
    " + coalesce(json_extract(content, '$.uncarded'), 0) AS panels FROM stock"
    " WHERE stock_id > ? ORDER BY stock_id LIMIT ?",
    "darks": "SELECT network_dark_id AS row_id, exposure_id, obeyed_utc, sender FROM network_darks"
    " WHERE network_dark_id > ? ORDER BY network_dark_id LIMIT ?",
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
            if what == "faults":
                row["detail"] = str(read_stored(row["detail"]))
            yield row
        if len(page) < PAGE:
            return


def harmless(value: Any) -> Any:
    """A cell of a CSV file that no spreadsheet takes for a formula; numbers stay numbers."""
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r") else value
