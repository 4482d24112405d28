"""The page as a process of its own, over real sockets."""

import contextlib
import http.client
import random
import signal
import socket
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest

from tests.webui.fake_control import FakeControl, rising, wait_until
from tests.webui.page_process import PageProcess, command, environment, page_process

MEMORY_LIMIT_MB = 90
"""Goal for the page's process (issue: footprint)."""

STREAM_LIFE_S = 30.0
"""So long a live stream is left open; whatever had to wait for one would wait for that long."""

FIRST_PAINT_LIMIT_BYTES = 150_000
"""Goal for what the Bench's first paint sends."""


@pytest.fixture
def served(control: FakeControl, data: Path) -> Iterator[PageProcess]:
    """A running page."""
    with page_process(control.path, data) as running:
        yield running


def get(served: PageProcess, path: str) -> tuple[int, bytes]:
    """Status and body of one request."""
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=60)
    try:
        connection.request("GET", path)
        response = connection.getresponse()
        return response.status, response.read()
    finally:
        connection.close()


@contextlib.contextmanager
def streams(served: PageProcess, count: int) -> Iterator[list[http.client.HTTPResponse]]:
    """So many open live streams."""
    with contextlib.ExitStack() as stack:
        responses = []
        for _ in range(count):
            connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=60)
            stack.callback(connection.close)
            connection.request("GET", "/stream")
            responses.append(stack.enter_context(connection.getresponse()))
        yield responses


def test_it_serves_the_bench_on_this_machine_only(served: PageProcess) -> None:
    """There is no login yet, so nobody else may reach it."""
    assert get(served, "/")[0] == 200
    listening = [c for c in psutil.Process(served.process.pid).net_connections() if c.status == "LISTEN"]
    assert {c.laddr.ip for c in listening} == {"127.0.0.1"}


@pytest.mark.long
def test_the_first_paint_is_small(served: PageProcess) -> None:
    """Page, style, scripts and sign together, over a slow Wi-Fi."""
    names = ("sumlight.css", "commands.js", "bench.js", "curve.js", "icon.svg")
    sizes = [len(get(served, path)[1]) for path in ("/", *(f"/static/{name}" for name in names))]
    assert all(sizes)
    assert sum(sizes) <= FIRST_PAINT_LIMIT_BYTES


@pytest.mark.long
def test_memory_stays_small_under_use(served: PageProcess, control: FakeControl) -> None:
    """Six live streams and some hundred requests."""
    control.say(rising)
    with streams(served, 6) as responses:
        for _ in range(60):
            get(served, "/")
            get(served, "/state.json")
        for response in responses:
            assert response.read(2000)
        used_mb = psutil.Process(served.process.pid).memory_info().rss / 1e6
    assert used_mb <= MEMORY_LIMIT_MB


def test_with_all_streams_taken_commands_still_pass(served: PageProcess, control: FakeControl) -> None:
    """Viewers can never keep someone from pressing dark."""
    with streams(served, 8) as responses:
        assert sorted(response.status for response in responses) == [200] * 6 + [503] * 2
        connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=60)
        began_s = time.monotonic()
        connection.request(
            "POST", "/bench/dark", headers={"Origin": served.address.rstrip("/"), "Accept": "application/json"}
        )
        assert connection.getresponse().status == 200
        assert time.monotonic() - began_s < STREAM_LIFE_S / 2
        connection.close()
    assert control.names() == ["dark"]


def test_places_come_back_when_browsers_leave(served: PageProcess) -> None:
    """A closed tab frees its stream at once."""
    with streams(served, 6):
        pass

    def one_more() -> bool:
        with streams(served, 1) as (response,):
            return response.status == 200

    wait_until(one_more)


def test_it_ends_with_its_standard_input_although_streams_are_open(served: PageProcess) -> None:
    """It never outlives the process that started it."""
    assert served.process.stdin is not None
    with streams(served, 3):
        began_s = time.monotonic()
        served.process.stdin.close()
        assert served.process.wait(timeout=60) == 0
        assert time.monotonic() - began_s < STREAM_LIFE_S / 2


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_it_ends_on_a_signal_although_streams_are_open(served: PageProcess, number: signal.Signals) -> None:
    """A service manager's, or Ctrl-C at a terminal, which reaches every process there."""
    with streams(served, 3):
        began_s = time.monotonic()
        served.process.send_signal(number)
        assert served.process.wait(timeout=60) == 0
        assert time.monotonic() - began_s < STREAM_LIFE_S / 2


def test_a_taken_port_is_named_with_what_to_do(served: PageProcess, control: FakeControl, data: Path) -> None:
    """No trace of the program's insides, status 2."""
    line = command(control.path, data, "--port", str(served.port))
    done = subprocess.run(line, env=environment(), capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 2
    assert f"port {served.port}" in done.stderr
    assert "--port" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("port", ["-1", "65536", "x", "٣"])
def test_a_port_that_is_none_is_refused(control: FakeControl, data: Path, port: str) -> None:
    """Before anything starts."""
    line = command(control.path, data, f"--port={port}")
    done = subprocess.run(line, env=environment(), capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 2
    assert "give a number from 0 to 65535" in done.stderr


def test_it_comes_up_and_says_so_without_control(tmp_path: Path, data: Path) -> None:
    """Whichever of the two starts first."""
    with page_process(tmp_path / "nobody.sock", data) as running:
        status, body = get(running, "/")
        assert status == 200
        assert b"The controller cannot be reached" in body


RAW = (
    b"\x00" * 2000,
    b"GET / HTTP/9.9\r\n\r\n",
    b"GET  \r\n\r\n",
    b"POST /bench/dark HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: -1\r\n\r\n",
    b"POST /bench/dark HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 99999999999\r\n\r\n",
    b"POST /bench/dark HTTP/1.1\r\nHost: 127.0.0.1\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n",
    b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: " + b"a" * 40_000 + b"\r\n\r\n",
    b"GET /%00%ff HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
    b"GET http://evil.example/ HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
    b"OPTIONS * HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
    b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nHost: evil.example\r\n\r\n",
    b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + bytes(range(256)),
)


def test_bytes_that_are_no_http_break_nothing(served: PageProcess, control: FakeControl) -> None:
    """Scanners, TLS on the wrong port, broken clients; then the page still serves, and no lamp heard of it."""
    dice = random.Random(3)
    for raw in (*RAW, *(dice.randbytes(500) for _ in range(20))):
        with socket.create_connection(("127.0.0.1", served.port), timeout=60) as connection:
            connection.sendall(raw)
            with contextlib.suppress(OSError):  # the server may have hung up on it already
                connection.shutdown(socket.SHUT_WR)
            with contextlib.suppress(ConnectionError):
                answer = connection.recv(200)
                assert not answer.startswith((b"HTTP/1.1 50", b"HTTP/1.0 50")), (raw[:80], answer)
    assert get(served, "/")[0] == 200
    assert control.names() == []
