"""*Dark* gets through while others hold the page: real processes and sockets, every press on a new connection.

How fast it gets through on a quiet machine is judged by benchmark `starve`. Here a press is judged by what does not
hang on the machine: it passes while every other thread stands still, none comes to nothing, and none waits for as long
as it does when a guard is broken.
"""

import contextlib
import http.client
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from flask import Flask

from sumlight_web import server
from sumlight_web.link import ControlLink, LinkDownError
from tests.webui.crowd import KINDS, keep_asking, request
from tests.webui.fake_control import FakeControl, rising, wait_until
from tests.webui.operating import give_operator
from tests.webui.page_process import ROOT, PageProcess, environment, page_process

WORST_LIMIT_S = 5.0
"""No press, from opening the connection to control's word, however crowded the machine. Intact the worst took 0.06 s on
a quiet machine, 0.6 s on a crowded one of two slow cores. Broken on purpose: 7.5 s when no room is made for a new
connection (until the idle ones are closed), 30 s when nobody has threads of their own (until a stream ends); a press
that the queue turns away shows in its status."""

PRESSES = 6
PATIENCE_S = 60.0
LOAD_NICE = 10
"""In life those who hold the page are other machines, which take no time from this one's processors."""


@pytest.fixture
def served(control: FakeControl, data: Path) -> Iterator[PageProcess]:
    """A running page with one operator."""
    give_operator(data, "scrypt")
    control.say(rising)
    with page_process(control.path, data) as running:
        yield running


def press(served: PageProcess) -> float:
    """Press dark as a new browser would; seconds until the answer, which stands for control's."""
    began_s = time.monotonic()
    assert request(served.port, "POST", "/bench/dark", Accept="application/json") == 200
    return time.monotonic() - began_s


@contextlib.contextmanager
def crowd(served: PageProcess, kind: str) -> Iterator[None]:
    """A process that holds the page; all of it is there when this begins."""
    line = ["nice", "-n", str(LOAD_NICE), sys.executable, "-m", "tests.webui.crowd"]
    line += [kind, str(served.port), log_in(served)]
    with subprocess.Popen(line, stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=environment(), cwd=ROOT) as process:
        try:
            assert process.stdout is not None
            assert process.stdout.readline() == b"there\n"
            yield
        finally:
            process.kill()


def log_in(served: PageProcess) -> str:
    """A session's cookie."""
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=PATIENCE_S)
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


@pytest.mark.parametrize("kind", KINDS)
def test_dark_gets_through(served: PageProcess, control: FakeControl, kind: str) -> None:
    """Each load alone; afterwards an ordinary page comes."""
    with crowd(served, kind):
        took_s = [press(served) for _ in range(PRESSES)]
    assert control.names().count("dark") == PRESSES
    assert max(took_s) < WORST_LIMIT_S
    wait_until(lambda: request(served.port, "GET", "/access/") == 200, PATIENCE_S)


def test_dark_passes_while_every_other_thread_stands_still() -> None:
    """And every queue is full: the press is answered before any of those who came first."""
    go_on, inside = threading.Event(), list[str]()

    def stands_still(environ: dict[str, Any], start: Callable[..., Any]) -> Iterable[bytes]:
        inside.append(environ["PATH_INFO"])
        if environ["PATH_INFO"] != server.DARK_PATH:
            go_on.wait(PATIENCE_S)
        start("200 OK", [("Content-Length", "0")])
        return []

    ways: dict[tuple[str, str], int] = {
        ("GET", "/"): int(str(server.SETTINGS["threads"])),
        ("GET", server.STREAM_PATH): server.STREAM_THREADS,
        ("POST", server.PASSWORD_PATHS[0]): server.PASSWORD_THREADS,
    }
    with serving(stands_still) as port, contextlib.ExitStack() as stack:
        got = [
            keep_asking(stack, threads + server.WAITING_MOST + 1, lambda _, way=way: request(port, *way))  # type: ignore[misc]
            for way, threads in ways.items()
        ]
        stack.callback(go_on.set)
        wait_until(lambda: len(inside) == sum(ways.values()) and all(503 in statuses for statuses in got), PATIENCE_S)
        assert request(port, "POST", server.DARK_PATH, timeout_s=PATIENCE_S / 2) == 200
        assert {status for statuses in got for status in statuses} == {503}


@contextlib.contextmanager
def serving(app: Any) -> Iterator[int]:
    """The page's server over another application, in this process; its port."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        running = server.page_server(app, listener)
        thread = threading.Thread(target=running.run)
        thread.start()
        try:
            yield listener.getsockname()[1]
        finally:
            running.close()
            thread.join()


def test_of_many_log_ins_at_once_two_may_wait(served: PageProcess) -> None:
    """The others hear so at once, in words."""
    body = urlencode({"name": "Ada", "password": "wrong password"})
    with contextlib.ExitStack() as stack:
        got = keep_asking(
            stack,
            12,
            lambda n: request(served.port, "POST", "/access/login", body, X_Forwarded_For=f"192.0.2.{n}"),
        )
        wait_until(lambda: len(got) >= 12)
    assert 429 in got[:12]  # long before the thirty misses a minute that anybody may have
    assert set(got) <= {401, 429}


def test_a_full_queue_is_said_and_the_page_comes_back(served: PageProcess) -> None:
    """No connection is left hanging."""
    with contextlib.ExitStack() as stack:
        got = keep_asking(stack, 120, lambda _: request(served.port, "GET", "/recipes/"))
        wait_until(lambda: 503 in got)
        assert set(got) <= {200, 503}
    wait_until(lambda: request(served.port, "GET", "/recipes/") == 200, PATIENCE_S)  # others are still being answered


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
    """On a connection of its own."""
    path = tmp_path / "s"
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as door:
        door.bind(str(path))
        door.listen(4)
        door.settimeout(PATIENCE_S)

        def answer() -> None:
            door.accept()[0].close()
            with contextlib.suppress(TimeoutError, OSError):
                link, _ = door.accept()
                link.recv(1000)
                link.sendall(b'{"id": 1, "ok": true, "result": {}}\n')
                link.close()

        control = threading.Thread(target=answer, daemon=True)
        control.start()
        assert ControlLink(path).ask("dark") == {}
        control.join()


@pytest.mark.parametrize("command", ["go", "acknowledge", "abandon"])
def test_no_other_command_is_said_again(tmp_path: Path, command: str) -> None:
    """Control may have carried it out already: whoever pressed is told that nobody knows."""
    path = tmp_path / "s"
    heard: list[bytes] = []
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as door:
        door.bind(str(path))
        door.listen(4)

        def break_off() -> None:
            with contextlib.suppress(OSError):  # the door is shut in the end
                while True:
                    link, _ = door.accept()
                    heard.append(link.recv(1000))
                    link.close()

        control = threading.Thread(target=break_off, daemon=True)
        control.start()
        with pytest.raises(LinkDownError) as told:
            ControlLink(path).ask(command)
        door.shutdown(socket.SHUT_RDWR)
        control.join(PATIENCE_S)
    assert told.value.sent
    assert len(heard) == 1
    assert f'"{command}"'.encode() in heard[0]


def test_the_lanes_are_those_of_real_routes(app: Flask) -> None:
    """A route that is renamed must take its lane along."""
    routes = app.url_map.bind("127.0.0.1")
    assert routes.match(server.DARK_PATH, method="POST") == ("bench.plain", {"command": "dark"})
    assert routes.match(server.STREAM_PATH, method="GET")[0] == "stream.stream"
    for path in server.PASSWORD_PATHS:
        assert routes.match(path, method="POST")[0].startswith("access.")
