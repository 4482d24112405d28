"""The colour of one bank's light during an exposure, compared with that at the calibration. Pure.

Judged twice: early, a few conversions after the strike, with doubled limits, so that a panel under the wrong lamps
gets next to nothing; then again and again once the strike has settled.
"""

import math
from collections import deque
from operator import add

from sumlight.control.calibration.expected_light import LightJudge
from sumlight.control.trouble import Trouble
from sumlight.light.counts import GAINS
from sumlight.light.fingerprint import (
    FILTER_NIR,
    OTHER_445,
    OTHER_CLEAR_FALL,
    Comparison,
    Fingerprint,
    compare,
    fingerprint,
)
from sumlight.light.lampsigns import FEWEST_COUNTS, LampSigns, surely_others, swing, unlike
from sumlight.light.sample import Sample
from sumlight.light.sensors import AS7341, SensorKind
from sumlight.protocol.snapshot import FaultName
from sumlight.text.message import later, say

Six = tuple[float, ...]

EARLY_SAMPLES = 2
EARLY_FACTOR = 2.0
SETTLED_S = 1.5
BLOCK = 10
"""Conversions that one verdict rests on: half a second."""
DARK_SAMPLES = 5
CLEAR = 4
UNSEEN_COUNTS = 40.0
UNSEEN_FACTOR = 2.0
"""Counts of the clear channel, and by how much they must exceed what 415 nm explains, to be strange light."""
COUNT_NOISE = 1.0
RIPPLE_SEEN = 200
"""Conversions that the swing is judged by, the last ones; twelve seconds."""
UV_B = 1
RELATIVE_NOISE = 0.001
"""Noise of one conversion: a count, and a thousandth of the reading (from memory of such sensors; generous)."""

FAULT_OF = {
    "other_lamp": FaultName.WRONG_LAMP,
    "filter_gone": FaultName.WRONG_LAMP,
    "foreign_light": FaultName.FOREIGN_LIGHT,
}
EARLY_LIMITS = {"other_lamp": EARLY_FACTOR * OTHER_445, "filter_gone": EARLY_FACTOR * FILTER_NIR}


def six_basic_counts(sample: Sample, kind: SensorKind = AS7341) -> Six:
    """All channels as basic counts, at the nominal gain."""
    unit = GAINS[sample.gain_code] * kind.integration_ms
    return tuple([count / unit for count in sample.counts])


