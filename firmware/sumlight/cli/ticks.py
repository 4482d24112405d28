"""What the terminal says of the tick rate: nothing while this computer is fast enough."""

from typing import Any

NEAR_SHARE = 0.1
"""Closer than this to what K1's charge pump needs is told."""


class RateTeller:
    """Follows snapshots; each word comes once until the matter gets worse."""

    def __init__(self) -> None:
        self._worst = 0

    def words(self, snapshot: dict[str, Any]) -> str | None:
        """What is to be said of this snapshot, with the figure; None if nothing new is."""
        grade, text = _judged(snapshot)
        if grade <= self._worst:
            return None
        self._worst = grade
        return text


def _judged(snapshot: dict[str, Any]) -> tuple[int, str]:
    for fault in snapshot["faults"]:
        if fault["name"] == "too_slow":
            detail = str(fault["detail"])
            return 3, f"{detail[0].upper()}{detail[1:]}."
    measured_hz, needed_hz = snapshot["ticks"]["measured_hz"], snapshot["ticks"]["needed_hz"]
    if measured_hz is None or needed_hz is None or measured_hz >= (1 + NEAR_SHARE) * needed_hz:
        return 0, ""
    rates = f"{measured_hz:.0f} ticks a second, {needed_hz:.0f} needed"
    if measured_hz >= needed_hz:
        return 1, f"This computer is only just fast enough: {rates}. End what else runs on it."
    return 2, f"This computer is getting too slow: {rates}. Light ends if that lasts for five seconds."
