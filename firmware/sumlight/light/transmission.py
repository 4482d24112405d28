"""What sheets let through, measured in the box, and how much dose an artwork allows.

Formulas: transmittance density D = -log10 T (ISO 5-2); reflection of a surface R = ((n - 1)/(n + 1))² (Fresnel); a
clear plate with all inner reflections T = (1 - R)/(1 + R); absorption T = exp(-alpha d) (Beer and Lambert). Limits
of the verdicts are common practice, no source, unless another origin stands beside them.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from sumlight.text.message import Message, say

SEEN = 2.0
"""A signal below so many standard uncertainties counts as nothing seen."""


@dataclass(frozen=True)
class Reading:
    """Mean of a steady reading and its standard uncertainty, in any unit proportional to light."""

    value: float
    standard: float


@dataclass(frozen=True)
class Transmission:
    """Share of light that passes, with standard uncertainties, and the same as a density.

    `opaque` says that no light could be told from darkness: the density is then a lower bound.
    """

    value: float
    standard: float
    density: float
    density_standard: float
    opaque: bool = False


def measured(open_before: Reading, covered: Reading, dark: Reading, open_after: Reading | None = None) -> Transmission:
    """Transmission from a reading without the sheet, one with it and one in the dark.

    A second reading without the sheet brackets drift of the lamps: the two are averaged, and half their difference
    counts as the half-width of a rectangular distribution. Raises ValueError when the open reading does not stand
    out from the dark.
    """
    after = open_before if open_after is None else open_after
    open_value = 0.5 * (open_before.value + after.value)
    noise = open_before.standard if open_after is None else 0.5 * math.hypot(open_before.standard, after.standard)
    drift = 0.5 * abs(after.value - open_before.value) / math.sqrt(3)
    signal = open_value - dark.value
    if signal <= SEEN * math.hypot(noise, dark.standard):
        raise ValueError(say("open_reading_too_weak"))
    value = (covered.value - dark.value) / signal
    standard = math.hypot(covered.standard, value * noise, value * drift, (1 - value) * dark.standard) / signal
    return of(value, standard)


def of(value: float, standard: float) -> Transmission:
    """Make a transmission of its number; a value above 1 by no more than the noise counts as 1. Raises ValueError.

    `value` and `standard`, its standard uncertainty, are shares of 1.
    """
    if value > 1 + 3 * standard + 0.02:
        raise ValueError(say("transmission_above_one", value=value))
    if not (standard >= 0 and math.isfinite(value)):
        raise ValueError(say("transmission_not_finite"))
    value = min(value, 1.0)
    opaque = value <= SEEN * standard or value <= 0
    bound = max(value, 0.0) + SEEN * standard if opaque else value
    if bound <= 0:
        return Transmission(0.0, 0.0, math.inf, 0.0, opaque=True)
    return Transmission(max(value, 0.0), standard, -math.log10(bound), standard / bound / math.log(10), opaque)


def stack(sheets: Sequence[Transmission]) -> Transmission:
    """Sheets on top of each other: transmissions multiply, relative uncertainties add in quadrature.

    Reflections between the sheets are left out; they add up to 0.2 % per pair of clear films (R² at n = 1.5).
    """
    if not sheets:
        return Transmission(1.0, 0.0, 0.0, 0.0)
    value = math.prod(sheet.value for sheet in sheets)
    if value == 0:
        return of(0.0, max(sheet.standard for sheet in sheets))
    relative = math.sqrt(math.fsum((sheet.standard / sheet.value) ** 2 for sheet in sheets))
    return of(value, value * relative)


def reflectance(n: float, angle_deg: float = 0.0) -> float:
    """Work out the unpolarised reflectance of one surface of refractive index n in air (Fresnel), 0 to below 90°.

    Raises ValueError for an index below 1 or another angle. `n` has no unit.
    """
    if n < 1 or not 0 <= angle_deg < 90:
        raise ValueError(f"n must be at least 1 and the angle 0 to below 90°, not {n} and {angle_deg}")
    cos_in = math.cos(math.radians(angle_deg))
    cos_out = math.sqrt(1 - (math.sin(math.radians(angle_deg)) / n) ** 2)
    s = (cos_in - n * cos_out) / (cos_in + n * cos_out)
    p = (n * cos_in - cos_out) / (n * cos_in + cos_out)
    return 0.5 * (s * s + p * p)


def plate(n: float, *, internal: float = 1.0, all_reflections: bool = True) -> float:
    """Work out a plate's transmission at right angles; its material passes `internal` of the light on one way through.

    With all inner reflections (1-R)² t / (1 - R² t²), for a lossless plate 2n/(n² + 1); else one pass, (1-R)² t.
    Raises ValueError for `internal` outside 0 to 1. `n` is the refractive index.
    """
    if not 0 <= internal <= 1:
        raise ValueError(f"internal must lie between 0 and 1, not {internal}")
    r = reflectance(n)
    once = (1 - r) ** 2 * internal
    return once / (1 - (r * internal) ** 2) if all_reflections else once


def absorption_per_um(internal: float, thickness_um: float) -> float:
    """Work out the natural absorption coefficient, per µm, from what passes through a thickness. Raises ValueError.

    `internal` is the share of 1 that passes.
    """
    if not (0 < internal <= 1 and thickness_um > 0):
        raise ValueError("internal must lie above 0 and up to 1, thickness_um above 0")
    return -math.log(internal) / thickness_um


def internal_transmission(per_um: float, thickness_um: float) -> float:
    """Share that passes through a thickness: exp(-alpha d)."""
    return math.exp(-per_um * thickness_um)


BLOCKS_BELOW = 0.7
DOUBT_BELOW = 0.85
"""Limits for (transmission of the clear channel) / (transmission at 415 nm)."""
DARK_BELOW = 0.5
"""A sheet meant to be clear that passes less than half is named as well."""


@dataclass(frozen=True)
class SheetVerdict:
    """What kind of sheet was measured, in a word and in a sentence."""

    verdict: Literal["passes", "blocks_uv", "doubtful", "dim"]
    sentence: Message


def judge_sheet(at_415: Transmission, clear_channel: Transmission) -> SheetVerdict:
    """Tell a sheet that blocks UV from one that passes it.

    The 415 nm channel sees violet mercury lines, which a UV-blocking sheet passes; the clear channel sees the UV-A
    as well. If the sheet takes much more from the clear channel, UV is missing. Limit: a sheet that cuts only the
    shorter part of the lamp's band can pass as doubtful; a step tablet under the sheet decides then.
    """
    if at_415.opaque or clear_channel.opaque:
        return SheetVerdict("dim", say("sheet_opaque"))
    ratio = clear_channel.value / at_415.value
    doubt = 2 * ratio * math.hypot(at_415.standard / at_415.value, clear_channel.standard / clear_channel.value)
    if ratio + doubt < BLOCKS_BELOW:
        return SheetVerdict("blocks_uv", say("sheet_blocks_uv"))
    if ratio < DOUBT_BELOW:
        return SheetVerdict("doubtful", say("sheet_takes_more_uv"))
    if at_415.value < DARK_BELOW:
        return SheetVerdict("dim", say("sheet_dim", share=at_415.value))
    return SheetVerdict("passes", say("sheet_passes", share=at_415.value))


TABLET_STEP = 0.15
SAFE_STEPS = 2.0
"""Steps between the black areas' dose and the first trace of resist that count as safe."""


