"""The local socket, served by the loop a little at a time: no client can make a tick wait.

Runs in the loop's thread. File permissions are the lock: the socket is open to its owner and group only.
"""

import contextlib
import logging
import os
import selectors
import socket
import stat
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from sumlight.protocol import messages
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.messages import Request
from sumlight.text.message import say

log = logging.getLogger(__name__)

CLIENTS_MAX = 24
"""One more is let in all the same, for it may bring *dark*: the one that has been idle longest leaves for it."""

IDLE_LIMIT_S = 60.0
"""A client that does not watch and sent no whole line for so long is sent away; ours come back with a word."""

IDLE_LOOK_S = 1.0

PENDING_MAX = 128
"""Callers that may wait at the door until the loop lets them in."""

READ_BYTES = 4 * 1024
BACKLOG_MAX_BYTES = 512 * 1024
"""A client that lets this much pile up has stopped reading and is cut off."""

ACTS_PER_POLL = 8
ANSWERS_PER_POLL = 4
ANSWERING_S = 0.001
"""However much clients send at once, a tick answers no more, and no further once that took so long (real time; a long
curve alone takes longer); the rest waits its turn."""

SOCKET_MODE = 0o660

Handler = Callable[[Request], dict[str, Any]]
Item = TypeVar("Item")


class SocketInUseError(RuntimeError):
    """Another control process already answers at this path."""


class _Client:
    def __init__(self, connection: socket.socket, now_s: float) -> None:
        self.connection = connection
        self.inbox = bytearray()
        self.outbox = bytearray()
        self.watching = False
        self.closing = False
        self.heard_s = now_s

    @property
    def waits(self) -> bool:
        """Whether a whole line of this client has not been answered yet."""
        return b"\n" in self.inbox

    @property
    def may_say_dark(self) -> bool:
        """Whether the next line is to be answered before those of others."""
        end = self.inbox.find(b"\n")
        return end >= 0 and self.inbox.find(b"dark", 0, end) >= 0

    def take_line(self) -> bytes | None:
        """The next whole line of what came in; None while there is none."""
        end = self.inbox.find(b"\n")
        if end < 0:
            return None
        line = bytes(self.inbox[:end])
        del self.inbox[: end + 1]
        return line


