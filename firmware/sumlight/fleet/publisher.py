"""The publisher of a box: a process of its own that reads logbook and control's state, and sends them to the broker.

It asks control what any client may ask; control neither knows of it nor waits for it.
"""

import logging
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from sumlight import __version__
from sumlight.fleet import bookmark, discovery, topics
from sumlight.fleet.bookmark import Bookmark
from sumlight.fleet.dark import Dark
from sumlight.fleet.messages import (
    LONGEST_WORD,
    Acknowledgement,
    BankState,
    BoxOnline,
    BoxState,
    CollectorOnline,
    DarkAnswer,
    FleetMessageError,
    packed,
    read,
)
from sumlight.fleet.outbox import Outbox, Place
from sumlight.fleet.window import Window
from sumlight.fleet.wire import Incoming, Wire
from sumlight.store.logbook.database import LogbookError

log = logging.getLogger(__name__)

STATE_S = 2.0
"""Time between two looks at control."""
TELL_S = 30.0
"""A state that has not changed is told again after this."""
GAPS_S = 60.0
"""A gap between two ticks is told for so long, so that whoever asks once a minute misses none."""
KEEP_S = 30.0
"""The bookmark goes to the card this often at most, and when nothing is on its way."""
LOGBOOK_S = 5.0
"""Time between two looks whether there is a logbook that can be read."""

BOOKMARK = "bookmark.json"


@dataclass
class Sent:
    """What the publisher has done so far, for metrics."""

    records: int = 0
    acknowledged: int = 0
    refused: int = 0
    epochs: int = 0
    name_taken: int = 0


