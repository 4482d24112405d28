"""Series: several legs of light on one piece, the lid opened in between, for tests and measurements.

Each leg is a side like any other, ended by its dose or by a set time; what the legs tell is worked out afterwards.
"""

from collections.abc import Sequence
from dataclasses import replace

from sumlight.control.exposure.plan import Plan, PlanError, SidePlan
from sumlight.protocol.amounts import LONGEST_LEG_S, MOST_DOSE_MJ_CM2

KINDS = {
    "tablet": "Open the lid, move the step tablet to the next zone, mask the others, shut the lid.",
    "strip": "Open the lid, slide the mask on by one strip, shut the lid.",
    "compare": "Open the lid, change what lies before the sensor, shut the lid.",
    "field": "Open the lid, move the sensor to its next place, shut the lid.",
    "teach": "",
    "steady": "",
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
        raise PlanError("kind", f"'{kind}' is no series.", f"There is {', '.join(KINDS)}.")
    by_dose = bool(doses_mj_cm2)
    if by_dose == (seconds is not None):
        raise PlanError("doses", "A series has either doses or seconds.", "Give one of the two.")
    count = len(doses_mj_cm2) if by_dose else legs
    if not 1 <= count <= LEGS_MAX:
        raise PlanError("count", f"{count} legs are not possible.", f"Give 1 to {LEGS_MAX}.")
    if seconds is not None and not 0 < seconds <= LONGEST_LEG_S:
        raise PlanError(
            "seconds", f"{seconds:g} s is not possible.", f"Give more than 0 and at most {LONGEST_LEG_S:g} s."
        )
    for dose in doses_mj_cm2:
        if not 0 < dose <= MOST_DOSE_MJ_CM2:
            raise PlanError("doses", f"{dose:g} mJ/cm² is not possible.", f"Give 0 to {MOST_DOSE_MJ_CM2:g} mJ/cm².")
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
            before=KINDS[kind] if number else "",
        )
        for number in range(count)
    ]
