"""Developing: from the break point to the dwell.

The break point is the moment when the last open place clears. It should lie at 50 to 65 % of the whole dwell, best at
60 % (data sheet of a film, trade notes E1; the eye sees it late, a finger feels slime longer). Times in seconds.
"""

from dataclasses import dataclass

from sumlight.craft.checks import above, between
from sumlight.text.message import say

EARLIEST, BEST, LATEST = 0.50, 0.60, 0.65
WORN_OUT = 1.5
"""Clearing that takes so many times the fresh bath's: mix new (common practice, no source)."""


@dataclass(frozen=True)
class Dwell:
    """Whole time in the developer, and the shortest and longest that keep the break point where it belongs."""

    dwell_s: float
    shortest_s: float
    longest_s: float


def dwell(clear_s: float, share: float = BEST) -> Dwell:
    """Work out the dwell from the time to clear. Raises ValueError for a time outside 2 s to an hour, or share."""
    hint = say("hint_scrap_of_roll")
    between("clear_s", clear_s, 2, 3600, hint)
    between("share", share, EARLIEST, LATEST, say("hint_break_point"))
    return Dwell(clear_s / share, clear_s / LATEST, clear_s / EARLIEST)


def break_point_share(clear_s: float, dwell_s: float) -> float:
    """Where the break point lay. Raises ValueError for a panel taken out before it was clear."""
    above("clear_s", clear_s, 0, 36000)
    between("dwell_s", dwell_s, clear_s, 36000, say("hint_cleared_after"))
    return clear_s / dwell_s


def is_worn_out(clear_s: float, fresh_clear_s: float) -> bool:
    """Whether the developer is worn out, by its own time to clear. Raises ValueError for times that cannot be."""
    return above("clear_s", clear_s, 0, 36000) >= WORN_OUT * above("fresh_clear_s", fresh_clear_s, 0, 36000)
