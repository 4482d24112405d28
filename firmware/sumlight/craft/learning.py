"""What came of panels says how right a recipe was: its dose, where its break point lies, how fast its metal is etched.

Each result is a guess at the right value with a spread, the recipe as it stands one more; they are weighted by their
precision (conjugate normal update), and where results scatter more than their spreads say the interval is widened by
the Birge ratio (Birge 1932, Phys. Rev. 40, 207; from memory). All of it in natural logarithms. Nothing is changed here.
"""

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from sumlight.craft import developing
from sumlight.craft.causes.table import TABLE
from sumlight.craft.chemistry import hazards
from sumlight.craft.tablet import PANEL_SIGMA, STEP_LN
from sumlight.text.doseunit import unit_of_dose
from sumlight.text.message import Message, say

What = Literal["dose", "break_point", "etch_rate"]

READ_OFF = math.hypot(STEP_LN / math.sqrt(12), PANEL_SIGMA)
"""A held step says the dose to within a step, evenly; panels scatter besides."""
SOUND_OFF = 2 * STEP_LN / math.sqrt(12)
"""A sound panel says that the dose was right to within a step each way (data sheet of a film, trade notes E1)."""
POINT_OFF = math.log(developing.LATEST / developing.EARLIEST) / math.sqrt(12)
"""Where break points of sound panels lie: 50 to 65 % of the dwell (trade notes E1)."""
RATE_KNOWN_OFF, RATE_OFF = 0.2, 0.15
"""How far off a rate is that a job holds, and one that was timed on a panel (common practice, no source)."""
NORMAL_95 = 1.959964
LEAST_CHANGE = 0.01
"""Less than a hundredth is not worth a new version."""

DOSE_CAUSES = ("underexposed", "overexposed")
POINT_CAUSES = ("underdeveloped", "overdeveloped")
TOO_MUCH_ETCH = "over_etched"
NEVER_THROUGH = ("etchant_spent", "etchant_cold", "acid_low", "uneven_etch", "one_face_starved", "metal_thicker")
VERDICT_CAUSES = {"too_little": "underexposed", "too_much": "overexposed"}
"""A person's verdict on a panel says the same as a confirmed cause."""


@dataclass(frozen=True)
class Result:
    """What is on record of one panel; None is unknown. Times in s, `used` the share of the etchant used before it.

    `verdict` is good, too_little, too_much or empty, `causes` are those that somebody confirmed. `etch` is the metal
    and the kind of bath, `depth_um` what was etched on each face. A `relative` dose is in the box's own units.
    """

    dose_mj_cm2: float | None = None
    verdict: str = ""
    causes: frozenset[str] = frozenset()
    held_step: float | None = None
    wanted_step: float | None = None
    clear_s: float | None = None
    developed_s: float | None = None
    etch: tuple[str, str] | None = None
    depth_um: float | None = None
    etched_s: float | None = None
    used: float | None = None
    relative: bool = False


@dataclass(frozen=True)
class Learned:
    """What the results of `panels` panels say: 95 % lie between `low` and `high`. `now` is what is set, if anything is.

    `etch` is the metal and the kind of bath that a rate is for. `apart`: what is set lies outside. A
    `relative` dose is in the box's own units: nothing outside it has checked them.
    """

    what: What
    now: float | None
    mid: float
    low: float
    high: float
    panels: int
    etch: tuple[str, str] | None = None
    relative: bool = False

    @property
    def apart(self) -> bool:
        """Whether what is set lies outside of the interval."""
        return self.now is not None and not self.low <= self.now <= self.high

    @property
    def worth_it(self) -> bool:
        """Whether putting it in would change anything."""
        return self.now is None or abs(math.log(self.mid / self.now)) >= LEAST_CHANGE


def dose(results: Iterable[Result], now_mj_cm2: float) -> Learned | None:
    """The dose in mJ/cm² that the results ask for; None while none says anything of it. Doses are of one scale."""
    known = list(results)
    found = _learned("dose", [_dose(result) for result in known], now_mj_cm2, SOUND_OFF)
    own = any(result.relative for result in known if result.dose_mj_cm2 is not None)
    return found and replace(found, relative=own)


def break_point(results: Iterable[Result], now: float | None) -> Learned | None:
    """The share of the dwell after which a panel of this recipe is clear; kept to what `developing` takes.

    `now` is the share of 1 in the recipe today.
    """
    found = _learned("break_point", [_point(result) for result in results], now or developing.BEST, POINT_OFF)
    if found is None:
        return None
    low, mid, high = (
        min(max(each, developing.EARLIEST), developing.LATEST) for each in (found.low, found.mid, found.high)
    )
    return Learned("break_point", found.now, mid, low, high, found.panels)


def etch_rate(results: Sequence[Result], etch: tuple[str, str], now_um_min: float | None) -> Learned | None:
    """What a fresh bath of a kind eats of a metal, in µm a minute on each side."""
    seen = [_rate(result) for result in results if result.etch == etch]
    found = _learned("etch_rate", seen, now_um_min, RATE_KNOWN_OFF)
    return found and Learned("etch_rate", found.now, found.mid, found.low, found.high, found.panels, etch)


