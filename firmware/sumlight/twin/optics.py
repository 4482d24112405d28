"""Light by wavelength: what the lamps and the day emit, what the resist uses, what the sensor's channels see.

All spectra are sums over a grid of 1 nm, worked out once. Light is counted in two lamp components, the
phosphor band and the mercury lines, kept apart so that they can age apart; for now both age alike. The shapes
are from memory unless a source is named: they make the twin plausible, they are no data of any product.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

from sumlight.light.lines import G_LINE_NM, H_LINE_NM, I_LINE_NM

PHOSPHOR_PEAK_NM = 368.0
PHOSPHOR_FWHM_NM = 18.0
"""Band of a common UV-A phosphor (from memory)."""

LINE_POWER = {I_LINE_NM: 0.06, H_LINE_NM: 0.035, G_LINE_NM: 0.030}
"""Radiated power of each mercury line as a share of the phosphor band's (invented)."""

RESIST_PEAK_NM = 365.0
RESIST_FWHM_NM = 70.0
"""Sensitivity of an invented resist: best at 365 nm, almost none beyond 450 nm."""

CHANNELS = {
    "F1": (415.0, 26.0),
    "F2": (445.0, 30.0),
    "F3": (480.0, 36.0),
    "F4": (515.0, 39.0),
    "F5": (555.0, 39.0),
    "F6": (590.0, 40.0),
    "F7": (630.0, 50.0),
    "F8": (680.0, 52.0),
}
"""Peak and full width at half maximum in nm of the AS7341's filtered channels (datasheet DS000504)."""

NIR_PEAK_NM = 910.0
"""Near-infrared channel (same datasheet)."""
NIR_FWHM_NM = 100.0
"""From memory."""
NIR_SCALE = 0.3
CLEAR_SCALE = 0.12
"""How strong NIR and Clear answer beside F1; invented so that Clear stays below F1 under the lamps."""

OUT_OF_BAND = 1e-4
"""What a filter lets through everywhere; invented. Real filters differ, which is why a box is calibrated."""

CLEAR_SHAPE = (
    (300.0, 0.02),
    (350.0, 0.08),
    (400.0, 0.35),
    (450.0, 0.70),
    (550.0, 1.00),
    (700.0, 0.90),
    (900.0, 0.40),
    (1000.0, 0.10),
    (1100.0, 0.0),
)
"""Relative response of the unfiltered diode by wavelength (from memory)."""

NOMINAL_MW_CM2 = 5.0
"""Actinic irradiance at the glass of a nominal bank: 100 h old, 25 °C, nominal mains, settled."""

NOMINAL_F1_COUNTS = 7900.0
"""Counts of F1 under a nominal bank at gain 16 and `NOMINAL_T_INT_MS`; sets the sensitivity of the sensor."""
NOMINAL_GAIN = 16.0
NOMINAL_T_INT_MS = 50.04

_GRID_NM = range(300, 1101)


@dataclass(frozen=True)
class Response:
    """Answer of a detector to each kind of light.

    `phosphor` and `lines` per second of a nominal bank, `daylight` per mJ/cm² of visible daylight.
    """

    phosphor: float
    lines: float
    daylight: float


def gaussian(wavelength_nm: float, peak_nm: float, fwhm_nm: float) -> float:
    """A bell of height 1 with the given full width at half maximum."""
    return math.exp(-4 * math.log(2) * ((wavelength_nm - peak_nm) / fwhm_nm) ** 2)


def resist_sensitivity(wavelength_nm: float) -> float:
    """What a photon's energy is worth to the resist, 1 at best."""
    return gaussian(wavelength_nm, RESIST_PEAK_NM, RESIST_FWHM_NM)


def channel_response(channel: str, wavelength_nm: float) -> float:
    """Relative response of a channel (F1…F8, CLEAR or NIR) at a wavelength; KeyError for another name."""
    if channel == "CLEAR":
        return CLEAR_SCALE * _between(CLEAR_SHAPE, wavelength_nm)
    if channel == "NIR":
        return NIR_SCALE * gaussian(wavelength_nm, NIR_PEAK_NM, NIR_FWHM_NM) + OUT_OF_BAND
    peak_nm, fwhm_nm = CHANNELS[channel]
    return gaussian(wavelength_nm, peak_nm, fwhm_nm) + OUT_OF_BAND


def daylight_density(wavelength_nm: float) -> float:
    """Daylight per nm for 1 mW/cm² between 400 and 700 nm: level there, stronger in the near infrared."""
    if wavelength_nm < 400 or wavelength_nm > 1000:
        return 0.0
    return (1.0 if wavelength_nm <= 700 else 1.6) / 300.0


@cache
def actinic() -> Response:
    """The resist's answer in mJ/cm²: `phosphor` and `lines` add up to NOMINAL_MW_CM2."""
    raw = _response_to(resist_sensitivity)
    scale = NOMINAL_MW_CM2 / (raw.phosphor + raw.lines)
    return Response(raw.phosphor * scale, raw.lines * scale, raw.daylight)


@cache
def counts(channel: str) -> Response:
    """Counts of a channel at gain 1 (both of its photodiodes together)."""
    raw = _response_to(lambda nm: channel_response(channel, nm))
    lamp = _lamp_scale() * _count_scale()
    return Response(raw.phosphor * lamp, raw.lines * lamp, raw.daylight * _count_scale())


def true_calibration() -> float:
    """mW/cm² of actinic lamp light per basic count of F1 (counts / (gain × integration time in ms))."""
    f1 = counts("F1")
    basic_counts = (f1.phosphor + f1.lines) / 1000.0
    return NOMINAL_MW_CM2 / basic_counts


@cache
def _lamp_scale() -> float:
    """mW/cm² of phosphor light of a nominal bank."""
    raw = _response_to(resist_sensitivity)
    return NOMINAL_MW_CM2 / (raw.phosphor + raw.lines)


@cache
def _count_scale() -> float:
    raw = _response_to(lambda nm: channel_response("F1", nm))
    per_second = (raw.phosphor + raw.lines) * _lamp_scale()
    return NOMINAL_F1_COUNTS / (NOMINAL_GAIN * NOMINAL_T_INT_MS / 1000.0) / per_second


def _response_to(weight: Callable[[float], float]) -> Response:
    """Weighted light for one unit of phosphor power (with its lines) and for one unit of visible daylight."""
    area = sum(gaussian(nm, PHOSPHOR_PEAK_NM, PHOSPHOR_FWHM_NM) for nm in _GRID_NM)
    phosphor = sum(gaussian(nm, PHOSPHOR_PEAK_NM, PHOSPHOR_FWHM_NM) * weight(nm) for nm in _GRID_NM) / area
    lines = sum(power * weight(nm) for nm, power in LINE_POWER.items())
    daylight = sum(daylight_density(nm) * weight(nm) for nm in _GRID_NM)
    return Response(phosphor, lines, daylight)


def _between(points: tuple[tuple[float, float], ...], x: float) -> float:
    """Straight lines between `points`; 0 outside of them."""
    for (x0, y0), (x1, y1) in pairwise(points):
        if x0 <= x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return 0.0
