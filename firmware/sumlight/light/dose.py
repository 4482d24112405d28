"""Radiant exposure (dose) from a chain of conversions, and what it is worth.

A conversion is itself the integral of the light over its window. As long as one follows the other, their averages
times the time between their ends add up to the dose; only where conversions are missing is anything interpolated.
"""

import math

CONTIGUOUS = 1.5
"""Conversions whose ends lie less than this many windows apart follow each other without a gap."""

BRIDGE_DOUBT = 0.05
"""Share of a bridged dose that stays in doubt even if the light before and after the gap was the same."""


class DoseSum:
    """Running dose of one side in mJ/cm²; never falls.

    `window_s` is the length of a conversion; `dose_mj_cm2` and `doubt_mj_cm2` may start from an earlier part of the
    same exposure. The doubt is half the width of the interval that the dose may really lie in.
    """

    def __init__(self, window_s: float, dose_mj_cm2: float = 0.0, doubt_mj_cm2: float = 0.0) -> None:
        self.window_s = window_s
        self.dose_mj_cm2 = dose_mj_cm2
        self.doubt_mj_cm2 = doubt_mj_cm2
        self._end_s: float | None = None
        self._mw_cm2 = 0.0

    def begin(self, dark_end_s: float) -> None:
        """Start, or start again after darkness: `dark_end_s` is the end of the last conversion before light."""
        self._end_s = dark_end_s
        self._mw_cm2 = 0.0

    def add(self, end_s: float, mw_cm2: float) -> None:
        """Count one conversion that ended at `end_s` with a mean irradiance of `mw_cm2` at the resist.

        Raises ValueError if `begin` was not called, or if the conversion does not lie after the one before.
        """
        if self._end_s is None:
            raise ValueError("begin() must name the end of the last dark conversion first")
        span_s = end_s - self._end_s
        if span_s <= 0:
            raise ValueError(f"a conversion ending at {end_s} s does not follow one ending at {self._end_s} s")
        light = max(0.0, mw_cm2)
        if span_s <= CONTIGUOUS * self.window_s:
            self.dose_mj_cm2 += light * span_s
        else:
            gap_s = span_s - self.window_s
            bridged = 0.5 * (light + self._mw_cm2) * gap_s
            self.dose_mj_cm2 += light * self.window_s + bridged
            self.doubt_mj_cm2 += 0.5 * abs(light - self._mw_cm2) * gap_s + BRIDGE_DOUBT * bridged
        self._end_s, self._mw_cm2 = end_s, light

    def assume(self, dose_mj_cm2: float, doubt_mj_cm2: float) -> None:
        """End the chain with a dose that was worked out, not measured: the light ended unseen.

        The dose never falls by it; `doubt_mj_cm2` is added to the doubt.
        """
        self.dose_mj_cm2 = max(self.dose_mj_cm2, dose_mj_cm2)
        self.doubt_mj_cm2 += doubt_mj_cm2
        self._end_s = None


def expanded_uncertainty_mj_cm2(dose_mj_cm2: float, doubt_mj_cm2: float, calibration_uncertainty: float) -> float:
    """Expanded uncertainty (k = 2) of a dose, after JCGM 100:2008.

    Combines the relative standard uncertainty of the calibration with the doubt left by bridged gaps, taken as a
    rectangular distribution of that half-width (4.3.7). Further components join with the full budget.
    `calibration_uncertainty` is a share of 1.
    """
    calibration = dose_mj_cm2 * calibration_uncertainty
    bridging = doubt_mj_cm2 / math.sqrt(3)
    return 2 * math.hypot(calibration, bridging)


def exposure_time_s(dose_mj_cm2: float, mw_cm2: float) -> float:
    """Time for a dose at constant irradiance: t = H / E. Raises ValueError unless `mw_cm2` is above zero."""
    if mw_cm2 <= 0:
        raise ValueError(f"irradiance must be above 0 mW/cm², not {mw_cm2}")
    return dose_mj_cm2 / mw_cm2
