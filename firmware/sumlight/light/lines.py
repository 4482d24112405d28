"""Where mercury shines: the three lines that matter to a UV-A exposure box.

Wavelengths in air from the NIST Handbook of Basic Atomic Spectroscopic Data, table of strong lines of neutral
mercury. Fluorescent UV-A tubes show them beside the broad band of their phosphor.
"""

from typing import Final

I_LINE_NM: Final = 365.0153
"""The strongest of a close group of three in the UV-A."""

H_LINE_NM: Final = 404.6563
"""Violet; what the 415 nm channel of the light meter mostly sees."""

G_LINE_NM: Final = 435.8328
"""Blue; reaches both the 415 nm and the 445 nm channel."""

MERCURY_LINES_NM: Final = {"i": I_LINE_NM, "h": H_LINE_NM, "g": G_LINE_NM}
"""The lines by the letters that lithography uses for them."""
