"""What light such a box can give at all, and what the colour of its light must look like; needs no calibration.

Two things are known of a light before anything is measured. How strong: no plane beside diffuse lamps gets more than
their walls give off. And its colour: a fluorescent tube shows the violet and the blue line of mercury, which come from
the same upper level and so in the same proportion whatever the tube does, while an LED at 365 to 405 nm has no blue at
all. The bounds are wide; what lies outside of them is not measured but mistaken.
"""

import math
from collections.abc import Sequence
from typing import Literal

from sumlight.text.message import Later, later

Lamps = Literal["tubes", "led"]

MOST_MW_CM2: dict[Lamps, float] = {"tubes": 25.0, "led": 500.0}
"""UV-A at the glass. A 15 W tube of 26 mm by 44 cm gives at most a quarter of its power as UV-A (from memory), so 10
mW/cm² at its own wall; compact ones twice that. LEDs: common practice, no source."""
BLUE_OVER_VIOLET: dict[Lamps, tuple[float, float]] = {"tubes": (0.12, 2.5), "led": (0.0, 0.25)}
"""Counts at 445 nm over those at 415 nm. From the channels' widths (DS000504) and mercury's two lines at any proportion
from 1 : 5 to 3 : 1 behind any glass the ratio lies between 0.24 and 2.0; LEDs of 15 nm stay below 0.06."""
FEWEST_COUNTS = 200.0
"""Colour is not judged below so many counts at 415 nm."""

UNCHECKED_LN_SIGMA: dict[Lamps, float] = {"tubes": 0.3, "led": 1.5}
"""Least standard uncertainty (ln) of a number that nobody has checked with these lamps. Tubes of another make may give
half as much UV-A beside the same violet. For LEDs such a number says next to nothing: from 365 to 405 nm the 415 nm
channel answers by factors of ten differently (judgement from the channel's width, no source)."""
FADE_PER_100_H: dict[Lamps, float] = {"tubes": 0.02, "led": 0.006}
"""How fast UV-A may fade against what the sensor sees (common practice, no source). Nobody knows at which hour an
unchecked number was right, so all of it since the lamps were new is doubt."""

CHANGED_BLUE = 0.02
"""Change (ln) of blue over violet within one light that no lamp makes."""
OTHER_BLUE = 0.035
"""And since the last panel under the same lamps."""
OTHER_LEVEL = math.log(3.0)
"""Change (ln) of the level since then; a cold room alone makes a factor of 2.5."""
DAYLIGHT_SHARE = 0.15
"""A change at 515 nm by this share of that at 445 nm is daylight, which others judge: lamps give next to none there."""
NOISE_LIMIT = 5.0

VIOLET, BLUE, GREEN = 0, 1, 3

Six = Sequence[float]


def unchecked_ln_sigma(stated: float, lamps: Lamps, lamp_hours: float) -> float:
    """Standard uncertainty (ln) of a calibration number that no measurement stands behind.

    `stated` is what box.yaml says of it. The doubt grows with the hours of the lamps: rectangular, JCGM 100 4.3.7.
    """
    faded = FADE_PER_100_H[lamps] * max(0.0, lamp_hours) / 100.0
    return math.hypot(max(stated, UNCHECKED_LN_SIGMA[lamps]), faded / math.sqrt(3))


def too_strong(mw_cm2: float, ln_sigma: float, lamps: Lamps) -> bool:
    """Whether no such lamps give this irradiance, whatever the calibration leaves open (k = 2)."""
    return mw_cm2 > MOST_MW_CM2[lamps] * math.exp(2 * ln_sigma)


def ln_blue(net: Six, noise: float) -> tuple[float, float] | None:
    """ln of blue over violet and its standard uncertainty, from net counts of six channels with `noise` in each.

    None where too little violet is there to judge by.
    """
    if net[VIOLET] < FEWEST_COUNTS:
        return None
    blue = max(net[BLUE], noise, 1e-3)
    return math.log(blue / net[VIOLET]), math.hypot(noise / blue, noise / net[VIOLET])


def wrong_colour(bank: str, net: Six, noise: float, lamps: Lamps, *, widened: float = 1.0) -> Later | None:
    """What is wrong with the colour of light from such lamps; the bounds `widened` by a factor where little is seen.

    `noise` is one channel's standard deviation in the unit of `net`.
    """
    seen = ln_blue(net, noise)
    if seen is None:
        return None
    share, sigma = math.exp(seen[0]), seen[1]
    low, high = BLUE_OVER_VIOLET[lamps]
    doubt = widened * math.exp(NOISE_LIMIT * sigma)
    if share * doubt < low:
        return later("no_blue_of_mercury", bank=bank, share=share)
    if share > high * doubt and lamps == "tubes":
        return later("too_blue_for_tubes", bank=bank, share=share)
    return later("blue_of_mercury", bank=bank, share=share) if share > high * doubt else None


def changed_colour(now: Six, before: Six, noise: float, limit: float) -> float | None:
    """By how much (ln) blue over violet changed, where it is more than `limit` and nothing that daylight explains.

    `now` and `before` are net counts at the same gain and time.
    `noise` is one channel's standard deviation in their unit.
    """
    a, b = ln_blue(now, noise), ln_blue(before, noise)
    if a is None or b is None:
        return None
    moved = [abs(now[channel] / now[VIOLET] - before[channel] / before[VIOLET]) for channel in (BLUE, GREEN)]
    if moved[1] > DAYLIGHT_SHARE * moved[0]:
        return None
    change = a[0] - b[0]
    return change if abs(change) > limit + NOISE_LIMIT * math.hypot(a[1], b[1]) else None
