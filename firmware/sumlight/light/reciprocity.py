"""Strong light for a short time or weak light for long: whether the same dose does the same.

Schwarzschild's form (from memory): the effect is the same for the same E * t^p. With p = 1 dose alone counts (the
reciprocity law of Bunsen and Roscoe, IES definition); UV-cured resins are known to depart from it. It follows that the
dose needed grows as E^(1 - 1/p).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sumlight.light.straight import fit_line

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
    """Factor on a dose found at the reference irradiance when the light is now `mw_cm2`."""
    _check(mw_cm2, reference_mw_cm2, p)
    return math.pow(mw_cm2 / reference_mw_cm2, 1 - 1 / p)


def effective_mw_cm2(mw_cm2: float, reference_mw_cm2: float, p: float = 1.0) -> float:
    """What an irradiance is worth at the reference: summed over time it gives the effective dose, mJ/cm²."""
    _check(max(mw_cm2, 1e-12), reference_mw_cm2, p)
    return 0.0 if mw_cm2 <= 0 else mw_cm2 / dose_factor(mw_cm2, reference_mw_cm2, p)


def fit_exponent(found: Sequence[tuple[float, float, float]]) -> Exponent:
    """p from doses of equal effect at two or more irradiances: (mW/cm², mJ/cm², standard uncertainty of ln dose).

    Weighted least squares of ln dose on ln irradiance; slope b gives p = 1/(1 - b). Raises ValueError when the
    irradiances are too much alike or the doses impossible.
    """
    if len(found) < 2 or any(not (e > 0 and h > 0 and s > 0) for e, h, s in found):
        raise ValueError("at least two irradiances with doses and uncertainties above 0 are needed")
    irradiances = [e for e, _, _ in found]
    if max(irradiances) < SMALLEST_RANGE * min(irradiances):
        raise ValueError(f"irradiances must differ by a factor of {SMALLEST_RANGE} at least; change the light more")
    line = fit_line(
        [math.log(e) for e in irradiances], [math.log(h) for _, h, _ in found], sigmas=[s for *_, s in found]
    )
    if line.slope >= 0.9:
        raise ValueError(
            "the doses rise almost with the irradiance itself; no exponent describes that, read them again"
        )
    p = 1 / (1 - line.slope)
    standard = line.slope_sigma * p * p
    return Exponent(p, standard, abs(p - 1) > 2 * standard)


def in_words(found: Exponent) -> str:
    """What an exponent means for the dose, with its interval (k = 2)."""
    told = f"p = {found.p:.2f} ± {2 * found.standard:.2f} (k = 2)"
    slope, doubt = 1 - 1 / found.p, 2 * found.standard / found.p**2
    low, high = (math.pow(0.5, slope + sign * doubt) for sign in (1, -1))
    half = f"At half the light the resist needs {low:.2f} to {high:.2f} times the dose."
    if not found.clear:
        return f"The dose holds as far as these readings tell: {told}. {half}"
    word = "less" if found.p < 1 else "more"
    advice = f"Write p = {found.p:.2f} into the recipe, with the light at which its dose was found."
    return f"Weak light does {word} than its dose says: {told}. {half} {advice}"


def warning(mw_cm2: float, reference_mw_cm2: float) -> str | None:
    """A sentence when the light is more than a factor of two from where the recipe was found, else None."""
    _check(mw_cm2, reference_mw_cm2, 1.0)
    ratio = mw_cm2 / reference_mw_cm2
    if 1 / FARTHEST <= ratio <= FARTHEST:
        return None
    word, factor = ("stronger", ratio) if ratio > 1 else ("weaker", 1 / ratio)
    return (
        f"The light is {factor:.1f} times {word} than where this recipe was found ({reference_mw_cm2:.3g} mW/cm²): "
        "the same dose may not do the same, check with a step tablet."
    )


def _check(mw_cm2: float, reference_mw_cm2: float, p: float) -> None:
    if not (mw_cm2 > 0 and reference_mw_cm2 > 0):
        raise ValueError(f"irradiances must be above 0 mW/cm², not {mw_cm2} and {reference_mw_cm2}")
    if not 0.3 <= p <= 3:
        raise ValueError(f"p must lie between 0.3 and 3, not {p}")
