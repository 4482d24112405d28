"""The loop's pace: a grid of fixed times to tick at, and how many a second it manages. Pure: time is an argument."""

import math
from collections import deque

from sumlight.box.charge_pump import TICK_S
from sumlight.control.exposure.state_machine import RefusedError

NEAR_S = 1e-6
"""What the sum of many periods may be off by."""

APART_S = TICK_S / 2
"""Two edges of the enable line closer than this are no wave: the pump's capacitors are not filled in between."""

SPAN_S = 5.0
"""Real time over which ticks are counted."""

SHOWN_AFTER_S = 1.0


class TickRate:
    """Slots ticked at a second, in real time, against what the charge pump of K1 needs.

    A box whose time does not run with real time has no rate, one without a pump no need (`needed_hz` None). `trial_hz`
    is what this computer managed before it was let near a lamp; if that was too little it stays so until a restart.
    """

    def __init__(self, needed_hz: float | None, *, real_time: bool, trial_hz: float | None = None) -> None:
        self.needed_hz = needed_hz
        self.trial_hz = trial_hz
        self._real_time = real_time
        self._at_s: deque[float] = deque()
        self._held = False

    def ticked(self, real_s: float, *, held: bool) -> None:
        """A slot was ticked at `real_s` of the machine's clock; `held` tells whether K1 is. Light is counted anew."""
        if not self._real_time:
            return
        at_s = self._at_s
        if held and not self._held:
            at_s.clear()
        self._held = held
        at_s.append(real_s)
        while len(at_s) > 1 and real_s - at_s[1] >= SPAN_S:
            at_s.popleft()

    @property
    def measured_hz(self) -> float | None:
        """Over the last seconds; before there are any, what the trial gave."""
        return self._over(SHOWN_AFTER_S) or self.trial_hz

    def trouble(self) -> str | None:
        """What is wrong with the rate, with the figure; None while it is enough or not known yet."""
        if self.needed_hz is None or (self.trial_hz is None and not self._at_s):
            return None
        for rate_hz in (self.trial_hz, self._over(SPAN_S)):
            if rate_hz is not None and rate_hz < self.needed_hz:
                return f"this computer is too slow: {rate_hz:.0f} ticks a second, {self.needed_hz:.0f} needed"
        return None

    def _over(self, least_s: float) -> float | None:
        span_s = self._at_s[-1] - self._at_s[0] if self._at_s else 0.0
        return (len(self._at_s) - 1) / span_s if span_s >= least_s else None


def refuse_if_slow(rate: TickRate) -> None:
    """For every press that closes K1. Raises RefusedError with the figure on a computer that is too slow."""
    if slow := rate.trouble():
        raise RefusedError(f"{slow[0].upper()}{slow[1:]}.", "End what else runs on this computer, or use a faster one.")


class Grid:
    """Multiples of the period on control's clock. A slot that was missed is dropped, never caught up.

    The enable line turns over at most once a slot, so a tick in between, for a side's cut, does not disturb its wave.
    """

    def __init__(self, now_s: float) -> None:
        self._slot = math.floor((now_s + NEAR_S) / TICK_S)
        self._beat_slot = self._slot
        self._beat_s = -math.inf

    def next_s(self, now_s: float) -> float:
        """When the next tick is due: the first multiple of the period that was not ticked at and has not passed."""
        last_passed = math.ceil((now_s - NEAR_S) / TICK_S) - 1
        return TICK_S * ((last_passed if last_passed > self._slot else self._slot) + 1)

    def ticked(self, now_s: float) -> bool:
        """A tick began; whether it is the first one of its slot."""
        slot = math.floor((now_s + NEAR_S) / TICK_S)
        if slot <= self._slot:
            return False
        self._slot = slot
        return True

    def beat(self, now_s: float) -> bool:
        """Whether the enable line is to turn over in this tick; asked once a tick that may."""
        if self._slot == self._beat_slot or now_s - self._beat_s < APART_S:
            return False
        self._beat_slot, self._beat_s = self._slot, now_s
        return True
