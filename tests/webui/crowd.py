"""Those who hold the page while *dark* is pressed: `python -m tests.webui.crowd KIND PORT [COOKIE]`.

A process of its own, as in life: in the test's own process its threads would share the interpreter with the stopwatch.
It prints a line once everybody has been at the page, and goes on until its standard input ends.
"""

import contextlib
import http.client
import socket
import sys
import threading
import time
from collections.abc import Callable
from urllib.parse import urlencode

IDLE, PEOPLE, IMPORTS, STREAMS, LEAFING = 650, 45, 12, 6, 60


def request(port: int, method: str, path: str, body: str = "", timeout_s: float = 60.0, **headers: str) -> int:
    """Status of one request on a connection of its own."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=timeout_s)
    try:
        kind = {"Content-Type": "application/x-www-form-urlencoded"} if body else {}
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        connection.request(method, path, body or None, {"Origin": f"http://127.0.0.1:{port}", **kind, **named})
        return connection.getresponse().status
    finally:
        connection.close()


def keep_asking(stack: contextlib.ExitStack, count: int, ask: Callable[[int], int]) -> list[int]:
    """So many threads that ask again and again until the stack unwinds; the statuses they got, 0 for none."""
    stop, got = threading.Event(), list[int]()

    def run(number: int) -> None:
        while not stop.is_set():
            try:
                got.append(ask(number))
            except (OSError, http.client.HTTPException):
                got.append(0)

    threads = [threading.Thread(target=run, args=(number,)) for number in range(count)]
    for thread in threads:
        thread.start()

    def end() -> None:
        stop.set()
        for thread in threads:
            thread.join()

    stack.callback(end)
    return got


def idle_connections(stack: contextlib.ExitStack, port: int, _cookie: str) -> list[int]:
    """More than any limit of the server, that say nothing or never finish their first line."""
    for number in range(IDLE):
        link = stack.enter_context(socket.create_connection(("127.0.0.1", port), 60))
        if number % 3 == 0:
            with contextlib.suppress(OSError):  # the page may have hung up already
                link.sendall(b"POST /bench/dark HTTP/1.1\r\nHost: 127")
    return [0] * IDLE


def log_ins(stack: contextlib.ExitStack, port: int, _cookie: str) -> list[int]:
    """People who do not know their password, each at an address of their own."""
    body = urlencode({"name": "Ada", "password": "wrong password"})

    def ask(number: int) -> int:
        return request(port, "POST", "/access/login", body, X_Forwarded_For=f"192.0.2.{number}")

    return keep_asking(stack, PEOPLE, ask)


def imports(stack: contextlib.ExitStack, port: int, cookie: str) -> list[int]:
    """Big recipes with nothing right in them, from somebody who may operate."""
    body = urlencode({"name": "big", "text": "a: 1\n" * 10_000})
    return keep_asking(stack, IMPORTS, lambda _: request(port, "POST", "/recipes/import", body, Cookie=cookie))


def streams(stack: contextlib.ExitStack, port: int, _cookie: str) -> list[int]:
    """All live places, and as many who ask for one in vain."""
    got = keep_asking(stack, 2 * STREAMS, lambda _: request(port, "GET", "/stream", timeout_s=2.0))
    for _ in range(STREAMS):
        link = stack.enter_context(socket.create_connection(("127.0.0.1", port), 60))
        link.sendall(f"GET /stream HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
    return got


def slow_pages(stack: contextlib.ExitStack, port: int, _cookie: str) -> list[int]:
    """More people than there are threads, all leafing at once."""
    return keep_asking(stack, LEAFING, lambda _: request(port, "GET", "/recipes/"))


KINDS = {kind.__name__: kind for kind in (idle_connections, log_ins, imports, streams, slow_pages)}
ANSWERS = {"idle_connections": IDLE, "log_ins": PEOPLE, "imports": IMPORTS, "streams": STREAMS, "slow_pages": LEAFING}
"""So many have been at the page once each kind of crowd is complete."""


def main(kind: str, port: str, cookie: str = "") -> None:
    """Hold the page."""
    with contextlib.ExitStack() as stack:
        got = KINDS[kind](stack, int(port), cookie)
        while len(got) < ANSWERS[kind]:
            time.sleep(0.01)
        sys.stdout.write("there\n")
        sys.stdout.flush()
        sys.stdin.read()


if __name__ == "__main__":
    main(*sys.argv[1:])
