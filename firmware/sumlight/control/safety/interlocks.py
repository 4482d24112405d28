"""What the safety chain says of itself: K1's mirror, emergency stop, heat, a lid that never rests. Pure."""

from collections import deque

from sumlight.box.lid import LidState
from sumlight.box.signals import SignalReading
from sumlight.control.trouble import Trouble
from sumlight.protocol.snapshot import FaultName
from sumlight.text.message import later

K1_FOLLOW_S = 0.5
"""K1 may contradict its enable line for this long: pump, relay and contactor together, a contact that bounces, too."""

OPENINGS_MAX = 6
OPENINGS_SPAN_S = 3.0
"""More openings than this, within this time, are a loose contact and not a hand."""

UNPOWERED_S = 0.05
"""Every input open for so long is no accident of several switches; what they would say each waits until then."""


class Interlocks:
    """Judges the chain over time; `look` once a tick, `present` for the causes that can still be seen."""

    def __init__(self) -> None:
        self._odd: tuple[bool, float] | None = None
        """Since when K1 contradicts its being held, or not."""
        self._lid: LidState = "disagree"
        self._openings: deque[float] = deque(maxlen=OPENINGS_MAX + 1)
        self._present: set[FaultName] = set()
        self._all_open_since_s: float | None = None
        self._quiet: tuple[SignalReading, LidState, bool, bool] | None = None

    @property
    def present(self) -> set[FaultName]:
        """Faults whose cause is there now."""
        return self._present

    @property
    def unpowered(self) -> bool:
        """Whether every input reads open, so that none of them says anything of its own."""
        return self._all_open_since_s is not None

    def look(
        self, now_s: float, reading: SignalReading, *, lid: LidState, k1_held: bool, lid_both_open: bool
    ) -> list[Trouble]:
        """Take in this tick's contacts.

        `k1_held` tells whether the enable line is being moved, `lid_both_open` that neither contact of the lid is
        closed.
        """
        seen = (reading, lid, k1_held, lid_both_open)
        if seen == self._quiet:  # as in a look that found nothing and waits for nothing
            return []
        self._quiet = None
        # The mirror is open whenever K1 is held, so it alone would prove nothing.
        if lid_both_open and not reading.k1_dropped and _all_open(reading.stop_released, reading.cool):
            return self._all_open(now_s)
        self._all_open_since_s = None
        found: list[Trouble] = []
        if reading.stop_released is False:
            found.append((FaultName.EMERGENCY_STOP, later("stop_pressed")))
        if reading.cool is False:
            found.append((FaultName.TOO_HOT, later("heat_contact_open")))
        found += self._k1(now_s, reading.k1_dropped, held=k1_held)
        found += self._bounce(now_s, lid)
        self._present = {name for name, _ in found}
        if not found and self._odd is None:
            self._quiet = seen
        return found

    def _all_open(self, now_s: float) -> list[Trouble]:
        if self._all_open_since_s is None:
            self._all_open_since_s, self._odd, self._present = now_s, None, set()
        if now_s - self._all_open_since_s < UNPOWERED_S:
            return []
        self._present = {FaultName.INPUTS_UNPOWERED}
        return [(FaultName.INPUTS_UNPOWERED, later("every_input_open"))]

    def _k1(self, now_s: float, dropped: bool | None, *, held: bool) -> list[Trouble]:
        if dropped is None or held != dropped:
            self._odd = None
            return []
        if self._odd is None or held != self._odd[0]:
            self._odd = (held, now_s)
        waited_s = now_s - self._odd[1]
        if waited_s <= K1_FOLLOW_S:
            return []
        if held:
            return [(FaultName.K1_SILENT, later("k1_reads_dropped", waited_s=waited_s, limit_s=K1_FOLLOW_S))]
        return [(FaultName.K1_WELDED, later("k1_reads_closed", waited_s=waited_s, limit_s=K1_FOLLOW_S))]

    def _bounce(self, now_s: float, lid: LidState) -> list[Trouble]:
        if self._lid == "shut" and lid != "shut":
            self._openings.append(now_s)
        self._lid = lid
        if len(self._openings) <= OPENINGS_MAX or now_s - self._openings[0] > OPENINGS_SPAN_S:
            return []
        return [(FaultName.LID_BOUNCES, later("lid_opened_often", count=len(self._openings), span_s=OPENINGS_SPAN_S))]


def _all_open(*contacts: bool | None) -> bool:
    """Whether there is one at least, and none that is closed."""
    there = [contact for contact in contacts if contact is not None]
    return bool(there) and not any(there)
