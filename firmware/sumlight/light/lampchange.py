"""What happened to lamps between their readings: slow ageing apart from a tube gone out, dirt, and a swap. Pure.

A jump is looked for at every place between two days by the gain of the fit (the largest F of all places, Andrews 1993),
beside all that may change slowly (`lampdoubt`). A step is a step within a day: the days beside it must show it whole,
and more of it than the room can do where no thermometer is. Whether the sensor's own reference reading jumped with it
tells dirt from lamps.
"""

import itertools
import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from sumlight.light.ageing import FEWEST, LampPoint
from sumlight.light.lampcurve import Decay, worth_of
from sumlight.light.lampdoubt import doubts_of
from sumlight.light.lampfit import fit_decay, observed

Cause = Literal["tube_out", "fouling", "cleaned", "unknown_swap", "loss", "swap", "calibrated"]

STEP_LIMIT = 22.0
"""F above which a jump is believed: on a steady bank fewer than one in a hundred looks finds one (simulated)."""

SMALLEST_STEP = 0.02
"""Jumps below this share are weather and mains, and are left to the scatter."""

ROOM_STEP, ROOM_PER_D = 0.07, 0.001
"""What a room may do to the light of tubes from one day to another without anybody telling, and more for each day
between them (from 3 K to 8 K below their best air; a season of 6 % either way; judgement, trade notes L1-L3)."""

BESIDE = 3
"""Days needed on either side of a jump."""

NEAR = 8
WHOLE = 0.5
"""Of what so many days on either side show of a jump, the two next to it must show at least this share."""

MOST_STEPS = 4
CHECK_SHARE = 0.5
"""If the self-check moved by at least this share of a jump, the jump is dirt on (or cleaning of) the diffuser."""

SIGN_BASE, SIGN_RECENT = 20, 7
"""Readings that tell what was usual, and those that tell what is now."""


@dataclass(frozen=True)
class Step:
    """A jump of the light: first day after it at `hours`, `share` of the light gained (loss below 0), and its cause.

    `tubes` is how many tubes would explain a loss, where the bank's number is known. At a calibration it is the unit
    that jumps; `share` then is without what the self-check says of dirt.
    """

    hours: float
    share: float
    cause: Cause
    tubes: int | None = None


def find_steps(
    days: Sequence[LampPoint],
    *,
    tube_count: int | None = None,
    swap_hours: Sequence[float] = (),
    calibration_hours: Sequence[float] = (),
    air_known: bool = False,
) -> list[Step]:
    """Every jump of a bank's light, oldest first, with its likely cause. `days` as `by_day` gives them, seasoned.

    `swap_hours` are the ages at which a single tube was changed; jumps there are expected. Those found at the ages
    `calibration_hours` come of the calibration. `air_known`: readings are corrected by a thermometer.
    """
    known = [h for h in swap_hours if days and days[0].hours < h <= days[-1].hours]
    decay = _fitted(days, _places(days, known, calibration_hours, air_known=air_known), air_known=air_known)
    if decay is None:
        return []
    steps = []
    for hours, log_share in decay.steps:
        share = math.expm1(log_share)
        if hours in known:
            steps.append(Step(hours, share, "swap"))
        elif abs(share) >= SMALLEST_STEP:
            steps.append(_named(days, hours, share, tube_count, calibration_hours))
    return steps


def _fitted(days: Sequence[LampPoint], places: list[float], *, air_known: bool) -> Decay | None:
    """The curve with its jumps, or None where none is left.

    Days about a jump that are odd themselves can look like two jumps; the fit then puts aside every day between them
    and cannot tell their heights. They are one jump.
    """
    while places:
        try:
            return fit_decay(days, step_hours=places, doubts=doubts_of(days, air_known=air_known))
        except ValueError:
            places = _joined(places, _days_between(days, places))
    return None


def _days_between(days: Sequence[LampPoint], places: list[float]) -> list[int]:
    """How many days lie before the first place, between each two, and from the last on."""
    marks = [-math.inf, *places, math.inf]
    return [sum(a <= p.hours < b for p in days) for a, b in itertools.pairwise(marks)]


def _joined(places: list[float], sizes: list[int]) -> list[float]:
    """Without one: of the shortest stretch the later end stays, from where on the light is steady again."""
    shortest = sizes.index(min(sizes))
    return [at_h for i, at_h in enumerate(places, 1) if i != max(1, shortest)]


