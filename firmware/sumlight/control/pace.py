"""The loop's pace: a grid of fixed times to tick at. Pure: time comes in as an argument."""

import math

from sumlight.box.charge_pump import TICK_S

NEAR_S = 1e-6
"""What the sum of many periods may be off by."""

APART_S = TICK_S / 2
"""Two edges of the enable line closer than this are no wave: the pump's capacitors are not filled in between."""


class Grid:
    """Multiples of the period on control's clock. A slot that was missed is dropped, never caught up.

    The enable line turns over at most once a slot, so a tick in between, for a side's cut, does not disturb its wave.
    """

    def __init__(self, now_s: float) -> None:
        self._slot = self._slot_of(now_s)
        self._beat_slot = self._slot
        self._beat_s = -math.inf

    def next_s(self, now_s: float) -> float:
        """When the next tick is due: the first multiple of the period that was not ticked at and has not passed."""
        last_passed = math.ceil((now_s - NEAR_S) / TICK_S) - 1
        return TICK_S * (max(self._slot, last_passed) + 1)

    def ticked(self, now_s: float) -> None:
        """A tick began."""
        self._slot = max(self._slot, self._slot_of(now_s))

    def beat(self, now_s: float) -> bool:
        """Whether the enable line is to turn over in this tick; asked once a tick that may."""
        if self._slot == self._beat_slot or now_s - self._beat_s < APART_S:
            return False
        self._beat_slot, self._beat_s = self._slot, now_s
        return True

    @staticmethod
    def _slot_of(now_s: float) -> int:
        return math.floor((now_s + NEAR_S) / TICK_S)
