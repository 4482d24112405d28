"""What a bank's readings mean, in numbers and in sentences: percent of new, hours left, time a recipe takes. Pure."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from sumlight.light.ageing import (
    FEWEST,
    REPLACE_LEVEL,
    SEASONED_H,
    LampPoint,
    by_day,
    duration_h,
    gathered,
)
from sumlight.light.lampchange import (
    SMALLEST_STEP,
    Step,
    Wear,
    dirt,
    find_steps,
    in_present_unit,
    wear_of,
    without_dirt,
)
from sumlight.light.lampcurve import NEW_SPAN_H, Decay, Life, life_to_share
from sumlight.light.lampdoubt import SHARED_ROOM, doubts_of
from sumlight.light.lampfit import fit_decay
from sumlight.text.message import Message, as_written, say

NEW_FEWEST = 3
"""Days with readings in the span that tells the seasoned light, below which it is not known."""
DIRT_TOLD = 0.03
WEAK = 0.05
"""A bank is called weak when it has this share less of its own new light left than the best bank."""

MISMATCH = 0.10
"""Sides lit by banks further apart than this get unlike doses from equal times (a measured dose is not affected)."""

SAME_TIME_D = 45
"""Banks that were new within so many days of each other had the same room since then."""

SLOW_STRIKE_S = 0.3
SLOW_WARM_UP_S = 20.0
SHAKY = 0.02
"""Rise of the light's slow swing (relative rms) that is told. A sensor's clock 5 % off leaves about 1 % of ripple."""


Sign = Literal["strike_s", "warm_up_s", "flicker"]


@dataclass(frozen=True)
class UsualRecipe:
    """The recipe run most: what it gives the resist, through which stack."""

    name: str
    dose_mj_cm2: float
    transmission: float


@dataclass(frozen=True)
class BankHistory:
    """All that is known of the present lamps of a bank, oldest first.

    `strikes_s`, `warm_ups_s` and `flickers` (relative rms swing of the steady light) are those of each exposure.
    `air_known`: a thermometer told the air for the readings, which are corrected by it.
    """

    bank: str
    hours: float
    points: Sequence[LampPoint]
    strikes_s: Sequence[float] = ()
    warm_ups_s: Sequence[float] = ()
    flickers: Sequence[float] = ()
    tube_count: int | None = None
    swap_hours: Sequence[float] = ()
    calibration_hours: Sequence[float] = ()
    air_known: bool = False


@dataclass(frozen=True)
class BankAnswer:
    """What is made of it. Shares are of the seasoned light (`new_mw_cm2`); triples are value, low, high.

    `now_mw_cm2` is the light in a room as warm as on the last day, `new_mw_cm2` and shares that of the year's mean.
    `beside` is the share as it may be compared with that of a bank in the same room that was new at about the same
    time, on `new_day`: what the room did it did to both.
    `left_h` counts lamp hours from now to the replacement level; a bound of None lies beyond `cap_left_h`. `wear` holds
    the signs of wear that enough exposures are on record for.
    """

    bank: str
    hours: float
    sentences: tuple[Message, ...]
    level: float
    new_mw_cm2: float | None = None
    now_mw_cm2: tuple[float, float, float] | None = None
    share: tuple[float, float, float] | None = None
    beside: tuple[float, float, float] | None = None
    new_day: int = 0
    left_h: tuple[float | None, float | None, float | None] | None = None
    cap_left_h: float | None = None
    seconds_now: float | None = None
    seconds_at_level: float | None = None
    decay: Decay | None = None
    steps: tuple[Step, ...] = ()
    signs: tuple[Message, ...] = ()
    wear: dict[Sign, Wear] = field(default_factory=dict)
    life: Life | None = field(default=None, repr=False)


def answer(history: BankHistory, usual: UsualRecipe | None = None, *, level: float = REPLACE_LEVEL) -> BankAnswer:
    """Judge one bank. Raises ValueError for a level outside 0.3…0.95.

    `level` is the share of new light at which lamps are due.
    """
    if not 0.3 <= level <= 0.95:
        raise ValueError(f"the replacement level must be from 0.3 to 0.95 of new, not {level}")
    wear = _wear(history)
    signs = _signs(wear)
    nothing = BankAnswer(history.bank, history.hours, (), level, signs=signs, wear=wear)
    days = by_day(history.points)
    seasoned = gathered([p for p in days if p.hours >= SEASONED_H])
    if len(seasoned) < FEWEST:
        told = [_too_early(history, len(days), len(seasoned)), *signs]
        return replace(nothing, sentences=tuple(told))
    dirty = dirt(seasoned)
    steps = find_steps(
        seasoned,
        tube_count=history.tube_count,
        swap_hours=history.swap_hours,
        calibration_hours=history.calibration_hours,
        air_known=history.air_known,
    )
    # Dirt is taken out reading by reading and the unit made one, so that what remains are the lamps.
    clean = in_present_unit(without_dirt(seasoned), steps)
    lamp_steps = [s for s in steps if s.cause not in ("fouling", "cleaned", "calibrated")]
    inside = [s.hours for s in lamp_steps if clean[0].hours < s.hours]
    try:
        doubts = doubts_of(clean, air_known=history.air_known)
        decay = fit_decay(clean, step_hours=inside, doubts=doubts)
        same_room = fit_decay(clean, step_hours=inside, doubts=replace(doubts, room=SHARED_ROOM))
    except ValueError as error:
        told = [say("no_curve", bank=history.bank, why=as_written(error.args[0])), *signs]
        return replace(nothing, sentences=tuple(told), steps=tuple(steps))
    age_h = max(history.hours, decay.last_h)
    now = decay.curve(age_h, day=clean[-1].day)  # the room's warmth of these days is in it, as in what the meter shows
    told = [say("bank_stands", bank=history.bank, hours=history.hours, light_mw_cm2=now[0])]
    found = replace(nothing, now_mw_cm2=now, decay=decay, steps=tuple(steps))
    if sum(p.hours <= SEASONED_H + NEW_SPAN_H for p in clean) < NEW_FEWEST:
        told.append(say("seasoned_light_unknown"))
        return replace(found, sentences=(*told, *_happened(steps, dirty, air_known=history.air_known), *signs))
    new_mw_cm2, share = decay.new_mw_cm2, decay.share(age_h)
    ending = life_to_share(decay, level, duration_h(clean))
    seconds_now = seconds_then = None
    if history.air_known:
        told.append(say("share_of_new", share=share[0], low=share[1], high=share[2]))
    else:
        told.append(say("share_of_new_all_seasons", share=share[0], low=share[1], high=share[2]))
    left_h = _left(ending, history.hours)
    cap_left_h = max(0.0, ending.cap_h - history.hours)
    told.append(_left_words(left_h, share[0], level, cap_left_h))
    if usual is not None:
        seconds_now = usual.dose_mj_cm2 / (now[0] * usual.transmission)
        then_mw_cm2 = level * new_mw_cm2 * decay.season(clean[-1].day)  # in a room as warm as now, to be compared
        seconds_then = usual.dose_mj_cm2 / (then_mw_cm2 * usual.transmission)
        told.append(say("usual_recipe_takes", recipe=usual.name, now_s=seconds_now, level=level, then_s=seconds_then))
    return replace(
        found,
        new_mw_cm2=new_mw_cm2,
        sentences=(*told, *_happened(steps, dirty, air_known=history.air_known), *signs),
        share=share,
        beside=same_room.share(age_h),
        new_day=clean[0].day,
        left_h=left_h,
        cap_left_h=cap_left_h,
        seconds_now=seconds_now,
        seconds_at_level=seconds_then,
        life=ending,
    )


def compare(answers: Sequence[BankAnswer]) -> list[Message]:
    """What stands out between banks: which is weak for its own age, and sides lit unequally."""
    told = []
    known = {a.bank: (a, a.share) for a in answers if a.share is not None}
    if len(known) > 1:
        best, best_share = max(known.values(), key=lambda of: of[1][0])
        for weak, share in known.values():
            apart = share[0] < best_share[0] - WEAK and _compared(weak, best)[2] < _compared(best, weak)[1]
            if weak is not best and apart:
                told.append(say("weak_bank", weak=weak.bank, share=share[0], best=best.bank, best_share=best_share[0]))
    lights = sorted((a.now_mw_cm2[0], a.bank) for a in answers if a.now_mw_cm2 is not None)
    if len(lights) > 1 and lights[0][0] < (1 - MISMATCH) * lights[-1][0]:
        less = 1 - lights[0][0] / lights[-1][0]
        told.append(say("unequal_banks", weak=lights[0][1], share=less, best=lights[-1][1]))
    return told


def _compared(one: BankAnswer, other: BankAnswer) -> tuple[float, float, float]:
    """The share of one bank as it may be compared with the other's."""
    found = one.beside if abs(one.new_day - other.new_day) <= SAME_TIME_D else one.share
    return (1.0, 0.0, math.inf) if found is None else found


