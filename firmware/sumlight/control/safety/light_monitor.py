"""Light as a witness: what the readings of one bank say about lamps, relay, sensor and foreign light. Pure."""

import math
from collections import deque

from sumlight.box.description import Limits
from sumlight.control.trouble import Trouble
from sumlight.light.counts import basic_counts
from sumlight.light.sample import SATURATED, Sample
from sumlight.protocol.snapshot import FaultName
from sumlight.text.message import later

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

OTHER_COUNTS = 40.0
OTHER_RUN = 6
"""Counts of any other channel that are light, and for how many conversions, where 415 nm sees nothing."""
GLOW_SHARE = 0.25
"""Near infrared over clear from which it is the glow of a tube's electrodes, as before every strike (judgement)."""
SAME_COLOUR, SAME_SHARE = 0.02, 0.004
"""Change (ln) of 445 nm and clear against 415 nm, and of the shares of 515 nm and near infrared, that is none."""

AFTERGLOW_S = 0.5
DARK_CONFIRM_S = 1.0


class LightMonitor:
    """Judges one bank. `lit` and `dark` take readings while lamps are commanded on or off; each returns a fault
    as (name, detail), or None."""

    def __init__(self, bank: str, limits: Limits, integration_ms: float) -> None:
        self._bank = bank
        self._limits = limits
        self._integration_ms = integration_ms
        self._since_s = 0.0
        self.first_light_s: float | None = None
        """When light was first seen since the lamps were switched on."""
        self._past: deque[float] = deque(maxlen=RECENT + BEFORE)
        self._colours: deque[tuple[int, ...]] = deque(maxlen=RECENT + BEFORE)
        self._darkness: tuple[float, ...] | None = None
        self._other = 0
        self._glows = False
        self._out = 0
        self._colour: float | None = None
        self._last_counts: tuple[int, ...] = ()
        self._same = 0
        self._saturated = 0
        self._bright_since_s: float | None = None

    def switched(self, now_s: float) -> None:
        """The lamps were just switched on or off."""
        self._since_s = now_s
        self.first_light_s = None
        self._past.clear()
        self._colours.clear()
        self._other, self._glows = 0, False
        self._out = 0
        self._colour = None
        self._last_counts, self._same, self._saturated = (), 0, 0
        self._bright_since_s = None

    def lit(self, sample: Sample, mw_cm2: float) -> Trouble | None:
        """A reading with lamps commanded on; `mw_cm2` at the glass (a lower bound if saturated)."""
        fault = self._sensor_fault(sample)
        if fault or not sample.usable:
            return fault
        if self.first_light_s is None:
            if mw_cm2 > self._limits.dark_limit_mw_cm2:
                self.first_light_s = sample.end_s
                return None
            return self._other_colours(sample) or self.no_light_yet(sample.end_s)
        self._out = self._out + 1 if mw_cm2 <= self._limits.dark_limit_mw_cm2 else 0
        if sample.end_s - self.first_light_s < ARM_S:
            if self._out >= RECENT:  # it was only a flash: the strike goes on, within its limit
                self.first_light_s, self._out = None, 0
            return self.no_light_yet(sample.end_s)
        self._past.append(mw_cm2)
        self._colours.append(sample.counts)
        return self._step_fault() or self._out_fault() or self._colour_fault(sample)

    def no_light_yet(self, now_s: float) -> Trouble | None:
        """The fault of lamps that do not light in time, also when no reading comes at all."""
        if self.first_light_s is not None:
            return None
        waited_s = now_s - self._since_s
        if waited_s > self._limits.strike_limit_s:
            limit_s = self._limits.strike_limit_s
            if self._glows:
                return FaultName.LIGHT_UNLIKELY, later("glows_only", bank=self._bank, waited_s=waited_s)
            return FaultName.NO_LIGHT, later("no_light_after_on", bank=self._bank, waited_s=waited_s, limit_s=limit_s)
        return None

    def dark(self, sample: Sample, mw_cm2: float, cut_mw_cm2: float = 0.0) -> Trouble | None:
        """A reading with lamps commanded off and the lid shut; `cut_mw_cm2` what they gave when switched off."""
        self._darkness = self._basic(sample)
        bright = mw_cm2 > max(self._limits.dark_limit_mw_cm2, LOST_SHARE * cut_mw_cm2)
        if not (bright or sample.flags & SATURATED) or sample.end_s - self._since_s < AFTERGLOW_S:
            self._bright_since_s = None
            return None
        if self._bright_since_s is None:
            self._bright_since_s = sample.end_s
        if cut_mw_cm2 == 0.0 and sample.end_s - self._bright_since_s < DARK_CONFIRM_S:
            return None
        limit_mw_cm2 = self._limits.dark_limit_mw_cm2
        return FaultName.LIGHT_WHILE_DARK, later(
            "bright_with_lamps_off", bank=self._bank, mw_cm2=mw_cm2, limit_mw_cm2=limit_mw_cm2
        )

    def _basic(self, sample: Sample) -> tuple[float, ...]:
        return tuple(basic_counts(count, sample.gain_code, self._integration_ms) for count in sample.counts)

    def _other_colours(self, sample: Sample) -> Trouble | None:
        """Light that any other channel sees while 415 nm sees none: no dose can be counted by it."""
        if self._darkness is None:
            return None
        unit = 1 / basic_counts(1.0, sample.gain_code, self._integration_ms)
        net = [(now - dark) * unit for now, dark in zip(self._basic(sample), self._darkness, strict=True)]
        clear, infrared = net[4], net[5]
        self._glows = max(net[1:]) > OTHER_COUNTS
        self._other = self._other + 1 if self._glows and infrared < GLOW_SHARE * clear else 0
        if self._other < OTHER_RUN:
            return None
        return FaultName.LIGHT_UNLIKELY, later("other_colours_only", bank=self._bank)

    def _same_colour(self) -> bool:
        """Whether the light has the colour that it had before the step."""
        before, now = (
            [sum(counts[channel] for counts in part) for channel in range(6)]
            for part in (list(self._colours)[:BEFORE], list(self._colours)[BEFORE:])
        )
        if min(before[0], before[1], before[4], now[0], now[1], now[4]) <= 0:
            return False
        moved = [math.log(now[i] / now[0] * before[0] / before[i]) for i in (1, 4)]
        added = [now[i] / now[0] - before[i] / before[0] for i in (3, 5)]
        return max(map(abs, moved)) <= SAME_COLOUR and max(map(abs, added)) <= SAME_SHARE

    def _sensor_fault(self, sample: Sample) -> Trouble | None:
        self._same = self._same + 1 if sample.counts == self._last_counts else 0
        self._last_counts = sample.counts
        self._saturated = self._saturated + 1 if sample.flags & SATURATED else 0
        if self._same >= SAME_LIMIT and any(sample.counts):
            return FaultName.METER_STUCK, later("same_counts_again", bank=self._bank, count=self._same + 1)
        if self._saturated >= SATURATED_LIMIT:
            return FaultName.METER_SATURATED, later("at_full_scale", bank=self._bank, count=self._saturated)
        return None

    def _step_fault(self) -> Trouble | None:
        if len(self._past) < RECENT + BEFORE:
            return None
        values = list(self._past)
        before = sum(values[:BEFORE]) / BEFORE
        # The weakest of the change: one odd reading is noise, three are a step.
        latest = values[BEFORE:]
        limit = self._limits.drop_limit
        if max(latest) < (1 - limit) * before:
            if latest[-1] < LOST_SHARE * before:  # the first of the three may still hold light from before
                return FaultName.LIGHT_LOST, later(
                    "light_fell_away", bank=self._bank, before_mw_cm2=before, now_mw_cm2=latest[-1]
                )
            fall = 1 - latest[-1] / before
            return FaultName.TUBE_OUT, later("less_light", bank=self._bank, share=fall, limit=limit)
        if min(latest) > (1 + limit) * before:
            rise = latest[-1] / before - 1
            if self._same_colour():
                told = later("more_light_same_colour", bank=self._bank, share=rise, limit=limit)
                return FaultName.LIGHT_UNLIKELY, told
            return FaultName.FOREIGN_LIGHT, later("more_light", bank=self._bank, share=rise, limit=limit)
        return None

    def _out_fault(self) -> Trouble | None:
        """Light that went out before there was enough of it for a step to be seen."""
        if self._out < RECENT:
            return None
        limit_mw_cm2 = self._limits.dark_limit_mw_cm2
        return FaultName.LIGHT_LOST, later("out_after_strike", bank=self._bank, limit_mw_cm2=limit_mw_cm2)

    def _colour_fault(self, sample: Sample) -> Trouble | None:
        violet = basic_counts(sample.counts[0], sample.gain_code, self._integration_ms)
        near_infrared = basic_counts(sample.counts[5], sample.gain_code, self._integration_ms)
        if sample.counts[0] < COLOUR_COUNTS:
            return None
        share = near_infrared / violet
        if self._colour is None:
            self._colour = share
        if share > self._colour + NEAR_INFRARED_RISE:
            return FaultName.FOREIGN_LIGHT, later(
                "near_infrared_rose", bank=self._bank, share=share, before=self._colour
            )
        return None
