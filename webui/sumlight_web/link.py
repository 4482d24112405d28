"""The page's end of control's Unix socket: short commands, and one standing subscription to the state.

Runs on any thread; `SnapshotWatch` brings one of its own. Touches nothing but the socket.
"""

import itertools
import json
import logging
import socket
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

from sumlight.protocol.messages import LINE_LIMIT, request_line
from sumlight.protocol.snapshot import STATES, Bank, Exposure, Fault, LogbookState, Side, Snapshot
from sumlight.text.message import Message, say, unpacked
from sumlight_web.language import _

log = logging.getLogger(__name__)

REPLY_LIMIT = 4 * 1024 * 1024
"""Longest line that the page takes, in bytes; a long curve is the largest thing control sends."""

ANSWER_LIMIT_S = 1.0
"""How long a command may take before the page says that control does not answer."""

DARK_TRIES = 3
"""*Dark* may be said twice: a connection that broke off is no reason to leave the lamps on."""

DOOR_S = 0.005
"""Pause before the next try at a door with too many at it."""

STALE_AFTER_S = 1.5
"""A snapshot older than this is never shown as live."""

QUIET_LIMIT_S = 3.0
"""A subscription that says nothing for so long is dropped and made anew."""


class LinkDownError(ConnectionError):
    """Control gave no usable answer. `sent` tells whether the command may have arrived all the same."""

    def __init__(self, message: str, *, sent: bool) -> None:
        super().__init__(message)
        self.message = message
        self.sent = sent


class CommandRefusedError(RuntimeError):
    """Control answered no. `field` names the input at fault, if one is; `remedy` what helps, if it is known."""

    def __init__(self, code: str, field: str | None, message: Message, remedy: Message | None) -> None:
        super().__init__(message)
        self.code = code
        self.field = field
        self.message = message
        self.remedy = remedy


class ControlLink:
    """Sends commands. Each takes a connection of its own, so that a late answer never meets the next question."""

    def __init__(self, path: Path, answer_limit_s: float = ANSWER_LIMIT_S) -> None:
        self.path = path
        self._answer_limit_s = answer_limit_s
        self._ids = itertools.count(1)

    def ask(self, command: str, **fields: object) -> dict[str, Any]:
        """Carry out `command` once and return control's result; only *dark* is ever repeated.

        Raises CommandRefusedError when control says no, LinkDownError when it does not answer in time.
        """
        number = next(self._ids)
        line = request_line(number, command, **fields)
        if len(line) > LINE_LIMIT:
            raise CommandRefusedError("bad_value", None, say("text_too_long_for_a_line"), say("shorten_label_or_note"))
        deadline_s = time.monotonic() + self._answer_limit_s
        tries = DARK_TRIES if command == "dark" else 1
        while True:
            tries -= 1
            try:
                return _result(self._exchange(line, deadline_s), number)
            except LinkDownError:
                if tries <= 0 or time.monotonic() >= deadline_s:
                    raise

    def _exchange(self, line: bytes, deadline_s: float) -> bytes:
        sent = False
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
                connection.settimeout(max(0.01, deadline_s - time.monotonic()))
                _connect(connection, self.path, deadline_s)
                sent = True
                connection.sendall(line)
                return _read_reply(connection, deadline_s)
        except TimeoutError as error:
            raise LinkDownError(_("The controller does not answer."), sent=sent) from error
        except OSError as error:
            raise LinkDownError(_("The controller cannot be reached."), sent=sent) from error


def _connect(connection: socket.socket, path: Path, deadline_s: float) -> None:
    """Connect; where too many stand at the door, try again until it is time to give up."""
    while True:
        try:
            connection.connect(str(path))
            return
        except BlockingIOError:
            if time.monotonic() >= deadline_s:
                raise
            time.sleep(DOOR_S)


def _read_reply(connection: socket.socket, deadline_s: float) -> bytes:
    got = bytearray()
    while b"\n" not in got:
        left_s = deadline_s - time.monotonic()
        if left_s <= 0:
            raise TimeoutError
        connection.settimeout(left_s)
        piece = connection.recv(65536)
        if not piece or len(got) > REPLY_LIMIT:
            raise ConnectionError("the answer broke off")
        got += piece
    return bytes(got[: got.index(b"\n")])


def _result(line: bytes, number: int) -> dict[str, Any]:
    try:
        reply = unpacked(json.loads(line))
        if reply["id"] != number:
            raise ValueError("answer to another question")
        if reply["ok"] is True:
            return cast(dict[str, Any], reply["result"] or {})
        error = reply["error"]
        code, message = str(error["code"]), error["message"]
        field, remedy = error.get("field"), error.get("remedy")
        if not isinstance(message, Message) or not isinstance(remedy, Message | None):
            raise TypeError("what control says is a message")
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as fault:
        raise LinkDownError(
            _("The controller gave an answer that this page does not understand."), sent=True
        ) from fault
    raise CommandRefusedError(code, field, message, remedy)


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
            except (OSError, ValueError, RecursionError) as error:
                log.debug("subscription ended: %s", error)
            with self._changed:
                self._connected = False
                self._changed.notify_all()
            pause_s = 0.1 if self._heard > heard else min(2.0, pause_s * 2)
            self._stop.wait(pause_s)

    def _subscribe(self) -> None:
        """Listen until the connection fails (OSError) or speaks nonsense (ValueError)."""
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
            connection.settimeout(0.1)
            connection.connect(str(self._path))
            connection.sendall(request_line(1, "watch"))
            got = bytearray()
            quiet_since_s = time.monotonic()
            while not self._stop.is_set():
                try:
                    piece = connection.recv(65536)
                except TimeoutError:
                    if time.monotonic() - quiet_since_s > QUIET_LIMIT_S:
                        raise
                    continue
                if not piece:
                    raise ConnectionError("control closed the subscription")
                quiet_since_s = time.monotonic()
                got += piece
                if len(got) > REPLY_LIMIT:
                    raise ValueError("a line without end")
                *lines, rest = got.split(b"\n")
                got = bytearray(rest)
                for line in lines:
                    self._take(bytes(line))

    def _take(self, line: bytes) -> None:
        message = unpacked(json.loads(line))
        if not isinstance(message, dict) or message.get("ok") is False:
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
