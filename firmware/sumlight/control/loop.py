"""The one loop. Everything that touches light happens here, in one thread, every five milliseconds.

A box at rest, whose lamps have been off for a while and are not asked for, is looked after every twenty.
"""

import logging
import math
import time
from collections.abc import Callable
from typing import Any

from sumlight.box.assembly import Box
from sumlight.box.charge_pump import needed_ticks_hz
from sumlight.box.lamps import Failure, LampBank, LightRefusedError, tell_unclosed, try_each
from sumlight.box.lid import LidState
from sumlight.box.supply import Gauge, SupplyGauge
from sumlight.clock import Clock
from sumlight.control.bank_monitor import BankMonitor
from sumlight.control.calibration.dose_uncertainty import UncertaintyEstimator
from sumlight.control.calibration.registry import CalibrationBook
from sumlight.control.exposure.curve import Curve
from sumlight.control.exposure.side import SideRun
from sumlight.control.exposure.state_machine import Event, Exposure
from sumlight.control.k1_hold import K1Holder
from sumlight.control.pace import LINGER_S, Grid, TickRate
from sumlight.control.records.recorder import Recorder
from sumlight.control.safety.advisories import Advisories
from sumlight.control.safety.dark import DarkDoor
from sumlight.control.safety.faults import FAULTS, FaultRegistry
from sumlight.control.safety.interlocks import Interlocks
from sumlight.control.safety.light_monitor import LightMonitor
from sumlight.control.safety.permit import Conditions, Permit
from sumlight.control.safety.watchdog import STALL_S, Watchdog
from sumlight.control.state_number import StateNumber
from sumlight.control.trouble import Trouble
from sumlight.light.sample import Sample
from sumlight.protocol.snapshot import FaultName
from sumlight.store.logbook.calibrations import StoredCalibrations
from sumlight.store.logbook.writer import LogWriter
from sumlight.text.message import Later, Message, as_written, later

log = logging.getLogger(__name__)

RECONNECT_S = 1.0
OFF_AGAIN_S = 0.08
"""Off is written again so often, a little more than ten times a second, where nothing is to be on."""

LIGHT_UNASKED = (FaultName.LIGHT_WHILE_DARK, FaultName.FOREIGN_LIGHT)
REMARK_S = 1.0
LOGBOOK_FAULTS = {
    "full": FaultName.DISK_FULL,
    "damaged": FaultName.LOGBOOK_DAMAGED,
    "other": FaultName.LOGBOOK_FAILED,
}


