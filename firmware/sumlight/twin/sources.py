"""What shines: the kinds of lamps a box may have, daylight, and the sensor board's own white LED.

A lamp's light is a band (of the phosphor, or of an LED) and lines (of mercury, with a trace of the filling gas);
both are counted apart because they age apart. Shapes and powers are invented or from memory unless a source is
named: they make the twin plausible, they are no data of any product.
"""

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal, get_args

from sumlight.light.lines import G_LINE_NM, H_LINE_NM, I_LINE_NM

LampTypeName = Literal["fluorescent", "other_fluorescent", "led_365", "led_385", "led_395", "led_405"]
Ageing = Literal["apart", "alike"]

E_LINE_NM: Final = 546.07
"""Green mercury line (from memory); the dark glass of ordinary UV-A tubes keeps it back."""
ARGON_NM: Final = 912.30
"""A near-infrared line of the filling gas (from memory)."""

SEASONED_HOURS = 100.0
"""Lamps count as new after so many hours (reference values §3); nominal powers are meant then."""


@dataclass(frozen=True)
class Fade:
    """How one part of a lamp's light falls with the hours of burning: fast at first, then slowly."""

    early_loss: float
    per_hour: float

    def left(self, hours: float) -> float:
        """Light left after `hours`, 1 when new."""
        return (1 - self.early_loss * (1 - math.exp(-hours / EARLY_HOURS))) * math.exp(-self.per_hour * hours)

    @cached_property
    def seasoned(self) -> float:
        """Light left once the lamps count as new."""
        return self.left(SEASONED_HOURS)


EARLY_HOURS = 43.0
"""Time constant of the first loss (invented; the estimator's own guess is another one)."""
LIFE_HOURS = 1500.0
"""What the two laws below are fixed at: phosphor 60 %, lines 85 % of new (the project's own figures)."""

ALIKE = Fade(0.08, 1.5e-4)
"""One law for all of the light (common practice, no source)."""
PHOSPHOR = Fade(0.083, math.log(0.917 / 0.60) / LIFE_HOURS)
LINES = Fade(0.028, math.log(0.972 / 0.85) / LIFE_HOURS)
LED = Fade(0.0, math.log(1 / 0.7) / 4480.0)
"""30 % less after 4480 h of steady light (a life test of 365 nm LEDs, source L17 of the trade notes)."""


@dataclass(frozen=True)
class LampType:
    """One kind of lamp.

    The band is a bell around `peak_nm`; `lines` are (wavelength in nm, power over that of the band).
    `nominal_mw_cm2` is the actinic irradiance at the middle of the glass under a seasoned bank at 25 °C.
    """

    name: str
    peak_nm: float
    fwhm_nm: float
    lines: tuple[tuple[float, float], ...]
    nominal_mw_cm2: float

    @cached_property
    def is_led(self) -> bool:
        """LEDs need no strike, have no ripple, do not care for mains voltage and have no mercury."""
        return not self.lines

    def fades(self, ageing: Ageing) -> tuple[Fade, Fade]:
        """How band and lines age."""
        if self.is_led:
            return LED, LED
        return (PHOSPHOR, LINES) if ageing == "apart" else (ALIKE, ALIKE)

    def density(self, wavelength_nm: float) -> float:
        """The band's light per nm for a band of power 1."""
        return gaussian(wavelength_nm, self.peak_nm, self.fwhm_nm) / (self.fwhm_nm * GAUSS_AREA)


GAUSS_AREA = math.sqrt(math.pi / (4 * math.log(2)))
"""Area of a bell of height 1 and full width 1 at half maximum."""

LED_FWHM_NM = 15.0
"""Width of a UV LED (as in the reference values, §1)."""

LAMP_TYPES: dict[str, LampType] = {
    lamp.name: lamp
    for lamp in (
        # A common UV-A phosphor behind dark glass (band from memory, line powers invented).
        LampType(
            "fluorescent",
            368.0,
            18.0,
            ((I_LINE_NM, 0.06), (H_LINE_NM, 0.035), (G_LINE_NM, 0.030), (ARGON_NM, 3e-4)),
            5.0,
        ),
        # Another phosphor in clear glass, which lets all of the mercury's light out.
        LampType(
            "other_fluorescent",
            352.0,
            38.0,
            ((I_LINE_NM, 0.075), (H_LINE_NM, 0.055), (G_LINE_NM, 0.075), (E_LINE_NM, 0.04), (ARGON_NM, 3e-4)),
            4.0,
        ),
        LampType("led_365", 365.0, LED_FWHM_NM, (), 5.0),
        LampType("led_385", 385.0, LED_FWHM_NM, (), 6.0),
        LampType("led_395", 395.0, LED_FWHM_NM, (), 6.0),
        LampType("led_405", 405.0, LED_FWHM_NM, (), 4.0),
    )
}

LAMP_TYPE_NAMES: tuple[LampTypeName, ...] = get_args(LampTypeName)


def gaussian(wavelength_nm: float, peak_nm: float, fwhm_nm: float) -> float:
    """A bell of height 1 with the given full width at half maximum."""
    return math.exp(-4 * math.log(2) * ((wavelength_nm - peak_nm) / fwhm_nm) ** 2)


def daylight_density(wavelength_nm: float) -> float:
    """Daylight per nm for 1 mW/cm² between 400 and 700 nm: level there, stronger in the near infrared."""
    if wavelength_nm < 400 or wavelength_nm > 1000:
        return 0.0
    return (1.0 if wavelength_nm <= 700 else 1.6) / 300.0


def white_led_density(wavelength_nm: float) -> float:
    """The board's white LED per nm for power 1: blue die and yellow phosphor, nothing below 400 nm (from memory)."""
    if wavelength_nm < 400:
        return 0.0
    blue = gaussian(wavelength_nm, 452.0, 20.0) / (20.0 * GAUSS_AREA)
    yellow = gaussian(wavelength_nm, 560.0, 120.0) / (120.0 * GAUSS_AREA)
    return 0.3 * blue + 0.7 * yellow