def _places(
    days: Sequence[LampPoint], known: list[float], calibration_hours: Sequence[float], *, air_known: bool
) -> list[float]:
    """Ages at which a jump must be in the curve: those known, and those found one after the other."""
    clean = _without_strays(days)
    places = sorted(known)
    while places and 0 in (sizes := _days_between(clean, places)):  # tubes changed one after the other
        places = _joined(places, sizes)
    within = [i for i in range(BESIDE, len(clean) - BESIDE + 1) if i < len(clean)]
    sudden = {i for i in within if _within_a_day(clean, i, calibration_hours, air_known=air_known)}
    while sudden and len(places) < MOST_STEPS + len(known) and len(clean) >= FEWEST + len(places):
        candidate = _best_place(clean, places, sudden, air_known=air_known)
        if candidate is None:
            break
        places = sorted([*places, candidate])
    return places


def _within_a_day(
    days: Sequence[LampPoint], place: int, calibration_hours: Sequence[float], *, air_known: bool
) -> bool:
    """Whether the light jumped between a day and the one before it, by more than the room can do unseen."""
    before = [math.log(p.mw_cm2) for p in days[max(0, place - NEAR) : place]]
    after = [math.log(p.mw_cm2) for p in days[place : place + NEAR]]
    jump = statistics.median(after) - statistics.median(before)
    middle = statistics.median(before) + jump / 2
    if jump == 0 or (before[-1] - middle) * jump > 0 or (after[0] - middle) * jump < 0:
        return False
    if (statistics.fmean(after[:2]) - statistics.fmean(before[-2:])) / jump < WHOLE:
        return False
    at_h = days[place].hours
    moved = _check_move(days, at_h)
    explained = moved is not None and abs(moved) >= CHECK_SHARE * SMALLEST_STEP and moved * jump > 0
    if air_known or explained or any(_beside(days, at_h, hours) for hours in calibration_hours):
        return abs(jump) >= WHOLE * SMALLEST_STEP
    return abs(jump) >= ROOM_STEP + ROOM_PER_D * (days[place].day - days[place - 1].day - 1)


def _without_strays(days: Sequence[LampPoint]) -> list[LampPoint]:
    """Days that do not stand far off the five around them: a single stray is no jump."""
    logs = [math.log(p.mw_cm2) for p in days]
    if len(logs) < 5:
        return list(days)
    off = []
    for i, y in enumerate(logs):
        begin = min(max(0, i - 2), len(logs) - 5)
        off.append(y - statistics.median(logs[begin : begin + 5]))
    spread = max(1.4826 * statistics.median(abs(v) for v in off), 1e-9)
    return [p for p, v in zip(days, off, strict=True) if abs(v) <= 6 * spread]


def _best_place(days: Sequence[LampPoint], places: list[float], sudden: set[int], *, air_known: bool) -> float | None:
    """The place whose jump explains most, if it explains enough. F of one jump given the curve and earlier jumps.

    What is known beforehand of law and room stands before the days as more observations, or a bend or a season would
    look like a jump; that neighbouring days err alike makes F smaller.
    """
    try:
        decay = fit_decay(days, step_hours=places, doubts=doubts_of(days, air_known=air_known), sturdy=False)
    except ValueError:
        return None
    seen = observed(decay, days)
    rest = seen.rest(decay.coefficients)
    basis = _orthonormal(seen.columns, seen.weights)
    tails = [_tails([w * v for w, v in zip(seen.weights, column, strict=True)]) for column in basis]
    rest_tail = _tails([w * r for w, r in zip(seen.weights, rest, strict=True)])
    weight_tail = _tails(seen.weights)
    chi2 = math.fsum(w * r * r for w, r in zip(seen.weights, rest, strict=True))
    best, best_f = None, STEP_LIMIT * worth_of(decay.alike)
    marks = [0, *(next(i for i, p in enumerate(days) if p.hours >= at_h) for at_h in places), len(days)]
    for i in sorted(sudden):
        if min(abs(i - mark) for mark in marks) < BESIDE:
            continue
        at = i + seen.first  # behind what is known beforehand
        free = weight_tail[at] - math.fsum(tail[at] ** 2 for tail in tails)
        if free <= 1e-9 * weight_tail[seen.first]:
            continue
        gain = rest_tail[at] ** 2 / free
        f = gain * decay.dof / max(chi2 - gain, 1e-12)
        if f > best_f and abs(rest_tail[at] / free) >= SMALLEST_STEP:
            best, best_f = days[i].hours, f
    return best


def _orthonormal(columns: list[list[float]], weights: list[float]) -> list[list[float]]:
    """Gram-Schmidt, twice for the sake of the last digits."""
    basis: list[list[float]] = []
    for column in columns:
        vector = list(column)
        for _ in range(2):
            for other in basis:
                share = math.fsum(w * a * b for w, a, b in zip(weights, vector, other, strict=True))
                vector = [a - share * b for a, b in zip(vector, other, strict=True)]
        length = math.sqrt(math.fsum(w * a * a for w, a in zip(weights, vector, strict=True)))
        if length > 1e-9:
            basis.append([a / length for a in vector])
    return basis


