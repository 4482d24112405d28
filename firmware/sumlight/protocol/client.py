"""The client of control's socket, for page and command line alike: questions, their answers, and pushed snapshots.

`Connection` speaks to control; `ControlClient` keeps one for a terminal. The page keeps its own (`sumlight_web.link`).
"""

import json
import socket
import time
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any, Literal, Self

from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.messages import request_line
from sumlight.text.message import Message, say, unpacked

Trouble = Literal["unreachable", "silent", "hung_up", "odd"]
"""How control gives no usable answer: nobody is there, nothing comes in time, the line is cut, or it makes no sense."""

REPLY_LIMIT = 4 * 1024 * 1024
"""Longest line that is taken, in bytes; a long curve is the largest thing control sends."""

DOOR_S = 0.005
"""Pause before the next try at a door with too many at it."""

QUIET_S = 5.0
"""After so long without reading, a new connection is made: control sends away who is silent or lets snapshots pile up,
and what piled up is old."""


class ControlGoneError(RuntimeError):
    """Control gave no usable answer; `sent` tells whether the command may have arrived all the same."""

    def __init__(self, trouble: Trouble, message: Message, *, sent: bool) -> None:
        super().__init__(message)
        self.trouble, self.sent = trouble, sent


class Connection:
    """One connection to control. `until_s`, on Python's monotonic clock, bounds each wait.

    Raises ControlGoneError when control cannot be reached, hangs up or speaks nonsense.
    """

    def __init__(self, path: Path, until_s: float) -> None:
        self._path = path
        self._got = bytearray()
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        try:
            self._connect(until_s)
        except OSError as error:
            self._socket.close()
            trouble: Trouble = "silent" if isinstance(error, TimeoutError) else "unreachable"
            told = say("no_box_running", socket=str(path), why=error.strerror or str(error))
            raise ControlGoneError(trouble, told, sent=False) from error

    def _connect(self, until_s: float) -> None:
        """Connect; where too many stand at the door, try again until it is time to give up."""
        while True:
            self._socket.settimeout(max(0.01, until_s - time.monotonic()))
            try:
                self._socket.connect(str(self._path))
                return
            except BlockingIOError:
                if time.monotonic() >= until_s:
                    raise
                time.sleep(DOOR_S)

    def close(self) -> None:
        """Hang up."""
        self._socket.close()

    def send(self, line: bytes, until_s: float) -> None:
        """Send one line. Raises ControlGoneError."""
        self._socket.settimeout(max(0.01, until_s - time.monotonic()))
        try:
            self._socket.sendall(line)
        except TimeoutError as error:
            raise self._silent(str(error)) from error
        except OSError as error:
            told = say("box_hung_up_so", socket=str(self._path), why=str(error))
            raise ControlGoneError("hung_up", told, sent=True) from error

    def receive(self, until_s: float) -> dict[str, Any] | None:
        """Return the next message, None if there is none by then; what came of it is kept. Raises ControlGoneError."""
        while (end := self._got.find(b"\n")) < 0:
            left_s = until_s - time.monotonic()
            if left_s <= 0:
                return None
            self._socket.settimeout(left_s)
            try:
                piece = self._socket.recv(65536)
            except TimeoutError:
                return None
            except OSError as error:
                told = say("box_hung_up_so", socket=str(self._path), why=str(error))
                raise ControlGoneError("hung_up", told, sent=True) from error
            if not piece:
                raise ControlGoneError("hung_up", say("box_hung_up", socket=str(self._path)), sent=True)
            self._got += piece
            if len(self._got) > REPLY_LIMIT:
                raise self._odd()
        line = bytes(self._got[:end])
        del self._got[: end + 1]
        try:
            message = unpacked(json.loads(line))
        except (ValueError, RecursionError) as error:
            raise self._odd() from error
        if not isinstance(message, dict):
            raise self._odd()
        return message

    def ask(self, number: int, line: bytes, until_s: float) -> dict[str, Any]:
        """Send the request of that number; return its result. Raises BadRequestError if refused, ControlGoneError."""
        self.send(line, until_s)
        while True:
            reply = self.receive(until_s)
            if reply is None:
                raise self._silent("timed out")
            if reply.get("event") is None and reply.get("id") == number:
                return self._result(reply)

    def _result(self, reply: dict[str, Any]) -> dict[str, Any]:
        result, error = reply.get("result"), reply.get("error")
        if reply.get("ok") is True and isinstance(result, dict):
            return result
        if not isinstance(error, dict):
            raise self._odd()
        message, remedy = error.get("message"), error.get("remedy")
        if not isinstance(message, Message) or not isinstance(remedy, Message | None) or "code" not in error:
            raise self._odd()
        raise BadRequestError(error["code"], message, field=error.get("field"), remedy=remedy)

    def _silent(self, why: str) -> ControlGoneError:
        told = say("box_does_not_answer", socket=str(self._path), why=why)
        return ControlGoneError("silent", told, sent=True)

    def _odd(self) -> ControlGoneError:
        return ControlGoneError("odd", say("box_speaks_oddly", socket=str(self._path)), sent=True)


class ControlClient:
    """A standing connection to control. Raises ControlGoneError when there is none; `timeout_s` bounds every wait.

    A person may take any time between two questions or snapshots: the connection is then made anew.
    """

    def __init__(self, path: Path, timeout_s: float = 2.0) -> None:
        self._path = path
        self._timeout_s = timeout_s
        self._number = 0
        self._connect()

    def _connect(self) -> None:
        self._watching = False
        self._connection = Connection(self._path, self._until_s)
        self._read_s = time.monotonic()

    @property
    def _until_s(self) -> float:
        return time.monotonic() + self._timeout_s

    @property
    def _quiet(self) -> bool:
        return time.monotonic() - self._read_s > QUIET_S

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Hang up."""
        self._connection.close()

    def ask(self, command: str, **values: Any) -> dict[str, Any]:
        """Send a command and return its result. Raises BadRequestError if it was refused."""
        if self._quiet:
            self.close()
            self._connect()
        self._number += 1
        try:
            return self._connection.ask(self._number, request_line(self._number, command, **values), self._until_s)
        finally:
            self._read_s = time.monotonic()

    def snapshots(self) -> Iterator[dict[str, Any]]:
        """Snapshots as control pushes them, the present one first. Raises ControlGoneError."""
        while True:
            if not self._watching or self._quiet:
                first = self.ask("watch")
                self._watching = True
                yield first
                continue
            message = self._connection.receive(self._until_s)
            if message is None:
                told = say("box_does_not_answer", socket=str(self._path), why="timed out")
                raise ControlGoneError("silent", told, sent=True)
            self._read_s = time.monotonic()
            if message.get("event") == "state":
                yield message["state"]
