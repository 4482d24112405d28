"""Puts control together and keeps it going: parts, logbook, loop, socket."""

import contextlib
import logging
import math
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from gpiozero.pins import Factory

from sumlight.box.assembly import Box
from sumlight.box.description import BoxDescription
from sumlight.box.lamps import Failure, tell_unclosed, try_each
from sumlight.box.supply import Gauge
from sumlight.box.wiring import wiring_sha256
from sumlight.checkedfile import FileProblemsError
from sumlight.clock import Clock
from sumlight.control.commissioning.session import CommissioningSession
from sumlight.control.exposure.leftover import DamagedRecordError
from sumlight.control.exposure.plan import PlanError
from sumlight.control.gc_policy import GcPolicy
from sumlight.control.loop import ControlLoop
from sumlight.control.pace import NEAR_S
from sumlight.control.precedence import precedence
from sumlight.control.records.air import AirWatch
from sumlight.control.records.nightly_check import NightlyCheck
from sumlight.control.records.recorder import Recorder
from sumlight.control.records.retention import Retention
from sumlight.control.safety.permit import Permit
from sumlight.control.server.commands import Commander, Hands, read_bank_states
from sumlight.control.server.socket_server import Service
from sumlight.control.systemd import Notifier
from sumlight.protocol.snapshot import FaultName
from sumlight.store.datalock import DataInUseError, DataLock
from sumlight.store.lasting import lasting
from sumlight.store.logbook.calibrations import StoredCalibrations
from sumlight.store.logbook.jobs import KeptJobs
from sumlight.store.logbook.latest_states import take_up
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.records import BankState, Commissioned, InterruptedExposure
from sumlight.store.logbook.writer import GATHER_S, LogWriter
from sumlight.store.maintenance.recovery import make_sound
from sumlight.store.recipes import RecipeStore
from sumlight.text.message import joined, messages_of, say

log = logging.getLogger(__name__)

ASIDE_S = 0.1 - NEAR_S
"""Time between two looks at what no light hangs on."""

ASKED_S = 0.01 - NEAR_S
"""Time between two looks at socket and buttons: people and pages need no more, and every look costs the loop."""

PUSH_S, PUSH_AT_REST_S = 0.2, 0.5
"""Time between snapshots to watching clients, at the pace of light and at that of rest. What changes the state of the
box is told at once."""

NIGHT_S = 1.0
"""Time between two looks whether the logbook is due to be read through."""

LOGBOOK = "logbook.sqlite"
RECIPES = "recipes"
REPORTS = "commissioning"
SOCKET = "control.sock"


def _gather_s(threaded: bool) -> float:
    """How long states of light may wait for the logbook: without threads nothing waits."""
    return GATHER_S if threaded else 0.0


def _as_known(
    left: InterruptedExposure | None, known_up_to_s: dict[str, float], gather_s: float
) -> InterruptedExposure | None:
    """How much light may be missing: little after a kill, what the logbook was not told of yet after a power cut."""
    if left is None:
        return None
    between_s = {
        new.side: known_up_to_s.get(new.side, max(gather_s, left.between_records_s.get(new.side, 0.0)))
        for new, _ in left.sides
    }
    return replace(left, between_records_s=between_s)