def _tails(values: Sequence[float]) -> list[float]:
    """Sum from each place to the end."""
    sums, total = [0.0] * len(values), 0.0
    for i in range(len(values) - 1, -1, -1):
        total += values[i]
        sums[i] = total
    return sums


def _named(
    days: Sequence[LampPoint], hours: float, share: float, tube_count: int | None, calibration_hours: Sequence[float]
) -> Step:
    moved = _check_move(days, hours)
    if any(_beside(days, hours, at_h) for at_h in calibration_hours):
        return Step(hours, (1 + share) / (1 + (moved or 0.0)) - 1, "calibrated")
    if moved is not None and moved / share >= CHECK_SHARE:
        return Step(hours, share, "fouling" if share < 0 else "cleaned")
    if share > 0:
        return Step(hours, share, "unknown_swap")
    if tube_count:
        tubes = round(-share * tube_count)
        if tubes >= 1 and abs(-share - tubes / tube_count) <= 0.4 / tube_count:
            return Step(hours, share, "tube_out", tubes)
    return Step(hours, share, "loss")


def _beside(days: Sequence[LampPoint], hours: float, at_h: float) -> bool:
    """Whether `at_h` lies between the days about a jump, give or take one: its place is known no better."""
    place = next(i for i, p in enumerate(days) if p.hours >= hours)
    return days[max(0, place - 2)].hours < at_h <= days[min(len(days) - 1, place + 1)].hours


def _check_move(days: Sequence[LampPoint], hours: float) -> float | None:
    """By what share the sensor's own reference reading changed across a jump; None where none was taken."""
    before = [p.self_check for p in days if p.self_check is not None and p.hours < hours][-5:]
    after = [p.self_check for p in days if p.self_check is not None and p.hours >= hours][:5]
    if not before or not after:
        return None
    return statistics.median(after) / statistics.median(before) - 1


def dirt(days: Sequence[LampPoint]) -> float | None:
    """Share of the sensor's own reference light that was lost slowly since the first reading; None where unknown."""
    checks = [p.self_check for p in days if p.self_check is not None]
    if len(checks) < FEWEST:
        return None
    return 1 - statistics.median(checks[-5:]) / statistics.median(checks[:5])


def without_dirt(days: Sequence[LampPoint]) -> list[LampPoint]:
    """The same light with the dirt's share taken out, by the latest self-check before each day."""
    found, check = [], 1.0
    for point in days:
        check = point.self_check if point.self_check is not None else check
        found.append(LampPoint(point.hours, point.mw_cm2 / check, point.day, point.weight, point.self_check))
    return found


def in_present_unit(days: Sequence[LampPoint], steps: Sequence[Step]) -> list[LampPoint]:
    """The same light, that before a calibration counted as the present one does. The jump's own error is left out."""
    found = list(days)
    for step in steps:
        if step.cause == "calibrated":
            found = [replace(p, mw_cm2=p.mw_cm2 * (1 + step.share)) if p.hours < step.hours else p for p in found]
    return found


@dataclass(frozen=True)
class Wear:
    """A sign of wear: what was `usual` for these lamps, what is `now`, and whether now stands `clear` above it."""

    usual: float
    now: float
    clear: bool


def wear_of(values: Sequence[float], *, smallest: float) -> Wear | None:
    """Judge a sign of wear (seconds to strike or to warm up, swing of the light), oldest first; None while too few.

    Clear: the recent median lies above the usual one by `smallest` and by five times the usual spread.
    `values` are in one unit, s or shares of 1, as is `smallest`.
    """
    if len(values) < SIGN_BASE + SIGN_RECENT:
        return None
    base = values[:SIGN_BASE]
    usual = statistics.median(base)
    spread = 1.4826 * statistics.median(abs(v - usual) for v in base)
    now = statistics.median(values[-SIGN_RECENT:])
    return Wear(usual, now, now - usual > max(smallest, 5 * spread / math.sqrt(SIGN_RECENT)))


def flicker(light: Sequence[float]) -> float:
    """Relative rms swing of conversions in a row about their own straight line, so that warming up does not count.

    0.25 is a slow ripple of 35 %. Conversions last a whole number of mains half-periods, so the ripple of sound tubes
    averages out and only slower flicker is left. Raises ValueError for fewer than three readings or none with light.
    `light` is in any unit, one for all.
    """
    count = len(light)
    mean = statistics.fmean(light) if count > 2 else 0.0
    if mean <= 0:
        raise ValueError("flicker needs at least three readings with light")
    middle = (count - 1) / 2
    slope = math.fsum((i - middle) * v for i, v in enumerate(light)) / math.fsum(
        (i - middle) ** 2 for i in range(count)
    )
    rest = [v - mean - slope * (i - middle) for i, v in enumerate(light)]
    return math.sqrt(math.fsum(r * r for r in rest) / count) / mean
