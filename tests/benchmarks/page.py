"""The page under 20 viewers on the twin: how far behind they are, how fast *dark* is, what a first visit weighs.

How far behind a viewer is, is judged against a watch on control's own socket: from the moment at which that watch saw
something newer than a viewer shows, the viewer is behind. Both run in this process, on one clock.
"""

import contextlib
import ctypes
import json
import shutil
import socket
import struct
import tempfile
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
import zlib
from collections.abc import Callable
from http.client import HTTPResponse
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, sync_playwright

from sumlight.protocol.client import ControlClient
from sumlight_web.link import SnapshotWatch
from sumlight_web.services import PageConfig
from tests.benchmarks import page_words
from tests.benchmarks.figure import Figure
from tests.benchmarks.reference import beside, judged
from tests.browser.conftest import FLAGS
from tests.pressing import press
from tests.running import RunningTwin

VIEWERS = 20
LONG_S, QUICK_S = 60.0, 10.0
DARK_EVERY_S, REST_S = 1.5, 0.6
"""*Dark* so often; after a rest, in which the glow dies, the exposure goes on."""

POLL_S = 0.6
"""As bench.js polls."""

SETTLE_S = 1.0
THROTTLE = 4
CHROMIUM_FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
]

SO_ATTACH_FILTER = 26
DROP_ALL = struct.pack("HBBI", 0x06, 0, 0, 0)
"""One instruction of the kernel's packet filter: take nothing in. The peer then hears no more, not even a goodbye."""


class Truth:
    """When each moment of the box was first seen at control's own socket, by its `mono_s`."""

    def __init__(self, path: Path) -> None:
        self._watch = SnapshotWatch(path)
        self._watch.start()
        self._stop = threading.Event()
        self._seen: dict[float, float] = {}
        self._thread = threading.Thread(target=self._look)
        self._thread.start()

    def _look(self) -> None:
        heard = -1
        while not self._stop.is_set():
            latest = self._watch.wait_newer(heard, 0.2)
            if latest.heard != heard and latest.snapshot is not None:
                heard = latest.heard
                self._seen[round(float(latest.snapshot["mono_s"]), 6)] = time.monotonic()

    def newer_than(self, mono_s: float) -> float | None:
        """When the first moment after `mono_s` was seen; from then on a viewer of `mono_s` is behind."""
        later = [at_s for moment_s, at_s in list(self._seen.items()) if moment_s > mono_s + 1e-6]
        return min(later) if later else None

    def close(self) -> None:
        """End the watch."""
        self._stop.set()
        self._watch.close()
        self._thread.join()


class Viewer(threading.Thread):
    """A browser without a screen: streams while it gets a place, and polls when refused."""

    def __init__(self, url: str, truth: Truth, until_s: float) -> None:
        super().__init__()
        self._url, self._truth, self._until_s = url, truth, until_s
        self._shown_s = -1.0
        self.streamed = False
        self.worst_s = 0.0
        self.moments = 0
        self._after = ""
        self._begin_s = time.monotonic() + SETTLE_S

    def run(self) -> None:
        """Until the time is over."""
        while time.monotonic() < self._until_s:
            try:
                self._stream()
            except (OSError, urllib.error.HTTPError):
                self._poll_for(5.0)

    def _stream(self) -> None:
        with self._ask("stream") as answer:
            self.streamed = True
            for line in answer:
                if line.startswith(b"data: "):
                    self._take(json.loads(line[6:]))
                if time.monotonic() > self._until_s:
                    return

    def _poll_for(self, seconds: float) -> None:
        end_s = min(self._until_s, time.monotonic() + seconds)
        while time.monotonic() < end_s:
            began_s = time.monotonic()
            with contextlib.suppress(OSError), self._ask("state.json") as answer:
                self._take(json.load(answer))
            time.sleep(max(0.05, POLL_S - (time.monotonic() - began_s)))

    def _ask(self, what: str) -> HTTPResponse:
        """Naming the last point it has, as bench.js does."""
        after = urllib.parse.quote(self._after)
        answer: HTTPResponse = urllib.request.urlopen(f"{self._url}/{what}?after={after}", timeout=5)
        return answer

    def _take(self, state: dict[str, Any]) -> None:
        """Judge how long what was shown until now had been old, then show the new."""
        now_s = time.monotonic()
        overtaken_s = self._truth.newer_than(self._shown_s) if self._shown_s > 0 else None
        if overtaken_s is not None and now_s > self._begin_s:
            self.worst_s = max(self.worst_s, now_s - overtaken_s)
        if state["plan"]:
            self._shown_s = round(float(state["plan"]["mono_s"]), 6)
            self.moments += 1
        self._after = state["id"] or self._after


