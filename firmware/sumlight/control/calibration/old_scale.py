"""Doses that were found before the box had an absolute scale: not lit as mJ/cm² before a person has seen them. Pure."""

import math
from collections.abc import Mapping
from typing import Any

from sumlight.control.calibration.answers import CalibrationFactor
from sumlight.control.exposure.plan import Plan
from sumlight.control.refused import RefusedError
from sumlight.text.message import say

BOX_UNITS = ("box.yaml", "teach")
"""Origins of a scale that nothing outside the box has checked."""
SAME = 0.01
"""A dose that changes by less (ln) is the same dose."""


def refuse_found_before(plan: Plan, last: Mapping[str, Any] | None, anchors: Mapping[str, CalibrationFactor]) -> None:
    """Raise RefusedError for a panel whose dose was last lit in box units and would be lit in mJ/cm² now.

    `last` is the newest completed panel of the recipe, as the logbook gives it. Whoever has changed the recipe since
    then has seen it.
    """
    if last is None or plan.kind != "panel" or last["recipe_sha256"] != plan.recipe_sha256:
        return
    budgets = {side["side"]: side["budget"] for side in last["sides"] if side["budget"] is not None}
    for side in plan.sides:
        now, then = anchors[side.bank], budgets.get(side.side, {}).get("anchor", {})
        if side.target_mj_cm2 is None or now.relative or then.get("origin") not in BOX_UNITS:
            continue
        place = (then.get("lamp_set"), then.get("meter"), then.get("position"))
        if place != (now.lamp_set, now.meter, now.position):
            told = say("dose_of_other_light", side=side.side, dose_mj_cm2=side.target_mj_cm2)
            raise RefusedError(told, say("find_dose_anew"))
        factor = now.mw_cm2_per_basic_count / then["mw_cm2_per_basic_count"]
        if abs(math.log(factor)) > SAME:
            before = side.target_mj_cm2
            told = say("dose_found_before", side=side.side, dose_mj_cm2=before * factor, before=before)
            raise RefusedError(told, say("take_dose_over"))