def of_recipe(
    results: Sequence[Result],
    dose_mj_cm2: float | None,
    break_point_share: float | None,
    rates_um_min: Mapping[str, Mapping[str, float]] | None = None,
) -> list[Learned]:
    """All that the results of a recipe's panels say, beside what it holds: dose, break point and each etch rate.

    `rates_um_min` are the recipe's by metal and kind of bath.
    """
    rates = rates_um_min or {}
    found = [
        None if dose_mj_cm2 is None else dose(results, dose_mj_cm2),
        break_point(results, break_point_share),
        *(
            etch_rate(results, etch, rates.get(etch[0], {}).get(etch[1]))
            for etch in dict.fromkeys(each.etch for each in results if each.etch)
        ),
    ]
    return [each for each in found if each is not None]


def sentence(found: Learned) -> Message:
    """What to make of it."""
    low, mid, high, panels = found.low, found.mid, found.high, found.panels
    unit = unit_of_dose(relative=found.relative)
    match found.what:
        case "dose" if found.apart:
            return say("dose_apart", low=low, mid=mid, high=high, panels=panels, unit=unit)
        case "dose":
            return say("dose_agrees", low=low, high=high, panels=panels, unit=unit)
        case "break_point" if found.apart:
            return say("point_apart", low=low, mid=mid, high=high, panels=panels)
        case "break_point":
            return say("point_agrees", low=low, high=high, panels=panels)
    metal, bath = found.etch or ("", "")
    names = {"metal": hazards.NAMES[metal], "bath": hazards.NAMES[bath]}
    return say("rate_learned", low=low, mid=mid, high=high, panels=panels, metal=names["metal"], bath=names["bath"])


def _dose(result: Result) -> tuple[float, float] | None:
    if result.dose_mj_cm2 is None or result.dose_mj_cm2 <= 0:
        return None
    at = math.log(result.dose_mj_cm2)
    if result.held_step is not None and result.wanted_step is not None:
        return at + STEP_LN * (result.wanted_step - result.held_step), READ_OFF
    cause = _one_of(result.causes, DOSE_CAUSES) or VERDICT_CAUSES.get(result.verdict)
    if cause is not None:
        steps, off = TABLE[cause].moves["held_off"]
        return at - STEP_LN * steps, STEP_LN * off
    return (at, SOUND_OFF) if result.verdict == "good" else None


def _point(result: Result) -> tuple[float, float] | None:
    if not result.clear_s or not result.developed_s or result.developed_s <= result.clear_s:
        return None
    at = math.log(result.clear_s / result.developed_s)
    cause = _one_of(result.causes, POINT_CAUSES)
    if cause is not None:
        longer, off = TABLE[cause].moves["dwell_share"]
        return at + longer, off
    return (at, POINT_OFF) if result.verdict == "good" else None


def _rate(result: Result) -> tuple[float, float] | None:
    if not result.depth_um or not result.etched_s or result.causes.intersection(NEVER_THROUGH):
        return None
    fresh_s = result.etched_s * (1 - min(max(result.used or 0.0, 0.0), 0.9))
    at = math.log(result.depth_um / (fresh_s / 60))
    if TOO_MUCH_ETCH in result.causes:
        longer, off = TABLE[TOO_MUCH_ETCH].moves["etch_share"]
        return at + longer, math.hypot(off, RATE_OFF)
    return at, RATE_OFF


def _one_of(causes: Collection[str], these: Sequence[str]) -> str | None:
    """The one of a pair that was confirmed; both together say nothing."""
    found = [cause for cause in these if cause in causes]
    return found[0] if len(found) == 1 else None


def _learned(what: What, seen: Iterable[tuple[float, float] | None], now: float | None, off: float) -> Learned | None:
    told = [each for each in seen if each is not None]
    if not told:
        return None
    known = told if now is None else [(math.log(now), off), *told]
    mean, sigma = weighted(known)
    ends = (math.exp(mean + side * NORMAL_95 * sigma) for side in (-1, 0, 1))
    low, mid, high = ends
    return Learned(what, now, mid, low, high, len(told))


def weighted(seen: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Mean and standard uncertainty of values with their spreads, weighted by precision.

    Values that scatter more than they say widen it by the Birge ratio. Raises ValueError for none.
    `seen` holds (value, standard uncertainty), all in one unit.
    """
    if not seen:
        raise ValueError("nothing was seen")
    weights = [1 / off**2 for _value, off in seen]
    whole = math.fsum(weights)
    mean = math.fsum(weight * value for weight, (value, _off) in zip(weights, seen, strict=True)) / whole
    scatter = math.fsum(weight * (value - mean) ** 2 for weight, (value, _off) in zip(weights, seen, strict=True))
    birge = scatter / (len(seen) - 1) if len(seen) > 1 else 0.0
    return mean, math.sqrt(max(1.0, birge) / whole)
