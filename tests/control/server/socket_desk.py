"""A socket server with an easy handler, and clients that never wait."""

import json
import socket
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from sumlight.control.server.socket_server import (
    Service,
)
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.messages import Request
from sumlight.text.message import as_written, unpacked
from tests.webui.fake_control import snapshot

STATE = b'{"id": 1, "command": "state"}\n'


class Caller:
    """A client that never waits: it sends what fits and takes what has come."""

    def __init__(self, path: Path) -> None:
        self.link = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self.link.settimeout(30)  # a door too narrow is a failure, not a wait for ever
        self.link.connect(str(path))
        self.link.setblocking(False)
        self.received = b""

    def send(self, data: bytes) -> int:
        """Send what fits; returns how much, -1 when the other side hung up."""
        try:
            return self.link.send(data)
        except BlockingIOError:
            return 0
        except OSError:
            return -1

    def take(self) -> list[dict[str, Any]]:
        """The messages so far."""
        with suppress(BlockingIOError, ConnectionError):
            while chunk := self.link.recv(1 << 20):
                self.received += chunk
        *lines, _ = self.received.split(b"\n")
        return [unpacked(json.loads(line)) for line in lines]

    def hung_up(self) -> bool:
        """Whether the other side has closed the connection."""
        try:
            while self.link.recv(1 << 20):
                pass
        except BlockingIOError:
            return False
        except OSError:
            return True
        return True


class Desk:
    """A service with an easy handler, and its callers."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.handled: list[Request] = []
        self.answer: dict[str, Any] = snapshot()
        self.takes_s = 0.0
        self.now_s = 1000.0
        self.service = Service(path, self._handle, lambda: self.now_s)
        self.callers: list[Caller] = []

    def _handle(self, request: Request) -> dict[str, Any]:
        self.handled.append(request)
        time.sleep(self.takes_s)
        if request.command == "go":
            raise BadRequestError("refused", as_written("Not now."), remedy=as_written("Later."))
        if request.command == "note":
            return {"exposure_id": 1}
        return {"state": "idle"} if request.command == "dark" else self.answer

    def caller(self) -> Caller:
        """A new client, accepted."""
        caller = Caller(self.path)
        self.callers.append(caller)
        self.poll()
        return caller

    def poll(self, times: int = 1) -> None:
        """Let the service work as often as so many ticks would."""
        for _ in range(times):
            self.now_s += 0.005
            self.service.poll()


@contextmanager
def open_desk(path: Path) -> Iterator[Desk]:
    """A service at this path, closed afterwards."""
    desk = Desk(path)
    try:
        yield desk
    finally:
        desk.service.close()
        for caller in desk.callers:
            caller.link.close()
