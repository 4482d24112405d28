"""Holds K1 alone in the loop: gathers what is seen, renews its leave once a tick, moves the enable line on or not."""

from typing import Protocol

from sumlight.box.assembly import Box
from sumlight.box.lid import LidState
from sumlight.clock import Clock
from sumlight.control.bank_monitor import BankMonitor
from sumlight.control.pace import Grid
from sumlight.control.safety.faults import FaultRegistry
from sumlight.control.safety.k1_alone import Contact, K1Alone, K1Seen
from sumlight.control.safety.permit import Permit
from sumlight.control.safety.watchdog import Watchdog


class Surroundings(Protocol):
    """What of the loop bears on holding K1 alone."""

    clock: Clock
    box: Box
    permit: Permit
    grid: Grid
    desk: FaultRegistry
    banks: dict[str, BankMonitor]
    lid: LidState
    watch: Watchdog


class K1Holder:
    """The one place that moves the enable line without a lamp. Fail-safe: at rest unless every condition holds."""

    def __init__(self, loop: Surroundings) -> None:
        self._loop = loop
        self.alone: K1Alone | None = None

    def lend(self, may_stand: tuple[str, ...]) -> K1Alone:
        """Hold K1 alone from the next tick on; `may_stand` are the faults that the act itself brings about."""
        now_s = self._loop.clock.mono_s()
        self.alone = K1Alone(now_s, may_stand)
        self._loop.permit.lend_k1(now_s)
        return self.alone

    def tick(self, now_s: float) -> bool:
        """Once a tick, after the lamps; true if K1 is held."""
        alone, leave, enable = self.alone, self._loop.permit.k1, self._loop.box.enable
        if alone is None or alone.ended is not None or enable is None:
            return False
        if leave.lent and leave.renew(now_s, alone.look(now_s, self._seen(now_s, alone))):
            if self._loop.grid.beat(now_s):
                enable.beat()
            return True
        alone.over(now_s)
        leave.withdraw()
        enable.rest()
        return False

    def _seen(self, now_s: float, alone: K1Alone) -> K1Seen:
        loop = self._loop
        reading = None if loop.box.signals is None else loop.box.signals.read()
        watches = list(loop.banks.values())
        limit = loop.box.description.limits.dark_limit_mw_cm2
        opened: dict[Contact, bool] = {
            "lid": loop.lid != "shut",
            "stop": reading is not None and reading.stop_released is False,
            "heat": reading is not None and reading.cool is False,
        }
        return K1Seen(
            contacts=tuple(name for name, is_open in opened.items() if is_open),
            k1_dropped=None if reading is None else reading.k1_dropped,
            light=any(watch.glass_mw_cm2 is not None and watch.glass_mw_cm2 > limit for watch in watches),
            banks_off=not any(watch.bank.commanded for watch in watches),
            meter_reads=all(watch.fresh(now_s) for watch in watches),
            no_other_fault=all(
                fault.kind.fault in alone.may_stand for fault in loop.desk.standing() if fault.kind.stops
            ),
            loop_in_time=loop.watch.tripped_after_s is None,
        )