class Daemon:
    """Control of one box over one data folder (`recipes/`, `logbook.sqlite`).

    `bus` opens an I2C bus by number; `threaded` gives the logbook a thread of its own, as a real box needs;
    `durable` makes every record survive a power cut; `supply` stands in for the Pi's own gauge; `trial_hz` is what
    this computer managed in the trial without pins. A damaged logbook is set aside and told. `lock` is the folder's,
    where somebody took it before; it is released in the end. Raises DataInUseError if another process works with the
    folder or nothing can be written to it, LogbookError if no logbook can be opened.
    """

    def __init__(
        self,
        description: BoxDescription,
        clock: Clock,
        pin_factory: Factory,
        bus: Callable[[int], Any],
        data: Path,
        *,
        simulated: bool = False,
        threaded: bool = True,
        durable: bool = True,
        hands: Hands | None = None,
        truth: Callable[[], dict[str, float]] | None = None,
        supply: Gauge | None = None,
        lock: DataLock | None = None,
        trial_hz: float | None = None,
    ) -> None:
        lasts = "lasts" if simulated else lasting(data)
        if lasts == "read_only":
            raise DataInUseError(say("data_read_only", folder=str(data)))
        self.lock = lock or DataLock(data)  # before anything is read or mended: it may be somebody else's at present
        self.clock = clock
        self._simulated = simulated
        path = data / LOGBOOK

        def read() -> tuple[
            InterruptedExposure | None, str | None, dict[str, BankState], Commissioned, StoredCalibrations, KeptJobs
        ]:
            with contextlib.closing(Logbook(path, durable=durable)) as book:
                known_up_to_s = take_up(book, path)
                return (
                    _as_known(book.interrupted(), known_up_to_s, _gather_s(threaded)),
                    book.left_inside(),
                    read_bank_states(book, [bank.name for bank in description.banks]),
                    book.commissioned(wiring_sha256(description), simulated=simulated),
                    book.calibrations.kept(),
                    replace(book.jobs.kept(), baths=book.baths.kept(), stock=book.stock.kept()),
                )

        rescued = make_sound(path, clock.utc(), durable=durable, trial=read)
        left, left_inside, states, known, kept, jobs = read()
        self.writer = LogWriter(data / LOGBOOK, threaded=threaded, durable=durable, gather_s=_gather_s(threaded))
        permit = Permit()
        box = Box(
            description,
            pin_factory,
            bus,
            lambda: permit.granted(clock.mono_s()),
            lambda: permit.may_hold(clock.mono_s()),
            threaded=threaded,
        )
        recorder = Recorder(self.writer, clock, description.name, simulated=simulated)
        recorder.air = AirWatch(box.thermometer)
        self._air = recorder.air if box.thermometer is not None else None
        self.loop = ControlLoop(clock, box, permit, self.writer, recorder, kept)
        recorder.is_led = lambda bank: self.loop.book.lamps(bank) == "led"
        self.loop.rate.trial_hz = trial_hz
        if slow := self.loop.rate.trouble():
            self.loop.tell(FaultName.TOO_SLOW, slow)
        if supply is not None:
            self.loop.supply = supply
        for name, watch in self.loop.banks.items():
            gain_code = states[name].gain_code
            if gain_code is not None:
                watch.meter.gain_code = watch.meter.lamp_gain_code = gain_code
        self.shelf = RecipeStore(data / RECIPES)
        commissioning = CommissioningSession(self.loop, known, data / REPORTS, simulated=simulated)
        self.commander = Commander(
            self.loop,
            self.shelf,
            states,
            lambda: Logbook.open_reader(data / LOGBOOK),
            simulated=simulated,
            hands=hands,
            truth=truth,
            commissioning=commissioning,
            jobs=jobs,
        )
        self._panel = self.commander.panel
        if lasts == "in_ram":
            self.commander.remarks.append(say("data_in_ram", folder=str(data)))
        elif lasts == "unsure":
            self.commander.remarks.append(say("data_may_be_in_ram", folder=str(data)))
        self.service: Service | None = None
        self._night = NightlyCheck(data / LOGBOOK) if threaded else None
        self._night_at_s = 0.0
        self._retention = Retention(self.writer, description.logbook.keep_traces_days)
        self._notifier = Notifier()
        self.garbage = GcPolicy()
        self._push_at_s = 0.0
        self._pushed_number: int | None = None
        self._aside_at_s = self._asked_at_s = -math.inf
        if rescued is not None:
            log.error("%s", rescued.words)
            self.loop.tell(FaultName.LOGBOOK_UNSOUND, rescued.words)
        self.loop.exposure.left_inside = left_inside or ("panel" if rescued is not None else None)
        if left is not None:
            try:
                self.commander.restore(left)
            except (FileProblemsError, PlanError, DamagedRecordError) as error:
                self._close_leftover(left, error)

    def _close_leftover(self, left: InterruptedExposure, error: Exception) -> None:
        """It cannot be continued: nothing is lit by it, the record says why, and a person is told."""
        now = self.clock.utc()
        why = joined(*messages_of(error))
        told = say("leftover_closed", panel=left.panel, number=left.exposure_id, why=why)
        log.error("%s", told)
        self.writer.finish(left.exposure_id, "abandoned", True, now)
        self.writer.add(told, lambda book: book.note_maintenance("closed", told, now))
        if isinstance(error, DamagedRecordError):
            self.loop.tell(FaultName.LOGBOOK_UNSOUND, told)

    def serve(self, path: Path) -> None:
        """Open the socket. Raises SocketInUseError."""
        self.service = Service(path, self.commander.handle)

    def step(self) -> None:
        """One tick with its share of socket work, then the wait for the next."""
        self.loop.tick()
        self.commander.commissioning.look()
        if self.loop.read_anew:
            self.loop.read_anew = False
            self.commander.metrology.tick()
        now_s = self.clock.mono_s()
        if now_s >= self._aside_at_s:
            self._aside_at_s = now_s + ASIDE_S
            self._look_aside(now_s)
        if now_s >= self._asked_at_s:
            self._asked_at_s = now_s + ASKED_S
            if self._panel is not None:
                self._panel.look()
            if self.service is not None:
                self._serve(self.service)
        self.loop.wait()

    def _serve(self, service: Service) -> None:
        """A bounded share of what clients ask, and the picture for those that watch."""
        if service.poll():
            self._asked_at_s = -math.inf  # there is more: the next tick goes on
        loop = self.loop
        loop.watched = service.watched
        if not loop.watched:
            return
        real_s, number = time.monotonic(), loop.state_number()
        if real_s >= self._push_at_s or number != self._pushed_number:
            self._push_at_s = real_s + (PUSH_AT_REST_S if loop.resting else PUSH_S)
            self._pushed_number = number
            service.push(self.commander.snapshot(pushed=True))

    def _look_aside(self, now_s: float) -> None:
        """Cards, the room, signs of life, and the logbook by night."""
        self.commander.jobs.look()
        if self._air is not None:
            self._look_at_air(self._air, now_s)
        real_s = time.monotonic()
        self._notifier.alive(real_s)
        self.garbage.look(real_s, resting=not self.loop.exposure.running)
        if self._night is not None and real_s >= self._night_at_s:
            self._night_at_s = real_s + NIGHT_S
            self._look_at_night(self._night, real_s)
            self._retention.poll(resting=not self.loop.exposure.running)

    def _look_at_air(self, air: AirWatch, now_s: float) -> None:
        dark = not self.loop.k1_held and not any(bank.commanded for bank in self.loop.box.banks)
        air.look(now_s, dark=dark)

    def _look_at_night(self, night: NightlyCheck, real_s: float) -> None:
        looked = night.poll(real_s, self.clock.utc(), resting=not self.loop.exposure.running)
        if looked is None:
            return
        if looked.problems:
            self.loop.tell(FaultName.LOGBOOK_UNSOUND, say("problems_in_turn", problems=looked.problems[:3]))
        elif looked.finished:
            self._retention.begin(self.clock.utc())
        if looked.problems or looked.finished:
            found = looked.problems
            told = say("problems_in_turn", problems=found) if found else say("logbook_is_sound")
            now = self.clock.utc()
            self.writer.add(f"looked through: {told}", lambda book: book.note_maintenance("checked", told, now))

    def run(self, go_on: Callable[[], bool], step: Callable[[], None]) -> None:
        """Take `step` while `go_on` says so, watched from a second thread; dark in the end, whatever happens.

        A real box's loop goes before everything else on the computer; a simulated one may run faster than the time.
        """
        self.garbage.begin()
        watch = self.loop.watch
        watch.start()
        self._notifier.ready()
        with contextlib.nullcontext() if self._simulated else precedence(watch.thread_id):
            try:
                while go_on():
                    step()
            finally:
                self.close()
                self.garbage.end()

    def forget(self) -> None:
        """Let go of files and socket only, without a word to lamps or logbook: for the twin, whose process goes on."""
        self.loop.watch.close()
        if self.service is not None:
            self.service.close()
        self.writer.abandon()

    def close(self) -> list[Failure]:
        """Dark, then release the pins, finish writing, remove the socket, whatever one part does.

        Logs and returns what failed.
        """
        failed = self.loop.close()
        parts: list[tuple[str, Callable[[], object]]] = [("notifier", self._notifier.close)]
        if self._night is not None:
            parts.append(("reading of the logbook", self._night.close))
        if self.service is not None:
            parts.append(("socket", self.service.close))
        others = try_each([*parts, ("writer", self.writer.close), ("lock of the data folder", self.lock.release)])
        tell_unclosed(others)
        return failed + others
