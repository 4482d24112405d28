"""Things worth telling that do not end light: the wall clock jumped, the supply sags, nobody watches. Pure."""

from datetime import datetime

from sumlight.control.trouble import Trouble
from sumlight.protocol.snapshot import FaultName
from sumlight.text.message import later

STEP_S = 2.0
"""A jump of the wall clock against the monotonic one by more than this is told."""

UNWATCHED_S = 15.0


class Advisories:
    """Judges, about once a second, what should be told but need not darken anything."""

    def __init__(self) -> None:
        self._offset_s: float | None = None
        self._watched_s: float | None = None
        self._present: set[FaultName] = set()

    @property
    def present(self) -> set[FaultName]:
        """Remarks whose cause is there now; a jump of the clock is over as soon as it is seen."""
        return self._present

    def look(self, now_s: float, utc: datetime, *, supply_low: bool | None, watched: bool, lit: bool) -> list[Trouble]:
        """Take in the clocks, the supply's alarm, and whether a page is watching while lamps burn."""
        found = self._clock(now_s, utc)
        if supply_low:
            found.append((FaultName.SUPPLY_LOW, later("supply_below_limit")))
        found += self._page(now_s, watched=watched, lit=lit)
        self._present = {name for name, _ in found} - {FaultName.CLOCK_STEPPED}
        return found

    def _clock(self, now_s: float, utc: datetime) -> list[Trouble]:
        offset_s = utc.timestamp() - now_s
        before_s, self._offset_s = self._offset_s, offset_s
        if before_s is None or abs(offset_s - before_s) <= STEP_S:
            return []
        return [(FaultName.CLOCK_STEPPED, later("clock_jumped", seconds=offset_s - before_s))]

    def _page(self, now_s: float, *, watched: bool, lit: bool) -> list[Trouble]:
        if watched or not lit:
            self._watched_s = now_s if watched or self._watched_s is not None else None
            return []
        if self._watched_s is None or now_s - self._watched_s <= UNWATCHED_S:
            return []
        return [(FaultName.PAGE_GONE, later("nobody_watches", seconds=now_s - self._watched_s))]
