"""The colour of the light as a fingerprint: shares of the six channels, compared with those at the calibration.

Lamps of one kind differ from another's mostly between 415 and 445 nm (mercury lines, or an LED that has none) and in
the clear channel, which also sees UV-A. Daylight adds to all channels, most visibly to 480 nm, 515 nm and near
infrared, where UV-A lamps give next to nothing. Without the violet glass before the sensor only the near infrared and
the clear channel rise. Ageing lowers the clear channel slowly: the phosphor fades faster than the lines. All limits are
judgement, no source.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from sumlight.text.message import Message, say

Verdict = Literal["same", "drifting", "other_lamp", "foreign_light", "filter_gone"]

CHANNELS = ("415 nm", "445 nm", "480 nm", "515 nm", "clear", "near infrared")

OTHER_445 = 0.10
"""Change of 445 nm against 415 nm (ln) beyond which it is another lamp; ageing gives about 0.02."""
OTHER_CLEAR_FALL = 0.45
OTHER_CLEAR_RISE = 0.08
"""Change of the clear channel against 415 nm (ln): a whole life gives about -0.25; only new tubes let it rise."""
DRIFT_CLEAR = 0.03
FOREIGN_SEEN = 0.004
FOREIGN_FAULT = 0.03
"""Light added to 480 nm, 515 nm and near infrared alike, as a share of the 415 nm reading."""
FILTER_NIR = 0.015
"""Rise of the near infrared alone, as a share of the 415 nm reading."""
FAINT = 0.008
"""Share of the 415 nm reading below which a channel sees nothing but what rounding and darkness leave: LEDs at 385 nm
give 0.004 at 445 nm, tubes at least 0.24 (from the channels' widths, DS000504)."""
NOISE_LIMIT = 3.0
"""Nothing is named within so many standard deviations of noise."""


@dataclass(frozen=True)
class Fingerprint:
    """Shares of the six channels (they add up to 1) and the standard deviation of their noise."""

    shares: tuple[float, ...]
    sigmas: tuple[float, ...]


@dataclass(frozen=True)
class Comparison:
    """What a fingerprint says against the reference.

    `distance` is the root mean square change of the shares in units of noise (at least 0.5 % of the sum); `level`
    the size of what was named (share of the 415 nm reading for added light, ln change for a lamp); `fault` whether
    no panel should be exposed like this.
    """

    verdict: Verdict
    distance: float
    level: float
    fault: bool
    sentence: Message


def fingerprint(basic_counts: Sequence[float], sigmas: Sequence[float]) -> Fingerprint:
    """From dark-subtracted basic counts of the six channels and their noise.

    Raises ValueError unless there are six of each and light in 415 nm.
    `sigmas` are standard deviations in basic counts.
    """
    if len(basic_counts) != len(CHANNELS) or len(sigmas) != len(CHANNELS):
        raise ValueError(f"six channels are needed, not {len(basic_counts)} with {len(sigmas)} sigmas")
    total = math.fsum(basic_counts)
    if total <= 0 or basic_counts[0] <= 2 * sigmas[0]:
        raise ValueError("there is too little light at 415 nm for a fingerprint; light the lamps first")
    return Fingerprint(tuple(c / total for c in basic_counts), tuple(s / total for s in sigmas))


def compare(now: Fingerprint, reference: Fingerprint) -> Comparison:
    """Name what changed since the reference."""
    distance = _distance(now, reference)
    rise, noise = _rises(now, reference)
    added = min(rise[2], rise[3], rise[5])
    added_noise = max(noise[2], noise[3], noise[5])
    violet, violet_noise = _ln_change(now, reference, 1)
    clear, clear_noise = _ln_change(now, reference, 4)
    # Daylight lifts 445 nm and clear as well, never much more than it lifts 515 nm.
    fits_daylight = -0.05 <= rise[1] <= 2 * added + 0.05 and -0.4 <= rise[4] <= 4 * added + 0.1
    if added > max(FOREIGN_SEEN, NOISE_LIMIT * added_noise) and fits_daylight:
        text = say("other_light_reaches_sensor", share=added)
        return Comparison("foreign_light", distance, added, added > FOREIGN_FAULT, text)
    if rise[5] > max(FILTER_NIR, NOISE_LIMIT * noise[5]) and abs(violet) <= OTHER_445 and clear > 0:
        text = say("violet_filter_gone")
        return Comparison("filter_gone", distance, rise[5], True, text)
    if abs(violet) > max(OTHER_445, NOISE_LIMIT * violet_noise):
        text = say("colour_of_other_lamps")
        return Comparison("other_lamp", distance, abs(violet), True, text)
    if clear > max(OTHER_CLEAR_RISE, NOISE_LIMIT * clear_noise) or clear < -OTHER_CLEAR_FALL:
        text = say("tubes_were_changed")
        return Comparison("other_lamp", distance, abs(clear), True, text)
    if abs(clear) > max(DRIFT_CLEAR, NOISE_LIMIT * clear_noise):
        text = say("colour_drifts")
        return Comparison("drifting", distance, abs(clear), False, text)
    return Comparison("same", distance, 0.0, False, say("colour_as_calibrated"))


def _ratio(print_: Fingerprint, channel: int) -> tuple[float, float]:
    """A channel over 415 nm, and its noise."""
    first = print_.shares[0]
    ratio = print_.shares[channel] / first
    return ratio, math.hypot(print_.sigmas[channel], ratio * print_.sigmas[0]) / first


def _rises(now: Fingerprint, reference: Fingerprint) -> tuple[list[float], list[float]]:
    rises, noises = [], []
    for channel in range(len(CHANNELS)):
        a, a_noise = _ratio(now, channel)
        b, b_noise = _ratio(reference, channel)
        rises.append(a - b)
        noises.append(math.hypot(a_noise, b_noise))
    return rises, noises


def _ln_change(now: Fingerprint, reference: Fingerprint, channel: int) -> tuple[float, float]:
    """ln of a channel's ratio to 415 nm, now against the reference; what is faint counts as `FAINT`."""
    a, a_noise = _ratio(now, channel)
    b, b_noise = _ratio(reference, channel)
    a, b = max(a, a_noise, FAINT), max(b, b_noise, FAINT)
    return math.log(a / b), math.hypot(a_noise / a, b_noise / b)


def _distance(now: Fingerprint, reference: Fingerprint) -> float:
    total = 0.0
    for a, b, s, r in zip(now.shares, reference.shares, now.sigmas, reference.sigmas, strict=True):
        total += ((a - b) / max(math.hypot(s, r), 0.005)) ** 2
    return math.sqrt(total / len(now.shares))
