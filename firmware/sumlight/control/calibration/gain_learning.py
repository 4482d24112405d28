"""Learning the true size of gain steps on a steady lamp: each pair of neighbours read low, high, low. Pure."""

from collections.abc import Callable
from statistics import fmean
from typing import Literal

from sumlight.control.calibration.lamp_colour import six_basic_counts
from sumlight.light.gains import GainStep, learned_step
from sumlight.light.sample import Sample
from sumlight.light.sensors import AS7341, SensorKind

SAMPLES = 8
LEAST_SHARE = 0.03
"""Share of full scale below which a gain is not tried: offset and rounding would count too much."""
OFFSET_COUNTS = 2.0
"""Dark offset that differs from gain to gain (from memory of such sensors)."""
NOISE = 0.0005


class GainCalibration:
    """One lesson, from the gain in use downwards. `take` wants every conversion; `steps` holds what was learned."""

    def __init__(self, set_gain: Callable[[int], None], kind: SensorKind = AS7341) -> None:
        self._set_gain = set_gain
        self._kind = kind
        self.phase: Literal["idle", "running", "done", "failed"] = "idle"
        self.steps: list[GainStep] = []
        self._base = 0
        self._low = 0
        self._turn = 0
        self._seen: list[list[float]] = []
        self._counts = 0

    def begin(self, gain_code: int) -> None:
        """Start below the gain in use."""
        self.phase, self.steps = "running", []
        self._base, self._low = gain_code, gain_code - 1
        self._first_turn()

    def stop(self) -> None:
        """The light ended, or changed: what was learned so far stays."""
        if self.phase == "running":
            self._end("done" if self.steps else "failed")

    def take(self, sample: Sample) -> None:
        """One conversion under light."""
        wanted = self._low + (self._turn == 1)
        if self.phase != "running" or not sample.usable or sample.gain_code != wanted:
            return
        self._seen[self._turn].append(six_basic_counts(sample, self._kind)[0])
        self._counts = sample.counts[0]
        if len(self._seen[self._turn]) < SAMPLES:
            return
        self._turn += 1
        if self._turn < 3:
            self._set_gain(self._low + (self._turn == 1))
            return
        self._learn()

    def _learn(self) -> None:
        low, high, after = (fmean(values) for values in self._seen)
        noise = NOISE + OFFSET_COUNTS / max(1, self._counts)
        try:
            self.steps.append(learned_step(self._low, low, high, after, noise))
        except ValueError:  # the light was not steady
            self.stop()
            return
        self._low -= 1
        if self._low < self._kind.least_gain_code or self._counts / 2 < LEAST_SHARE * self._kind.full_scale:
            self._end("done")
        else:
            self._first_turn()

    def _first_turn(self) -> None:
        self._turn, self._seen = 0, [[], [], []]
        if self._low < self._kind.least_gain_code:
            self._end("failed")
            return
        self._set_gain(self._low)

    def _end(self, phase: Literal["done", "failed"]) -> None:
        self.phase = phase
        self._set_gain(self._base)
