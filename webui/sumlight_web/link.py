"""The page's end of control's Unix socket: short commands, and one standing subscription to the state.

Runs on any thread; `SnapshotWatch` brings one of its own. Touches nothing but the socket.
"""

import itertools
import logging
import threading
import time
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sumlight.protocol.client import Connection, ControlGoneError, Trouble
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.messages import LINE_LIMIT, request_line
from sumlight.protocol.snapshot import STATES, Bank, Exposure, Fault, LogbookState, Side, Snapshot
from sumlight.text.message import say
from sumlight_web.language import N_

log = logging.getLogger(__name__)

ANSWER_LIMIT_S = 1.0
"""How long a command may take before the page says that control does not answer."""

DARK_TRIES = 3
"""*Dark* may be said twice: a connection that broke off is no reason to leave the lamps on."""

STALE_AFTER_S = 1.5
"""A snapshot older than this is never shown as live."""

QUIET_LIMIT_S = 3.0
"""A subscription that says nothing for so long is dropped and made anew."""

TROUBLES: dict[Trouble, str] = {
    "unreachable": N_("The controller cannot be reached."),
    "silent": N_("The controller does not answer."),
    "hung_up": N_("The controller cannot be reached."),
    "odd": N_("The controller gave an answer that this page does not understand."),
}
"""How control gives no usable answer, in words for a page."""


class LinkDownError(ConnectionError):
    """Control gave no usable answer; `message` is in English, `text_of` says it in the reader's language.

    `sent` tells whether the command may have arrived all the same.
    """

    def __init__(self, message: str, *, sent: bool) -> None:
        super().__init__(message)
        self.message = message
        self.sent = sent


class ControlLink:
    """Sends commands. Each takes a connection of its own, so that a late answer never meets the next question."""

    def __init__(self, path: Path, answer_limit_s: float = ANSWER_LIMIT_S) -> None:
        self.path = path
        self._answer_limit_s = answer_limit_s
        self._ids = itertools.count(1)

    def ask(self, command: str, **fields: object) -> dict[str, Any]:
        """Carry out `command` once and return control's result; only *dark* is ever repeated.

        Raises BadRequestError when control says no, LinkDownError when it does not answer in time.
        """
        number = next(self._ids)
        line = request_line(number, command, **fields)
        if len(line) > LINE_LIMIT:
            raise BadRequestError("bad_value", say("text_too_long_for_a_line"), remedy=say("shorten_label_or_note"))
        until_s = time.monotonic() + self._answer_limit_s
        tries = DARK_TRIES if command == "dark" else 1
        while True:
            tries -= 1
            try:
                with closing(Connection(self.path, until_s)) as connection:
                    return connection.ask(number, line, until_s)
            except ControlGoneError as error:
                if tries <= 0 or time.monotonic() >= until_s:
                    raise LinkDownError(TROUBLES[error.trouble], sent=error.sent) from error


@dataclass(frozen=True)
class Latest:
    """The newest snapshot, how old it is, and whether the subscription stands; `heard` counts snapshots."""

    snapshot: Snapshot | None
    age_s: float
    connected: bool
    heard: int

    @property
    def live(self) -> bool:
        """Whether the snapshot may be shown as what is true now."""
        return self.snapshot is not None and self.connected and self.age_s <= STALE_AFTER_S


class SnapshotWatch:
    """Keeps one `watch` subscription alive on a thread of its own and holds the newest snapshot."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._changed = threading.Condition()
        self._stop = threading.Event()
        self._snapshot: Snapshot | None = None
        self._heard = 0
        self._heard_at_s = time.monotonic()
        self._connected = False
        self._thread = threading.Thread(target=self._run, name="snapshot-watch", daemon=True)

    def start(self) -> None:
        """Begin to listen; returns at once."""
        self._thread.start()

    def close(self) -> None:
        """Stop listening and wake everyone who waits."""
        self._stop.set()
        with self._changed:
            self._changed.notify_all()
        if self._thread.is_alive():
            self._thread.join(timeout=5)

    @property
    def closing(self) -> bool:
        """Whether `close` has been called."""
        return self._stop.is_set()

    def latest(self) -> Latest:
        """What is known now."""
        with self._changed:
            return self._latest()

    def wait_newer(self, heard: int, timeout_s: float) -> Latest:
        """Wait for a snapshot after number `heard`, at most `timeout_s`, and return what is known then."""
        with self._changed:
            self._changed.wait_for(lambda: self._heard > heard or self._stop.is_set(), timeout_s)
            return self._latest()

    def rest(self, seconds: float) -> None:
        """Wait so long, or until `close`."""
        self._stop.wait(seconds)

    def _latest(self) -> Latest:
        return Latest(self._snapshot, time.monotonic() - self._heard_at_s, self._connected, self._heard)

    def _run(self) -> None:
        pause_s = 0.1
        while not self._stop.is_set():
            heard = self._heard
            try:
                self._subscribe()
            except (ControlGoneError, ValueError) as error:
                log.debug("subscription ended: %s", error)
            with self._changed:
                self._connected = False
                self._changed.notify_all()
            pause_s = 0.1 if self._heard > heard else min(2.0, pause_s * 2)
            self._stop.wait(pause_s)

    def _subscribe(self) -> None:
        """Listen until the connection fails (ControlGoneError) or speaks nonsense (that too, or ValueError)."""
        with closing(Connection(self._path, time.monotonic() + 0.1)) as connection:
            connection.send(request_line(1, "watch"), time.monotonic() + 0.1)
            heard_s = time.monotonic()
            while not self._stop.is_set():
                message = connection.receive(time.monotonic() + 0.1)
                if message is not None:
                    heard_s = time.monotonic()
                    self._take(message)
                elif time.monotonic() - heard_s > QUIET_LIMIT_S:
                    return

    def _take(self, message: dict[str, Any]) -> None:
        if message.get("ok") is False:
            raise ValueError("control refused the subscription")
        if message.get("event") != "state":
            return
        snapshot = message.get("state")
        if not is_snapshot(snapshot):
            raise ValueError("control speaks another version of this language")
        with self._changed:
            self._snapshot = snapshot
            self._heard += 1
            self._heard_at_s = time.monotonic()
            self._connected = True
            self._changed.notify_all()


def is_snapshot(value: object) -> bool:
    """Whether `value` has every key the page will ask for, so that a mismatch of versions shows as 'no word'."""
    if not isinstance(value, dict) or not Snapshot.__required_keys__ <= value.keys() or value["state"] not in STATES:
        return False
    exposure = value["exposure"]
    parts: list[tuple[object, frozenset[str]]] = [(value["logbook"], LogbookState.__required_keys__)]
    for name, keys in (("banks", Bank.__required_keys__), ("faults", Fault.__required_keys__)):
        if not isinstance(value[name], list):
            return False
        parts += [(item, keys) for item in value[name]]
    if exposure is not None:
        parts.append((exposure, Exposure.__required_keys__))
        if not isinstance(exposure, dict) or not isinstance(exposure.get("sides"), list):
            return False
        parts += [(side, Side.__required_keys__) for side in exposure["sides"]]
    return all(isinstance(item, dict) and keys <= item.keys() for item, keys in parts)
