"""The contact frame's vacuum pump: when it runs, and how long light still has to wait for it. Pure."""

import math


class Vacuum:
    """Runs from the word to light until dark. A box without a pump, or with a lead of 0 s, never waits.

    `lead_s` is how long the pump must have run before light: the films then lie flat on the resist.
    """

    def __init__(self, lead_s: float) -> None:
        self._lead_s = lead_s
        self._since_s: float | None = None
        self._until_s = math.inf

    @property
    def running(self) -> bool:
        """Whether the pump is to run now."""
        return self._since_s is not None

    def begin(self, now_s: float) -> None:
        """Start the pump, or let it run on."""
        if self._since_s is None:
            self._since_s = now_s
        self._until_s = math.inf

    def missing_s(self, now_s: float) -> float:
        """What is missing of the lead at `now_s`; all of it while the pump stands still."""
        return self._lead_s if self._since_s is None else max(0.0, self._since_s + self._lead_s - now_s)

    def stop_after(self, until_s: float) -> None:
        """Let it run on until then: a short pause must not cost the lead again."""
        self._until_s = until_s

    def stop(self) -> None:
        """Stop it at once."""
        self._since_s = None

    def tick(self, now_s: float) -> None:
        """Let time pass."""
        if now_s > self._until_s:
            self.stop()