def _too_early(history: BankHistory, days: int, seasoned: int) -> Message:
    if history.hours < SEASONED_H:
        return say("still_running_in", bank=history.bank, hours=history.hours, seasoned_h=SEASONED_H)
    return say(
        "too_few_days",
        bank=history.bank,
        hours=history.hours,
        seen=seasoned,
        days=days,
        seasoned_h=SEASONED_H,
        fewest=FEWEST,
    )


def _left(ending: Life, now_h: float) -> tuple[float | None, float | None, float | None]:
    def left(at_h: float | None) -> float | None:
        return None if at_h is None else max(0.0, at_h - now_h)

    return left(ending.hours), left(ending.low_h), left(ending.high_h)


def _left_words(
    left_h: tuple[float | None, float | None, float | None], share: float, level: float, cap_left_h: float
) -> Message:
    middle, low, high = left_h
    if share <= level:
        return say("change_these_lamps", level=level)
    if low is None:
        return say("level_beyond_cap", level=level, cap_h=cap_left_h)
    if middle is None or high is None:
        return say("level_at_least", level=level, low_h=low, cap_h=cap_left_h)
    return say("level_in_hours", level=level, hours=middle, low_h=low, high_h=high)


def _happened(steps: Sequence[Step], dirty: float | None, *, air_known: bool) -> list[Message]:
    told = [message for step in steps if (message := _of_step(step, air_known=air_known)) is not None]
    if dirty is not None and dirty > DIRT_TOLD:
        told.append(say("sensor_light_fell", share=dirty))
    return told


