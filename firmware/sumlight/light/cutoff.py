"""When to switch off so that the dose, with what the lamps still give afterwards, meets the target."""

import math
from collections import deque
from operator import mul

FIT_SAMPLES = 8
"""Conversions that the slope is taken from (0.4 s at 50 ms): long enough for noise, short enough for warm-up."""

MIN_FIT = 4
LEAD_GAIN = 0.4
"""Share of the newly seen lead that enters the learned one."""

LEAD_MAX_S = 0.5


class CutOff:
    """Extrapolates the recent irradiance of one side by a straight line.

    `lead_s` is the time of full light that the lamps still give after the command to go dark (relay, afterglow).
    """

    def __init__(self, lead_s: float) -> None:
        self.lead_s = lead_s
        self._mid_s: deque[float] = deque(maxlen=FIT_SAMPLES)
        self._means_mw_cm2: deque[float] = deque(maxlen=FIT_SAMPLES)
        self._end_s = -math.inf
        self._mw_cm2 = 0.0
        self._slope = 0.0
        self._asked: tuple[float, float, float] | None = None
        self._off_s = math.inf

    def begin(self) -> None:
        """Forget the past: the lamps were dark."""
        self._mid_s.clear()
        self._means_mw_cm2.clear()
        self._end_s, self._mw_cm2, self._slope = -math.inf, 0.0, 0.0
        self._asked = None

    def add(self, end_s: float, mid_s: float, mw_cm2: float) -> None:
        """Take in one conversion: its end, the middle of its window, its mean irradiance at the resist."""
        self._asked = None
        self._mid_s.append(mid_s)
        self._means_mw_cm2.append(mw_cm2)
        self._end_s = end_s
        count = len(self._mid_s)
        if count < MIN_FIT:
            self._mw_cm2, self._slope = mw_cm2, 0.0
            return
        mean_s = sum(self._mid_s) / count
        mean_mw_cm2 = sum(self._means_mw_cm2) / count
        away_s = [t - mean_s for t in self._mid_s]
        # The slope needs no mean of the light taken off: what lies on either side of mean_s weighs the same.
        self._slope = sum(map(mul, away_s, self._means_mw_cm2)) / sum(map(mul, away_s, away_s))
        if abs(self._slope) * (end_s - mean_s) > 0.2 * abs(mean_mw_cm2):
            # The lamps are striking or failing; a straight line through that says nothing about what follows.
            self._mw_cm2, self._slope = mw_cm2, 0.0
        else:
            self._mw_cm2 = mean_mw_cm2 + self._slope * (end_s - mean_s)

    @property
    def mw_cm2(self) -> float:
        """Irradiance at the end of the last conversion, by the line."""
        return self._mw_cm2

    @property
    def latest_mw_cm2(self) -> float:
        """Mean irradiance of the last conversion, as measured; 0 before the first."""
        return self._means_mw_cm2[-1] if self._means_mw_cm2 else 0.0

    def dose_at(self, dose_mj_cm2: float, at_s: float) -> float:
        """The dose at `at_s` if the light goes on as it did; `dose_mj_cm2` is that at the last conversion's end."""
        ahead_s = max(0.0, at_s - self._end_s) if self._mid_s else 0.0
        return dose_mj_cm2 + max(0.0, self._mw_cm2 * ahead_s + 0.5 * self._slope * ahead_s**2)

    def off_at_s(self, dose_mj_cm2: float, target_mj_cm2: float) -> float:
        """The moment for the command to go dark; infinite while there is no light to extrapolate.

        Asked ten times between two conversions, it is worked out once.
        """
        asked = (dose_mj_cm2, target_mj_cm2, self.lead_s)
        if asked != self._asked:
            self._asked, self._off_s = asked, self._worked_out_s(dose_mj_cm2, target_mj_cm2)
        return self._off_s

    def _worked_out_s(self, dose_mj_cm2: float, target_mj_cm2: float) -> float:
        if self._mw_cm2 <= 0 or not self._mid_s:
            return math.inf
        missing = target_mj_cm2 - dose_mj_cm2 - self._mw_cm2 * self.lead_s
        if missing <= 0:
            return self._end_s
        root = self._mw_cm2**2 + 2 * self._slope * missing
        if root < 0:  # falling light would never get there; the next conversions decide
            return math.inf
        return self._end_s + 2 * missing / (self._mw_cm2 + math.sqrt(root))

    def learn(self, dose_at_command_mj_cm2: float, final_mj_cm2: float) -> float:
        """Correct the lead by what was measured after the command; returns the new lead in seconds."""
        if self._mw_cm2 > 0:
            seen_s = (final_mj_cm2 - dose_at_command_mj_cm2) / self._mw_cm2
            seen_s = min(max(seen_s, 0.0), LEAD_MAX_S)
            self.lead_s += LEAD_GAIN * (seen_s - self.lead_s)
        return self.lead_s
