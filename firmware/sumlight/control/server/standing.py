"""What of a snapshot changes with commands, states and lamp hours only, and takes most of the work."""

from collections.abc import Callable
from typing import Any, NamedTuple

from sumlight.text.message import Message

KEPT_S = 1.0
"""For so long those who watch are told what was worked out before, as long as nothing has happened."""


class Standing(NamedTuple):
    """`calibration` by bank, `warnings`, and `worth`: what the dose of each side is worth, by its name."""

    calibration: dict[str, Any]
    warnings: list[Message]
    worth: dict[str, dict[str, Any]]


class StandingParts:
    """Keeps the last ones. `make` works them out."""

    def __init__(self, make: Callable[[], Standing]) -> None:
        self._make = make
        self._kept: Standing | None = None
        self._facts: object = None
        self._until_s = 0.0

    def forget(self) -> None:
        """A command was carried out: it may have changed anything."""
        self._kept = None

    def anew(self, now_s: float, facts: object) -> Standing:
        """As they are now; `facts` tell one state of the box from another."""
        self._kept = found = self._make()
        self._facts, self._until_s = facts, now_s + KEPT_S
        return found

    def lately(self, now_s: float, facts: object) -> Standing:
        """As they were within the last second, unless something has happened since."""
        kept = self._kept
        if kept is None or facts != self._facts or now_s >= self._until_s:
            return self.anew(now_s, facts)
        return kept