def measure(quick: bool) -> list[Figure]:
    """Load, dark under load, a vanished viewer, a first visit, and what each page takes of a phone's screen."""
    seconds = QUICK_S if quick else LONG_S
    with contextlib.ExitStack() as stack:
        twin = stack.enter_context(RunningTwin(Path(stack.enter_context(tempfile.TemporaryDirectory())), speed=1.0))
        client = stack.enter_context(ControlClient(twin.socket))
        twin.wait_until_ready(client)
        figures = [*first_visit(twin.url), *_load(twin, client, seconds), vanished(twin)]
    return [*figures, *page_words.measure()]


def _load(twin: RunningTwin, client: ControlClient, seconds: float) -> list[Figure]:
    press(client, "start", recipe="blue-38", panel="load")
    truth = Truth(twin.socket)
    until_s = time.monotonic() + seconds
    viewers = [Viewer(twin.url, truth, until_s) for _ in range(VIEWERS)]
    for viewer in viewers:
        viewer.start()
    darks_ms = _darks(twin, client, until_s)
    for viewer in viewers:
        viewer.join()
    truth.close()
    streaming = [v for v in viewers if v.streamed and v.moments > 4 * seconds]
    polling = [v for v in viewers if v not in streaming]
    worst = [max((v.worst_s for v in group), default=float("inf")) for group in (streaming, polling)]
    text = f"of {len(streaming)} streaming, {seconds:.0f} s"
    return [
        Figure(f"page: furthest behind {text}", worst[0], "s", "at most", 0.5),
        Figure(f"page: furthest behind of {len(polling)} polling", worst[1], "s", "at most", 1.0),
        Figure(f"page: dark answered, worst of {len(darks_ms)}", max(darks_ms), "ms", "at most", 100),
        Figure("page: viewers that streamed", len(streaming), "", "at least", PageConfig(Path(), Path()).stream_limit),
    ]


def _darks(twin: RunningTwin, client: ControlClient, until_s: float) -> list[float]:
    """Press *dark* every second as another browser would, and go on after it."""
    taken_ms = []
    while time.monotonic() < until_s - DARK_EVERY_S:
        time.sleep(DARK_EVERY_S - REST_S)
        began_s = time.monotonic()
        headers = {"Origin": twin.url, "Accept": "application/json"}
        request = urllib.request.Request(f"{twin.url}/bench/dark", method="POST", headers=headers)
        with urllib.request.urlopen(request, timeout=5) as answer:
            answer.read()
        taken_ms.append(1000 * (time.monotonic() - began_s))
        time.sleep(REST_S)
        if "go" in client.ask("state")["may"]:
            press(client, "go")
    return taken_ms


def vanished(twin: RunningTwin) -> Figure:
    """Fill all live places, let one viewer fall off the network, and time until a new one gets its place.

    The others are renewed as browsers do, so only the lost one's place can come free.
    """
    places = PageConfig(Path(), Path()).stream_limit
    with contextlib.ExitStack() as stack:
        lost = _open_stream(twin.port, stack)
        stop = threading.Event()
        keepers = [threading.Thread(target=_keep_streaming, args=(twin.url, stop)) for _ in range(places - 1)]
        for keeper in keepers:
            keeper.start()
        try:
            time.sleep(1.0)
            _cut_off(lost)
            cut_s = time.monotonic()
            while time.monotonic() - cut_s < 40:
                if _gets_a_place(twin.port):
                    break
                time.sleep(0.2)
            took_s = time.monotonic() - cut_s
        finally:
            stop.set()
            for keeper in keepers:
                keeper.join()
    return Figure("page: place of a vanished viewer free after", took_s, "s", "at most", 15)


