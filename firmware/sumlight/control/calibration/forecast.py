"""How long a plan will be under light, and what is to be said of that before it is lit. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sumlight.control.exposure.plan import Plan
from sumlight.control.refused import RefusedError
from sumlight.light.dose import exposure_time_s
from sumlight.text.message import Message, say

HOPELESS = 1.3
"""A forecast so many times the guard is refused: lamps are rarely so much stronger than last time (judgement)."""
CLOSE = 0.8
"""From this share of the guard on it is told that it is close."""
LONG_S, LONGER = 60.0, 4.0
"""Light of more than a minute, and so many times longer than that of the calibration, finds the lamps warmer than they
were then; they take some three minutes to settle (common practice, no source)."""


@dataclass(frozen=True)
class Forecast:
    """One side: the seconds of light that its dose takes, and those that its guard allows."""

    side: str
    bank: str
    needs_s: float
    guard_s: float


def of_plan(plan: Plan, glass_mw_cm2: Mapping[str, float]) -> list[Forecast]:
    """Each side with a dose whose bank's light is known, `glass_mw_cm2` at the glass as last seen."""
    found = []
    for side in plan.sides:
        light = side.effective_mw_cm2(glass_mw_cm2.get(side.bank, 0.0) * side.transmission)
        if side.target_mj_cm2 is not None and light > 0:
            found.append(Forecast(side.side, side.bank, exposure_time_s(side.target_mj_cm2, light), side.guard_s))
    return found


def refuse_hopeless(times: Sequence[Forecast], box_limit_s: float) -> None:
    """Raise RefusedError if a guard would end the light long before the dose."""
    for time in times:
        if time.needs_s <= HOPELESS * time.guard_s:
            continue
        if time.guard_s < box_limit_s:
            told = say("guard_before_dose", needs_s=time.needs_s, guard_s=time.guard_s)
            raise RefusedError(told, say("longer_guard_or_less_dose"))
        told = say("limit_before_dose", needs_s=time.needs_s, guard_s=time.guard_s)
        raise RefusedError(told, say("more_light_or_less_dose"))


def remarks(times: Sequence[Forecast], calibrated_s: Mapping[str, float | None]) -> list[Message]:
    """What a person should know before the light: a guard that is close, light far longer than the calibration's."""
    found = []
    for time in times:
        if time.needs_s > CLOSE * time.guard_s:
            found.append(say("guard_is_close", side=time.side, needs_s=time.needs_s, guard_s=time.guard_s))
        lit_s = calibrated_s.get(time.bank)
        if lit_s is not None and time.needs_s > max(LONG_S, LONGER * lit_s):
            found.append(say("longer_than_calibrated", side=time.side, needs_s=time.needs_s, lit_s=lit_s))
    return found
