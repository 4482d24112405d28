"""How warm the air at the tubes is: asked now and then while no lamp burns, for what is recorded of the lamps."""

import math
from typing import Any

from sumlight.box.thermometer import Thermometer

EVERY_S, SETTLING_EVERY_S = 10.0, 0.5
"""The second until it is believed: longer than one of its conversions, a quarter of a second (from memory)."""
FRESH_S = 900.0
"""A temperature this old says nothing of the air at a light any more: breaks between panels are shorter, and no light
lasts that long on lamps that work."""


class AirWatch:
    """Asks the thermometer, never while lamps are or may be on; a missing one costs nothing."""

    def __init__(self, thermometer: Thermometer | None) -> None:
        self.thermometer = thermometer
        self._at_s = -math.inf

    def look(self, now_s: float, *, dark: bool) -> None:
        """Ask if it is time. `dark` says that nothing is lit, nor held ready to be."""
        if self.thermometer is not None and dark and now_s >= self._at_s:
            self.thermometer.read(now_s)
            self._at_s = now_s + (SETTLING_EVERY_S if self.thermometer.settling else EVERY_S)

    def picture(self) -> dict[str, Any] | None:
        """What it says now; None for a box without one."""
        thermometer = self.thermometer
        if thermometer is None:
            return None
        trouble = thermometer.trouble
        return {"air_c": thermometer.air_c, "trouble": None if trouble is None else trouble.said()}

    def air_c(self, now_s: float) -> float | None:
        """The air as it was before the light at hand; None where nobody knows."""
        thermometer = self.thermometer
        if thermometer is None or now_s - thermometer.read_s > FRESH_S:
            return None
        return thermometer.air_c
