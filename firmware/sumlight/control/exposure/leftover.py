"""What the last run of control left behind is checked before anything of it is believed. Pure."""

import hashlib
import math

from sumlight.control.exposure.plan import Plan, SidePlan
from sumlight.store.logbook.records import InterruptedExposure, NewSide, SideState
from sumlight.text.message import Message, say

STATES = ("waiting", "lit", "cut", "done", "abandoned")
SAME = 1e-9
"""Relative difference up to which two figures are the same one, written down twice."""


class DamagedRecordError(ValueError):
    """The record of an interrupted panel contradicts itself: it is closed, and nothing is lit by it."""


def check_text(left: InterruptedExposure) -> None:
    """The record was readable, and its recipe is the text that was begun with. Raises DamagedRecordError."""
    found = list(left.damage)
    if hashlib.sha256(left.recipe_text.encode("utf-8", "surrogatepass")).hexdigest() != left.recipe_sha256:
        found.append(say("left_text_differs"))
    _refuse(found)


def check_sides(left: InterruptedExposure, plan: Plan) -> None:
    """The sides on record are those of the recipe, and their figures can be. Raises DamagedRecordError."""
    known = {new.side: (new, state) for new, state in left.sides}
    if sorted(known) != sorted(side.side for side in plan.sides):
        _refuse([say("left_other_sides", sides=[side.side for side in plan.sides])])
    found = [word for side in plan.sides for word in _contradictions(side, *known[side.side])]
    _refuse(found)


def _contradictions(plan: SidePlan, new: NewSide, state: SideState) -> list[Message]:
    side, found = plan.side, []
    target, wanted = new.target_mj_cm2, plan.target_mj_cm2
    if target is not None and wanted is not None and not math.isclose(target, wanted, rel_tol=SAME):
        found.append(say("left_target_differs", side=side, found=target, wanted=wanted))
    if not math.isclose(new.transmission, plan.transmission, rel_tol=SAME):
        told = say("left_transmission_differs", side=side, found=new.transmission, wanted=plan.transmission)
        found.append(told)
    if target is None and wanted is not None:
        found.append(say("left_no_target", side=side))
    if target is not None and wanted is None:
        found.append(say("left_odd_target", side=side))
    if state.state not in STATES:
        found.append(say("left_odd_state", side=side, state=state.state))
    for value, told in (
        (state.dose_mj_cm2, say("left_odd_dose", side=side, value=state.dose_mj_cm2)),
        (state.doubt_mj_cm2, say("left_odd_doubt", side=side, value=state.doubt_mj_cm2)),
        (state.lit_s, say("left_odd_light", side=side, value=state.lit_s)),
        (state.longest_gap_s, say("left_odd_gap", side=side, value=state.longest_gap_s)),
        (state.pauses, say("left_odd_pauses", side=side, value=state.pauses)),
    ):
        if not (math.isfinite(value) and value >= 0):
            found.append(told)
    if state.dose_mj_cm2 > 0 and state.lit_s <= 0:
        found.append(say("left_dose_without_light", side=side, dose_mj_cm2=state.dose_mj_cm2))
    return found


def _refuse(found: list[Message]) -> None:
    if found:
        raise DamagedRecordError(found[0] if len(found) == 1 else say("problems_in_turn", problems=found))
