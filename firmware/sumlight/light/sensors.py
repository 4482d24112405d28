"""The kinds of light sensors, and what each can and cannot do. Pure facts, for everything above the driver.

A sample has the same shape whatever gave it. What stands for the dose is its first channel: the violet one of the
AS7341, a proxy, or the UV-A of the AS7331, which is what most resists use.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from sumlight.light import counts

KindName = Literal["as7341", "as7331"]


@dataclass(frozen=True)
class SensorKind:
    """One kind.

    `integration_ms` is the length of a conversion, `full_scale` the largest count, `least_gain_code` and
    `most_gain_code` bound what of `counts.GAINS` the chip has. `channels` are the six of a sample. `sees_colour` tells
    whether lamps of another kind and daylight show in them, `own_led` whether its board carries a lamp for the
    self-check, `proxy` whether violet lines stand for the dose, `ripple_free` whether each single conversion lasts a
    whole number of half-periods of 50 and 60 Hz mains.
    """

    name: KindName
    integration_ms: float
    full_scale: int
    least_gain_code: int
    most_gain_code: int
    channels: tuple[str, ...]
    sees_colour: bool
    own_led: bool
    proxy: bool
    ripple_free: bool

    @cached_property
    def window_s(self) -> float:
        """Length of a conversion in seconds."""
        return self.integration_ms / 1000

    def within(self, gain_code: int) -> int:
        """The nearest gain code that the chip has."""
        return min(max(gain_code, self.least_gain_code), self.most_gain_code)


AS7341 = SensorKind(
    "as7341",
    counts.integration_ms(29, 599),
    counts.full_scale_counts(29, 599),
    0,
    10,
    ("415_nm", "445_nm", "480_nm", "515_nm", "clear", "near_infrared"),
    sees_colour=True,
    own_led=True,
    proxy=True,
    ripple_free=True,
)
"""50.04 ms: a whole number of half-periods of 50 Hz (5) and of 60 Hz mains (6), so ripple averages out."""

AS7331 = SensorKind(
    "as7331",
    64.0,
    65_535,
    1,
    10,
    ("uv_a", "uv_b", "uv_c", "empty_4", "empty_5", "empty_6"),
    sees_colour=False,
    own_led=False,
    proxy=False,
    ripple_free=False,
)
"""64 ms, 2^16 of its clock of 1.024 MHz, at gains 1 to 512 (driver's tables after DS001047). The chip's gains 1024 and
2048 are left out: they saturate below 0.4 mW/cm². No window of it, 1, 2, 4 … ms, divides the half-periods of the mains;
so conversions follow each other without a gap and are summed, which leaves ripple at the two ends of the light only.
Starting a shorter one every 50 ms would always catch the same part of a half-period and be wrong by per cents."""

BOTH = replace(AS7331, sees_colour=True, own_led=True)
"""An AS7331 with an AS7341 on the same head: UV-A is summed, colour and the LED's own light are looked at beside it.
Samples, and what records call it, are the AS7331's: a calibration stays good when the other is fitted or taken away."""

KINDS: dict[str, SensorKind] = {kind.name: kind for kind in (AS7341, AS7331)}


def record_name(meter: str, kind: KindName) -> str:
    """What records call a meter of this name in box.yaml; an AS7341 has the plain name, as in the oldest records."""
    return meter if kind == "as7341" else f"{meter} ({kind})"


def kind_of_record(meter: str) -> SensorKind:
    """The kind of a meter by what records call it."""
    return next((kind for kind in KINDS.values() if meter.endswith(f"({kind.name})")), AS7341)
