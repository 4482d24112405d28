"""*Dark* gets through while others hold the page: real processes and sockets, every press on a new connection."""

import contextlib
import http.client
import socket
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import urlencode

import pytest
from flask import Flask

from sumlight_web import server
from sumlight_web.link import ControlLink
from tests.webui.fake_control import FakeControl, rising, wait_until
from tests.webui.operating import give_operator
from tests.webui.page_process import PageProcess, page_process

DARK_LIMIT_S = 0.5
"""From opening the connection to control's word (issue: *dark* always gets through)."""

PRESSES = 6
PLAIN_LIMIT_S = 5.0

Load = Callable[[PageProcess, contextlib.ExitStack], None]


@pytest.fixture
def served(control: FakeControl, data: Path) -> Iterator[PageProcess]:
    """A running page with one operator."""
    give_operator(data, "scrypt")
    control.say(rising)
    with page_process(control.path, data) as running:
        yield running


def request(port: int, method: str, path: str, body: str = "", timeout_s: float = 10.0, **headers: str) -> int:
    """Status of one request on a connection of its own."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=timeout_s)
    try:
        kind = {"Content-Type": "application/x-www-form-urlencoded"} if body else {}
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        connection.request(method, path, body or None, {"Origin": f"http://127.0.0.1:{port}", **kind, **named})
        return connection.getresponse().status
    finally:
        connection.close()


def press(served: PageProcess) -> float:
    """Press dark as a new browser would; seconds until the answer, which stands for control's."""
    began_s = time.monotonic()
    assert request(served.port, "POST", "/bench/dark", Accept="application/json", timeout_s=5.0) == 200
    return time.monotonic() - began_s


def keep_asking(served: PageProcess, stack: contextlib.ExitStack, count: int, ask: Callable[[int], int]) -> list[int]:
    """So many threads that ask again and again until the stack unwinds; the statuses they got."""
    stop, got = threading.Event(), list[int]()

    def run(number: int) -> None:
        while not stop.is_set():
            with contextlib.suppress(OSError, http.client.HTTPException):
                got.append(ask(number))

    threads = [threading.Thread(target=run, args=(number,)) for number in range(count)]
    for thread in threads:
        thread.start()

    def end() -> None:
        stop.set()
        for thread in threads:
            thread.join()

    stack.callback(end)
    return got


def idle_connections(served: PageProcess, stack: contextlib.ExitStack) -> None:
    """More than any limit of the server, that say nothing or never finish their first line."""
    for number in range(650):
        link = stack.enter_context(socket.create_connection(("127.0.0.1", served.port), 5))
        if number % 3 == 0:
            link.sendall(b"POST /bench/dark HTTP/1.1\r\nHost: 127")


def log_ins(served: PageProcess, stack: contextlib.ExitStack) -> None:
    """Forty-five people who do not know their password, each at an address of their own."""
    body = urlencode({"name": "Ada", "password": "wrong password"})

    def ask(number: int) -> int:
        return request(served.port, "POST", "/access/login", body, X_Forwarded_For=f"192.0.2.{number}")

    keep_asking(served, stack, 45, ask)


def imports(served: PageProcess, stack: contextlib.ExitStack) -> None:
    """Twelve big recipes with nothing right in them, from somebody who may operate."""
    cookie = log_in(served)
    body = urlencode({"name": "big", "text": "a: 1\n" * 10_000})
    keep_asking(served, stack, 12, lambda _: request(served.port, "POST", "/recipes/import", body, Cookie=cookie))


def streams(served: PageProcess, stack: contextlib.ExitStack) -> None:
    """All live places, and as many who ask for one in vain."""
    keep_asking(served, stack, 12, lambda _: request(served.port, "GET", "/stream", timeout_s=2.0))
    for _ in range(6):
        link = stack.enter_context(socket.create_connection(("127.0.0.1", served.port), 5))
        link.sendall(f"GET /stream HTTP/1.1\r\nHost: 127.0.0.1:{served.port}\r\n\r\n".encode())


def slow_pages(served: PageProcess, stack: contextlib.ExitStack) -> None:
    """More people than there are threads, all leafing at once."""
    keep_asking(served, stack, 60, lambda _: request(served.port, "GET", "/recipes/"))


