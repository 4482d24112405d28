"""A simple client of control's socket, for the command line: one question, one answer, and the stream of snapshots."""

import json
import socket
import time
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.messages import request_line
from sumlight.text.message import say, unpacked


class ControlGoneError(RuntimeError):
    """Nobody answers at the socket."""


QUIET_S = 5.0
"""After so long without reading, a new connection is made: control sends away who is silent or lets snapshots pile up,
and what piled up is old."""


class ControlClient:
    """A connection to control. Raises ControlGoneError when there is none; `timeout_s` bounds every wait.

    A person may take any time between two questions or snapshots: the connection is then made anew.
    """

    def __init__(self, path: Path, timeout_s: float = 2.0) -> None:
        self._path = path
        self._timeout_s = timeout_s
        self._number = 0
        self._connect()

    def _connect(self) -> None:
        self._watching = False
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._socket.settimeout(self._timeout_s)
        try:
            self._socket.connect(str(self._path))
        except OSError as error:
            self._socket.close()
            raise ControlGoneError(
                say("no_box_running", socket=str(self._path), why=error.strerror or str(error))
            ) from error
        self._lines = self._socket.makefile("rb")
        self._read_s = time.monotonic()

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
        self._lines.close()
        self._socket.close()

    def ask(self, command: str, **values: Any) -> dict[str, Any]:
        """Send a command and return its result. Raises BadRequestError if it was refused."""
        if self._quiet:
            self.close()
            self._connect()
        self._number += 1
        self._send(request_line(self._number, command, **values))
        while True:
            message = self._receive()
            if message.get("id") == self._number:
                break
        if message["ok"]:
            return dict(message["result"])
        error = message["error"]
        raise BadRequestError(error["code"], error["message"], field=error["field"], remedy=error["remedy"])

    def snapshots(self) -> Iterator[dict[str, Any]]:
        """Snapshots as control pushes them, the present one first."""
        while True:
            if not self._watching or self._quiet:
                first = self.ask("watch")
                self._watching = True
                yield first
                continue
            message = self._receive()
            if message.get("event") == "state":
                yield message["state"]

    def _send(self, line: bytes) -> None:
        try:
            self._socket.sendall(line)
        except OSError as error:
            raise ControlGoneError(say("box_hung_up_so", socket=str(self._path), why=str(error))) from error

    def _receive(self) -> dict[str, Any]:
        try:
            line = self._lines.readline()
        except OSError as error:
            raise ControlGoneError(say("box_does_not_answer", socket=str(self._path), why=str(error))) from error
        if not line:
            raise ControlGoneError(say("box_hung_up", socket=str(self._path)))
        self._read_s = time.monotonic()
        return dict(unpacked(json.loads(line)))
