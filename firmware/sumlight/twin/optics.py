"""From wavelengths to numbers: what the resist uses of each light and what the sensor's channels count of it.

All spectra are sums over a grid of 1 nm, worked out once for each kind of lamp. The shapes are from memory unless a
source is named.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

from sumlight.twin.sources import LAMP_TYPES, daylight_density, gaussian, white_led_density

RESIST_PEAK_NM = 365.0
RESIST_FWHM_NM = 70.0
"""Sensitivity of an invented resist: best at 365 nm, almost none beyond 450 nm. It defines what *actinic* means."""

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

UV_CHANNELS = {"UVA": (360.0, 60.0), "UVB": (300.0, 25.0), "UVC": (260.0, 25.0)}
"""Peak in nm of the AS7331's channels (DS001047, as a design note quotes it: UV-A 315 to 410 nm); the widths are from
memory."""
UVA_COUNTS = 385.0 * 1000.0 / (2048.0 * 0.064)
"""Counts of UV-A at gain 1 for each second and mW/cm² at the peak: 385 for a µW/cm² at gain 2048 in 64 ms (driver)."""
UV_HEAD = 0.3
"""What the diffuser before the UV sensor lets through, at all wavelengths (invented)."""
UV_OUT_OF_BAND = 1e-5

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

FILTER_GLASS = (
    (300.0, 0.45),
    (365.0, 0.55),
    (400.0, 0.85),
    (430.0, 0.85),
    (450.0, 0.60),
    (480.0, 0.40),
    (520.0, 0.20),
    (600.0, 0.12),
    (700.0, 0.08),
    (900.0, 0.05),
    (1100.0, 0.05),
)
"""Transmission of the violet glass before the sensor (invented). The channels' responses hold with it fitted."""

UV_EDGE_NM = 398.0
UV_EDGE_WIDTH_NM = 4.0
"""Where a sheet that blocks UV begins to let light through (grades of 390 to 400 nm: source T6 of the trade notes)."""

NOMINAL_MW_CM2 = LAMP_TYPES["fluorescent"].nominal_mw_cm2
"""Actinic irradiance at the glass of a nominal bank: 100 h old, 25 °C, nominal mains, settled."""

NOMINAL_F1_COUNTS = 7900.0
"""Counts of F1 under a nominal bank at gain 16 and `NOMINAL_T_INT_MS`; sets the sensitivity of the sensor."""
NOMINAL_GAIN = 16.0
NOMINAL_T_INT_MS = 50.04

LED_F2_COUNTS_PER_MA = 300.0
"""Counts of F2 at the same settings from each milliampere of the board's LED behind a clean diffuser (invented)."""

_GRID_NM = range(300, 1101)

Weight = Callable[[float], float]


@dataclass(frozen=True)
class Sheet:
    """A sheet of film, glass or plastic. `transmission` holds above 410 nm; one that blocks UV has its edge at 398."""

    transmission: float
    blocks_uv: bool = False

    def at(self, wavelength_nm: float) -> float:
        """What it lets through at a wavelength."""
        return self.transmission * (_above_edge(wavelength_nm) if self.blocks_uv else 1.0)


@dataclass(frozen=True)
class Response:
    """Answer of a detector to each kind of light.

    `phosphor` (the band) and `lines` per second of a nominal bank, `daylight` per mJ/cm² of visible daylight, `led`
    per second and milliampere of the board's own LED.
    """

    phosphor: float
    lines: float
    daylight: float
    led: float = 0.0


def resist_sensitivity(wavelength_nm: float, peak_nm: float = RESIST_PEAK_NM, fwhm_nm: float = RESIST_FWHM_NM) -> float:
    """What a photon's energy is worth to the resist, 1 at best."""
    return gaussian(wavelength_nm, peak_nm, fwhm_nm)


def channel_response(channel: str, wavelength_nm: float) -> float:
    """Relative response of a channel (F1…F8, CLEAR, NIR or UVA…UVC) at a wavelength; KeyError for another name."""
    if channel in UV_CHANNELS:
        return gaussian(wavelength_nm, *UV_CHANNELS[channel]) + UV_OUT_OF_BAND
    if channel == "CLEAR":
        return CLEAR_SCALE * _between(CLEAR_SHAPE, wavelength_nm)
    if channel == "NIR":
        return NIR_SCALE * gaussian(wavelength_nm, NIR_PEAK_NM, NIR_FWHM_NM) + OUT_OF_BAND
    peak_nm, fwhm_nm = CHANNELS[channel]
    return gaussian(wavelength_nm, peak_nm, fwhm_nm) + OUT_OF_BAND


