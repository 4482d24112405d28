"""How warm tubes are, told from when they burned alone, and what that leaves in doubt of a dose.

A light sensor for violet sees lines of mercury, the resist uses the phosphor's UV, and the two change by different
amounts as the tubes' walls warm. A calibration holds for tubes as warm as they were then.
"""

import math

SETTLES_S = 150.0
"""Time constant of the walls, warming and cooling: after the three minutes in which lamps are said to warm up they are
two thirds of the way (common practice, no source)."""
SPREAD_LN = 0.03
"""Standard deviation of what long light does to UV over violet of cold tubes, ln: a tenth of a percent or two a kelvin,
either way, over 15 to 25 K (judgement, no source)."""
UNKNOWN, UNKNOWN_SIGMA = 0.5, 1 / math.sqrt(12)
"""The warmth of lamps that nobody kept: anything from cold to settled (rectangular, JCGM 100, 4.3.7)."""


class LampHeat:
    """The warmth of one bank's tubes: 0 as the room, 1 after long light. Times are seconds of one steady clock.

    Newton's law of cooling with SETTLES_S, both ways. A box that has just been started takes its tubes for cold.
    """

    def __init__(self) -> None:
        self._heat = 0.0
        self._at_s = -math.inf
        self._lit = False
        self._began = 0.0
        self._lit_s = 0.0

    def switched(self, *, on: bool, now_s: float) -> None:
        """Lamps were switched on or off at `now_s`."""
        was, since_s = self._lit, max(0.0, now_s - self._at_s)
        self._heat, self._at_s, self._lit = self.at(now_s), now_s, on
        if was and not on:
            self._lit_s = since_s
        elif on:
            self._began, self._lit_s = self._heat, 0.0

    def at(self, now_s: float) -> float:
        """Warmth at `now_s`, a share of 1."""
        end = 1.0 if self._lit else 0.0
        return end + (self._heat - end) * math.exp(-max(0.0, now_s - self._at_s) / SETTLES_S)

    def mean(self, now_s: float) -> float:
        """Mean warmth, a share of 1, of the light up to `now_s`; of the last light where the lamps are off."""
        times = (max(0.0, now_s - self._at_s) if self._lit else self._lit_s) / SETTLES_S
        return 1.0 + (self._began - 1.0) * (-math.expm1(-times) / times if times > 0 else 1.0)


def warmth_doubt(heat: float, then: float | None) -> float:
    """Relative standard uncertainty of a dose given by tubes of one warmth on a calibration made at another.

    `heat` and `then` are mean warmths of the two lights, shares of 1; None where the calibration kept none.
    """
    apart = math.hypot(heat - UNKNOWN, UNKNOWN_SIGMA) if then is None else heat - then
    return SPREAD_LN * abs(apart)
