"""Simulated switchgear: a bank's relay, and contactor K1 that a charge pump holds closed."""

from random import Random

HOLD_UP_S = 0.15
"""The charge pump holds K1 for this long after the last edge of the enable line."""
DROP_S = 0.02
"""Time K1 takes to open once its coil has no power, and to close once it has."""
EDGES_TO_CHARGE = 3
"""So many edges, none later than the hold-up after the one before, charge the pump."""


class Relay:
    """The relay of a bank. `closed` is its contact; `energised` what the pin asks for."""

    def __init__(self, lights_when: str, pull_in_s: float, release_s: float, jitter_s: float, rng: Random) -> None:
        self.closed = False
        self.energised = False
        self.welded = False
        self.token = 0
        self._lights_high = lights_when == "high"
        self._pull_in_s = pull_in_s
        self._release_s = release_s
        self._jitter_s = jitter_s
        self._rng = rng

    def asked(self, level: bool | None) -> bool:
        """Whether a level of the pin asks for light; floating (None) does not, by the board's own pull."""
        return level is not None and level == self._lights_high

    def delay_s(self) -> float:
        """How long the contact takes to follow its coil this time."""
        usual_s = self._pull_in_s if self.energised else self._release_s
        return max(0.0, usual_s + self._rng.gauss(0.0, self._jitter_s))

    def follow(self) -> bool:
        """Let the contact follow the coil; returns whether it moved."""
        if self.energised == self.closed or (self.closed and self.welded):
            return False
        self.closed = self.energised
        return True


class ChargePump:
    """What keeps K1 closed. Without an enable line K1 is taken as always closed."""

    def __init__(self, present: bool) -> None:
        self.present = present
        self.k1_closed = not present
        self.closing = False
        self.last_edge_s = float("-inf")
        self._level: bool | None = None
        self._edges = 0

    def line(self, level: bool | None, now_s: float) -> bool:
        """Take the level of the enable line (None: floating); returns whether that was an edge."""
        was, self._level = self._level, level
        if was is None or level is None or level == was:
            return False
        self._edges = self._edges + 1 if now_s - self.last_edge_s <= HOLD_UP_S else 1
        self.last_edge_s = now_s
        return True

    def charged(self, now_s: float) -> bool:
        """Whether the coil has power at `now_s`."""
        return self._edges >= EDGES_TO_CHARGE and now_s - self.last_edge_s < HOLD_UP_S - 1e-9
