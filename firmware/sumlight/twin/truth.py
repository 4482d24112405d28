"""What each side really got: the twin's own bookkeeping, which control never sees."""

from sumlight.twin.world import World


class Truth:
    """True dose at the resist by side, in mJ/cm², daylight included."""

    def __init__(self, world: World) -> None:
        self._world = world
        self._began: dict[str, tuple[str, float, float]] = {}
        self._final: dict[str, float] = {}

    def forget(self) -> None:
        """A new panel is laid in."""
        self._began.clear()
        self._final.clear()

    def lit(self, side: str, bank: str, transmission: float) -> None:
        """Lamps go on for a side, for the first time or again."""
        if side not in self._began:
            self._began[side] = (bank, transmission, self._world.actinic_mj_cm2(bank))

    def done(self, side: str) -> None:
        """A side has all it gets."""
        if side in self._began and side not in self._final:
            self._final[side] = self._now(side)

    def dose_mj_cm2(self) -> dict[str, float]:
        """Each side that was ever lit."""
        return {side: self._final.get(side, self._now(side)) for side in self._began}

    def _now(self, side: str) -> float:
        bank, transmission, before = self._began[side]
        return (self._world.actinic_mj_cm2(bank) - before) * transmission
