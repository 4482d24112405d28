"""What the last run of control left behind is checked before anything of it is believed. Pure."""

import hashlib
import math

from sumlight.control.exposure.plan import Plan, SidePlan
from sumlight.store.logbook.records import InterruptedExposure, NewSide, SideState

STATES = ("waiting", "lit", "cut", "done", "abandoned")
SAME = 1e-9
"""Relative difference up to which two figures are the same one, written down twice."""


class DamagedRecordError(ValueError):
    """The record of an interrupted panel contradicts itself: it is closed, and nothing is lit by it."""


def check_text(left: InterruptedExposure) -> None:
    """The record was readable, and its recipe is the text that was begun with. Raises DamagedRecordError."""
    found = list(left.damage)
    if hashlib.sha256(left.recipe_text.encode("utf-8", "surrogatepass")).hexdigest() != left.recipe_sha256:
        found.append("the text of its recipe is not the one it was begun with (the hash differs)")
    _refuse(found)


def check_sides(left: InterruptedExposure, plan: Plan) -> None:
    """The sides on record are those of the recipe, and their figures can be. Raises DamagedRecordError."""
    known = {new.side: (new, state) for new, state in left.sides}
    if sorted(known) != sorted(side.side for side in plan.sides):
        _refuse([f"its recipe exposes side {' and '.join(s.side for s in plan.sides)}, the record has other sides"])
    found = [word for side in plan.sides for word in _contradictions(side, *known[side.side])]
    _refuse(found)


def _contradictions(plan: SidePlan, new: NewSide, state: SideState) -> list[str]:
    name = f"side {plan.side}"
    found = [
        f"{name}: {what} {value:g} on record is not the recipe's {wanted:g}"
        for what, value, wanted in (
            ("the target", new.target_mj_cm2, plan.target_mj_cm2),
            ("the transmission", new.transmission, plan.transmission),
        )
        if value is not None and wanted is not None and not math.isclose(value, wanted, rel_tol=SAME)
    ]
    if new.target_mj_cm2 is None:
        found.append(f"{name}: no target on record")
    if state.state not in STATES:
        found.append(f"{name}: '{state.state}' is no state of a side")
    for what, value in (
        ("dose", state.dose_mj_cm2),
        ("doubt", state.doubt_mj_cm2),
        ("time with light", state.lit_s),
        ("longest pause", state.longest_gap_s),
        ("number of pauses", state.pauses),
    ):
        if not (math.isfinite(value) and value >= 0):
            found.append(f"{name}: a {what} of {value:g} cannot be")
    if state.dose_mj_cm2 > 0 and state.lit_s <= 0:
        found.append(f"{name}: there is a dose of {state.dose_mj_cm2:g} mJ/cm² without any time with light")
    return found


def _refuse(found: list[str]) -> None:
    if found:
        raise DamagedRecordError("; ".join(found))
