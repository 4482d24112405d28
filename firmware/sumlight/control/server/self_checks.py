"""Self-checks: the sensor looks at its own LED, which tells dirt on its window from lamps that have aged."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from sumlight.control.bank_monitor import BankMonitor
from sumlight.control.calibration.answers import WindowCheck
from sumlight.control.loop import ControlLoop
from sumlight.control.refused import RefusedError
from sumlight.store.logbook.calibrations import SelfCheckRecord, ShiftRecord
from sumlight.store.logbook.reading import utc_text
from sumlight.text.message import say


class SelfChecks:
    """The self-checks of all banks; `lamp_hours` tells a bank's hours of light."""

    def __init__(self, loop: ControlLoop, lamp_hours: Callable[[str], float]) -> None:
        self._loop = loop
        self._lamp_hours = lamp_hours
        self._window: dict[str, WindowCheck] = {}

    def begin(self, bank: str) -> None:
        """Let the sensor of a bank look. Raises RefusedError while it may not, and where its board has no LED."""
        watch = self._loop.banks[bank]
        if not watch.meter.kind.own_led:
            raise RefusedError(say("no_self_check_led"), say("wipe_window_instead"))
        if self._loop.desk or self._loop.lid != "shut" or not watch.fresh(self._loop.clock.mono_s()):
            raise RefusedError(
                say("self_check_needs"),
                say("see_to_that_first"),
            )
        if not watch.led.running:
            watch.led.begin()
            self._window.pop(bank, None)

    def apply(self, bank: str) -> WindowCheck:
        """Apply the correction that the last one offered. Raises RefusedError where there is none."""
        window = self._window.get(bank)
        if window is None or not window.may_apply:
            raise RefusedError(say("no_correction_to_apply"), say("run_self_check_first"))
        self._shift(bank, window, applied=True)
        self._window[bank] = done = replace(window, sentence=say("correction_applied"), may_apply=False)
        return done

    def take(self) -> None:
        """Take in those that have ended."""
        for name, watch in self._loop.banks.items():
            if watch.led.phase == "done":
                self._judge(name, watch)

    def picture(self, bank: str) -> dict[str, Any] | None:
        """How far the last one of a bank has come, and what it found; None where the sensor has no LED for it."""
        watch, window = self._loop.banks[bank], self._window.get(bank)
        if not watch.meter.kind.own_led:
            return None
        return {
            "phase": "running" if watch.led.running else watch.led.phase,
            "result": None if window is None else vars(window),
        }

    def _judge(self, bank: str, watch: BankMonitor) -> None:
        seen, watch.led.phase = watch.led.seen, "idle"
        if seen is None:
            return
        book, hours, lamp = self._loop.book, self._lamp_hours(bank), watch.settled_basic_counts
        if lamp is not None:
            lamp = self._loop.recorder.at_usual_air(bank, lamp)  # a cold room is no ageing of the lamps
        window = self._window[bank] = book.judge_window(bank, seen, lamp)
        first = window.verdict == "reference"
        record = SelfCheckRecord(watch.meter.name, bank, self._utc(), hours, seen, lamp, window.verdict, first)
        book.add_self_check(record)
        self._loop.writer.add_metrology(record)
        if window.ln_shift and not window.may_apply:
            self._shift(bank, window, applied=False)

    def _shift(self, bank: str, window: WindowCheck, *, applied: bool) -> None:
        watch, book = self._loop.banks[bank], self._loop.book
        record = ShiftRecord(
            watch.meter.name,
            bank,
            book.lamp_set(bank),
            self._lamp_hours(bank),
            window.ln_shift,
            window.ln_sigma,
            applied,
            self._utc(),
        )
        book.add_shift(record)
        self._loop.writer.add_metrology(record)

    def _utc(self) -> str:
        return utc_text(self._loop.clock.utc())
