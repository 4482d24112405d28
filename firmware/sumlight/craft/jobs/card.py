"""A panel's card: what was noted of its steps, which one is due, and whose turn is first. None needs an entry."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from sumlight.craft.jobs.plans import Step

State = Literal["begun", "done", "skipped", "wrong"]
OVER = ("done", "skipped")


@dataclass(frozen=True)
class Mark:
    """What was noted of one step of one panel; times as the logbook writes them, `word` in a person's own words."""

    state: State
    began_utc: str | None = None
    ended_utc: str | None = None
    word: str = ""
    by: str = ""


@dataclass(frozen=True)
class Turn:
    """A panel that waits for a hand: `left_s` until then (0: now), `ringing` when its timer calls.

    `gone` steps lie behind it.
    """

    panel_id: int
    left_s: float
    ringing: bool
    gone: int


def current(steps: Sequence[Step], marks: Mapping[int, Mark]) -> Step | None:
    """The step that is due: the last one at hand, else the first behind the last that is done. None when none is left.

    What was passed without a note counts as passed: a card that nobody touches costs nothing. A step may be skipped
    long before its turn.
    """
    at = 0
    for place in reversed(range(len(steps))):
        mark = marks.get(steps[place].step_id)
        if mark is not None and mark.state != "skipped":
            if mark.state != "done":
                return steps[place]
            at = place + 1
            break
    ahead = (step for step in steps[at:] if step.step_id not in marks)
    return next(ahead, None)


def gone(steps: Sequence[Step], marks: Mapping[int, Mark]) -> int:
    """How many steps lie behind a panel."""
    step = current(steps, marks)
    return len(steps) if step is None else steps.index(step)


def first_due(turns: Iterable[Turn]) -> Turn | None:
    """Whose turn is first: what rings, then who waits for a hand, the one furthest on first, then the next to ring."""
    return min(turns, key=lambda turn: (not turn.ringing, turn.left_s, -turn.gone, turn.panel_id), default=None)
