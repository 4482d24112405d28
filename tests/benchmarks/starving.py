"""Those who starve the page in benchmark `starve`, and who presses *dark* meanwhile. Each is a process of its own.

`python -m tests.benchmarks.starving load PORT SOCKET COOKIE` holds the page and control's socket for as long as its
standard input stays open. `… press PORT COOKIE` presses once for every line it reads (stranger, operator or proxy) and
prints when it began to connect, on the clock that all processes of a machine share, and the status it got.
"""

import contextlib
import http.client
import socket
import sys
import threading
import time
from collections.abc import Callable, Mapping
from urllib.parse import urlencode

IDLE, LOG_INS, IMPORTS, SOCKET_CLIENTS, STREAMS = 60, 45, 12, 24, 6
PRESS_LIMIT_S = 5.0
BIG = "a: 1\n" * 10_000
"""A recipe of 50 kB with nothing right in it; in a form it takes less than the 64 KiB that the page reads."""


def headers(port: int, cookie: str = "") -> dict[str, str]:
    """As a browser sends them from the page's own address."""
    return {
        "Origin": f"http://127.0.0.1:{port}",
        "Content-Type": "application/x-www-form-urlencoded",
        "Accept": "application/json",
        **({"Cookie": cookie} if cookie else {}),
    }


def ask(port: int, method: str, path: str, fields: Mapping[str, str], limit_s: float, more: Mapping[str, str]) -> int:
    """Status of one request on a new connection."""
    with contextlib.closing(http.client.HTTPConnection("127.0.0.1", port, timeout=limit_s)) as connection:
        connection.request(method, path, urlencode(fields) if fields else None, dict(more))
        answer = connection.getresponse()
        answer.read()
        return answer.status


def load(port: int, path: str, cookie: str) -> None:
    """Everything at once, each as fast as it is let."""

    def log_in(number: int) -> None:
        # Every other one at the presser's own address, the rest as a proxy would name them.
        far = {"X-Forwarded-For": f"192.0.2.{number}"} if number % 2 else {}
        ask(port, "POST", "/access/login", {"name": "Ada", "password": "no such"}, 30, {**headers(port), **far})

    def take_in(_: int) -> None:
        ask(port, "POST", "/recipes/import", {"name": "big", "text": BIG}, 30, headers(port, cookie))

    def stream(_: int) -> None:
        with socket.create_connection(("127.0.0.1", port), 10) as link:
            link.sendall(f"GET /stream HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
            while link.recv(65536):
                pass

    def idle(_: int) -> None:
        with socket.create_connection(("127.0.0.1", port), 10) as link:
            link.settimeout(None)
            link.recv(1)  # until the page hangs up

    def idle_at_control(_: int) -> None:
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as link:
            link.connect(path)
            link.recv(1)

    for count, act in (
        (IDLE, idle), (SOCKET_CLIENTS, idle_at_control), (STREAMS, stream), (LOG_INS, log_in), (IMPORTS, take_in)
    ):  # fmt: skip
        for number in range(count):
            threading.Thread(target=_again_and_again, args=(act, number), daemon=True).start()
    print("loaded", flush=True)
    sys.stdin.read()


def _again_and_again(act: Callable[[int], None], number: int) -> None:
    while True:
        with contextlib.suppress(OSError, http.client.HTTPException):
            act(number)
        time.sleep(0.05)


def press(port: int, cookie: str) -> None:
    """One press for every line."""
    proxy = forwarder(port)
    for line in sys.stdin:
        who = line.strip()
        to = proxy if who == "proxy" else port
        began_s = time.monotonic()
        status = 0
        with contextlib.suppress(OSError, http.client.HTTPException):
            status = ask(to, "POST", "/bench/dark", {}, PRESS_LIMIT_S, headers(to, cookie if who == "operator" else ""))
        print(f"{began_s!r} {status}", flush=True)


def forwarder(port: int) -> int:
    """The port of a plain TCP proxy to `port`, on loopback only."""
    listener = socket.create_server(("127.0.0.1", 0))

    def pump(source: socket.socket, sink: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while piece := source.recv(65536):
                sink.sendall(piece)
        with contextlib.suppress(OSError):
            sink.shutdown(socket.SHUT_WR)

    def serve() -> None:
        while True:
            near, _ = listener.accept()
            try:
                far = socket.create_connection(("127.0.0.1", port), PRESS_LIMIT_S)
            except OSError:
                near.close()
                continue
            for pair in ((near, far), (far, near)):
                threading.Thread(target=pump, args=pair, daemon=True).start()

    threading.Thread(target=serve, daemon=True).start()
    return int(listener.getsockname()[1])


if __name__ == "__main__":
    if sys.argv[1] == "load":
        load(int(sys.argv[2]), sys.argv[3], sys.argv[4])
    else:
        press(int(sys.argv[2]), sys.argv[3])