class Publisher:
    """One box. `folder` is its own; `ask` asks control for its state and returns None where nobody answers.

    `utc` is the wall clock as text; `machine` a fingerprint of this computer. Without `dark` none is obeyed.
    """

    def __init__(
        self,
        box_id: str,
        logbook: Path,
        folder: Path,
        wire: Wire,
        ask: Callable[[], dict[str, Any] | None],
        utc: Callable[[], str],
        *,
        boot: str | None = None,
        machine: str | None = None,
        dark: Dark | None = None,
        discovery_prefix: str | None = None,
    ) -> None:
        self.box_id, self.sent = box_id, Sent()
        self.boot = boot or secrets.token_hex(8)
        self._logbook, self._file, self._wire = logbook, folder / BOOKMARK, wire
        self._ask, self._utc = ask, utc
        self._machine = bookmark.machine_id() if machine is None else machine
        self._outbox: Outbox | None = None
        self._mark: Bookmark | None = None
        self._window = Window(0)
        self._run: str | None = None
        self._connections = 0
        self._heard: Acknowledgement | None = None
        self._logbook_s = self._state_s = self._told_s = self._kept_s = -1e9
        self._told: BoxState | None = None
        self._dark, self._discovery = dark, discovery_prefix
        self._described: bytes | None = None
        self._echoed = False
        self.snapshot: dict[str, Any] | None = None
        self._gaps: list[tuple[float, float]] = []
        self.unsent = 0

    @property
    def longest_gap_s(self) -> float | None:
        """The longest time between two of control's ticks in the last minute; None where it tells of none."""
        return max((gap_s for _, gap_s in self._gaps), default=None)

    @staticmethod
    def new_boot() -> str:
        """A name for this start, which tells its will from that of an earlier one."""
        return secrets.token_hex(8)

    def step(self, now_s: float) -> None:
        """Take what came, send what may be sent. Never raises for what comes over a wire, or for a logbook at rest."""
        self._open(now_s)
        if self._wire.connections != self._connections:
            self._connections = self._wire.connections
            self._told = self._described = None
            self._echoed = False
            self._window.restart(self._window.acked, now_s)
        for message in self._wire.taken():
            self.take(message, now_s)
        try:
            self._send_records(now_s)
            self._keep(now_s)
        except (LogbookError, ValidationError) as error:  # the latter: a record that fits no shape
            log.warning("%s", error)
            self._shut()
        self._tell(now_s)

    def close(self) -> None:
        """Put the bookmark on the card and let go of the logbook."""
        self._put_bookmark()
        self._shut()

    def _describe(self) -> None:
        """Tell home automation what there is to see, once for each connection and whenever it changes."""
        if self._discovery is None or self.snapshot is None:
            return
        banks = [bank["name"] for bank in self.snapshot["banks"]]
        told = discovery.device(self.box_id, str(self.snapshot["box"]), banks, __version__)
        where = discovery.topic(self._discovery, self.box_id)
        if told != self._described and self._wire.send(where, told, retain=True):
            self._described = told

    def take(self, message: Incoming, now_s: float) -> None:
        """Believe an acknowledgement or the collector's sign of life; anything else is counted and does nothing."""
        try:
            if message.topic == topics.COLLECTOR_ONLINE:
                self._collector(read(message.payload, CollectorOnline), now_s)
            elif message.topic == topics.of_box(self.box_id, "ack"):
                self._acknowledged(read(message.payload, Acknowledgement), now_s)
            elif message.topic == topics.of_box(self.box_id, "online"):
                self._own_name(read(message.payload, BoxOnline))
            elif message.topic == topics.of_box(self.box_id, "dark") and self._dark is not None:
                order, done = self._dark.obey(message)
                said = DarkAnswer(box_id=self.box_id, nonce=order.nonce, done=done)
                self._wire.send(topics.of_box(self.box_id, "dark_answer"), packed(said))
            else:
                raise FleetMessageError("nobody listens to this topic")
        except FleetMessageError as error:
            self.sent.refused += 1
            log.debug("%s: %s", message.topic[:80], error)
        except LogbookError as error:  # a dark may come next: it needs no logbook
            log.warning("%s", error)
            self._shut()

    def _open(self, now_s: float) -> None:
        if self._outbox is not None and now_s - self._logbook_s >= LOGBOOK_S:
            self._logbook_s = now_s
            if self._outbox.replaced():
                self._shut()
        if self._outbox is None and now_s - self._logbook_s >= LOGBOOK_S:
            self._logbook_s = now_s
            try:
                self._outbox = outbox = Outbox(self._logbook)
                self._begin(outbox, now_s)
            except LogbookError as error:
                log.debug("%s", error)
                self._shut()

    def _begin(self, outbox: Outbox, now_s: float) -> None:
        """Go on by the bookmark, or in a new epoch."""
        before = self._mark
        self._mark = bookmark.opened(self._file, outbox, self._machine)
        if before is not None and before.epoch != self._mark.epoch:
            self.sent.epochs += 1
        self._window.restart(self._mark.seq, now_s)
        if self._heard is not None:
            self._follow(self._heard, now_s)

    def _shut(self) -> None:
        if self._outbox is not None:
            self._outbox.close()
        self._outbox = None

    def _collector(self, said: CollectorOnline, now_s: float) -> None:
        run = said.run if said.online else None
        if run is not None and run != self._run:
            self._window.restart(self._window.acked, now_s)
        self._run = run

    def _own_name(self, said: BoxOnline) -> None:
        """Whoever says our name after we did, and is not this start, is another computer: a copied card."""
        if said.boot == self.boot:
            self._echoed = True
        elif said.online and self._echoed:
            self.sent.name_taken += 1
            log.warning("another computer calls itself %s: was its card copied?", self.box_id)

    def _acknowledged(self, said: Acknowledgement, now_s: float) -> None:
        if said.box_id != self.box_id:
            raise FleetMessageError("it is another box's")
        self._heard = said
        if self._outbox is not None:
            self._follow(said, now_s)

    def _follow(self, said: Acknowledgement, now_s: float) -> None:
        """The collector says what it has, and is right: it may have been put back to an older state itself."""
        if self._mark is None or self._outbox is None or said.epoch != self._mark.epoch:
            return
        place = Place(said.seq, said.mark)
        if not self._outbox.holds(place):
            log.warning("the collector has other records than this logbook; they are numbered anew from here on")
            self._mark = bookmark.renewed(self._file, self._machine)
            self.sent.epochs += 1
            self._window.restart(0, now_s)
            return
        before = self._window.acked
        if self._window.acknowledged(said.seq, now_s, again=said.send_from_here):
            self.sent.acknowledged += max(0, said.seq - before)
            self._mark = bookmark.at(self._mark, place)

    def _send_records(self, now_s: float) -> None:
        if self._outbox is None or self._mark is None:
            return
        self._window.look(now_s)
        if not self._wire.connected or self._run is None:
            return
        room = self._window.room()
        for record in self._outbox.after(self._window.sent, room, self.box_id, self._mark.epoch) if room else ():
            if not self._wire.send(topics.of_box(self.box_id, "record"), packed(record)):
                return
            self._window.note_sent(record.seq, now_s)
            self.sent.records += 1

    def _keep(self, now_s: float) -> None:
        if now_s - self._kept_s >= KEEP_S:
            self._kept_s = now_s
            self._put_bookmark()

    def _put_bookmark(self) -> None:
        if self._mark is None:
            return
        try:
            bookmark.keep(self._file, self._mark)
        except OSError as error:  # losing it only repeats
            log.warning("%s: %s", self._file, error.strerror or error)

    def _tell(self, now_s: float) -> None:
        if now_s - self._state_s < STATE_S:
            return
        self._state_s = now_s
        self.snapshot = self._ask()
        gap_s = (self.snapshot or {}).get("ticks", {}).get("longest_gap_s")
        self._gaps = [kept for kept in self._gaps if now_s - kept[0] < GAPS_S]
        self._gaps += [] if gap_s is None else [(now_s, gap_s)]
        if self._outbox is not None:
            try:
                self.unsent = self._outbox.waiting(self._window.acked)
            except LogbookError:
                self._shut()
        self._describe()
        said = state_of(self.box_id, self.boot, self._utc(), self.snapshot, self.unsent)
        if self._told is not None and _alike(said, self._told) and now_s - self._told_s < TELL_S:
            return
        if self._wire.send(topics.of_box(self.box_id, "state"), packed(said), retain=True):
            self._told, self._told_s = said, now_s