def _of_step(step: Step, *, air_known: bool) -> Message | None:
    share, hours = abs(step.share), step.hours
    match step.cause:
        case "tube_out":
            if step.tubes is None or step.tubes == 1:
                return say("a_tube_out", share=share, hours=hours)
            return say("tubes_out", share=share, hours=hours, tubes=step.tubes)
        case "loss":
            if air_known:
                return say("light_lost", share=share, hours=hours)
            return say("light_lost_or_cold", share=share, hours=hours)
        case "fouling":
            return say("light_fouled", share=share, hours=hours)
        case "cleaned":
            return say("light_cleaned", share=share, hours=hours)
        case "unknown_swap":
            if air_known:
                return say("unknown_swap", share=share, hours=hours)
            return say("unknown_swap_or_warm", share=share, hours=hours)
        case "swap":
            return say("tube_swapped", share=step.share, hours=hours)
        case "calibrated" if share >= SMALLEST_STEP:
            return say("calibrated_then", share=step.share, hours=hours)
    return None


def _wear(history: BankHistory) -> dict[Sign, Wear]:
    judged: dict[Sign, Wear | None] = {
        "strike_s": wear_of(history.strikes_s, smallest=SLOW_STRIKE_S),
        "warm_up_s": wear_of(history.warm_ups_s, smallest=SLOW_WARM_UP_S),
        "flicker": wear_of(history.flickers, smallest=SHAKY),
    }
    return {sign: wear for sign, wear in judged.items() if wear is not None}


def _signs(wear: dict[Sign, Wear]) -> tuple[Message, ...]:
    """Signs of wear that are not in the light itself."""
    clear = {sign: each for sign, each in wear.items() if each.clear}
    signs = []
    if slow := clear.get("strike_s"):
        signs.append(say("slow_strike", now_s=slow.now, usual_s=slow.usual))
    if late := clear.get("warm_up_s"):
        signs.append(say("slow_warm_up", now_s=late.now, usual_s=late.usual))
    if shaky := clear.get("flicker"):
        signs.append(say("light_flickers", now=shaky.now, usual=shaky.usual))
    return tuple(signs)
