"""A meter of two chips on one head: the AS7331 measures UV-A, the AS7341 beside it watches colour and window."""

import math
from collections import deque
from collections.abc import Callable
from typing import Any, ClassVar

from sumlight.box import description
from sumlight.box.colour_meter import ColourMeter
from sumlight.box.uv_meter import UvMeter
from sumlight.light import sensors
from sumlight.light.sample import Sample
from sumlight.light.sensors import SensorKind

TRY_AGAIN_S = 3.0
"""A colour sensor that is silent is looked for so often, and only while the lamps have been off for as long: setting it
up takes tens of milliseconds, and light does not depend on it."""

MOST_WAITING = 16
"""Colour conversions that may wait to be taken: eight tenths of a second."""


class BothMeters(UvMeter):
    """Its samples are the UV sensor's, and it is `lost` when that one is: light is counted by nothing else.

    `beside` is the other one, a whole meter that proves itself; what it has seen waits in `take_beside`. While it is
    silent the light goes on as under a UV sensor alone, and whoever judges the light says so.
    """

    kind: ClassVar[SensorKind] = sensors.BOTH

    def __init__(self, meter: description.Meter, bus: Any, lamps_on: Callable[[], bool] = lambda: True) -> None:
        super().__init__(meter, bus, lamps_on)
        self.colour = ColourMeter(meter.chips[1], bus, lamps_on)
        self.beside = self.colour
        self._colours: deque[Sample] = deque(maxlen=MOST_WAITING)
        self._try_at_s = 0.0

    @property
    def next_look_s(self) -> float:
        """When either may have something new."""
        return min(self._look_s, self.colour.next_look_s if self.colour.lost is None else math.inf)

    @property
    def rest_look_s(self) -> float:
        """The same for a box at rest."""
        return min(super().rest_look_s, self.colour.rest_look_s if self.colour.lost is None else math.inf)

    def connect(self, now_s: float) -> bool:
        """Set up both; true if the UV sensor answers."""
        self.colour.connect(now_s)
        self._try_at_s = now_s + TRY_AGAIN_S
        return super().connect(now_s)

    def poll(self, now_s: float, *, lit: bool) -> Sample | None:
        """The UV sensor's new conversion, if any; one of the colour sensor's is kept for `take_beside`."""
        self._poll_colour(now_s, lit=lit)
        return super().poll(now_s, lit=lit)

    def take_beside(self) -> list[Sample]:
        """The colour sensor's conversions since this was last asked, oldest first."""
        found = list(self._colours)
        self._colours.clear()
        return found

    def _poll_colour(self, now_s: float, *, lit: bool) -> None:
        if lit or self._lamps_on():
            self._try_at_s = now_s + TRY_AGAIN_S
        elif self.colour.lost is not None and now_s >= self._try_at_s:
            self._try_at_s = now_s + TRY_AGAIN_S
            self.colour.connect(now_s)
        sample = self.colour.poll(now_s, lit=lit)
        if sample is not None:
            self._colours.append(sample)
