"""Whether the light of a bank is such as its lamps can give, and as this box gave before. Pure.

A sensor with a stuck or a swapped data bit, or one that looks at other lamps than its number was made for, reads
steadily and wrong. What it cannot do is keep blue and violet in the proportion in which mercury gives them, nor stay
within what lamps can give at all. That is judged here, with or without a calibration; what is found ends the light, and
no dose is told for that panel any more.
"""

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

from sumlight.control.calibration.seen_light import BACK_LN, SeenLight, Standing, after
from sumlight.light.lampsigns import LampSigns, Sign
from sumlight.light.plausible import (
    CHANGED_BLUE,
    OTHER_BLUE,
    OTHER_LEVEL,
    VIOLET,
    Lamps,
    Six,
    changed_colour,
    too_strong,
    wrong_colour,
)
from sumlight.text.message import Later, Message, later, say

NOISE_COUNTS = 2.0
"""Noise of one conversion and what the dark reading leaves, in counts (generous, from memory of such sensors)."""
TOO_STRONG_RUN = 2
OTHER_LEDS_LN = 0.15
"""Change (ln) of the level of LEDs since the calibration that is told where the sensor sees no colour. LEDs do not care
for mains; warming up costs them a tenth (common practice, no source)."""
JUMP_HALF, JUMP_LIMIT = 4, 0.02
"""A jump is told where so many conversions all differ from the mean of as many before by more than this share: lamps
that warm up change by less than a tenth of it in that time (common practice, no source)."""
WEAKER = 0.15
"""A fall (share) that is told: cold lamps do that, and so does a dirty window."""
EARLY_WIDENED = 2.0


@dataclass(frozen=True)
class ExpectedLight:
    """What is known of a bank's light before it is lit.

    `ln_sigma` is that of `mw_cm2_per_basic_count`; without a calibration (`calibrated`) the light is judged by the
    kind of lamps alone. `before` is the light of the last panel under these lamps, where the sensor sits now;
    `standing` holds that of the last one which left no doubt. `window_seen` tells that a self-check has looked at the
    sensor's window lately, and since any doubt; `window_missing_ln` is what it found (ln) that nobody has applied.
    `leds_built_in` is box.yaml's word that LEDs are not changed unsaid.
    """

    lamps: Lamps
    mw_cm2_per_basic_count: float
    ln_sigma: float
    calibrated: bool
    before: SeenLight | None = None
    standing: Standing | None = None
    window_seen: bool = False
    window_missing_ln: float = 0.0
    leds_built_in: bool = False

    @property
    def undoubted(self) -> SeenLight | None:
        """The light that a fall is told against."""
        return self.before if self.standing is None else self.standing.light