def filter_glass(wavelength_nm: float) -> float:
    """What the glass before the sensor lets through."""
    return _between(FILTER_GLASS, wavelength_nm)


@cache
def actinic(lamp: str = "fluorescent", uv_blocked: bool = False) -> Response:
    """The resist's answer in mJ/cm² under a kind of lamp: `phosphor` and `lines` add up to its nominal irradiance.

    `uv_blocked` puts a sheet that blocks UV, and nothing else, between lamps and resist.
    """
    return _scaled(lamp, _behind(resist_sensitivity, uv_blocked))


@cache
def resist_answer(lamp: str, peak_nm: float, fwhm_nm: float) -> Response:
    """As `actinic`, for a resist with another sensitivity, 1 at its own best."""
    return _scaled(lamp, lambda nm: resist_sensitivity(nm, peak_nm, fwhm_nm))


@cache
def counts(channel: str, lamp: str = "fluorescent", filter_fitted: bool = True, uv_blocked: bool = False) -> Response:
    """Counts of a channel at gain 1 (both of its photodiodes together). No violet glass stands before a UV channel."""
    if channel in UV_CHANNELS:
        seen, each = _scaled(lamp, _behind(lambda nm: channel_response(channel, nm), uv_blocked)), UVA_COUNTS * UV_HEAD
        return Response(seen.phosphor * each, seen.lines * each, seen.daylight * each)

    def weight(nm: float) -> float:
        response = channel_response(channel, nm)
        return response if filter_fitted else response / filter_glass(nm)

    raw = _scaled(lamp, _behind(weight, uv_blocked))
    scale = _count_scale()
    led = _led_scale() * sum(white_led_density(nm) * weight(nm) for nm in _GRID_NM)
    return Response(raw.phosphor * scale, raw.lines * scale, raw.daylight * scale, led)


def sheet_transmission(sheet: Sheet, lamp: str = "fluorescent", band: float = 1.0, lines: float = 1.0) -> float:
    """True actinic transmission of a sheet under a kind of lamp with `band` and `lines` left of their nominal light."""
    clear, through = actinic(lamp), actinic(lamp, sheet.blocks_uv)
    before = clear.phosphor * band + clear.lines * lines
    return sheet.transmission * (through.phosphor * band + through.lines * lines) / before


def _above_edge(wavelength_nm: float) -> float:
    return 1 / (1 + math.exp(-(wavelength_nm - UV_EDGE_NM) / UV_EDGE_WIDTH_NM))


def _behind(weight: Weight, uv_blocked: bool) -> Weight:
    return (lambda nm: weight(nm) * _above_edge(nm)) if uv_blocked else weight


def _scaled(lamp: str, weight: Weight) -> Response:
    """A detector's answer per second under a nominal bank, in mJ/cm² of light weighted so."""
    raw, power = _response_to(weight, lamp), _band_mw_cm2(lamp)
    return Response(raw.phosphor * power, raw.lines * power, raw.daylight)


@cache
def _band_mw_cm2(lamp: str) -> float:
    """mW/cm² of the band's light of a nominal bank, so that its actinic light is the nominal one."""
    raw = _response_to(resist_sensitivity, lamp)
    return LAMP_TYPES[lamp].nominal_mw_cm2 / (raw.phosphor + raw.lines)


@cache
def _count_scale() -> float:
    raw = _scaled("fluorescent", lambda nm: channel_response("F1", nm))
    return NOMINAL_F1_COUNTS / (NOMINAL_GAIN * NOMINAL_T_INT_MS / 1000.0) / (raw.phosphor + raw.lines)


@cache
def _led_scale() -> float:
    seen = sum(white_led_density(nm) * channel_response("F2", nm) for nm in _GRID_NM)
    return LED_F2_COUNTS_PER_MA / (NOMINAL_GAIN * NOMINAL_T_INT_MS / 1000.0) / seen


def _response_to(weight: Weight, lamp: str) -> Response:
    """Weighted light for one unit of band power (with its lines) and for one unit of visible daylight."""
    kind = LAMP_TYPES[lamp]
    phosphor = sum(kind.density(nm) * weight(nm) for nm in _GRID_NM)
    lines = sum(power * weight(nm) for nm, power in kind.lines)
    daylight = sum(daylight_density(nm) * weight(nm) for nm in _GRID_NM)
    return Response(phosphor, lines, daylight)


def _between(points: tuple[tuple[float, float], ...], x: float) -> float:
    """Straight lines between `points`; 0 outside of them."""
    for (x0, y0), (x1, y1) in pairwise(points):
        if x0 <= x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return 0.0
