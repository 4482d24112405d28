"""One bank under two sensors on one head: the UV sensor counts, the one that sees colours tells what it counts.

Neither can be believed about itself. Together they know more: lamps of another kind change violet against UV, and so
does dirt on one window, or a sensor that reads wrong; lamps that age or are cold change it slowly.
"""

import math
from collections import deque
from collections.abc import Iterable
from dataclasses import replace
from typing import Protocol

from sumlight.control.calibration.expected_light import ExpectedLight
from sumlight.control.calibration.lamp_colour import BLOCK, SETTLED_S, Six, Spectrum
from sumlight.control.calibration.seen_light import BACK_LN
from sumlight.control.calibration.self_test import LedMeter, SelfTest
from sumlight.control.trouble import Trouble
from sumlight.light.counts import GAINS
from sumlight.light.fingerprint import Fingerprint
from sumlight.light.lampsigns import LampSigns
from sumlight.light.sample import Sample
from sumlight.light.sensors import AS7331, AS7341
from sumlight.protocol.snapshot import FaultName
from sumlight.text.message import Later, Message, later, say

APART_LN, CONTRADICT_LN = 0.10, 0.30
"""Change of violet over UV since there was no doubt that is told, and from which no panel may go on. Ageing makes a
fortieth in a hundred hours, a cold room some hundredths (common practice, no source)."""
ANOTHER_LN = 0.60
"""And since the calibration: a whole life makes about a third (phosphor and lines fade apart; judgement)."""
FEWEST_COUNTS = 200.0
SILENT_S = 1.0
VIOLET, BLUE, GREEN = 0, 1, 3
KEPT_AT = 3
"""Where violet, blue and green of the colour sensor stand in the light that is kept, behind the UV sensor's three."""


class Beside(LedMeter, Protocol):
    """What is needed of the colour sensor."""

    name: str
    last_seen_s: float | None


class TwoSensors(Protocol):
    """What is needed of the meter."""

    @property
    def beside(self) -> Beside | None:
        """The colour sensor on the same head."""

    def take_beside(self) -> list[Sample]:
        """Its conversions since this was last asked, oldest first."""


def silent(sensor: Beside, now_s: float) -> Later | None:
    """Why a colour sensor says nothing; None while it does."""
    if sensor.lost is not None:
        return sensor.lost
    quiet = sensor.last_seen_s is None or now_s - sensor.last_seen_s > SILENT_S
    return later("colour_without_reading") if quiet else None


def silent_beside(sensors: Iterable[Beside | None], now_s: float) -> list[Message]:
    """What cannot be seen while colour sensors are silent."""
    return [
        say("colour_sensor_silent", why=why.said())
        for sensor in sensors
        if sensor is not None and (why := silent(sensor, now_s)) is not None
    ]


