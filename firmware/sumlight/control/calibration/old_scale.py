"""Doses that were found on another scale: not lit on the present one before a person has seen them. Pure."""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sumlight.control.calibration.answers import CalibrationFactor
from sumlight.control.exposure.plan import Plan
from sumlight.control.refused import RefusedError
from sumlight.store.logbook.calibrations import BOX_UNITS
from sumlight.store.logbook.recipe_doses import SAME_SCALE, FoundDose, alike
from sumlight.text.message import Message, joined, say

SAME = 0.01
"""A dose that changes by less (ln) is the same dose."""

Target = tuple[str, str, float]
"""A side, the bank that lights it, and its dose in mJ/cm²."""


@dataclass(frozen=True)
class Moved:
    """A side's dose that was found on another scale. `same_light_mj_cm2` is what the light of then is called now; None
    where nobody knows."""

    same_light_mj_cm2: float | None
    told: Message


def moved(
    targets: Iterable[Target],
    found: Mapping[str, FoundDose],
    anchors: Mapping[str, CalibrationFactor],
    ln_corrected: Callable[[str, float], float],
) -> list[Moved]:
    """The sides whose dose was found on another scale than it would be lit on now.

    `found` tells by bank where the dose is from, `ln_corrected` by how much corrections for a bank's window have moved
    its number since some lamp hour. What lamps do while they age is no other scale.
    """
    seen = []
    for side, bank, before in targets:
        if bank not in found:
            continue
        then, now = found[bank].anchor, anchors[bank]
        relative = then.get("origin") in BOX_UNITS
        place = (then.get("lamp_set"), then.get("meter"), then.get("position"))
        if place != (now.lamp_set, now.meter, now.position):
            if relative and not now.relative:
                seen.append(Moved(None, say("dose_of_other_light", side=side, dose_mj_cm2=before)))
            continue
        ln_moved = math.log(now.mw_cm2_per_basic_count / then["mw_cm2_per_basic_count"])
        ln_moved -= ln_corrected(bank, then["lamp_hours"]) - (now.ln_window - then.get("ln_window", 0.0))
        if abs(ln_moved) <= _allowed(now, then, relative=relative):
            continue
        dose = before * math.exp(ln_moved)
        if relative and now.relative:
            seen.append(Moved(dose, say("number_changed_since", side=side, dose_mj_cm2=dose, before=before)))
        else:
            seen.append(Moved(dose, say("dose_found_before", side=side, dose_mj_cm2=dose, before=before)))
    return seen


def refuse_found_before(
    plan: Plan,
    found: Mapping[str, FoundDose],
    anchors: Mapping[str, CalibrationFactor],
    ln_corrected: Callable[[str, float], float],
) -> None:
    """Raise RefusedError for a panel that `moved` finds a side of."""
    targets = [(side.side, side.bank, side.target_mj_cm2) for side in plan.sides if side.target_mj_cm2 is not None]
    seen = moved(targets, found, anchors, ln_corrected)
    if seen:
        unknown = any(each.same_light_mj_cm2 is None for each in seen)
        raise RefusedError(
            joined(*(each.told for each in seen)), say("find_dose_anew") if unknown else say("take_dose_over")
        )


def one_dose(seen: Sequence[Moved], sides: int) -> float | None:
    """The dose that gives every one of a recipe's `sides` the light of then; None where no single one does."""
    doses = [each.same_light_mj_cm2 for each in seen if each.same_light_mj_cm2 is not None]
    if len(doses) < max(1, sides) or max(doses) > min(doses) * math.exp(SAME):
        return None
    return math.exp(math.fsum(math.log(dose) for dose in doses) / len(doses))


def scale_moved(then: CalibrationFactor, now: CalibrationFactor) -> bool:
    """Whether a calibration has just moved the scale so far that doses found before it are not lit unseen."""
    ln_moved = math.log(now.mw_cm2_per_basic_count / then.mw_cm2_per_basic_count)
    before = {"ln_sigma": then.ln_sigma, "common_ln_sigma": then.common_ln_sigma}
    return abs(ln_moved) > _allowed(now, before, relative=then.relative)


def refuse_own_reference(reference_mj_cm2: float, found: Iterable[tuple[str, float]], *, stated: bool) -> None:
    """Raise RefusedError for a reference that is a dose which this box itself found in its own units.

    `found` holds such doses with what found them, `stated` tells whether the reference has an uncertainty: only a
    strip's dose, a round one as often as not, may be that of a data sheet as well.
    """
    for kind, dose in found:
        if alike(reference_mj_cm2, dose) and not (kind == "strip" and stated):
            raise RefusedError(say("reference_found_here", dose_mj_cm2=reference_mj_cm2), say("reference_from_outside"))


def _allowed(now: CalibrationFactor, then: Mapping[str, Any], *, relative: bool) -> float:
    """By how much (ln) the scale may have moved unasked; without limit to one that was never an absolute one.

    As much as checks move it, or within what was told of it: beyond that one of the two was wrong.
    """
    if relative:
        return SAME
    if now.relative:
        return math.inf
    return max(SAME_SCALE, 2 * math.hypot(then.get("ln_sigma", 0.0), then.get("common_ln_sigma", 0.0)))
