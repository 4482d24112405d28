"""Signs of life for a service manager: READY=1 once, WATCHDOG=1 from the loop itself, never from a side thread.

The protocol is systemd's sd_notify(3): datagrams to the socket named by NOTIFY_SOCKET.
"""

import contextlib
import os
import socket


class Notifier:
    """Talks to the service manager, if there is one; otherwise does nothing.

    A watchdog interval comes in WATCHDOG_USEC; signs are sent at a third of it.
    """

    def __init__(self) -> None:
        address = os.environ.get("NOTIFY_SOCKET", "")
        self._address = "\0" + address[1:] if address.startswith("@") else address
        self._every_s = int(os.environ.get("WATCHDOG_USEC") or 0) / 3e6
        self._next_s = 0.0
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) if address else None
        if self._socket is not None:
            self._socket.setblocking(False)

    def ready(self) -> None:
        """The box is being looked after from now on."""
        self._send(b"READY=1")

    def alive(self, real_s: float) -> None:
        """The loop came by, at `real_s` of the machine's monotonic clock."""
        if self._every_s and real_s >= self._next_s:
            self._next_s = real_s + self._every_s
            self._send(b"WATCHDOG=1")

    def close(self) -> None:
        """The box is no longer looked after."""
        self._send(b"STOPPING=1")
        if self._socket is not None:
            self._socket.close()
            self._socket = None

    def _send(self, words: bytes) -> None:
        if self._socket is not None:
            with contextlib.suppress(OSError):  # a manager that is gone or slow must not hold up the loop
                self._socket.sendto(words, self._address)