class SpectrumOfBoth(Spectrum):
    """The UV sensor's light as a `Spectrum`, with colour and fingerprint of the other one's.

    While the colour sensor is silent it judges as under a UV sensor alone, and `judge.blind` says so.
    """

    def __init__(self, bank: str, meter: TwoSensors) -> None:
        super().__init__(bank, AS7331, colour_beside=True)
        self._meter = meter
        self._colour = Spectrum(bank, AS7341)
        self._uv: deque[float] = deque(maxlen=BLOCK)
        self._violet: deque[float] = deque(maxlen=BLOCK)
        self._violet_unit = 1.0

    def dark(self, sample: Sample) -> None:
        """A conversion of the UV sensor with lamps off, and what the other has seen of the darkness."""
        super().dark(sample)
        for seen in self._meter.take_beside():
            self._colour.dark(seen)

    def switched(
        self,
        *,
        on: bool,
        now_s: float | None = None,
        reference: Fingerprint | None = None,
        signs: LampSigns | None = None,
    ) -> None:
        """See `Spectrum.switched`; what was seen before the switch belongs to neither."""
        self._meter.take_beside()
        self._uv.clear()
        self._violet.clear()
        if on:
            self._colour.judge.expect(_as_colour(self.judge.expected, calibrated=reference is not None))
        self._colour.switched(on=on, now_s=now_s, reference=reference)
        super().switched(on=on, now_s=now_s, signs=signs)

    def lit(self, sample: Sample, first_light_s: float | None) -> Trouble | None:
        """A conversion of the UV sensor with lamps on, and what the other has seen of them meanwhile."""
        found = super().lit(sample, first_light_s)
        for seen in self._meter.take_beside():
            unlike = self._colour.lit(seen, first_light_s)
            found = found or unlike
            if self._colour.net is not None and seen.usable:
                self._violet.append(self._colour.net[VIOLET])
                self._violet_unit = GAINS[seen.gain_code] * AS7341.integration_ms
        beside = self._meter.beside
        if beside is not None and silent(beside, sample.end_s) is not None:
            self.judge.blind = True
            self._violet.clear()
        self.comparison = self._colour.comparison
        if self._colour.judge.unlikely is not None:
            self.judge.unlikely = self._colour.judge.unlikely
        if self.net is not None and sample.usable and first_light_s is not None:
            self._uv.append(self.net[0])
            found = found or self._contradiction(sample.end_s - first_light_s)
        return found

    @property
    def settled(self) -> Six | None:
        """The UV sensor's three channels, then violet, blue and green of the other; zeros where that was silent."""
        uv, colour = super().settled, self._colour.settled
        if uv is None or colour is None:
            return uv
        return (*uv[:KEPT_AT], colour[VIOLET], colour[BLUE], colour[GREEN])

    @property
    def print_(self) -> Fingerprint | None:
        """The colour sensor's fingerprint of the settled light."""
        return self._colour.print_

    @property
    def signs(self) -> LampSigns | None:
        """Those of the UV sensor, and how much violet stands beside its UV."""
        found, seen = super().signs, self.settled
        if found is None or seen is None or seen[0] <= 0 or not any(seen[KEPT_AT:]):
            return found
        return replace(found, violet_share=seen[KEPT_AT] / seen[0])

    def _contradiction(self, lit_s: float) -> Trouble | None:
        """What violet over UV says against the last panel without a doubt, or against the calibration."""
        if len(self._uv) < BLOCK or len(self._violet) < BLOCK:
            return None
        uv, violet = math.fsum(self._uv) / BLOCK, math.fsum(self._violet) / BLOCK
        before, limit = self._share_before()
        if before is None or uv <= 0 or max(violet, before * uv) * self._violet_unit < FEWEST_COUNTS:
            return None
        least = 1.0 / self._violet_unit  # a count: less cannot be told from nothing
        change = math.log(max(violet, least) / max(before * uv, least))
        if abs(change) > limit:
            return FaultName.LIGHT_UNLIKELY, self.judge.contradiction(math.exp(change))
        if limit == CONTRADICT_LN and lit_s > SETTLED_S:
            stood = self.judge.stood_apart_ln
            told = max((stood, change), key=abs) if stood else change
            if abs(change) > (BACK_LN if stood else APART_LN) and abs(told) > abs(self.judge.apart_ln):
                self.judge.apart_ln = told
        return None

    def _share_before(self) -> tuple[float | None, float]:
        expected = self.judge.expected
        if expected is None:  # what lies before the sensor is moved on purpose
            return None, 0.0
        then = None if self._signs_then is None else self._signs_then.violet_share
        if then is not None and expected.standing is not None and expected.standing.calibrated:
            return then, CONTRADICT_LN
        seen = None if expected.undoubted is None else expected.undoubted.basic_counts
        if seen is not None and seen[0] > 0 and any(seen[KEPT_AT:]):
            return seen[KEPT_AT] / seen[0], CONTRADICT_LN
        return then, ANOTHER_LN


def _as_colour(expected: ExpectedLight | None, *, calibrated: bool) -> ExpectedLight | None:
    """What the colour sensor expects. It has no number of its own, so nothing can be too strong for it."""
    if expected is None:
        return None
    before = expected.before
    if before is not None and any(before.basic_counts[KEPT_AT:]):
        violet, blue, green = before.basic_counts[KEPT_AT:]
        before = replace(before, basic_counts=(violet, blue, 0.0, green, 0.0, 0.0))
    else:
        before = None
    return replace(expected, mw_cm2_per_basic_count=0.0, calibrated=calibrated, before=before)


class SelfTestOfBoth(SelfTest):
    """The look at the LED on the colour sensor's board, by that sensor. Both windows are one: what dirt it finds there
    lies before the UV sensor, too."""

    def __init__(self, meter: TwoSensors) -> None:
        super().__init__()
        self._meter = meter

    def tick(self, meter: LedMeter, allowed: bool) -> None:
        """See `SelfTest.tick`."""
        for sample in self._meter.take_beside():
            super().take(sample)
        if self._meter.beside is not None:
            super().tick(self._meter.beside, allowed)

    def take(self, sample: Sample) -> None:
        """A conversion of the UV sensor, which does not see the LED."""
