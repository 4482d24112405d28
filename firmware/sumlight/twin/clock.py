"""The twin's time: moved on by whoever waits, at full speed or tied to real time.

The one module beside `sumlight.clock` that may ask the machine for the time and sleep.
"""

import math
import time
from datetime import UTC, datetime, timedelta

START_S = 1000.0
"""Simulated time at creation. Not zero, so that code which takes a missing stamp for 0.0 shows itself."""


class TwinClock:
    """A `sumlight.clock.Clock` that stands still between waits.

    `speed` is simulated seconds per real second; None means without any sleeping. With a speed, simulated
    time never runs ahead of `speed` × real time; where the machine was too slow it catches up afterwards.
    `now_s` is the time itself, for the twin's own hot paths. Raises ValueError unless speed is above 0.
    """

    def __init__(self, speed: float | None = None) -> None:
        if speed is not None and not (math.isfinite(speed) and speed > 0):
            raise ValueError(f"speed is {speed}; it must be a number above 0, or None for as fast as possible")
        self.speed = speed
        self.now_s = START_S
        self._began_utc = datetime.now(UTC)
        self._began_real_s = time.monotonic()

    @property
    def real_time(self) -> bool:
        """Whether simulated time is tied to real time one to one."""
        return self.speed == 1

    def mono_s(self) -> float:
        """Simulated seconds; the same until somebody waits."""
        return self.now_s

    def utc(self) -> datetime:
        """Wall time at creation plus the simulated seconds since."""
        return self._began_utc + timedelta(seconds=self.now_s - START_S)

    def wait_until(self, mono_s: float) -> None:
        """Move simulated time on to `mono_s`; a moment already past changes nothing."""
        if mono_s <= self.now_s:
            return
        if self.speed is not None:
            due_s = self._began_real_s + (mono_s - START_S) / self.speed
            delay_s = due_s - time.monotonic()
            if delay_s > 0:
                time.sleep(delay_s)
        self.now_s = mono_s


class RunningClock(TwinClock):
    """A twin's clock for trying out a computer: first as fast as the machine goes; from `run` on time does not stand
    still while control computes, as on a real box.
    """

    def __init__(self) -> None:
        super().__init__()
        self._ahead_s: float | None = None

    def run(self) -> None:
        """Go with the machine's clock from now on."""
        self._ahead_s = self.now_s - time.monotonic()

    def mono_s(self) -> float:
        """Simulated seconds."""
        if self._ahead_s is not None:
            self.now_s = max(self.now_s, self._ahead_s + time.monotonic())
        return self.now_s

    def wait_until(self, mono_s: float) -> None:
        """As on the machine's clock, once it runs."""
        if self._ahead_s is None:
            super().wait_until(mono_s)
            return
        delay_s = mono_s - self.mono_s()
        if delay_s > 0:
            time.sleep(delay_s)
        self.mono_s()