def log_in(served: PageProcess) -> str:
    """A session's cookie."""
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=10)
    connection.request(
        "POST",
        "/access/login",
        urlencode({"name": "Ada", "password": "amber light 38"}),
        {"Origin": served.address.rstrip("/"), "Content-Type": "application/x-www-form-urlencoded"},
    )
    answer = connection.getresponse()
    assert answer.status == 303
    connection.close()
    return (answer.getheader("Set-Cookie") or "").split(";")[0]


@pytest.mark.parametrize("load", [idle_connections, log_ins, imports, streams, slow_pages])
def test_dark_gets_through(served: PageProcess, control: FakeControl, load: Load) -> None:
    """Each load alone; afterwards an ordinary page comes soon."""
    with contextlib.ExitStack() as stack:
        load(served, stack)
        time.sleep(0.5)
        took_s = [press(served) for _ in range(PRESSES)]
    assert control.names().count("dark") == PRESSES
    assert max(took_s) < DARK_LIMIT_S
    began_s = time.monotonic()
    assert request(served.port, "GET", "/access/", timeout_s=PLAIN_LIMIT_S) == 200
    assert time.monotonic() - began_s < PLAIN_LIMIT_S


def test_of_many_log_ins_at_once_two_may_wait(served: PageProcess) -> None:
    """The others hear so at once, in words."""
    body = urlencode({"name": "Ada", "password": "wrong password"})
    with contextlib.ExitStack() as stack:
        got = keep_asking(
            served,
            stack,
            12,
            lambda n: request(served.port, "POST", "/access/login", body, X_Forwarded_For=f"192.0.2.{n}"),
        )
        wait_until(lambda: len(got) >= 12, 10.0)
    assert 429 in got[:12]  # long before the thirty misses a minute that anybody may have
    assert set(got) <= {401, 429}


def test_a_full_queue_is_said_and_the_page_comes_back(served: PageProcess) -> None:
    """No connection is left hanging."""
    with contextlib.ExitStack() as stack:
        got = keep_asking(served, stack, 120, lambda _: request(served.port, "GET", "/recipes/"))
        wait_until(lambda: 503 in got, 20.0)
        assert set(got) <= {200, 503}
    assert request(served.port, "GET", "/recipes/") == 200


def test_an_idle_connection_is_closed_after_some_seconds(served: PageProcess) -> None:
    """It holds no place for ever."""
    with socket.create_connection(("127.0.0.1", served.port), 15) as link:
        assert link.recv(1) == b""


def test_a_full_door_at_control_is_tried_again(tmp_path: Path) -> None:
    """A connect that the kernel refuses for the moment is no lost command."""
    path = tmp_path / "s"
    heard: list[bytes] = []
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as door, contextlib.ExitStack() as stack:
        door.bind(str(path))
        door.listen(1)
        for _ in range(2):
            waiting = stack.enter_context(socket.socket(socket.AF_UNIX, socket.SOCK_STREAM))
            waiting.connect(str(path))

        def answer() -> None:
            time.sleep(0.2)
            for number in range(3):
                link = stack.enter_context(door.accept()[0])
                if number == 2:
                    heard.append(link.recv(1000))
                    link.sendall(b'{"id": 1, "ok": true, "result": {}}\n')

        control = threading.Thread(target=answer)
        control.start()
        assert ControlLink(path).ask("dark") == {}
        control.join()
    assert b'"dark"' in heard[0]


def test_dark_is_said_again_when_the_connection_breaks_off(tmp_path: Path) -> None:
    """No other command is."""
    path = tmp_path / "s"
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as door:
        door.bind(str(path))
        door.listen(4)

        def answer() -> None:
            door.accept()[0].close()
            link, _ = door.accept()
            link.recv(1000)
            link.sendall(b'{"id": 1, "ok": true, "result": {}}\n')
            link.close()

        control = threading.Thread(target=answer)
        control.start()
        assert ControlLink(path).ask("dark") == {}
        control.join()


def test_the_lanes_are_those_of_real_routes(app: Flask) -> None:
    """A route that is renamed must take its lane along."""
    routes = app.url_map.bind("127.0.0.1")
    assert routes.match(server.DARK_PATH, method="POST") == ("bench.plain", {"command": "dark"})
    assert routes.match(server.STREAM_PATH, method="GET")[0] == "stream.stream"
    for path in server.PASSWORD_PATHS:
        assert routes.match(path, method="POST")[0].startswith("access.")
