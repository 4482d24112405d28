"""Doses that were found on another scale: not lit on the present one before a person has seen them. Pure."""

import math
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from sumlight.control.calibration.answers import CalibrationFactor
from sumlight.control.exposure.plan import Plan
from sumlight.control.refused import RefusedError
from sumlight.text.message import say

BOX_UNITS = ("box.yaml", "teach")
"""Origins of a scale that nothing outside the box has checked."""
SAME = 0.01
"""A dose that changes by less (ln) is the same dose."""
ANOTHER = 0.1
"""One calibration after another may move the scale (ln) by so much, or within what was told of it, unasked: that is
what checks are for. Beyond that one of the two was wrong (judgement, no source)."""
ALIKE = 0.004
"""Doses that differ by less (ln) are one, copied and rounded."""


def refuse_found_before(
    plan: Plan,
    last: Mapping[str, Any] | None,
    anchors: Mapping[str, CalibrationFactor],
    ln_corrected: Callable[[str, float], float],
) -> None:
    """Raise RefusedError for a panel whose dose was last lit on another scale than it would be lit on now.

    `last` is the newest completed panel of the recipe, as the logbook gives it, `ln_corrected` tells by how much
    corrections for a bank's window have moved its number since some lamp hour. Whoever has changed the recipe since
    that panel has seen it. What lamps do while they age is no other scale.
    """
    if last is None or plan.kind != "panel" or last["recipe_sha256"] != plan.recipe_sha256:
        return
    budgets = {side["side"]: side["budget"] for side in last["sides"] if side["budget"] is not None}
    for side in plan.sides:
        then, before = budgets.get(side.side, {}).get("anchor", {}), side.target_mj_cm2
        if before is None or not then:
            continue
        now, relative = anchors[side.bank], then.get("origin") in BOX_UNITS
        place = (then.get("lamp_set"), then.get("meter"), then.get("position"))
        if place != (now.lamp_set, now.meter, now.position):
            if relative and not now.relative:
                raise RefusedError(
                    say("dose_of_other_light", side=side.side, dose_mj_cm2=before), say("find_dose_anew")
                )
            continue
        moved = math.log(now.mw_cm2_per_basic_count / then["mw_cm2_per_basic_count"])
        moved -= ln_corrected(side.bank, then["lamp_hours"]) - (now.ln_window - then.get("ln_window", 0.0))
        if abs(moved) <= _allowed(now, then, relative=relative):
            continue
        dose = before * math.exp(moved)
        if relative and now.relative:
            told = say("number_changed_since", side=side.side, dose_mj_cm2=dose, before=before)
        else:
            told = say("dose_found_before", side=side.side, dose_mj_cm2=dose, before=before)
        raise RefusedError(told, say("take_dose_over"))


def refuse_own_reference(reference_mj_cm2: float, found: Iterable[tuple[str, float]], *, stated: bool) -> None:
    """Raise RefusedError for a reference that is a dose which this box itself found in its own units.

    `found` holds such doses with what found them, `stated` tells whether the reference has an uncertainty: only a
    strip's dose, a round one as often as not, may be that of a data sheet as well.
    """
    for kind, dose in found:
        if abs(math.log(reference_mj_cm2 / dose)) < ALIKE and not (kind == "strip" and stated):
            raise RefusedError(say("reference_found_here", dose_mj_cm2=reference_mj_cm2), say("reference_from_outside"))


def _allowed(now: CalibrationFactor, then: Mapping[str, Any], *, relative: bool) -> float:
    """By how much (ln) the scale may have moved unasked; without limit to one that was never an absolute one."""
    if relative:
        return SAME
    if now.relative:
        return math.inf
    return max(ANOTHER, 2 * math.hypot(then.get("ln_sigma", 0.0), then.get("common_ln_sigma", 0.0)))
