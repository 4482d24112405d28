"""The number of the state of the box, by which a press can say what it was meant for."""

import secrets


class StateNumber:
    """Numbers the states of the box as a person sees them; no number comes twice, not even after a restart.

    The first one is drawn at random below 2**52, so two runs of control practically never share a number, and each
    fits into a JSON number of any client. The present one stands `since_s` on control's clock.
    """

    def __init__(self) -> None:
        self._facts: tuple[object, ...] = ()
        self._number = secrets.randbits(52)
        self.since_s = 0.0

    def of(self, facts: tuple[object, ...], now_s: float) -> int:
        """The number of the state with these facts: the last one while they stay, else a new one."""
        if facts != self._facts:
            self._facts, self.since_s = facts, now_s
            self._number += 1
        return self._number
