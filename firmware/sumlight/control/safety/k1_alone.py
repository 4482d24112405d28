"""K1 held alone: what is seen while the heart beats on and one hard-wired contact is to drop K1. Pure.

A step of commissioning asks for it (`commissioning`), `permit.K1Leave` is the leave, and the loop looks once a tick.
"""

from typing import Literal, NamedTuple

from sumlight.control.safety.permit import K1_ALONE_S, K1Conditions
from sumlight.text.message import Message

CLOSE_LIMIT_S = 0.4
"""Pump, K2 and K1 together must be closed by then; a little later the chain itself calls it a fault."""

DROP_LIMIT_S = 0.3
"""A mirror that has not dropped this long after a contact acted: that contact is not in K1's coil circuit."""

Contact = Literal["lid", "stop", "heat"]
End = Literal["dropped", "late", "too_early", "not_at_rest", "not_closed", "light", "fault", "time", "withdrawn"]


class K1Seen(NamedTuple):
    """What the loop sees in one tick: contacts that stand open, K1's mirror, and what else the leave asks."""

    contacts: tuple[Contact, ...]
    k1_dropped: bool | None
    light: bool
    banks_off: bool
    meter_reads: bool
    no_other_fault: bool
    loop_in_time: bool


class K1Alone:
    """One time of holding K1 alone, from lending it to its end.

    The mirror must show K1 dropped at first: one that always says the same proves nothing. `held_s` is when it first
    showed K1 held, `acted_s` when the first contact opened, `dropped_s` when the mirror then showed K1 dropped while
    edges still ran. `ended` says why it is over.
    """

    def __init__(self, began_s: float, may_stand: tuple[str, ...] = ()) -> None:
        self.may_stand = may_stand
        """Faults that the act itself brings about; any other one ends it."""
        self.held_s: float | None = None
        self.acted_s: float | None = None
        self.dropped_s: float | None = None
        self.contacts: tuple[Contact, ...] = ()
        self.ended: End | None = None
        self.why: Message | None = None
        self._began_s = began_s
        self._was_dropped = False

    def look(self, now_s: float, seen: K1Seen) -> K1Conditions:
        """Take in one tick; returns the conditions of the leave."""
        if self.acted_s is None and seen.contacts:
            self.acted_s = now_s
        self.contacts += tuple(name for name in seen.contacts if name not in self.contacts)
        conditions = K1Conditions(
            banks_off=seen.banks_off,
            no_light=not seen.light,
            meter_reads=seen.meter_reads,
            no_other_fault=seen.no_other_fault,
            loop_in_time=seen.loop_in_time,
            k1_follows=self._follows(now_s, seen.k1_dropped),
        )
        if self.ended is None and conditions.refusals():
            self.end("light" if seen.light else "fault", conditions.refusals()[0])
        return conditions

    def over(self, now_s: float) -> None:
        """The leave is gone though every condition held: its time is up, or somebody wants dark."""
        self.end("time" if now_s - self._began_s >= K1_ALONE_S else "withdrawn")

    def end(self, ended: End, why: Message | None = None) -> None:
        """Keep why it is over; the first reason counts."""
        if self.ended is None:
            self.ended, self.why = ended, why

    def _follows(self, now_s: float, dropped: bool | None) -> bool:
        """Whether K1 closes in time, is held until a contact acts, and drops in time then."""
        if self.held_s is None:
            return self._closes(now_s, dropped)
        if dropped:
            self.dropped_s = now_s
            self.end("dropped")
        elif dropped is None or (self.acted_s is not None and now_s - self.acted_s >= DROP_LIMIT_S):
            self.end("late")
        return self.ended is None

    def _closes(self, now_s: float, dropped: bool | None) -> bool:
        if not self._was_dropped:
            self._was_dropped = dropped is True
            if not self._was_dropped:
                self.end("not_at_rest")
        elif self.acted_s is not None:
            self.end("too_early")
        elif dropped is False:
            self.held_s = now_s
        elif now_s - self._began_s >= CLOSE_LIMIT_S:
            self.end("not_closed")
        return self.ended is None