def online(box_id: str, boot: str, is_online: bool) -> tuple[str, bytes]:
    """A box's sign of life, or of its end."""
    said = BoxOnline(box_id=box_id, online=is_online, boot=boot)
    return topics.of_box(box_id, "online"), packed(said)


def state_of(box_id: str, boot: str, at_utc: str, snapshot: dict[str, Any] | None, unsent: int) -> BoxState:
    """What the fleet is told of control's snapshot."""
    seen = snapshot or {}
    exposure = seen.get("exposure") if seen.get("state") not in (None, "idle") else None
    side = next((one for one in exposure["sides"] if one["side"] == exposure["due"]), None) if exposure else None
    scales = list(seen.get("calibration", {}).values())
    banks = [
        BankState(
            bank=bank["name"],
            side=bank["side"],
            commanded=bank["commanded"],
            irradiance_mw_cm2=bank["irradiance_mw_cm2"],
            lamp_hours=float(bank["lamp_hours"]),
            meter_ok=bank["meter_ok"],
        )
        for bank in seen.get("banks", ())
    ]
    widths = [float(scale["expanded_relative"]) for scale in scales]
    return BoxState(
        box_id=box_id,
        boot=boot,
        at_utc=at_utc,
        box_name=_word(seen.get("box")) or "",
        simulated=bool(seen.get("simulated")),
        reachable=snapshot is not None,
        state=_word(seen.get("state")),
        lid=_word(seen.get("lid")),
        recipe=_word(exposure["recipe"]) if exposure else None,
        panel=_word(exposure["panel"]) if exposure else None,
        dose_mj_cm2=float(side["dose_mj_cm2"]) if side else None,
        left_s=None if side is None or side["left_s"] is None else float(side["left_s"]),
        banks=banks,
        faults=[str(fault["name"]) for fault in seen.get("faults", ())],
        calibration_due=any(scale["check_due"] for scale in scales) if scales else None,
        calibration_half_width=None if not scales or any(s["relative"] for s in scales) else max(widths),
        unsent_records=unsent,
    )


def _alike(one: BoxState, other: BoxState) -> bool:
    """Whether a person would see a difference; figures that move all the time under light wait for their turn."""
    moves = {"at_utc", "dose_mj_cm2", "left_s", "banks", "unsent_records"}
    same_banks = [bank.commanded for bank in one.banks] == [bank.commanded for bank in other.banks]
    return same_banks and one.model_dump(exclude=moves) == other.model_dump(exclude=moves)


def _word(value: object) -> str | None:
    return None if value is None else str(value)[:LONGEST_WORD]
