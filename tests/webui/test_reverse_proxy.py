"""Real proxies and forwarders before the real page: whoever comes through them is nobody, and so is everybody else.

Outside judge: Debian's nginx as it is by itself, told nothing but `proxy_pass`. It then sends the upstream's address as
Host, and adds no header that says who asked (nginx's documentation, ngx_http_proxy_module, `proxy_set_header`).
"""

import contextlib
import http.client
import shutil
import socket
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlencode

import pytest

from tests.ports import free_port
from tests.webui.fake_control import FakeControl, wait_until
from tests.webui.operating import PASSWORD
from tests.webui.page_process import PageProcess, page_process

CONFIG = """\
daemon off;
master_process off;
pid {folder}/nginx.pid;
error_log {folder}/error.log;
events {{}}
http {{
    access_log off;
    client_body_temp_path {folder}/body;
    proxy_temp_path {folder}/proxy;
    fastcgi_temp_path {folder}/fastcgi;
    uwsgi_temp_path {folder}/uwsgi;
    scgi_temp_path {folder}/scgi;
    server {{
        listen 127.0.0.1:{port};
        location / {{ proxy_pass http://127.0.0.1:{upstream}; }}
    }}
}}
"""


def _answers(port: int) -> bool:
    with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 0.5):
        return True
    return False


@contextlib.contextmanager
def nginx(upstream: int, folder: Path) -> Iterator[int]:
    """A default reverse proxy; yields its port."""
    binary = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin")
    if binary is None:
        pytest.fail("nginx is missing; install it with: apt-get install nginx-light")
    port = free_port()
    config = folder / "nginx.conf"
    config.write_text(CONFIG.format(folder=folder, port=port, upstream=upstream))
    with subprocess.Popen([binary, "-p", str(folder), "-c", str(config), "-e", str(folder / "error.log")]) as process:
        try:
            wait_until(lambda: _answers(port))
            yield port
        finally:
            process.terminate()


@contextlib.contextmanager
def forwarder(upstream: int, _folder: Path) -> Iterator[int]:
    """Passes bytes on both ways, as an SSH tunnel or a port forwarding does; yields its port."""

    def pump(source: socket.socket, sink: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while data := source.recv(65536):
                sink.sendall(data)
            sink.shutdown(socket.SHUT_WR)

    def serve() -> None:
        with contextlib.suppress(OSError):
            while True:
                near, _ = listener.accept()
                far = socket.create_connection(("127.0.0.1", upstream), 5)
                links.extend((near, far))
                for pair in ((near, far), (far, near)):
                    threading.Thread(target=pump, args=pair, daemon=True).start()

    links: list[socket.socket] = []
    with socket.create_server(("127.0.0.1", 0)) as listener:
        thread = threading.Thread(target=serve, daemon=True)
        thread.start()
        try:
            yield int(listener.getsockname()[1])
        finally:
            listener.shutdown(socket.SHUT_RDWR)
            thread.join(60)
            for link in links:
                link.close()


@contextlib.contextmanager
def nothing(upstream: int, _folder: Path) -> Iterator[int]:
    """Straight to the page, as a person at the machine."""
    yield upstream


@pytest.fixture
def served(control: FakeControl, data: Path) -> Iterator[PageProcess]:
    """A page without any operator."""
    with page_process(control.path, data) as running:
        yield running


def post(port: int, host: str, path: str, fields: dict[str, str], more: dict[str, str]) -> int:
    """The status of a form sent to `port` under the name `host`, as a browser sends it that opened it by that name."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    headers = {"Host": host, "Origin": f"http://{host}", "Content-Type": "application/x-www-form-urlencoded", **more}
    try:
        connection.request("POST", path, urlencode(fields), headers)
        return connection.getresponse().status
    finally:
        connection.close()


FORGED: dict[str, dict[str, str]] = {
    "plain": {},
    "forwarded for loopback": {"X-Forwarded-For": "127.0.0.1", "X-Real-Ip": "127.0.0.1"},
    "forwarded host": {"X-Forwarded-Host": "localhost", "Forwarded": "for=127.0.0.1;host=localhost"},
}


@pytest.mark.parametrize("more", FORGED.values(), ids=FORGED.keys())
@pytest.mark.parametrize("way", [nginx, forwarder, nothing])
def test_nobody_lights_before_there_is_an_operator_by_whatever_way_they_come(
    served: PageProcess, control: FakeControl, tmp_path: Path, way: object, more: dict[str, str]
) -> None:
    """With the true host, with the upstream's forged, and with every header that names somebody at the machine."""
    start = {"recipe": "blue-38", "panel": "P1", "note": ""}
    first = {"name": "Mallory", "password": PASSWORD, "code": ""}
    with way(served.port, tmp_path) as port:  # type: ignore[operator]
        for host in (f"127.0.0.1:{port}", f"127.0.0.1:{served.port}", "localhost", "box.example"):
            assert post(port, host, "/bench/start", start, more) in (400, 401, 403), host
            assert post(port, host, "/access/set-up", first, more) in (400, 403, 422), host
        # The gate was reached, and not only the guard of hosts and origins.
        assert post(port, f"127.0.0.1:{served.port}", "/bench/start", start, more) == 401
        assert post(port, f"127.0.0.1:{served.port}", "/access/set-up", first, more) == 422
        assert post(port, f"127.0.0.1:{served.port}", "/bench/dark", {}, more) == 303
    assert control.names() == ["dark"]