class LightJudge:
    """Judges one bank. Each method takes net basic counts of six channels and what one basic count is in counts.

    By a sensor that sees no colour only the level can be judged.
    """

    def __init__(self, bank: str, *, sees_colour: bool = True, colour_beside: bool = False) -> None:
        self._bank = bank
        self._sees_colour = sees_colour
        self._colour_beside = colour_beside
        self._own_led = sees_colour or colour_beside
        self.expected: ExpectedLight | None = None
        self.unlikely: Message | None = None
        """What was found, until other light is expected: no panel that got some of this light may go on."""
        self.odd_signs: Sequence[Sign] = ()
        """What alone does not tell that the lamps are others than at the calibration."""
        self._strong = 0
        self._first: tuple[float, ...] | None = None
        self._recent: deque[float] = deque(maxlen=2 * JUMP_HALF)
        self._unit = 0.0
        self.jumps_ln: list[float] = []
        """Sudden changes of the light of this panel, each as ln of after over before."""
        self.apart_ln = 0.0
        """By how much (ln) two sensors on one head contradict what they said before any doubt, where that is told."""
        self.leds_ln = 0.0
        """By how much (ln) the light of LEDs that nothing sees the colour of differs from the calibration's."""
        self.blind = False
        """Whether the colour sensor beside a UV sensor was silent during this light."""
        self.weaker: float | None = None
        """The weakest settled light of this part over that of the last panel without a doubt, where it has fallen and
        nobody has looked at the window lately; None otherwise."""
        self._level_then: float | None = None

    def expect(self, expected: ExpectedLight | None) -> None:
        """From now on this is expected; None where what lies before the sensor is moved on purpose."""
        self.expected, self.unlikely, self.jumps_ln = expected, None, []

    def begin(self, signs: LampSigns | None = None) -> None:
        """The lamps were just switched on; `signs` are those of the calibration's light."""
        self._level_then = None if signs is None else signs.uv_a_level
        self._strong, self._first, self._unit = 0, None, 0.0
        self._recent.clear()
        self.weaker = None
        self.apart_ln, self.leds_ln, self.blind = 0.0, 0.0, False
        self.odd_signs = ()

    def follow(self, violet: float, unit: float) -> None:
        """Every single conversion after the strike: notice what changes from one moment to the next.

        The mains, a tube, or something before the sensor: the first two the panel gets as well, the last it does not.
        `violet` is in basic counts, `unit` the counts of one.
        """
        if unit != self._unit:  # another gain
            self._recent.clear()
        self._unit = unit
        self._recent.append(violet)
        if len(self._recent) < 2 * JUMP_HALF:
            return
        seen = list(self._recent)
        before, after = math.fsum(seen[:JUMP_HALF]) / JUMP_HALF, seen[JUMP_HALF:]
        if before > 0 and (min(after) > (1 + JUMP_LIMIT) * before or 0 < max(after) < (1 - JUMP_LIMIT) * before):
            self.jumps_ln.append(math.log(math.fsum(after) / JUMP_HALF / before))
            self._recent.clear()

    def strength(self, net: Six) -> Later | None:
        """Every single conversion with light; after a calibration other lamps are told by their colour."""
        expected = self.expected
        if expected is None or expected.calibrated:
            return None
        mw_cm2 = net[VIOLET] * expected.mw_cm2_per_basic_count
        strong = too_strong(mw_cm2, expected.ln_sigma, expected.lamps)
        self._strong = self._strong + 1 if strong else 0
        if self._strong < TOO_STRONG_RUN:
            return None
        return self._found(later("stronger_than_lamps_can", bank=self._bank, mw_cm2=mw_cm2))

    def early(self, net: Six, unit: float, conversions: int) -> Later | None:
        """The first conversions after the strike: with wide limits, so that a panel gets next to nothing.

        `net` is in basic counts, `unit` the counts of one.
        """
        return self._judge(net, unit, conversions, EARLY_WIDENED)

    def settled(self, net: Six, unit: float, conversions: int) -> Later | None:
        """The mean of some conversions after the strike has settled.

        `net` is in basic counts, `unit` the counts of one.
        """
        if not self._sees_colour:
            return self._level(net)
        counts = [channel * unit for channel in net]
        if self._first is None:
            self._first = tuple(net)
        else:
            first = [channel * unit for channel in self._first]
            change = changed_colour(counts, first, _noise(conversions), CHANGED_BLUE)
            if change is not None:
                return self._found(later("blue_changed_in_light", bank=self._bank, share=math.exp(abs(change)) - 1))
        return self._judge(net, unit, conversions, 1.0) or self._level(net)

    def _judge(self, net: Six, unit: float, conversions: int, widened: float) -> Later | None:
        expected = self.expected
        if expected is None or not self._sees_colour:
            return None
        counts, noise = [channel * unit for channel in net], _noise(conversions)
        if not expected.calibrated:
            found = wrong_colour(self._bank, counts, noise, expected.lamps, widened=widened)
            if found is not None:
                return self._found(found)
        if expected.before is None:
            return None
        before = [channel * unit for channel in expected.before.basic_counts]
        change = changed_colour(counts, before, noise, widened * OTHER_BLUE)
        if change is None:
            return None
        return self._found(later("blue_changed_since", bank=self._bank, share=math.exp(abs(change)) - 1))

    def _level(self, net: Six) -> Later | None:
        expected, level = self.expected, net[VIOLET]
        if expected is None or level <= 0:
            return None
        trusted, before = expected.undoubted, expected.before
        if trusted is not None and trusted.basic_counts[VIOLET] > 0:
            fallen = level / trusted.basic_counts[VIOLET]
            stood = None if expected.standing is None else expected.standing.weaker
            limit = 1 - WEAKER if stood is None else math.exp(-BACK_LN)
            if fallen < limit and not expected.window_seen:  # lamps that warm up may hide it later on
                self.weaker = min(fallen, stood or 1.0, self.weaker or 1.0)
            if self.leds_unseen:
                change = math.log(level / (self._level_then or trusted.basic_counts[VIOLET]))
                if abs(change) > max(OTHER_LEDS_LN, abs(self.leds_ln)):
                    self.leds_ln = change
        if before is None or before.basic_counts[VIOLET] <= 0:
            return None
        factor = level / before.basic_counts[VIOLET]
        if abs(math.log(factor)) <= OTHER_LEVEL:
            return None
        return self._found(later("level_changed_since", bank=self._bank, factor=factor))

    @property
    def leds_unseen(self) -> bool:
        """Whether the lamps are LEDs and no sensor sees which: by UV alone any might be those of before."""
        colour = self._sees_colour or (self._colour_beside and not self.blind)
        return self.expected is not None and self.expected.lamps == "led" and not colour

    @property
    def left_ln(self) -> float:
        """What the light jumped within earlier panels (ln), where nobody has looked since."""
        standing = None if self.expected is None else self.expected.standing
        return 0.0 if standing is None else standing.jumped_ln

    @property
    def window_doubts_ln(self) -> tuple[float, float, float]:
        """What else (ln) the sensor's window leaves open: see `apart_ln`, `left_ln` and `window_ln`."""
        return self.apart_ln, self.left_ln, self.window_ln

    @property
    def window_ln(self) -> float:
        """What a self-check found of dirt (ln) and nobody has applied to the number that counts are taken by."""
        return 0.0 if self.expected is None else self.expected.window_missing_ln

    @property
    def stood_apart_ln(self) -> float:
        """By how much (ln) two sensors contradicted each other in earlier panels, where that is in doubt still."""
        standing = None if self.expected is None else self.expected.standing
        return 0.0 if standing is None else standing.apart_ln

    def stands(self, settled: SeenLight) -> Standing | None:
        """What later light is compared with after a panel in this light; None where nothing was expected of it."""
        if self.expected is None:
            return None
        return after(
            self.expected.standing,
            settled,
            weaker=self.weaker,
            apart_ln=self.apart_ln,
            jumped_ln=math.fsum(self.jumps_ln),
            looked=self.expected.window_seen,
        )

    def other_lamps(self, signs: Sequence[Sign], now: LampSigns, then: LampSigns) -> Later:
        """These are not the lamps of the calibration: no panel that got some of their light may go on."""
        if "uv_b" in signs:
            share, before = now.uv_b_share or 0.0, then.uv_b_share or 0.0
            return self._found(later("uv_b_unlike", bank=self._bank, share=share, before=before))
        return self._found(later("start_and_ripple_unlike", bank=self._bank))

    def contradiction(self, factor: float) -> Later:
        """Two sensors on one head cannot both be right about these lamps."""
        return self._found(later("sensors_contradict", bank=self._bank, factor=factor))

    def remarks(self) -> list[Message]:
        """What should be known of the light at hand."""
        found = []
        if "start" in self.odd_signs:
            found.append(say("lamps_start_unlike", bank=self._bank))
        if "ripple" in self.odd_signs:
            found.append(say("lamps_ripple_unlike", bank=self._bank))
        if self.jumps_ln:
            largest = max(self.jumps_ln, key=abs)
            found.append(say("light_jumped", bank=self._bank, share=math.exp(largest) - 1))
        if self.apart_ln:
            found.append(say("sensors_apart", bank=self._bank, share=math.exp(abs(self.apart_ln)) - 1))
        if self.left_ln:
            share = math.exp(self.left_ln) - 1
            if self._own_led:
                found.append(say("light_jumped_before", bank=self._bank, share=share))
            else:
                found.append(say("light_jumped_before_without_led", bank=self._bank, share=share))
        if self.window_ln:
            found.append(say("window_not_applied", bank=self._bank, share=math.expm1(-self.window_ln)))
        if self.leds_ln:
            found.append(say("leds_unlike_last", bank=self._bank, share=math.exp(self.leds_ln) - 1))
        elif self.weaker is not None:
            if self._own_led:
                found.append(say("light_weaker_than_last", bank=self._bank, share=1 - self.weaker))
            else:
                found.append(say("light_weaker_without_led", bank=self._bank, share=1 - self.weaker))
        return found

    def _found(self, what: Later) -> Later:
        self.unlikely = what.said()
        return what


def _noise(conversions: int) -> float:
    return NOISE_COUNTS / math.sqrt(conversions)
