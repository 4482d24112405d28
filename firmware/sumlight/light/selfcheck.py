"""Which of lamp, diffuser and sensor has changed, asked of the sensor board's own LED.

With lamps off and the lid closed the LED shines on the diffuser and part of its light comes back. Some of it returns
straight from the inner face, the rest went out through the dirt and came back in: a diffuser that passes t shows as
(1 - s) + s t², s being that rest. The lamps' light passes once, so it falls by t. An ageing lamp leaves the LED alone.
All limits are common practice, no source.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Literal

from sumlight.text.message import NOTHING, Message, as_written, joined, say

Verdict = Literal["steady", "lamp_ages", "diffuser_dirty", "diffuser_cleaned", "sensor_changed"]

THROUGH_SHARE = 0.5
"""Share of the LED's light that goes through the diffuser, unless learned for the box."""
SHARE_SIGMA = 0.095
"""Standard uncertainty of that share: it depends on how far the diffuser is and how it scatters."""
LED_NOISE = 0.011
"""Relative noise of an LED reading. White LEDs lose 0.1 to 0.3 % a kelvin (data sheets, from memory), and rooms without
a thermometer differ by some kelvin from season to season: that is no dirt."""
UNCHANGED = 0.015
"""Changes below 1.5 % are not told apart from noise and temperature."""
AGREEMENT = 0.04
"""LED and lamp tell the same story within 4 %."""
CHANNEL_SPREAD = 0.03
"""Dirt is grey: channels that differ by more mean that sensor or filter changed."""
CORRECTED: dict[Verdict, Message] = {
    "diffuser_dirty": say("dose_corrected_meanwhile"),
    "diffuser_cleaned": say("dose_corrected"),
}


@dataclass(frozen=True)
class SelfCheck:
    """Outcome of a self-check.

    `found` is what was seen, `sentence` also what becomes of the dose. `ln_shift` is what to add to ln(mW/cm² per
    basic count), 0 unless the diffuser changed, and `ln_sigma` its standard uncertainty. `diffuser` is its
    transmission against the reference.
    """

    verdict: Verdict
    found: Message
    diffuser: float
    ln_shift: float
    ln_sigma: float

    @property
    def sentence(self) -> Message:
        """What was seen, and that the dose is corrected where it is."""
        return joined(self.found, CORRECTED.get(self.verdict, NOTHING))


def diffuser_from(led_ratio: float, through_share: float = THROUGH_SHARE) -> float:
    """Transmission of the diffuser against the reference from the LED's reading against the reference.

    Raises ValueError for a share outside 0 to 1 or a ratio too low to come from dirt alone.
    """
    if not 0 < through_share <= 1:
        raise ValueError(f"through_share must lie above 0 and up to 1, not {through_share}")
    squared = (led_ratio - (1 - through_share)) / through_share
    if squared <= 0:
        raise ValueError(say("led_not_from_dirt", ratio=led_ratio))
    return math.sqrt(squared)


def learned_share(led_clean: float, led_covered: float, sheet_transmission: float) -> float:
    """The share s of this box, from LED readings with a clean diffuser and with a grey sheet laid on it.

    The sheet's transmission is known. Raises ValueError if the readings make no sense.
    `led_clean` and `led_covered` are in one unit of counts.
    """
    if not (led_clean > 0 and 0 < sheet_transmission < 0.9):
        raise ValueError("the LED must be seen and the sheet must pass less than 0.9 of the light")
    share = (1 - led_covered / led_clean) / (1 - sheet_transmission**2)
    if not 0.05 <= share <= 1:
        raise ValueError(f"a share of {share:.2f} cannot be; it must lie between 0.05 and 1, read both again")
    return share


def judge(
    led_now: Sequence[float],
    led_reference: Sequence[float],
    lamp_ratio: float | None,
    *,
    through_share: float = THROUGH_SHARE,
    share_sigma: float = SHARE_SIGMA,
    led_noise: float = LED_NOISE,
) -> SelfCheck:
    """Judge from the LED in several channels now and at the reference, and from the lamps.

    `lamp_ratio` is the settled lamp reading over what was last seen at the same temperature, None without one.
    `share_sigma` is the standard uncertainty of `through_share`, `led_noise` the relative noise of an LED
    reading. Raises ValueError for lists that do not match. `led_now` and `led_reference` are in one unit of counts.
    """
    if not led_now or len(led_now) != len(led_reference) or min(led_reference) <= 0:
        raise ValueError("LED readings and reference must have the same channels, the reference above 0")
    ratios = [now / reference for now, reference in zip(led_now, led_reference, strict=True)]
    led = fmean(ratios)
    if min(ratios) <= 0 or (max(ratios) - min(ratios)) / led > CHANNEL_SPREAD + 4 * led_noise:
        return _changed(say("channels_changed_differently"))
    lamp_steady = lamp_ratio is None or abs(math.log(lamp_ratio)) <= UNCHANGED
    if abs(math.log(led)) <= UNCHANGED + 2 * led_noise:
        return _led_steady(lamp_ratio, lamp_steady)
    try:
        diffuser = diffuser_from(led, through_share)
    except ValueError as error:
        return _changed(as_written(error.args[0]))
    if lamp_ratio is not None and abs(math.log(lamp_ratio / diffuser)) > AGREEMENT and lamp_steady:
        return _changed(say("led_differs_lamps_do_not"))
    # From d(led) = 2 s t dt + (t² - 1) ds, as relative change of t.
    from_noise = led_noise * led
    from_share = (1 - diffuser**2) * share_sigma
    sigma = math.hypot(from_noise, from_share) / (2 * through_share * diffuser**2)
    if diffuser < 1:
        text = say("diffuser_dirty", share=diffuser)
        return SelfCheck("diffuser_dirty", text, diffuser, -math.log(diffuser), sigma)
    text = say("diffuser_cleaned", share=diffuser)
    return SelfCheck("diffuser_cleaned", text, diffuser, -math.log(diffuser), sigma)


def _led_steady(lamp_ratio: float | None, lamp_steady: bool) -> SelfCheck:
    if lamp_steady or lamp_ratio is None:
        return SelfCheck("steady", say("reads_as_before"), 1.0, 0.0, 0.0)
    return SelfCheck("lamp_ages", say("lamps_changed", share=lamp_ratio), 1.0, 0.0, 0.0)


def _changed(why: Message) -> SelfCheck:
    return SelfCheck("sensor_changed", say("sensor_changed", why=why), 1.0, 0.0, 0.0)
