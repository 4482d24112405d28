"""The loop's pace: a grid of fixed times to tick at, and how many a second it manages. Pure: time is an argument."""

import math
from collections import deque
from itertools import pairwise

from sumlight.box.charge_pump import TICK_S
from sumlight.control.refused import RefusedError
from sumlight.text.message import Later, later, say

NEAR_S = 1e-6
"""What the sum of many periods may be off by."""

IDLE_TICK_S = 0.02
"""Between two ticks of a box at rest. What a person does takes longer: the shortest opening of the lid that is then
seen for sure lasts as long."""

LINGER_S = 10.0
"""After light the loop keeps its pace for so long."""

APART_S = TICK_S / 2
"""Two edges of the enable line closer than this are no wave: the pump's capacitors are not filled in between."""

SPAN_S = 5.0
"""Real time over which ticks are counted."""

SHOWN_AFTER_S = 1.0
LOOK_S = 1.0


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
        self._gap: tuple[float, float | None] = (-math.inf, None)

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

    def pause(self) -> None:
        """The loop goes at the pace of a box at rest, which says nothing of what the computer could do."""
        self._at_s.clear()

    @property
    def measured_hz(self) -> float | None:
        """Over the last seconds; before there are any, what the trial gave."""
        return self._over(SHOWN_AFTER_S) or self.trial_hz

    @property
    def longest_gap_s(self) -> float | None:
        """The longest real time between two ticks of the last seconds; None while there are none, as at rest.

        Worked out once a second at most: a snapshot, which is asked for in the loop, must not pay for it each time.
        """
        if len(self._at_s) < 2:
            return None
        newest_s, known_s = self._gap
        if known_s is None or self._at_s[-1] - newest_s >= LOOK_S:
            known_s = max(later_s - earlier_s for earlier_s, later_s in pairwise(self._at_s))
            self._gap = self._at_s[-1], known_s
        return known_s

    def trouble(self) -> Later | None:
        """What is wrong with the rate, with the figure; None while it is enough or not known yet."""
        if self.needed_hz is None or (self.trial_hz is None and not self._at_s):
            return None
        for rate_hz in (self.trial_hz, self._over(SPAN_S)):
            if rate_hz is not None and rate_hz < self.needed_hz:
                return later("computer_too_slow", rate_hz=rate_hz, needed_hz=self.needed_hz)
        return None

    def _over(self, least_s: float) -> float | None:
        span_s = self._at_s[-1] - self._at_s[0] if self._at_s else 0.0
        return (len(self._at_s) - 1) / span_s if span_s >= least_s else None


def refuse_if_slow(rate: TickRate) -> None:
    """For every press that closes K1. Raises RefusedError with the figure on a computer that is too slow."""
    if slow := rate.trouble():
        raise RefusedError(slow.said(), say("end_what_else_runs"))


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

    def idle_s(self, now_s: float, look_s: float) -> float:
        """When the next tick of a box at rest is due, of whose meters one is to be looked at from `look_s` on."""
        due_s = self.next_s(now_s)
        until_s = min(now_s + IDLE_TICK_S, look_s)
        return due_s if until_s <= due_s else TICK_S * math.ceil((until_s - NEAR_S) / TICK_S)

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