def _open_stream(port: int, stack: contextlib.ExitStack) -> socket.socket:
    link = stack.enter_context(socket.create_connection(("127.0.0.1", port), 5))
    link.sendall(f"GET /stream HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
    head = link.recv(4096)
    if b" 200 " not in head.split(b"\r\n", 1)[0]:
        raise RuntimeError(f"no live place: {head[:60]!r}")
    return link


def _cut_off(link: socket.socket) -> None:
    """From now on this end hears nothing and acknowledges nothing, as a phone out of range."""
    program = ctypes.create_string_buffer(DROP_ALL)
    address = struct.pack("HxxxxxxP", 1, ctypes.addressof(program))
    link.setsockopt(socket.SOL_SOCKET, SO_ATTACH_FILTER, address)


def _gets_a_place(port: int) -> bool:
    with socket.create_connection(("127.0.0.1", port), 5) as link:
        link.sendall(f"GET /stream HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
        return b" 200 " in link.recv(64)


def _keep_streaming(url: str, stop: threading.Event) -> None:
    while not stop.is_set():
        with contextlib.suppress(OSError), urllib.request.urlopen(f"{url}/stream", timeout=5) as answer:
            for _line in answer:
                if stop.is_set():
                    return


def first_visit(url: str) -> list[Figure]:
    """What a browser with an empty cache fetches, compressed, and when a phone's processor shows the first state.

    The server writes the state into the page itself, so it is shown with the first paint; that it is then kept up to
    date is told by the first event of the stream.
    """
    binary = shutil.which("chromium")
    if binary is None:
        raise FileNotFoundError("Chromium is missing; install it with: apt-get install chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=binary, args=FLAGS)
        visits: list[tuple[float, float, int]] = []
        bare: list[float] = []

        def shown_s(_piece: int) -> float:
            bare.append(_bare_s(browser))
            visits.append(_visit(browser, url))
            return visits[-1][0]

        ratios = beside(shown_s, lambda measured_s, reference_s: measured_s / reference_s)
        browser.close()
    shown, live, sizes = (sorted(values) for values in zip(*visits, strict=True))
    slower = f"processor {THROTTLE} × slower"
    return [
        Figure("page: first visit, compressed", sizes[-1] / 1000, "kB", "at most", 150),
        *judged(f"page: first state shown ÷ reference, {slower}", ratios, "", "at most", 0.55),
        Figure(f"page: first state shown, {slower}", shown[len(shown) // 2], "s", "for comparison"),
        Figure(f"page: one word and nothing else shown, {slower}", sorted(bare)[len(bare) // 2], "s", "for comparison"),
        Figure(f"page: first live event shown, {slower}", live[len(live) // 2], "s", "for comparison"),
    ]


def _bare_s(browser: Browser) -> float:
    """Seconds to the first paint of a page that holds one word: what the browser itself takes."""
    context = browser.new_context(viewport={"width": 360, "height": 740})
    page = context.new_page()
    context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": THROTTLE})
    page.goto("data:text/html,<!doctype html><title>.</title><h1>Ready</h1>")
    page.wait_for_function("() => performance.getEntriesByName('first-contentful-paint').length")
    shown_ms = page.evaluate("() => performance.getEntriesByName('first-contentful-paint')[0].startTime")
    context.close()
    return float(shown_ms) / 1000


def _visit(browser: Browser, url: str) -> tuple[float, float, int]:
    """One first visit: seconds to the first state and to the first live event, and bytes as `gzip -9` makes them."""
    context = browser.new_context(viewport={"width": 360, "height": 740})
    page = context.new_page()
    context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": THROTTLE})
    bodies: list[Callable[[], bytes]] = []
    page.on("response", lambda r: None if "/stream" in r.url else bodies.append(r.body))
    page.add_init_script(
        "new MutationObserver(() => { if (!window.liveAt && document.querySelector('#bench[data-fed]'))"
        " window.liveAt = performance.now(); })"
        ".observe(document, { subtree: true, attributes: true, childList: true });"
    )
    page.goto(url)
    page.wait_for_function("() => window.liveAt && performance.getEntriesByName('first-contentful-paint').length")
    if page.get_by_role("heading", level=1).inner_text() != "Ready":
        raise RuntimeError("the page does not show the state of the box")
    shown_ms = page.evaluate("() => performance.getEntriesByName('first-contentful-paint')[0].startTime")
    live_ms = page.evaluate("() => window.liveAt")
    size = sum(len(zlib.compress(body(), 9)) for body in bodies)
    context.close()
    return shown_ms / 1000, live_ms / 1000, size