@dataclass(frozen=True)
class DoseWindow:
    """Doses at the resist under the clear areas, mJ/cm², between which this artwork works.

    Below `low_mj_cm2` the target step is not held. Above `high_mj_cm2` black areas begin to leave resist behind;
    `margin_steps` is what lies between, in tablet steps.
    """

    low_mj_cm2: float
    high_mj_cm2: float
    margin_steps: float
    verdict: Literal["safe", "thin", "bleeds"]
    sentence: Message


def dose_window(
    clear: Transmission,
    opaque: Transmission,
    *,
    dose_mj_cm2: float,
    held_step: float,
    clean_step: float,
    target_step: float | None = None,
) -> DoseWindow:
    """Work out the safe dose window of an artwork on a resist, in mJ/cm². Raises ValueError.

    At `dose_mj_cm2` the resist held `held_step` and was fully clean from `clean_step` on; `target_step` is what the
    job needs (the held one if left out). Black must add at least D(clean_step) to the clear film's density; two steps
    more are safe (derived in the project's trade notes, 1.4). A black that hides all light counts with the density it
    has at least.
    """
    if not dose_mj_cm2 > 0:
        raise ValueError(say("must_be_above_zero", field="dose_mj_cm2", value=dose_mj_cm2))
    if not 1 <= held_step < clean_step <= 21:
        raise ValueError(say("held_below_clean", held=held_step, clean=clean_step))
    low = dose_mj_cm2 * 10 ** (TABLET_STEP * ((held_step if target_step is None else target_step) - held_step))
    contrast = opaque.density - clear.density
    high = dose_mj_cm2 * 10 ** min(contrast - (0.05 + TABLET_STEP * (clean_step - 1)), 300.0)
    margin = math.log10(high / low) / TABLET_STEP
    if margin >= SAFE_STEPS:
        return DoseWindow(low, high, margin, "safe", say("steps_are_left", steps=margin))
    advice = say("print_denser")
    if margin >= 0:
        text = say("few_steps_left", steps=margin, safe=SAFE_STEPS, advice=advice)
        return DoseWindow(low, high, margin, "thin", text)
    text = say("black_leaves_resist", steps=-margin, advice=advice)
    return DoseWindow(low, high, margin, "bleeds", text)
