"""How much a bank's steady light swings from one conversion to the next: slow flicker of a tube near its end. Pure.

A conversion lasts a whole number of mains half-periods, so the ripple that every tube has averages out; its length is
never changed for this, because dose comes first. So flicker faster than about ten times a second is seen weakly or not.
A kind of sensor whose conversions are no such number (`ripple_free`) cannot tell a tube's flicker from the mains: it is
not asked.
"""

import statistics

from sumlight.light.lampchange import flicker
from sumlight.light.sample import Sample

SETTLE_S = 2.5
"""The strike is over this long after switching on (strikes take up to 1.3 s, their flicker another second)."""

BLOCK = 20
"""Conversions judged together, about a second: long enough for slow flicker, too short for warming up to bend."""

FEWEST_BLOCKS = 2
MOST_BLOCKS = 600


class FlickerMeter:
    """One side of an exposure. `lit` begins anew after each switching on, `take` takes its conversions."""

    def __init__(self) -> None:
        self._from_s = 0.0
        self._block: list[float] = []
        self._gain_code: int | None = None
        self._swings: list[float] = []

    @property
    def swing(self) -> float | None:
        """Relative rms swing, the median of all whole blocks, so that a passing shadow does not count; None for few."""
        return statistics.median(self._swings) if len(self._swings) >= FEWEST_BLOCKS else None

    def lit(self, now_s: float) -> None:
        """The lamps were switched on."""
        self._from_s, self._block = now_s + SETTLE_S, []

    def take(self, sample: Sample, light: float) -> None:
        """A conversion under lit lamps; `light` in any unit that does not change with the gain."""
        if sample.end_s < self._from_s or len(self._swings) >= MOST_BLOCKS:
            return
        if not sample.usable or sample.gain_code != self._gain_code or light <= 0:
            self._block, self._gain_code = [], sample.gain_code  # a gain is known to a per cent or two only
        if sample.usable and light > 0:
            self._block.append(light)
        if len(self._block) >= BLOCK:
            self._swings.append(flicker(self._block))
            self._block = []
