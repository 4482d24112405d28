"""One reading of the light sensor, as the chip gave it."""

from dataclasses import dataclass

CHANNELS_NM = (415, 445, 480, 515)
"""Peaks of the first four ADCs; the fifth is the clear channel, the sixth near infrared (AS7341, DS000504)."""

SATURATED = 1
"""Flag: the conversion hit full scale, so its counts are a lower bound."""

UNSETTLED = 2
"""Flag: the gain changed while the conversion ran, so its counts mean nothing."""


@dataclass(frozen=True, slots=True)
class Sample:
    """One conversion of all six ADCs.

    `end_s` is when the conversion was seen finished and `mid_s` the middle of its window, both in seconds on
    control's monotonic clock; `counts` are raw (415, 445, 480, 515 nm, clear, near infrared); `gain_code` is the
    chip's 0…10; `flags` combines SATURATED and UNSETTLED.
    """

    end_s: float
    mid_s: float
    counts: tuple[int, int, int, int, int, int]
    gain_code: int
    flags: int

    @property
    def usable(self) -> bool:
        """Whether the counts measure the light."""
        return self.flags == 0

    @property
    def settled(self) -> bool:
        """Whether the counts mean anything; saturated ones do, as a lower bound."""
        return not self.flags & UNSETTLED
