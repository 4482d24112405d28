"""The server under the page: waitress with a lane kept for *dark*, and room that idle connections cannot take.

The main thread reads requests and hands them to threads. *Dark* has threads of its own, so that no log-in, import,
live stream or slow page stands before it; what guards it (host, origin) is the application's, as for every request.
Live streams and passwords, whose threads mostly wait, have theirs too: ordinary pages then do with a few threads, and
few compete for the interpreter with the thread that reads a press.
"""

import socket
from typing import Any
from wsgiref.types import WSGIApplication

from waitress.adjustments import Adjustments
from waitress.channel import HTTPChannel
from waitress.server import TcpWSGIServer
from waitress.task import ThreadedTaskDispatcher
from waitress.utilities import Error

DARK_PATH = "/bench/dark"
DARK_THREADS = 4

STREAM_PATH, STREAM_THREADS = "/stream", 8
"""Six live streams and two threads to turn others away."""

PASSWORD_PATHS, PASSWORD_THREADS = ("/access/login", "/access/set-up", "/access/operators"), 4
"""Three as `crowd.log_ins` lets in, and one to turn others away."""

WAITING_MOST = 40
"""Requests that wait in a lane; one more is told at once that the page is busy. *Dark* is not among them."""

CONNECTIONS = 150
"""Beyond these the connection idle longest is closed for a new one, which may bring *dark*."""

ACCEPTS = 16
"""Connections let in at a time."""

SETTINGS = {
    "threads": 5,  # for ordinary pages; the interpreter runs one at a time
    "channel_request_lookahead": 1,  # lets a stream notice that its browser has gone
    "connection_limit": 4 * CONNECTIONS,  # never met: room is made long before
    "channel_timeout": 8,
    "cleanup_interval": 2,
    "asyncore_use_poll": True,
    "max_request_body_size": 64 * 1024,
    "max_request_header_size": 16 * 1024,
    "ident": None,
    "expose_tracebacks": False,
    # They tell by what way a browser came (HTTPS) and whose misses are counted together; they allow nothing.
    "clear_untrusted_proxy_headers": False,
}


class BusyError(Error):  # type: ignore[misc]  # waitress has no types
    """What is answered when too many requests wait."""

    code = 503
    reason = "Service Unavailable"


class Lanes(ThreadedTaskDispatcher):  # type: ignore[misc]  # waitress has no types
    """Hands requests to threads: *dark* to its own, others to the many, and what is too much to one that says so."""

    def __init__(self) -> None:
        super().__init__()
        self._dark = ThreadedTaskDispatcher()
        self._streams = ThreadedTaskDispatcher()
        self._passwords = ThreadedTaskDispatcher()
        self._refusing = ThreadedTaskDispatcher()

    def set_thread_count(self, count: int) -> None:
        """Start or stop the threads of all lanes."""
        super().set_thread_count(count)
        self._dark.set_thread_count(DARK_THREADS if count else 0)
        self._streams.set_thread_count(STREAM_THREADS if count else 0)
        self._passwords.set_thread_count(PASSWORD_THREADS if count else 0)
        self._refusing.set_thread_count(1 if count else 0)

    def add_task(self, task: HTTPChannel) -> None:
        """Let a connection's next request be served."""
        request = task.requests[0]
        method, path = getattr(request, "command", ""), getattr(request, "path", "")
        if method == "POST" and path == DARK_PATH:
            self._dark.add_task(task)
            return
        lane = self
        if path == STREAM_PATH:
            lane = self._streams
        elif method == "POST" and path in PASSWORD_PATHS:
            lane = self._passwords
        if len(lane.queue) >= WAITING_MOST:
            request.error = BusyError("The page is busy. Try again in a moment.")
            self._refusing.add_task(task)
        else:
            ThreadedTaskDispatcher.add_task(lane, task)


class PageServer(TcpWSGIServer):  # type: ignore[misc]  # waitress has no types
    """Lets new connections in at any time; the longest idle ones leave for them."""

    def handle_accept(self) -> None:
        """Take the connections that wait, then close what is too much.

        In this order: a new connection must not get the number of one whose events of this round are still to come.
        """
        for _ in range(ACCEPTS):
            before = len(self.active_channels)
            super().handle_accept()
            if len(self.active_channels) == before:
                break
        for channel in self._too_many():
            channel.handle_close()

    def _too_many(self) -> list[HTTPChannel]:
        surplus = len(self.active_channels) - CONNECTIONS
        if surplus <= 0:
            return []
        idle = [channel for channel in self.active_channels.values() if not channel.requests]
        return sorted(idle, key=lambda channel: channel.last_activity)[:surplus]


def page_server(app: WSGIApplication, listener: socket.socket) -> PageServer:
    """A server for `app` on a bound socket; `run` serves until it is told to stop."""
    settings: dict[str, Any] = SETTINGS
    adjustments = Adjustments(sockets=[listener], **settings)
    lanes = Lanes()
    lanes.set_thread_count(adjustments.threads)
    place = (listener.family, listener.type, listener.proto, listener.getsockname())
    return PageServer(app, {}, True, listener, dispatcher=lanes, adj=adjustments, bind_socket=False, sockinfo=place)
