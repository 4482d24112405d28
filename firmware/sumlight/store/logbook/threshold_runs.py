"""What recorded tablet runs say about reciprocity: at which light which dose just held a step."""

import math
from collections import defaultdict
from dataclasses import dataclass
from typing import Any, Protocol

from sumlight.craft.censored import NoEstimateError
from sumlight.craft.tablet import dose_for_step, estimate_threshold
from sumlight.store.logbook.calibrations import tablet_reading


@dataclass(frozen=True)
class HeldDose:
    """One run: the dose that just held the step, with the standard uncertainty of its logarithm.

    `mw_cm2` is the mean irradiance at the resist while its zones were lit.
    """

    exposure_id: int
    started_utc: str
    recipe_name: str
    lot: str
    mw_cm2: float
    dose_mj_cm2: float
    ln_sigma: float


class Runs(Protocol):
    """What is read of a logbook."""

    def tablet_readings(self, exposure_id: int | None = None) -> list[dict[str, Any]]:
        """Tablets as they were read, oldest first."""

    def exposure(self, exposure_id: int) -> dict[str, Any] | None:
        """One exposure with its sides."""


def held_doses(runs: Runs, target_step: int) -> list[HeldDose]:
    """Every tablet run whose readings give a number, newest first. Doses are as they were counted at the time."""
    by_run: dict[int, list[dict[str, Any]]] = defaultdict(list)
    for row in runs.tablet_readings():
        by_run[row["exposure_id"]].append(row)
    found = [_held(runs, number, by_run[number], target_step) for number in sorted(by_run, reverse=True)]
    return [held for held in found if held is not None]


def _held(runs: Runs, exposure_id: int, rows: list[dict[str, Any]], target_step: int) -> HeldDose | None:
    exposure = runs.exposure(exposure_id)
    sides = [] if exposure is None else [side for side in exposure["sides"] if side["state"] == "done"]
    lit_s = math.fsum(side["lit_s"] for side in sides)
    if exposure is None or lit_s <= 0:
        return None
    try:
        threshold = estimate_threshold([tablet_reading(row) for row in rows])
    except NoEstimateError:
        return None
    return HeldDose(
        exposure_id,
        exposure["started_utc"],
        exposure["recipe_name"],
        rows[-1]["lot"],
        math.fsum(side["dose_mj_cm2"] for side in sides) / lit_s,
        dose_for_step(threshold.threshold_mj_cm2, target_step),
        threshold.ln_sigma,
    )
