"""How long a leak of ultraviolet light may fall on eyes and skin. Pure.

Limits for a working day of eight hours, as Directive 2006/25/EC (Annex I, limits a and b) takes them over from ICNIRP's
guidelines of 2004, and IEC 62471:2006 (4.3.1, 4.3.2) with it:

* 30 J/m², weighted with S(λ) from 180 to 400 nm: skin and front of the eye;
* 10 000 J/m², unweighted, from 315 to 400 nm: lens of the eye. IEC 62471 lets 10 W/m² stand for longer than 1000 s;
  the Directive does not and is followed here: its 10 000 J/m² are for the whole day.

S(λ) is ICNIRP's function for 300 to 400 nm (2004, equation 2c). It lies up to 29 % above the printed table, and below
it by rounding only, so that times come out shorter. The limits protect healthy adults, not people whom medicines or
illness make sensitive to light, nor eyes after a cataract operation.
"""

import math
from dataclasses import dataclass

from sumlight.text.message import Message, say

DAY_S = 30_000.0
"""Eight hours, rounded as IEC 62471 does for its exempt group."""

ACTINIC_LIMIT_J_M2 = 30.0
UVA_LIMIT_J_M2 = 10_000.0
UVA_STEADY_LIMIT_W_M2 = 10.0
"""IEC 62471's limit for longer than 1000 s, told for comparison."""

UVA_NM = (315.0, 400.0)
WEIGHTED_NM = (300.0, 400.0)
W_M2_PER_MW_CM2 = 10.0


@dataclass(frozen=True)
class Leak:
    """What is let through: `uva_w_m2` from 315 to 400 nm, `effective_w_m2` weighted with S(λ), and for how long.

    `permitted_s` is the smaller of both times, in seconds a day; infinite for no light at all. `limit` names the one
    that governs.
    """

    uva_w_m2: float
    effective_w_m2: float
    uva_s: float
    actinic_s: float

    @property
    def permitted_s(self) -> float:
        """The longest time a day with eyes or skin in this light."""
        return min(self.uva_s, self.actinic_s)

    @property
    def limit(self) -> str:
        """Which of the two limits governs: uva or actinic."""
        return "uva" if self.uva_s <= self.actinic_s else "actinic"

    @property
    def harmless_all_day(self) -> bool:
        """Whether it may be looked into for a whole working day."""
        return self.permitted_s >= DAY_S


def actinic_weight(wavelength_nm: float) -> float:
    """Return S(λ), dimensionless; 0 above 400 nm. Raises ValueError below 300 nm, where this form does not hold."""
    low_nm, high_nm = WEIGHTED_NM
    if wavelength_nm < low_nm:
        raise ValueError(f"S is given from {low_nm:g} nm on here; {wavelength_nm:g} nm is below that")
    if wavelength_nm > high_nm:
        return 0.0
    return float(0.3 * 0.736 ** (wavelength_nm - low_nm) + 10 ** (2 - 0.0163 * wavelength_nm))


def leak(irradiance_mw_cm2: float, wavelength_nm: float = 365.0) -> Leak:
    """Judge a leak measured as `irradiance_mw_cm2`, all of it taken to be at `wavelength_nm`.

    Lamps are not of one wavelength: give the shortest at which they are strong, which weighs heaviest.
    Raises ValueError for a negative or endless irradiance.
    """
    if not (math.isfinite(irradiance_mw_cm2) and irradiance_mw_cm2 >= 0):
        raise ValueError(f"an irradiance is a number from 0 on; {irradiance_mw_cm2} mW/cm² is none")
    return leak_of_spectrum([(wavelength_nm, irradiance_mw_cm2)])


def leak_of_spectrum(lines: list[tuple[float, float]]) -> Leak:
    """Judge a leak given as (wavelength_nm, irradiance_mw_cm2) of each band or line. `lines` are in nm and mW/cm²."""
    uva = effective = 0.0
    for wavelength_nm, irradiance_mw_cm2 in lines:
        w_m2 = irradiance_mw_cm2 * W_M2_PER_MW_CM2
        effective += w_m2 * actinic_weight(wavelength_nm)
        if UVA_NM[0] <= wavelength_nm <= UVA_NM[1]:
            uva += w_m2
    return Leak(uva, effective, _time(UVA_LIMIT_J_M2, uva), _time(ACTINIC_LIMIT_J_M2, effective))


def permitted_mw_cm2(seconds: float, wavelength_nm: float = 365.0) -> float:
    """Return the strongest irradiance, in mW/cm², that may fall on eyes and skin for `seconds` a day.

    Raises ValueError unless `seconds` is above 0.
    """
    if not seconds > 0:
        raise ValueError(f"a time is above 0; {seconds} s is not")
    weight = actinic_weight(wavelength_nm)
    found = [ACTINIC_LIMIT_J_M2 / weight / seconds] if weight else []
    if UVA_NM[0] <= wavelength_nm <= UVA_NM[1]:
        found.append(UVA_LIMIT_J_M2 / seconds)
    return min(found, default=math.inf) / W_M2_PER_MW_CM2


def in_words(seconds: float) -> Message:
    """A permitted time as people say it, rounded down."""
    if seconds >= DAY_S:
        return say("whole_working_day")
    if seconds >= 3600:
        return say("hours_a_day", hours=math.floor(seconds / 360) / 10)
    if seconds >= 120:
        return say("minutes_a_day", minutes=math.floor(seconds / 60))
    return say("seconds_a_day", seconds=math.floor(seconds))


def _time(limit_j_m2: float, w_m2: float) -> float:
    return limit_j_m2 / w_m2 if w_m2 > 0 else math.inf
