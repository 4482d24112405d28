"""The thermometer near tubes and light sensor: one MCP9808, read slowly, and only when somebody asks.

A read is one transfer of three bytes, half a millisecond at the bus's usual 100 kHz. Nothing depends on it for safety.
"""

import math
from collections.abc import Callable
from typing import Any

from sumlight.box import description
from sumlight.text.message import Later, later

COLDEST_C, WARMEST_C = -15.0, 75.0
"""What air in such a box can be; the cut-out ends anything warmer (judgement, no source)."""
STEP_K, STEP_K_PER_MIN, MOST_STEP_K = 8.0, 1.0, 25.0
"""By how much air near tubes may differ from the last reading that was believed: walls warm by 17 K in some minutes,
air by a third of it; an open lid in winter takes about as much. In time a room changes, but never by more than the last
(judgement, no source)."""
FIRST_ALIKE, FIRST_WITHIN_K = 3, 1.0
"""The first reading has none before it: it is believed with so many in a row that lie so close. After power-up the chip
says 0 °C until its first conversion has ended (from memory), and everything true after that would be a jump."""


class Thermometer:
    """Reads one MCP9808. `air_c` is the last temperature that can be believed, `trouble` why there is none.

    `read_s` is when one was last believed.
    """

    def __init__(self, box: description.Thermometer, bus: Any) -> None:
        from adafruit_mcp9808 import MCP9808  # at the start, and only for a box that has one

        self._open: Callable[[Any, int], Any] = MCP9808
        self.air_c: float | None = None
        self.read_s = -math.inf
        self.trouble: Later | None = None
        self._address = box.i2c_address
        self._bus = bus
        self._driver: Any = None
        self._believed_c: float | None = None
        self._alike = 0
        self._last_c = 0.0

    @property
    def settling(self) -> bool:
        """Whether it answers and is not believed yet: to be asked again soon."""
        return 0 < self._alike < FIRST_ALIKE

    def read(self, now_s: float) -> None:
        """Read once; never raises. What cannot be is named, and is no temperature."""
        try:
            if self._driver is None:
                self._driver = self._open(self._bus, self._address)
            air_c = float(self._driver.temperature)
        except (OSError, RuntimeError, ValueError) as error:
            self._driver, self.air_c = None, None
            if self._believed_c is None:
                self._alike = 0
            self.trouble = later("thermometer_does_not_answer", address=self._address, why=str(error))
            return
        self.trouble = self._lies(air_c, now_s) or self._unproven(air_c)
        self.air_c = None if self.trouble is not None else air_c
        if self.trouble is None:
            self._believed_c, self.read_s = air_c, now_s

    def _unproven(self, air_c: float) -> Later | None:
        """Why a reading that could be is not believed yet; nothing once enough of the first ones were alike."""
        if self._alike < FIRST_ALIKE:
            near = self._alike > 0 and abs(air_c - self._last_c) <= FIRST_WITHIN_K
            self._alike = self._alike + 1 if near else 1
            self._last_c = air_c
        return later("thermometer_not_settled", air_c=air_c) if self._alike < FIRST_ALIKE else None

    def _lies(self, air_c: float, now_s: float) -> Later | None:
        if not COLDEST_C <= air_c <= WARMEST_C:
            return later("thermometer_out_of_bounds", air_c=air_c)
        before_c = self._believed_c
        if before_c is None:
            return None
        allowed_k = min(MOST_STEP_K, STEP_K + STEP_K_PER_MIN * (now_s - self.read_s) / 60.0)
        if abs(air_c - before_c) > allowed_k:
            return later("thermometer_jumped", air_c=air_c, before_c=before_c)
        return None