class ControlLoop:
    """Reads the lid and the light, lets the exposure decide, and holds or withdraws the permit; nothing else lights."""

    def __init__(
        self,
        clock: Clock,
        box: Box,
        permit: Permit,
        writer: LogWriter,
        recorder: Recorder,
        kept: StoredCalibrations | None = None,
    ) -> None:
        self.clock = clock
        self.box = box
        self.permit = permit
        self.writer = writer
        self.recorder = recorder
        limits = box.description.limits
        comforts = box.description.comforts
        self.exposure = Exposure(limits, box.sensor.window_s, comforts.lead_s if comforts else 0.0)
        self.desk = FaultRegistry()
        self.door = DarkDoor(permit, box)
        self.go_dark = self.door.go_dark
        self.watch = Watchdog(lambda: self.go_dark("the loop stands still"), self._something_on)
        self._off_again_at_s = 0.0
        self._states = StateNumber()
        meters = {bank.name: box.meters[bank.meter] for bank in box.description.banks}
        self.book = CalibrationBook(box.description, kept or StoredCalibrations())
        self.banks = {
            bank.name: BankMonitor(
                bank, meters[bank.name], LightMonitor(bank.name, limits, box.sensor.integration_ms), self.book
            )
            for bank in box.banks
        }
        self._watches = tuple(self.banks.values())
        recorder.scale_of = lambda bank: self.banks[bank].scale()
        recorder.window_of = self._window_of
        recorder.sensor = box.sensor
        self.appraiser = UncertaintyEstimator(self.banks)
        self.appraiser.field_relative = self.book.field_relative
        recorder.appraiser = self.appraiser
        self.lid: LidState = "disagree"
        self.chain = Interlocks()
        self.advisories = Advisories()
        self.supply: Gauge = SupplyGauge()
        self.watched = False
        self._remark_at_s = 0.0
        self.k1_held = False
        self.read_anew = False
        """Whether a meter was read since somebody put this back: a self-check or a lesson may have ended."""
        self.k1 = K1Holder(self)
        self.ticks = 0
        self.grid = Grid(clock.mono_s())
        self.rate = TickRate(needed_ticks_hz() if box.enable is not None else None, real_time=clock.real_time)
        self._ticked_s = clock.mono_s()
        self._brisk_until_s = self._ticked_s + LINGER_S
        self.curve = Curve()
        self.observers: list[Callable[[Exposure, Event], None]] = []

    def _window_of(self, bank: str) -> tuple[float, float | None]:
        """What is corrected for the meter's window, and what a fresh self-check says of it."""
        return self.book.corrected_by(bank), self.book.window_share(bank, self.banks[bank].anchor.lamp_hours)

    def tick(self) -> None:
        """One pass. Anything unexpected ends in dark and a standing fault, never in lamps left on."""
        try:
            self._tick(self.clock.mono_s())
        except Exception as error:  # the last line of defence: dark, latched, logged; the loop goes on
            known = FaultName.INTERNAL in self.desk
            self.fail_safe(f"{type(error).__name__}: {error}")
            if not known:  # once is enough; it may fail two hundred times a second
                log.exception("a tick failed")

    def fail_safe(self, detail: str) -> None:
        """Something of the program itself went wrong: dark first, then the fault that says so.

        Raises what a pin raised that could not be put to rest: control then ends, which lets go of the pin.
        """
        now_s = self.clock.mono_s()
        failed = self.go_dark("an error of the program")
        self._report(FaultName.INTERNAL, as_written(detail), now_s)
        self.exposure.faulted_is(True, now_s)
        if failed:
            raise failed[0][1]

    def wait(self) -> None:
        """Sleep until the next tick on the grid, or until a side must be cut if that comes first."""
        now_s = self.clock.mono_s()
        if now_s >= self._brisk_until_s:  # at rest
            looks_s = [watch.meter.rest_look_s for watch in self._watches if watch.meter.lost is None]
            self.clock.wait_until(self.grid.idle_s(now_s, min(looks_s, default=math.inf)))
            return
        self.clock.wait_until(min(self.grid.next_s(now_s), self.exposure.next_deadline_s()))

    @property
    def resting(self) -> bool:
        """Whether the box is looked after at the pace of rest."""
        return self.clock.mono_s() >= self._brisk_until_s

    def hurry(self, now_s: float) -> None:
        """Something goes on for which every five milliseconds count: keep up the pace for a while."""
        self._brisk_until_s = now_s + LINGER_S

    def close(self) -> list[Failure]:
        """Dark, then let go of everything, whatever one part does; logs and returns what failed."""
        self.go_dark("control ends")
        failed = try_each([("watch", self.watch.close)])
        tell_unclosed(failed)
        return failed + self.box.close()

    def _tick(self, now_s: float) -> None:
        self.ticks += 1
        stalled_s, self._ticked_s = now_s - self._ticked_s, now_s
        if stalled_s > STALL_S:
            self._stood_still(stalled_s, now_s)
        real_s = time.monotonic()
        exposure = self.exposure
        if exposure.running or self.k1.alone is not None or FaultName.TOO_SLOW in self.desk:
            self._brisk_until_s = now_s + LINGER_S
        new_slot = self.grid.ticked(now_s)
        if now_s >= self._brisk_until_s:
            self.rate.pause()
        elif new_slot:
            self.rate.ticked(real_s, held=self.k1_held)
        if self.watch.watching:  # after a halt of the whole process the loop may come by before the watch does
            self.watch.check(real_s)
        self.watch.alive(real_s)
        if self.box.lid is not None:
            self.lid = self.box.lid.read(now_s)
        exposure.lid_is(self.lid, now_s)
        if self.lid != "shut":
            self._apply(now_s)  # dark before anything else is looked at
            self.k1_held = self.permit.may_hold(now_s)
        self._look_for_trouble(now_s)
        self._tell_switched(now_s)
        for watch in self._watches:
            if watch.led.running:
                self.read_anew = True
                watch.led.tick(watch.meter, self.lid == "shut" and not self.desk.stops and not exposure.running)
            self._read_light(watch, now_s)
        for name, detail in exposure.tick(now_s):
            self._report(name, detail, now_s)
        exposure.faulted_is(self.desk.stops, now_s)
        self._apply(now_s)
        if self.k1.alone is not None:
            self.k1.tick(now_s)
        self.k1_held = self.permit.may_hold(now_s)
        if exposure.events:
            self._record_events()
        self.recorder.journal(exposure, now_s)
        self._states.of((exposure.facts(), self.desk.names), now_s)

    def state_number(self) -> int:
        """The number of the present state; another one after every change of state, lid, plan or faults."""
        return self._states.of((self.exposure.facts(), self.desk.names), self.clock.mono_s())

    def state_since(self) -> tuple[int, float]:
        """The number of the present state and when it began, on control's clock."""
        return self.state_number(), self._states.since_s

    def _read_light(self, watch: BankMonitor, now_s: float) -> None:
        meter, commanded = watch.meter, watch.bank.commanded
        if not commanded and not watch.fresh(now_s) and now_s >= watch.connect_at_s:
            watch.connect_at_s = now_s + RECONNECT_S
            meter.connect(now_s)
        sample = None
        if now_s >= meter.next_look_s:
            sample = meter.poll(now_s, lit=watch.witness.first_light_s is not None)
        if sample is None:
            if commanded and watch.witness.first_light_s is None:
                self._report_if(watch.witness.no_light_yet(now_s), now_s)
            return
        self.read_anew = True
        if watch.led.running:
            watch.led.take(sample)
            return
        glass = watch.glass(sample)
        watch.glass_mw_cm2 = glass
        self._report_if(self.exposure.reading(watch.bank.name, sample, glass), now_s)
        self._judge(watch, sample, glass, now_s)
        self._keep(watch, sample, glass, now_s)

    def _judge(self, watch: BankMonitor, sample: Sample, glass_mw_cm2: float, now_s: float) -> None:
        """Let the reading bear witness: of lamps that are on, or of darkness while the lid is shut."""
        side = self._under_light(watch.bank.name)
        dark = side.dark_mw_cm2 if side else 0.0
        limit = self.box.description.limits.dark_limit_mw_cm2
        watch.bright = not watch.told_lit and glass_mw_cm2 > limit and self.lid == "shut"
        if watch.told_lit:
            self._report_if(watch.witness.lit(sample, glass_mw_cm2 - dark), now_s)
            self._report_if(watch.spectrum.lit(sample, watch.witness.first_light_s), now_s)
            watch.lesson.take(sample)
            return
        watch.spectrum.dark(sample)
        if self.lid == "shut" and sample.settled:
            cut = side.cut_mw_cm2 / side.plan.transmission if side and side.state == "cut" else 0.0
            self._report_if(watch.witness.dark(sample, glass_mw_cm2, cut), now_s)

    def _under_light(self, bank: str) -> SideRun | None:
        """The side that a bank lights, or has lit a moment ago."""
        for side in self.exposure.sides:
            if side.plan.bank == bank and side.state in ("lit", "cut"):
                return side
        return None

    def _keep(self, watch: BankMonitor, sample: Sample, glass_mw_cm2: float, now_s: float) -> None:
        for side in self.exposure.sides:
            if side.plan.bank == watch.bank.name and side.state in ("lit", "cut"):
                net = (glass_mw_cm2 - side.dark_mw_cm2) * side.plan.transmission
                self.recorder.sample(side, sample, net)
                self.curve.add(now_s, side.plan.side, net, side.dose_mj_cm2)

    def _look_for_trouble(self, now_s: float) -> None:
        self._look_at_chain(now_s)
        if self.box.lid is not None and self.box.lid.judge.mismatch and not self.chain.unpowered:
            self._report(FaultName.LID_MISMATCH, later("contacts_contradict"), now_s)
        if self.watch.tripped_after_s is not None and (stalled_s := self.watch.take_trip()) is not None:
            self.go_dark("the loop stood still")  # once more: what the loop was writing then may have come later
            self._report(FaultName.LOOP_LATE, later("no_tick", stalled_s=stalled_s), now_s)
        if self.k1_held and (slow := self.rate.trouble()):
            self._report(FaultName.TOO_SLOW, slow, now_s)
        if self.exposure.running and self.writer.error:
            self._report(LOGBOOK_FAULTS[self.writer.trouble], self.writer.error, now_s)
        failed = self.recorder.poll(self.exposure)
        if failed:
            self.exposure.record_failed()
            self._report(LOGBOOK_FAULTS[self.writer.trouble], failed, now_s)
        if self.desk.names:
            self.desk.note_causes(self._causes(now_s))

    def _look_at_chain(self, now_s: float) -> None:
        if self.box.signals is not None:
            reading = self.box.signals.read()
            both_open = self.box.lid is not None and self.box.lid.judge.both_open
            found = self.chain.look(now_s, reading, lid=self.lid, k1_held=self.k1_held, lid_both_open=both_open)
            for name, detail in found:
                self._report(name, detail, now_s)
        if now_s >= self._remark_at_s:
            self._remark_at_s = now_s + REMARK_S
            told = self.advisories.look(
                now_s,
                self.clock.utc(),
                supply_low=self.supply.low(),
                watched=self.watched,
                lit=bool(self.exposure.wanted()),
            )
            for name, detail in told:
                self._report(name, detail, now_s)

    def _causes(self, now_s: float) -> set[FaultName]:
        """Faults whose cause can still be seen; the others were events and are over."""
        present = self.chain.present | self.advisories.present
        if self.box.lid is not None and self.box.lid.judge.mismatch and not self.chain.unpowered:
            present.add(FaultName.LID_MISMATCH)
        if self.rate.trouble():
            present.add(FaultName.TOO_SLOW)
        if self.writer.error:
            present.add(LOGBOOK_FAULTS[self.writer.trouble])
        if any(not watch.fresh(now_s) for watch in self.banks.values()):
            present.add(FaultName.METER_LOST)
        if any(watch.bright for watch in self.banks.values()):
            present |= set(LIGHT_UNASKED)
        return present

    def _apply(self, now_s: float) -> None:
        """Renew or withdraw the permit and bring lamps and K1 in line with it."""
        wanted = self.exposure.wanted()
        holding = self.exposure.enable_wanted()
        conditions = self.permit.conditions
        found = (  # in the order of Conditions, which is only made anew when one of them has changed
            self.lid == "shut",
            not self.desk.stops,
            self.exposure.light_known(now_s),
            self.watch.tripped_after_s is None,
            self.exposure.record_ready,
            holding,
        )
        if found != conditions:
            conditions = Conditions(*found)
        granted = self.permit.renew(now_s, conditions)
        lit = wanted if granted else ()
        switched = False
        for watch in self._watches:
            bank = watch.bank
            if bank.commanded is (bank.name in lit):
                continue
            if not granted:
                self.go_dark(conditions.why_not())
            self._switch(bank, bank.name in lit)
            switched = True
        if switched:
            self._tell_switched(now_s)
        enable = self.box.enable
        if enable is not None and granted and self.grid.beat(now_s):
            enable.beat()
        elif enable is not None and self.k1_held and not self.permit.may_hold(now_s):
            enable.rest()
        if now_s >= self._off_again_at_s:
            self._off_again_at_s = now_s + OFF_AGAIN_S
            self._write_off_again(now_s)
        if self.box.comforts:
            self._drive_comforts(now_s, lit=bool(lit))

    def _drive_comforts(self, now_s: float, *, lit: bool) -> None:
        """Let fan, pump and beacon follow what is, not only what was commanded."""
        limit = self.box.description.limits.dark_limit_mw_cm2
        hot = FaultName.TOO_HOT in self.desk
        burning = lit or any(watch.bright for watch in self._watches)
        shines = burning or any(
            watch.sees(limit, now_s) for watch in self._watches
        )  # an open lid is no reason to hide it
        wanted = {"fan": burning or hot, "pump": self.exposure.vacuum.running, "beacon": shines}
        for name, comfort in self.box.comforts.items():
            comfort.follow(wanted[name], now_s)

    def _write_off_again(self, now_s: float) -> None:
        """Write off for every bank that is not lit, and for a line without leave: a write may have come late."""
        for bank in self.box.banks:
            if not bank.commanded:
                bank.dark()
        if self.box.enable is not None and not self.permit.may_hold(now_s):
            self.box.enable.rest()

    def _something_on(self) -> bool:
        return self.permit.k1.lent or any(bank.commanded for bank in self.box.banks)

    def _tell_switched(self, now_s: float) -> None:
        """Tell those who judge light which banks were switched, in turn or by the door."""
        for watch in self._watches:
            if watch.told_lit != watch.bank.commanded:
                watch.told_lit = not watch.told_lit
                watch.witness.switched(now_s)
                self._note_switch(watch, watch.told_lit)

    def _note_switch(self, watch: BankMonitor, on: bool) -> None:
        if not on:
            watch.lesson.stop()
        if not on and watch.spectrum.net is not None:
            watch.settled_basic_counts = watch.spectrum.net[0]
        anchor, now_s = watch.anchor, self.clock.mono_s()
        watch.heat.switched(on=on, now_s=now_s)
        watch.spectrum.switched(on=on, now_s=now_s, reference=anchor.reference, signs=anchor.signs)

    def _switch(self, bank: LampBank, on: bool) -> None:
        if not on:
            bank.dark()
            return
        try:
            bank.light()
        except LightRefusedError as error:
            log.error("%s", error)

    def _record_events(self) -> None:
        events, self.exposure.events = self.exposure.events, []
        for event in events:
            self.recorder.happened(self.exposure, event)
            for observer in self.observers:
                observer(self.exposure, event)

    def _stood_still(self, stalled_s: float, now_s: float) -> None:
        """When the whole process stood still the watch did too, and the permit ran out with nobody to act on it."""
        if self._something_on():
            self.go_dark("the whole process stood still")
            self._report(FaultName.LOOP_LATE, later("no_tick", stalled_s=stalled_s), now_s)

    def _report_if(self, trouble: Trouble | None, now_s: float) -> None:
        if trouble is not None:
            self._report(*trouble, now_s)

    def _report(self, name: FaultName, detail: Message | Later, now_s: float) -> None:
        """Latch a fault. One that stops light ends it before a word is logged: a log may be slow."""
        if FAULTS[name].stops and (self.permit.granted(now_s) or any(bank.commanded for bank in self.box.banks)):
            self.go_dark(name)
        told = self.desk.report(name, detail, now_s)
        if told is not None:
            if name in LIGHT_UNASKED:
                self.go_dark(name)
            log.error("fault %s: %s", name, told)
            self.recorder.fault(name, told)

    def tell(self, name: FaultName, detail: Message | Later) -> None:
        """Latch a remark that was found outside the loop, e.g. in the logbook."""
        self._report(name, detail, self.clock.mono_s())

    def acknowledge(self, who: str) -> dict[str, Any]:
        """A person has read the faults: clear those whose cause is gone."""
        self.desk.note_causes(self._causes(self.clock.mono_s()))
        cleared = self.desk.acknowledge()
        for name in cleared:
            self.recorder.cleared(name, who)
        self.exposure.faulted_is(bool(self.desk), self.clock.mono_s())
        return {"cleared": cleared, "standing": [fault.kind.fault for fault in self.desk.standing()]}
