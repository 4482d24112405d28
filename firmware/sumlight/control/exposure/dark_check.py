"""The look at darkness before light: what the meters read with the lamps off, to be taken off the dose. Pure."""

import math
from collections.abc import Iterable

from sumlight.box.description import Limits
from sumlight.control.trouble import Trouble
from sumlight.light.sample import Sample
from sumlight.protocol.snapshot import FaultName
from sumlight.text.message import later

DARK_SAMPLES = 5
DARK_PATIENCE_S = 3.0
LIGHTS_OUT_S = 0.1
"""How long after switching off a conversion may still hold afterglow."""


class DarkCheck:
    """Gathers readings of darkness of the banks that are to be lit, until there are enough of each.

    `window_s` is the length of a conversion of the meters.
    """

    def __init__(self, limits: Limits, window_s: float) -> None:
        self._limits = limits
        self._window_s = window_s
        self.readings: dict[str, list[tuple[float, float]]] = {}
        """By bank: when a conversion ended, and what it read at the glass in mW/cm²."""
        self._gain_code: dict[str, int] = {}
        self.since_s = 0.0
        self.lights_out_s = -math.inf

    def lights_out(self, now_s: float) -> None:
        """Lamps were switched off: what began before their afterglow was over is no darkness."""
        self.lights_out_s = now_s

    def begin(self, banks: Iterable[str], now_s: float) -> None:
        """Look anew."""
        self.readings = {bank: [] for bank in banks}
        self.since_s = now_s

    def reading(self, bank: str, sample: Sample, glass_mw_cm2: float) -> Trouble | None:
        """Take in a usable conversion; trouble if the last few of a bank are too bright on average."""
        if bank not in self.readings or sample.mid_s - self._window_s / 2 < self.lights_out_s + LIGHTS_OUT_S:
            return None
        readings = self.readings[bank]
        if readings and sample.gain_code != self._gain_code[bank]:  # each gain has an offset of its own
            readings.clear()
        self._gain_code[bank] = sample.gain_code
        readings.append((sample.end_s, glass_mw_cm2))
        limit, mean = self._limits.dark_limit_mw_cm2, self.mean_mw_cm2(bank)
        if len(readings) >= DARK_SAMPLES and mean > limit:
            return FaultName.LIGHT_WHILE_DARK, later(
                "bright_before_lighting", bank=bank, mw_cm2=mean, limit_mw_cm2=limit
            )
        return None

    @property
    def complete(self) -> bool:
        """Whether there are enough readings of every bank."""
        return all(len(readings) >= DARK_SAMPLES for readings in self.readings.values())

    def mean_mw_cm2(self, bank: str) -> float:
        """The mean of the last few readings of a bank."""
        latest = self.readings[bank][-DARK_SAMPLES:]
        return sum(value for _, value in latest) / len(latest)

    def ended_s(self, bank: str) -> float:
        """When the last conversion of a bank ended."""
        return self.readings[bank][-1][0]

    def silent(self, now_s: float) -> Trouble | None:
        """Trouble once the readings have been too long in coming."""
        if self.complete or now_s - self.since_s <= DARK_PATIENCE_S:
            return None
        return FaultName.METER_LOST, later("no_reading_before_light", silent_s=DARK_PATIENCE_S)
