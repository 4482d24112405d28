"""Strong light for a short time or weak light for long: whether the same dose does the same.

Schwarzschild's form (from memory): the effect is the same for the same E * t^p. With p = 1 dose alone counts (the
reciprocity law of Bunsen and Roscoe, IES definition); UV-cured resins are known to depart from it. It follows that the
dose needed grows as E^(1 - 1/p).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sumlight.light.straight import fit_line
from sumlight.text.message import Message, joined, say

FARTHEST = 2.0
"""Factor between irradiances beyond which a recipe's dose is not to be trusted (common practice, no source)."""

SMALLEST_RANGE = 1.2
"""Irradiances must differ at least by this factor for a fit."""


@dataclass(frozen=True)
class Exponent:
    """p with its standard uncertainty; `clear` says whether it differs from 1 by more than twice that."""

    p: float
    standard: float
    clear: bool


def dose_factor(mw_cm2: float, reference_mw_cm2: float, p: float = 1.0) -> float:
    """Factor on a dose found at the reference irradiance when the light is now `mw_cm2`.

    `p` is Schwarzschild's exponent, 1 where reciprocity holds.
    """
    _check(mw_cm2, reference_mw_cm2, p)
    return math.pow(mw_cm2 / reference_mw_cm2, 1 - 1 / p)


def effective_mw_cm2(mw_cm2: float, reference_mw_cm2: float, p: float = 1.0) -> float:
    """What an irradiance is worth at the reference: summed over time it gives the effective dose, mJ/cm².

    `p` is Schwarzschild's exponent, 1 where reciprocity holds.
    """
    _check(max(mw_cm2, 1e-12), reference_mw_cm2, p)
    return 0.0 if mw_cm2 <= 0 else mw_cm2 / dose_factor(mw_cm2, reference_mw_cm2, p)


def fit_exponent(found: Sequence[tuple[float, float, float]]) -> Exponent:
    """p from doses of equal effect at two or more irradiances: (mW/cm², mJ/cm², standard uncertainty of ln dose).

    Weighted least squares of ln dose on ln irradiance; slope b gives p = 1/(1 - b). Raises ValueError when the
    irradiances are too much alike or the doses impossible. `found` is in the units above, one entry a dose.
    """
    if len(found) < 2 or any(not (e > 0 and h > 0 and s > 0) for e, h, s in found):
        raise ValueError(say("two_irradiances"))
    irradiances = [e for e, _, _ in found]
    if max(irradiances) < SMALLEST_RANGE * min(irradiances):
        raise ValueError(say("irradiances_differ", factor=SMALLEST_RANGE))
    line = fit_line(
        [math.log(e) for e in irradiances], [math.log(h) for _, h, _ in found], sigmas=[s for *_, s in found]
    )
    if line.slope >= 0.9:
        raise ValueError(say("no_exponent"))
    p = 1 / (1 - line.slope)
    standard = line.slope_sigma * p * p
    return Exponent(p, standard, abs(p - 1) > 2 * standard)


def in_words(found: Exponent) -> Message:
    """What an exponent means for the dose, with its interval (k = 2)."""
    slope, doubt = 1 - 1 / found.p, 2 * found.standard / found.p**2
    low, high = (math.pow(0.5, slope + sign * doubt) for sign in (1, -1))
    half = say("at_half_the_light", low=low, high=high)
    p, doubt_p = found.p, 2 * found.standard
    if not found.clear:
        return joined(say("dose_holds", p=p, doubt=doubt_p), half)
    advice = say("write_p_into_recipe", p=p)
    if p < 1:
        return joined(say("weak_light_does_less", p=p, doubt=doubt_p), half, advice)
    return joined(say("weak_light_does_more", p=p, doubt=doubt_p), half, advice)


def warning(mw_cm2: float, reference_mw_cm2: float) -> Message | None:
    """A sentence when the light is more than a factor of two from where the recipe was found, else None."""
    _check(mw_cm2, reference_mw_cm2, 1.0)
    ratio = mw_cm2 / reference_mw_cm2
    if 1 / FARTHEST <= ratio <= FARTHEST:
        return None
    if ratio > 1:
        return say("light_stronger", factor=ratio, light_mw_cm2=reference_mw_cm2)
    return say("light_weaker", factor=1 / ratio, light_mw_cm2=reference_mw_cm2)


def _check(mw_cm2: float, reference_mw_cm2: float, p: float) -> None:
    if not (mw_cm2 > 0 and reference_mw_cm2 > 0):
        raise ValueError(f"irradiances must be above 0 mW/cm², not {mw_cm2} and {reference_mw_cm2}")
    if not 0.3 <= p <= 3:
        raise ValueError(f"p must lie between 0.3 and 3, not {p}")