class Spectrum:
    """One bank. `dark` takes conversions with lamps off, `lit` those with lamps on, `switched` parts the two.

    A sensor that sees no colour gives no fingerprint; how strong its light is, is judged all the same, and whether it
    starts, ripples and holds UV-B as that of the calibration did.
    """

    def __init__(self, bank: str, kind: SensorKind = AS7341, *, colour_beside: bool = False) -> None:
        self._bank = bank
        self._kind = kind
        self._integration_ms = kind.integration_ms
        self._dark: deque[Six] = deque(maxlen=DARK_SAMPLES)
        self._darkness: Six = (0.0,) * 6
        self._reference: Fingerprint | None = None
        self._first_light_s: float | None = None
        self._sums = [0.0] * 6
        self._variances = [0.0] * 6
        self._count = 0
        self._block: list[tuple[Six, Six]] = []
        self._judged_early = False
        self._strange = 0
        self._on_s: float | None = None
        self._signs_then: LampSigns | None = None
        self._swinging: deque[float] = deque(maxlen=RIPPLE_SEEN)
        self._swinging_at = 0.0
        self.judge = LightJudge(bank, sees_colour=kind.sees_colour, colour_beside=colour_beside)
        self.comparison: Comparison | None = None
        self.net: Six | None = None

    def dark(self, sample: Sample) -> None:
        """A conversion with lamps off."""
        if sample.usable:
            self._dark.append(six_basic_counts(sample, self._kind))

    def switched(
        self,
        *,
        on: bool,
        now_s: float | None = None,
        reference: Fingerprint | None = None,
        signs: LampSigns | None = None,
    ) -> None:
        """Lamps were switched on or off; what was seen of the light stays until they are lit again.

        `reference` and `signs` are those of the calibration's light.
        """
        if not on:
            self._dark.clear()
            return
        count = len(self._dark) or 1
        self._darkness = tuple(math.fsum(column) / count for column in zip(*self._dark, strict=True)) or (0.0,) * 6
        self._reference = reference if self._kind.sees_colour else None
        self._first_light_s, self._judged_early, self.comparison, self.net = None, False, None, None
        self._strange = 0
        self._on_s, self._signs_then = now_s, None if self._kind.sees_colour else signs
        self._swinging.clear()
        self._sums, self._variances, self._count, self._block = [0.0] * 6, [0.0] * 6, 0, []
        self.judge.begin(signs)

    @property
    def settled(self) -> Six | None:
        """Net basic counts of the whole settled light since the lamps were last switched on; None before."""
        return tuple(total / self._count for total in self._sums) if self._count >= BLOCK else None

    @property
    def print_(self) -> Fingerprint | None:
        """Fingerprint of the settled light since the lamps were last switched on; None before, and without colour."""
        if self._count < BLOCK or not self._kind.sees_colour:
            return None
        return self._print(self._sums, self._variances, self._count)

    @property
    def signs(self) -> LampSigns | None:
        """How the lamps started and ripple, and their UV-B; None of a sensor that tells lamps by their colour."""
        if self._kind.sees_colour or self._first_light_s is None or self._on_s is None:
            return None
        share = level = None
        if self._count >= BLOCK and self._sums[0] * self._swinging_at > FEWEST_COUNTS * self._count:
            share, level = self._sums[UV_B] / self._sums[0], self._sums[0] / self._count
        return LampSigns(self._first_light_s - self._on_s, swing(list(self._swinging)), share, uv_a_level=level)

    def lit(self, sample: Sample, first_light_s: float | None) -> Trouble | None:
        """A conversion with lamps on; returns a fault as (name, detail) if no panel should be exposed like this."""
        if not sample.usable:
            return None
        unit = GAINS[sample.gain_code] * self._integration_ms
        net = tuple([count / unit - dark for count, dark in zip(sample.counts, self._darkness, strict=True)])
        if first_light_s is None:
            return self._unseen(net, unit)
        self._first_light_s = first_light_s
        if sample.end_s <= first_light_s:
            return None
        unit_2 = unit**2
        noise = tuple([(COUNT_NOISE**2 + (RELATIVE_NOISE * count) ** 2) / unit_2 for count in sample.counts])
        self.net = net
        strong = self.judge.strength(net)
        if strong is not None:
            return FaultName.LIGHT_UNLIKELY, strong
        self._block.append((net, noise))
        if sample.end_s - first_light_s >= SETTLED_S:
            self.judge.follow(net[0], unit)
            if unit != self._swinging_at:  # another gain
                self._swinging.clear()
            self._swinging_at = unit
            self._swinging.append(net[0])
            self._count += 1
            self._sums = list(map(add, self._sums, net))
            self._variances = list(map(add, self._variances, noise))
        elif self._judged_early or len(self._block) < EARLY_SAMPLES:
            if self._judged_early:
                self._block.clear()
            return None
        else:
            self._judged_early = True
            return self._judge(unit, early=True)
        return self._judge(unit, early=False) if len(self._block) >= BLOCK else None

    def _unseen(self, net: Six, unit: float) -> Trouble | None:
        """Light that the clear channel sees and the 415 nm channel does not: LEDs where the lines of mercury were."""
        if self._reference is None:
            return None
        shares = self._reference.shares
        strange = net[CLEAR] * unit > UNSEEN_COUNTS and net[CLEAR] * shares[0] > UNSEEN_FACTOR * net[0] * shares[CLEAR]
        self._strange = self._strange + 1 if strange else 0
        if self._strange < EARLY_SAMPLES:
            return None
        text = say("next_to_no_violet")
        self.comparison = Comparison("other_lamp", 100.0, 1.0, True, text)
        return FaultName.WRONG_LAMP, later("told_of_bank", bank=self._bank, told=text)

    def _judge(self, unit: float, *, early: bool) -> Trouble | None:
        block, self._block = self._block, []
        found = self._compare(block, early=early) or self._unlike()
        if found is not None:
            return found
        mean = [math.fsum(column) / len(block) for column in zip(*(net for net, _ in block), strict=True)]
        odd = self.judge.early(mean, unit, len(block)) if early else self.judge.settled(mean, unit, len(block))
        return None if odd is None else (FaultName.LIGHT_UNLIKELY, odd)

    def _compare(self, block: list[tuple[Six, Six]], *, early: bool) -> Trouble | None:
        """What the colour says against that of the calibration."""
        if self._reference is None:
            return None
        sums = [math.fsum(net[i] for net, _ in block) for i in range(6)]
        variances = [math.fsum(noise[i] for _, noise in block) for i in range(6)]
        now = self._print(sums, variances, len(block))
        if now is None:
            return None
        found = compare(now, self._reference)
        if early:
            limit = EARLY_LIMITS.get(found.verdict)
            if limit is None or found.level < limit or (found.verdict == "other_lamp" and not self._certain(now)):
                return None
        self.comparison = found
        told = later("told_of_bank", bank=self._bank, told=found.sentence)
        return (FAULT_OF[found.verdict], told) if found.fault else None

    def _unlike(self) -> Trouble | None:
        """What start, ripple and UV-B say against those of the calibration."""
        now, then = self.signs, self._signs_then
        if now is None or then is None:
            return None
        signs = unlike(now, then)
        if not surely_others(signs):
            self.judge.odd_signs = signs
            return None
        return FaultName.LIGHT_UNLIKELY, self.judge.other_lamps(signs, now, then)

    def _certain(self, now: Fingerprint) -> bool:
        """Whether the change is beyond the doubled limits, whichever channel shows it."""
        if self._reference is None:
            return False
        changes = [
            abs(math.log(max(now.shares[i] / now.shares[0], 1e-4) / max(before[i] / before[0], 1e-4)))
            for before in (self._reference.shares,)
            for i in (1, 4)
        ]
        return changes[0] >= EARLY_FACTOR * OTHER_445 or changes[1] >= OTHER_CLEAR_FALL

    @staticmethod
    def _print(sums: list[float], variances: list[float], count: int) -> Fingerprint | None:
        try:
            return fingerprint([total / count for total in sums], [math.sqrt(v) / count for v in variances])
        except ValueError:  # too little light for a colour
            return None
