"""Timers of steps: when each rings, and how much time has passed over a restart. Pure; times in s.

No timer of an etch says when to take the panel out: through is seen. It rings for a look at the lower end of what is
expected, then after every tenth of it.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from sumlight.craft import developing
from sumlight.craft.baths.life import Within
from sumlight.craft.checks import above
from sumlight.craft.jobs.instructions import SETTLE_S, PanelNumbers, break_point_share, clear_s, etch_plan
from sumlight.craft.jobs.plans import Step
from sumlight.text.message import Message, say

What = Literal["half", "look_clear", "look_etch", "end"]
LONGEST_S = 7 * 86_400.0
JUMP_S = 2.0
"""A wall clock that moved so much more or less than the steady one was set."""

TOLD: dict[What, Message] = {
    "half": say("ring_half"),
    "look_clear": say("ring_look_clear"),
    "look_etch": say("ring_look_etch"),
    "end": say("ring_end"),
}


@dataclass(frozen=True)
class Ring:
    """A call so many seconds after the beginning."""

    after_s: float
    what: What


@dataclass(frozen=True)
class Schedule:
    """When a timer rings: at each of `rings`, then every `every_s` as the last one did; 0: no more."""

    rings: tuple[Ring, ...]
    every_s: float = 0.0

    def ring(self, number: int) -> Ring | None:
        """The ring of that number, from 0; None when there are no more."""
        if number < len(self.rings):
            return self.rings[number]
        if not self.every_s or not self.rings:
            return None
        last = self.rings[-1]
        return Ring(last.after_s + self.every_s * (number - len(self.rings) + 1), last.what)

    def rung(self, elapsed_s: float) -> int:
        """How many rings have come."""
        count = sum(ring.after_s <= elapsed_s for ring in self.rings)
        if count < len(self.rings) or not self.every_s or not self.rings:
            return count
        return count + int((elapsed_s - self.rings[-1].after_s) / self.every_s)


def schedule_of(step: Step, panel: PanelNumbers, within: Within | None = None) -> Schedule | None:
    """When the timer of a step rings; None for a step without one, or one whose time nobody knows."""
    forecast = None if within is None else within.forecast
    match step.kind:
        case "settle":
            return after(SETTLE_S)
        case "hold":
            return after(panel.hold_s) if panel.hold_s > 0 else None
        case "develop" if (clear := clear_s(panel, within)) is not None:
            whole = developing.dwell(clear, break_point_share(panel)).dwell_s
            return Schedule((Ring(whole / 2, "half"), Ring(clear, "look_clear"), Ring(whole, "end")))
        case "etch" if forecast is not None:
            return _looks(forecast.call_s, forecast.look_every_s)
        case "etch":
            found = etch_plan(panel)
            if found is None:
                return None
            first_s, second_s = found.looks_s[:2]
            return _looks(first_s, second_s - first_s)
    return None


def dwell_from(clear_after_s: float, share: float = developing.BEST) -> Schedule:
    """The rest of a dwell, once the break point was seen at that share of it."""
    return after(developing.dwell(clear_after_s, share).dwell_s)


def _looks(first_s: float, every_s: float) -> Schedule:
    return Schedule((Ring(first_s / 2, "half"), Ring(first_s, "look_etch")), every_s)


def after(seconds: float) -> Schedule:
    """A timer that rings once. Raises ValueError for no time, or more than a week."""
    return Schedule((Ring(above("seconds", seconds, 0, LONGEST_S), "end"),))


def passed_s(elapsed_s: float, noted: datetime, now: datetime) -> tuple[float, bool]:
    """Seconds since the beginning of a timer that another run left, and whether that is sure.

    `elapsed_s` had passed when it was `noted`. A clock that stands before that was set: then at least those are sure.
    """
    gap_s = (now - noted).total_seconds()
    return (elapsed_s + gap_s, True) if gap_s >= 0 else (elapsed_s, False)


def jump_s(steady_s: float, by_the_wall_s: float) -> float:
    """By how much the wall clock was set between two looks; 0 for what a clock drifts by itself."""
    moved_s = by_the_wall_s - steady_s
    return moved_s if abs(moved_s) > JUMP_S else 0.0


def recounted_s(off_s: float, jump_s: float) -> float:
    """What to add to a timer when the clock is set by `jump_s` that had told how long the box was off, `off_s`.

    That may be negative, for a clock without a battery; nothing was counted then.
    """
    return max(0.0, off_s + jump_s) - max(0.0, off_s)
