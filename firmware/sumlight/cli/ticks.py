"""What the terminal says of the tick rate: nothing while this computer is fast enough."""

from typing import Any

from sumlight.language import _, text_of

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
            detail = text_of(fault["detail"])
            return 3, f"{detail[0].upper()}{detail[1:]}."
    measured_hz, needed_hz = snapshot["ticks"]["measured_hz"], snapshot["ticks"]["needed_hz"]
    if measured_hz is None or needed_hz is None or measured_hz >= (1 + NEAR_SHARE) * needed_hz:
        return 0, ""
    rates = {"measured_hz": float(measured_hz), "needed_hz": float(needed_hz)}
    if measured_hz >= needed_hz:
        return 1, _(
            "This computer is only just fast enough: {measured_hz:.0f} ticks a second, {needed_hz:.0f} needed. "
            "End what else runs on it.",
            **rates,
        )
    return 2, _(
        "This computer is getting too slow: {measured_hz:.0f} ticks a second, {needed_hz:.0f} needed. "
        "Light ends if that lasts for five seconds.",
        **rates,
    )