class Service:
    """Answers requests at a Unix socket. `handle` carries a request out and returns its result; `mono_s` is the clock
    by which clients are idle.

    Raises SocketInUseError if somebody already answers at `path`.
    """

    def __init__(self, path: Path, handle: Handler, mono_s: Callable[[], float] = time.monotonic) -> None:
        self._path = path
        self._handle = handle
        self._mono_s = mono_s
        self._idle_look_at_s = mono_s()
        self._clients: dict[int, _Client] = {}
        self._turn = 0
        self._selector = selectors.DefaultSelector()
        self._listener = _listen(path)
        self._selector.register(self._listener, selectors.EVENT_READ, None)

    @property
    def watched(self) -> bool:
        """Whether any client wants snapshots."""
        return any(client.watching for client in self._clients.values())

    def poll(self) -> bool:
        """Do a bounded amount of waiting work; never blocks. Clients take turns, so that none keeps another waiting.

        Returns whether there was any, so that there may be more.
        """
        self._turn += 1
        found = self._selector.select(0)
        busy = bool(found) or any(client.inbox or client.outbox for client in self._clients.values())
        if busy:
            self._serve([key.data for key, _ in found if key.data is None or not key.data.waits])
        self._send_away_idle()
        return busy

    def _serve(self, ready: list[_Client | None]) -> None:
        acts = ACTS_PER_POLL
        for client in self._in_turn(ready):
            if acts <= 0:
                break
            if client is None:
                acts -= self._accept(acts)
            else:
                self._read(client)
                acts -= 1
        left, until_s = ANSWERS_PER_POLL, time.monotonic() + ANSWERING_S
        for client in sorted(self._in_turn(list(self._clients.values())), key=lambda client: not client.may_say_dark):
            line = client.take_line() if left else None
            if line is not None:
                self._answer(client, line)
                left = left - 1 if time.monotonic() < until_s else 0
            if client.outbox:
                self._send(client)

    def _send_away_idle(self) -> None:
        now_s = self._mono_s()
        if now_s < self._idle_look_at_s:
            return
        self._idle_look_at_s = now_s + IDLE_LOOK_S
        for client in list(self._clients.values()):
            if not client.watching and not client.waits and now_s - client.heard_s > IDLE_LIMIT_S:
                self._drop(client)

    def _in_turn(self, items: list[Item]) -> list[Item]:
        first = self._turn % len(items) if items else 0
        return items[first:] + items[:first]

    def push(self, snapshot: dict[str, Any]) -> None:
        """Send a snapshot to every watching client that is keeping up."""
        line = messages.state_line(snapshot)
        for client in list(self._clients.values()):
            if client.watching:
                self._queue(client, line)

    def close(self) -> None:
        """Drop all clients and remove the socket."""
        for client in list(self._clients.values()):
            self._drop(client)
        self._selector.close()
        self._listener.close()
        with contextlib.suppress(OSError):
            self._path.unlink()

    def _accept(self, most: int) -> int:
        """Let waiting clients in and take what they have sent already, with at most so many acts; returns how many."""
        acts = 0
        with contextlib.suppress(OSError):
            while acts < most:
                connection, _ = self._listener.accept()
                acts += 1
                if len(self._clients) >= CLIENTS_MAX:
                    self._drop(self._most_idle())
                connection.setblocking(False)
                client = _Client(connection, self._mono_s())
                self._clients[connection.fileno()] = client
                self._selector.register(connection, selectors.EVENT_READ, client)
                self._read(client)
                acts += 1
        return acts

    def _most_idle(self) -> _Client:
        """Who leaves when there is no room. Never one with a question to be answered while there is another, and one
        that watches only after those that do nothing."""
        return min(self._clients.values(), key=lambda client: (client.waits, client.watching, client.heard_s))

    def _read(self, client: _Client) -> None:
        try:
            received = client.connection.recv(READ_BYTES)
        except BlockingIOError:
            return
        except OSError:
            received = b""
        if not received:
            self._drop(client)
            return
        client.inbox += received
        end = client.inbox.find(b"\n")
        if (end if end >= 0 else len(client.inbox)) > messages.LINE_LIMIT:
            limit = messages.LINE_LIMIT // 1024
            error = BadRequestError("bad_request", say("line_too_long", limit_kib=limit))
            self._queue(client, messages.error_line(None, error))
            self._drop(client)

    def _answer(self, client: _Client, line: bytes) -> None:
        number: int | None = None
        client.heard_s = self._mono_s()
        try:
            darkened = self._handle(Request(0, "dark")) if messages.says_dark(line) else None
            request = messages.parse_request(line)
            number = request.number
            if darkened is not None and request.command != "dark":
                raise BadRequestError("bad_request", say("dark_beside_something_else"))
            if request.command == "watch":
                client.watching = True
            # A dark that says who asked is carried out once more for its record: first dark, then everything else.
            result = self._handle(request) if darkened is None or request.values else darkened
            answer = messages.reply_line(number, result)
        except BadRequestError as error:
            answer = messages.error_line(error.number if number is None else number, error)
        self._queue(client, answer)

    def _queue(self, client: _Client, line: bytes) -> None:
        if len(client.outbox) + len(line) > BACKLOG_MAX_BYTES:
            log.warning("a client of the socket stopped reading and was cut off")
            self._drop(client)
            return
        client.outbox += line
        self._send(client)

    def _send(self, client: _Client) -> None:
        try:
            sent = client.connection.send(client.outbox)
            del client.outbox[:sent]
        except BlockingIOError:
            return
        except OSError:
            self._drop(client)

    def _drop(self, client: _Client) -> None:
        client.closing = True
        with contextlib.suppress(KeyError, ValueError):
            self._selector.unregister(client.connection)
        self._clients = {fd: other for fd, other in self._clients.items() if other is not client}
        client.connection.close()


def _listen(path: Path) -> socket.socket:
    if path.exists() or path.is_socket():
        _remove_stale(path)
    listener = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    before = os.umask(0o777 ^ SOCKET_MODE)
    try:
        listener.bind(str(path))
    except OSError as error:
        listener.close()
        raise SocketInUseError(say("socket_not_made", socket=str(path), why=error.strerror or str(error))) from error
    finally:
        os.umask(before)
    listener.listen(PENDING_MAX)
    listener.setblocking(False)
    return listener


def _remove_stale(path: Path) -> None:
    """Remove a socket that a killed process left; refuse if it is answered or is no socket."""
    if not stat.S_ISSOCK(path.lstat().st_mode):
        raise SocketInUseError(say("socket_in_the_way", socket=str(path)))
    probe = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    try:
        probe.settimeout(0.5)
        probe.connect(str(path))
    except OSError:
        path.unlink()
        return
    finally:
        probe.close()
    raise SocketInUseError(say("socket_in_use", socket=str(path)))
