"""Series: several legs of light on one piece, the lid opened in between, for tests and measurements.

Each leg is a side like any other, ended by its dose or by a set time; what the legs tell is worked out afterwards.
"""

from collections.abc import Sequence
from dataclasses import replace

from sumlight.control.exposure.plan import Plan, PlanError, SidePlan
from sumlight.protocol.amounts import LONGEST_LEG_S, MOST_DOSE_MJ_CM2
from sumlight.text.message import Message, say

KINDS: dict[str, Message | None] = {
    "tablet": say("move_the_tablet"),
    "strip": say("slide_the_mask"),
    "compare": say("change_what_lies_there"),
    "field": say("move_the_sensor"),
    "teach": None,
    "steady": None,
}
"""What a series may be for, and what the person does between its legs."""

LEGS_MAX = 60


def make_series(
    base: Plan, kind: str, *, doses_mj_cm2: Sequence[float] = (), seconds: float | None = None, legs: int = 1
) -> Plan:
    """A series on side A of `base`: legs to the given doses, or `legs` of them lit for `seconds` each.

    Raises PlanError for a kind that does not exist or legs that make no sense.
    """
    if kind not in KINDS:
        raise PlanError("kind", say("no_such_series", kind=kind), say("there_is", known=tuple(KINDS)))
    by_dose = bool(doses_mj_cm2)
    if by_dose == (seconds is not None):
        raise PlanError("doses", say("doses_or_seconds"), say("give_one_of_two"))
    count = len(doses_mj_cm2) if by_dose else legs
    if not 1 <= count <= LEGS_MAX:
        raise PlanError("count", say("so_many_legs", count=count), say("give_legs", most=LEGS_MAX))
    if seconds is not None and not 0 < seconds <= LONGEST_LEG_S:
        raise PlanError("seconds", say("so_long_a_leg", seconds=seconds), say("give_seconds", most_s=LONGEST_LEG_S))
    for dose in doses_mj_cm2:
        if not 0 < dose <= MOST_DOSE_MJ_CM2:
            raise PlanError(
                "doses", say("so_high_a_dose", dose_mj_cm2=dose), say("give_dose", most_mj_cm2=MOST_DOSE_MJ_CM2)
            )
    side = base.sides[0]
    return replace(base, kind=kind, sides_mode="series", sides=tuple(_legs(side, kind, doses_mj_cm2, seconds, count)))


def _legs(
    side: SidePlan, kind: str, doses_mj_cm2: Sequence[float], seconds: float | None, count: int
) -> list[SidePlan]:
    return [
        replace(
            side,
            side=str(number + 1),
            target_mj_cm2=doses_mj_cm2[number] if doses_mj_cm2 else None,
            lit_for_s=seconds,
            guard_s=side.guard_s if seconds is None else seconds + 1.0,
            before=KINDS[kind] if number else None,
        )
        for number in range(count)
    ]
