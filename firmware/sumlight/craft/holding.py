"""The rest between exposing and developing, while the exposed resist goes on to harden in the dark."""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Hold:
    """Where a panel stands in its rest.

    `state` is resting, ready or overdue; `left_s` the rest still due, `limit_left_s` what remains of the longest one
    (None without a limit, negative once overdue).
    """

    state: Literal["resting", "ready", "overdue"]
    left_s: float
    limit_left_s: float | None


def hold(since_exposed_s: float, hold_s: float, hold_limit_s: float | None) -> Hold:
    """Judge a panel `since_exposed_s` seconds after its exposure ended.

    Common practice, no source for a general figure: 15 to 30 minutes before developing, not beyond the same day.
    """
    left_s = max(0.0, hold_s - since_exposed_s)
    limit_left_s = None if hold_limit_s is None else hold_limit_s - since_exposed_s
    if limit_left_s is not None and limit_left_s < 0:
        return Hold("overdue", 0.0, limit_left_s)
    return Hold("resting" if left_s > 0 else "ready", left_s, limit_left_s)
