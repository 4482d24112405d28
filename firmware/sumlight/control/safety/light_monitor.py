"""Light as a witness: what the readings of one bank say about lamps, relay, sensor and foreign light. Pure."""

from collections import deque

from sumlight.box.description import Limits
from sumlight.light.counts import basic_counts
from sumlight.light.sample import SATURATED, Sample

RECENT = 3
BEFORE = 10
"""A step is seen by comparing the last three conversions with the ten before: about half a second."""

ARM_S = 1.5
"""Strike flicker is over this long after first light; only then do steps mean something."""

LOST_SHARE = 0.05
NEAR_INFRARED_RISE = 0.05
"""A rise of near infrared by this share of the 415 nm reading is daylight or a work lamp, not a UV tube."""

COLOUR_COUNTS = 200
"""Below so many counts at 415 nm the colour is lost in the sensor's noise and offset."""

SAME_LIMIT = 10
SATURATED_LIMIT = 9
"""Just under half a second: sooner than the bridging of lost readings ends, so that the fault has its right name."""

AFTERGLOW_S = 0.5
DARK_CONFIRM_S = 1.0


class Witness:
    """Judges one bank. `lit` and `dark` take readings while lamps are commanded on or off; each returns a fault
    as (name, detail), or None."""

    def __init__(self, bank: str, limits: Limits, integration_ms: float) -> None:
        self._bank = bank
        self._limits = limits
        self._integration_ms = integration_ms
        self._since_s = 0.0
        self._first_light_s: float | None = None
        self._past: deque[float] = deque(maxlen=RECENT + BEFORE)
        self._out = 0
        self._colour: float | None = None
        self._last_counts: tuple[int, ...] = ()
        self._same = 0
        self._saturated = 0
        self._bright_since_s: float | None = None

    @property
    def first_light_s(self) -> float | None:
        """When light was first seen since the lamps were switched on."""
        return self._first_light_s

    def switched(self, now_s: float) -> None:
        """The lamps were just switched on or off."""
        self._since_s = now_s
        self._first_light_s = None
        self._past.clear()
        self._out = 0
        self._colour = None
        self._last_counts, self._same, self._saturated = (), 0, 0
        self._bright_since_s = None

    def lit(self, sample: Sample, mw_cm2: float) -> tuple[str, str] | None:
        """A reading with lamps commanded on; `mw_cm2` at the glass (a lower bound if saturated)."""
        fault = self._sensor_fault(sample)
        if fault or not sample.usable:
            return fault
        if self._first_light_s is None:
            if mw_cm2 > self._limits.dark_limit_mw_cm2:
                self._first_light_s = sample.end_s
            return self.no_light_yet(sample.end_s)
        self._out = self._out + 1 if mw_cm2 <= self._limits.dark_limit_mw_cm2 else 0
        if sample.end_s - self._first_light_s < ARM_S:
            if self._out >= RECENT:  # it was only a flash: the strike goes on, within its limit
                self._first_light_s, self._out = None, 0
            return self.no_light_yet(sample.end_s)
        self._past.append(mw_cm2)
        return self._step_fault() or self._out_fault() or self._colour_fault(sample)

    def no_light_yet(self, now_s: float) -> tuple[str, str] | None:
        """The fault of lamps that do not light in time, also when no reading comes at all."""
        if self._first_light_s is not None:
            return None
        waited_s = now_s - self._since_s
        if waited_s > self._limits.strike_limit_s:
            return "no_light", f"bank {self._bank}: no light {waited_s:.1f} s after switching on " + (
                f"(limit {self._limits.strike_limit_s:g} s)"
            )
        return None

    def dark(self, sample: Sample, mw_cm2: float, cut_mw_cm2: float = 0.0) -> tuple[str, str] | None:
        """A reading with lamps commanded off and the lid shut; `cut_mw_cm2` what they gave when switched off."""
        bright = mw_cm2 > max(self._limits.dark_limit_mw_cm2, LOST_SHARE * cut_mw_cm2)
        if not (bright or sample.flags & SATURATED) or sample.end_s - self._since_s < AFTERGLOW_S:
            self._bright_since_s = None
            return None
        if self._bright_since_s is None:
            self._bright_since_s = sample.end_s
        if cut_mw_cm2 == 0.0 and sample.end_s - self._bright_since_s < DARK_CONFIRM_S:
            return None
        return "light_while_dark", (
            f"bank {self._bank}: {mw_cm2:.2f} mW/cm² with lamps off (limit {self._limits.dark_limit_mw_cm2:g} mW/cm²)"
        )

    def _sensor_fault(self, sample: Sample) -> tuple[str, str] | None:
        self._same = self._same + 1 if sample.counts == self._last_counts else 0
        self._last_counts = sample.counts
        self._saturated = self._saturated + 1 if sample.flags & SATURATED else 0
        if self._same >= SAME_LIMIT and any(sample.counts):
            return "meter_stuck", f"bank {self._bank}: the same counts came {self._same + 1} times"
        if self._saturated >= SATURATED_LIMIT:
            return "meter_saturated", f"bank {self._bank}: {self._saturated} readings in a row at full scale"
        return None

    def _step_fault(self) -> tuple[str, str] | None:
        if len(self._past) < RECENT + BEFORE:
            return None
        values = list(self._past)
        before = sum(values[:BEFORE]) / BEFORE
        # The weakest of the change: one odd reading is noise, three are a step.
        latest = values[BEFORE:]
        limit = self._limits.drop_limit
        if max(latest) < (1 - limit) * before:
            if latest[-1] < LOST_SHARE * before:  # the first of the three may still hold light from before
                return "light_lost", f"bank {self._bank}: from {before:.2f} to {latest[-1]:.2f} mW/cm²"
            fall = 1 - latest[-1] / before
            return (
                "tube_out",
                f"bank {self._bank}: {fall:.0%} less light within half a second (limit {limit:.0%})",
            )
        if min(latest) > (1 + limit) * before:
            rise = latest[-1] / before - 1
            return (
                "foreign_light",
                f"bank {self._bank}: {rise:.0%} more light within half a second (limit {limit:.0%})",
            )
        return None

    def _out_fault(self) -> tuple[str, str] | None:
        """Light that went out before there was enough of it for a step to be seen."""
        if self._out < RECENT:
            return None
        limit = self._limits.dark_limit_mw_cm2
        return "light_lost", f"bank {self._bank}: no light any more soon after the strike (limit {limit:g} mW/cm²)"

    def _colour_fault(self, sample: Sample) -> tuple[str, str] | None:
        violet = basic_counts(sample.counts[0], sample.gain_code, self._integration_ms)
        near_infrared = basic_counts(sample.counts[5], sample.gain_code, self._integration_ms)
        if sample.counts[0] < COLOUR_COUNTS:
            return None
        share = near_infrared / violet
        if self._colour is None:
            self._colour = share
        if share > self._colour + NEAR_INFRARED_RISE:
            return "foreign_light", (
                f"bank {self._bank}: near infrared rose to {share:.0%} of the 415 nm reading "
                f"(it was {self._colour:.0%} when the lamps had struck)"
            )
        return None
