"""What recorded tablet runs say about reciprocity: at which light which dose just held a step."""

import math
from collections import defaultdict
from dataclasses import dataclass
from typing import Any

from sumlight.craft.censored import NoEstimateError
from sumlight.craft.readers import Reading, learned
from sumlight.craft.tablet import TabletReading, dose_for_step, estimate_threshold, intervals_by_panel
from sumlight.store.logbook.calibrations import counted_alone, tablet_reading
from sumlight.store.logbook.reading import LogbookReader


@dataclass(frozen=True)
class ThresholdDose:
    """One run: the dose that just held the step, with the standard uncertainty of its logarithm.

    `mw_cm2` is the mean irradiance at the resist while its zones were lit; a `relative` dose is in the box's own units.
    """

    exposure_id: int
    started_utc: str
    recipe_name: str
    lot: str
    mw_cm2: float
    dose_mj_cm2: float
    ln_sigma: float
    relative: bool = False


def threshold_doses(book: LogbookReader, target_step: int) -> list[ThresholdDose]:
    """Every tablet run whose readings give a number, newest first. Doses are as they were counted at the time."""
    by_run: dict[int, list[dict[str, Any]]] = defaultdict(list)
    for row in book.calibrations.tablet_readings():
        by_run[row["exposure_id"]].append(row)
    reader = learned([panel for rows in by_run.values() for panel in intervals_by_panel(_readings(rows))])
    found = [_held(book, number, by_run[number], reader, target_step) for number in sorted(by_run, reverse=True)]
    return [held for held in found if held is not None]


def _held(
    book: LogbookReader, exposure_id: int, rows: list[dict[str, Any]], reader: Reading, target_step: int
) -> ThresholdDose | None:
    exposure = book.exposure(exposure_id)
    sides = [] if exposure is None else [side for side in exposure["sides"] if side["state"] == "done"]
    lit_s = math.fsum(side["lit_s"] for side in sides)
    if exposure is None or lit_s <= 0:
        return None
    try:
        threshold = estimate_threshold(_readings(rows), marking=reader.marking)
    except NoEstimateError:
        return None
    return ThresholdDose(
        exposure_id,
        exposure["started_utc"],
        exposure["recipe_name"],
        rows[-1]["lot"],
        math.fsum(side["dose_mj_cm2"] for side in sides) / lit_s,
        dose_for_step(threshold.threshold_mj_cm2, target_step),
        threshold.ln_sigma,
        any(counted_alone((side["budget"] or {}).get("anchor") or {}) for side in sides),
    )


def _readings(rows: list[dict[str, Any]]) -> list[TabletReading]:
    return [tablet_reading(row) for row in rows]
