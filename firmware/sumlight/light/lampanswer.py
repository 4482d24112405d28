"""What a bank's readings mean, in numbers and in sentences: percent of new, hours left, time a recipe takes. Pure."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from sumlight.light.ageing import (
    FEWEST,
    REPLACE_LEVEL,
    SEASONED_H,
    Decay,
    LampPoint,
    Life,
    by_day,
    duration_h,
    fit_decay,
    gathered,
    life,
    window,
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
from sumlight.text.message import Message, as_written, say

NEW_SPAN_H = 50.0
"""The seasoned value is the mean of the days in so many hours after SEASONED_H."""

NEW_FEWEST = 3
DIRT_TOLD = 0.03
WEAK = 0.05
"""A bank is called weak when it has this share less of its own new light left than the best bank."""

MISMATCH = 0.10
"""Sides lit by banks further apart than this get unlike doses from equal times (a measured dose is not affected)."""

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


@dataclass(frozen=True)
class BankAnswer:
    """What is made of it. Shares are of the seasoned light (`new_mw_cm2`); triples are value, low, high.

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
    )
    # Dirt is taken out reading by reading and the unit made one, so that what remains are the lamps.
    clean = in_present_unit(without_dirt(seasoned), steps)
    lamp_steps = [s for s in steps if s.cause not in ("fouling", "cleaned", "calibrated")]
    used = window(clean)
    inside = [s.hours for s in lamp_steps if used[0].hours < s.hours]
    try:
        decay = fit_decay(used, step_hours=inside, run_in=True)
        now = decay.curve(max(history.hours, decay.last_h))
    except ValueError as error:
        told = [say("no_curve", bank=history.bank, why=as_written(error.args[0])), *signs]
        return replace(nothing, sentences=tuple(told), steps=tuple(steps))
    new_mw_cm2 = _new_light(clean)
    told = [say("bank_stands", bank=history.bank, hours=history.hours, light_mw_cm2=now[0])]
    found = replace(nothing, new_mw_cm2=new_mw_cm2, now_mw_cm2=now, decay=decay, steps=tuple(steps))
    if new_mw_cm2 is None:
        told.append(say("seasoned_light_unknown"))
        return replace(found, sentences=(*told, *_happened(steps, dirty), *signs))
    share = (now[0] / new_mw_cm2, now[1] / new_mw_cm2, now[2] / new_mw_cm2)
    ending = life(decay, level * new_mw_cm2, duration_h(clean))
    seconds_now = seconds_then = None
    told.append(say("share_of_new", share=share[0], low=share[1], high=share[2]))
    left_h = _left(ending, history.hours)
    cap_left_h = max(0.0, ending.cap_h - history.hours)
    told.append(_left_words(left_h, share[0], level, cap_left_h))
    if usual is not None:
        seconds_now = usual.dose_mj_cm2 / (now[0] * usual.transmission)
        seconds_then = usual.dose_mj_cm2 / (level * new_mw_cm2 * usual.transmission)
        told.append(say("usual_recipe_takes", recipe=usual.name, now_s=seconds_now, level=level, then_s=seconds_then))
    return replace(
        found,
        sentences=(*told, *_happened(steps, dirty), *signs),
        share=share,
        left_h=left_h,
        cap_left_h=cap_left_h,
        seconds_now=seconds_now,
        seconds_at_level=seconds_then,
        life=ending,
    )


def compare(answers: Sequence[BankAnswer]) -> list[Message]:
    """What stands out between banks: which is weak for its own age, and sides lit unequally."""
    told = []
    shares = {a.bank: a.share for a in answers if a.share is not None}
    if len(shares) > 1:
        best = max(shares, key=lambda bank: shares[bank][0])
        for bank, share in shares.items():
            if bank != best and share[0] < shares[best][0] - WEAK and share[2] < shares[best][1]:
                told.append(say("weak_bank", weak=bank, share=share[0], best=best, best_share=shares[best][0]))
    lights = sorted((a.now_mw_cm2[0], a.bank) for a in answers if a.now_mw_cm2 is not None)
    if len(lights) > 1 and lights[0][0] < (1 - MISMATCH) * lights[-1][0]:
        less = 1 - lights[0][0] / lights[-1][0]
        told.append(say("unequal_banks", weak=lights[0][1], share=less, best=lights[-1][1]))
    return told


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


def _new_light(days: Sequence[LampPoint]) -> float | None:
    first = [p for p in days if SEASONED_H <= p.hours <= SEASONED_H + NEW_SPAN_H]
    if len(first) < NEW_FEWEST:
        return None
    total = math.fsum(p.weight for p in first)
    return math.exp(math.fsum(p.weight * math.log(p.mw_cm2) for p in first) / total)


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


def _happened(steps: Sequence[Step], dirty: float | None) -> list[Message]:
    told = [message for step in steps if (message := _of_step(step)) is not None]
    if dirty is not None and dirty > DIRT_TOLD:
        told.append(say("sensor_light_fell", share=dirty))
    return told


def _of_step(step: Step) -> Message | None:
    share, hours = abs(step.share), step.hours
    match step.cause:
        case "tube_out":
            if step.tubes is None or step.tubes == 1:
                return say("a_tube_out", share=share, hours=hours)
            return say("tubes_out", share=share, hours=hours, tubes=step.tubes)
        case "loss":
            return say("light_lost", share=share, hours=hours)
        case "fouling":
            return say("light_fouled", share=share, hours=hours)
        case "cleaned":
            return say("light_cleaned", share=share, hours=hours)
        case "unknown_swap":
            return say("unknown_swap", share=share, hours=hours)
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
