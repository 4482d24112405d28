"""A look at the sensor board's own LED: on, some conversions, off, some more. Never waits; the loop moves it on."""

from typing import Literal, Protocol

from sumlight.control.calibration.lamp_colour import Six, six_basic_counts
from sumlight.light.sample import Sample
from sumlight.text.message import Later

LED_MA = 8
SKIP = 2
"""Conversions after each switching that hold light of both kinds."""
SAMPLES = 10


class LedMeter(Protocol):
    """What is needed of a light meter."""

    lost: Later | None

    def led(self, current_ma: int) -> None:
        """Switch the board's LED; 0 is off."""


Phase = Literal["idle", "lit", "dark", "done", "failed"]


class SelfTest:
    """One look. `begin` asks for it; `tick` switches, `take` collects; then `phase` is done and `seen` holds it."""

    def __init__(self) -> None:
        self.phase: Phase = "idle"
        self.seen: Six | None = None
        self.gain_code = 0
        self._wanted = False
        self._skip = 0
        self._sums: dict[str, list[float]] = {}
        self._counts: dict[str, int] = {}

    @property
    def running(self) -> bool:
        """Whether conversions belong to the look and not to the box's darkness."""
        return self._wanted or self.phase in ("lit", "dark")

    def begin(self) -> None:
        """Ask for a look at the next tick."""
        self._wanted, self.seen, self.phase = True, None, "idle"

    def tick(self, meter: LedMeter, allowed: bool) -> None:
        """Switch the LED; a lid that opens, a fault or a silent meter ends the look in darkness."""
        if not self.running:
            return
        if not allowed or meter.lost is not None:
            self._wanted = False
            if self.phase == "lit":
                meter.led(0)
            self.phase = "failed"
        elif self._wanted:
            self._wanted = False
            self._sums = {"lit": [0.0] * 6, "dark": [0.0] * 6}
            self._counts = {"lit": 0, "dark": 0}
            meter.led(LED_MA)
            self.phase, self._skip = "lit", SKIP
        elif self.phase == "lit" and self._counts["lit"] >= SAMPLES:
            meter.led(0)
            self.phase, self._skip = "dark", SKIP
        elif self.phase == "dark" and self._counts["dark"] >= SAMPLES:
            self.phase = "done"
            lit, dark = self._sums["lit"], self._sums["dark"]
            self.seen = tuple((a - b) / SAMPLES for a, b in zip(lit, dark, strict=True))

    def take(self, sample: Sample) -> None:
        """One conversion while the look goes on."""
        if self.phase not in ("lit", "dark") or not sample.usable or self._counts[self.phase] >= SAMPLES:
            return
        if self._skip:
            self._skip -= 1
            return
        self.gain_code = sample.gain_code
        self._counts[self.phase] += 1
        sums = self._sums[self.phase]
        for channel, value in enumerate(six_basic_counts(sample)):
            sums[channel] += value
