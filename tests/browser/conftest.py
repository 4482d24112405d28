"""A real browser, a real page process, and a fake control behind it.

A missing browser fails these tests; it never skips them.
"""

import base64
import re
import shutil
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit
from urllib.request import urlopen

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect, sync_playwright

from tests.webui.fake_control import FakeControl, wait_until
from tests.webui.given import BLUE
from tests.webui.operating import become_operator
from tests.webui.page_process import COMMON, ROOT, PageProcess, page_process

ARTIFACTS = ROOT / ".artifacts"
PHONE = {"width": 360, "height": 740}
DESK = {"width": 1280, "height": 800}
SIZES = pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
PHONE_AT_LEAST = pytest.mark.parametrize(
    "size", [pytest.param(PHONE, id="phone"), pytest.param(DESK, id="desk", marks=pytest.mark.campaign)]
)
"""On a phone, where there is least room; the same page and style sheet at a desk is left to the campaign."""

WAIT_LIMIT_MS = 60_000
"""For whatever a page is to show. It costs nothing when all is well; on a crowded machine pages come late."""

expect.set_options(timeout=WAIT_LIMIT_MS)

FLAGS = [
    "--no-sandbox",  # the tests may run as root, where the browser refuses to start with its sandbox
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's Chromium, without a window."""
    binary = shutil.which("chromium")
    if binary is None:
        pytest.fail("Chromium is missing; install it with: apt-get install chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=binary,
            args=FLAGS,
            ignore_default_args=["--hide-scrollbars"],  # their colours are under test too
        )
        yield browser
        browser.close()


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """A data folder with two sound recipes and a broken one."""
    fill(tmp_path)
    return tmp_path


def fill(folder: Path) -> None:
    """Put two sound recipes and a broken one into a data folder, and some of other boxes into a shared folder."""
    shelf, common = folder / "recipes", folder / COMMON
    shelf.mkdir()
    common.mkdir()
    (common / "blue-38.yaml").write_text(BLUE.replace("dose_mj_cm2: 60.0", "dose_mj_cm2: 75.0"), encoding="utf-8")
    (common / "film-25.yaml").write_text(BLUE, encoding="utf-8")
    (common / "torn.yaml").write_text("resist: [\n", encoding="utf-8")
    (shelf / "blue-38.yaml").write_text(BLUE, encoding="utf-8")
    both = BLUE.replace("sides: one", "sides: turned").replace("  a: 0.82", "  a: 0.82\n  b: 0.8")
    (shelf / "board-turned.yaml").write_text(both, encoding="utf-8")
    (shelf / "torn.yaml").write_text("resist: Invented film\ndose_mj_cm2: -5\n", encoding="utf-8")


@pytest.fixture
def control(tmp_path: Path) -> Iterator[FakeControl]:
    """A fake control that listens."""
    with FakeControl(tmp_path / "control.sock") as fake:
        yield fake


@pytest.fixture
def served(control: FakeControl, data: Path) -> Iterator[PageProcess]:
    """A running page process that has heard of the box."""
    with page_process(control.path, data) as running:
        until_it_says(running, "Demo box")
        yield running


def until_it_says(served: PageProcess, words: str) -> None:
    """Wait until the Bench, as the server writes it, has these words: a page that is opened later knows as much."""

    def says() -> bool:
        with urlopen(served.address, timeout=60) as answer:
            return words in answer.read().decode()

    wait_until(says)


@dataclass
class Visit:
    """A browser page that keeps a list of everything it asked for and everything it complained of."""

    page: Page
    address: str
    asked: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def go(self, path: str = "/") -> None:
        """Open a path of the page under test."""
        self.page.goto(self.address.rstrip("/") + path)

    def outside(self) -> list[str]:
        """Requests that left this page's own server."""
        home = urlsplit(self.address).netloc
        return [url for url in self.asked if urlsplit(url).netloc != home and not url.startswith("data:")]

    def picture(self, name: str) -> Path:
        """Keep a picture of the whole page among the artifacts."""
        ARTIFACTS.mkdir(exist_ok=True)
        path = ARTIFACTS / f"{name}.png"
        self.page.screenshot(path=path, full_page=True)
        return path

    def window(self, name: str) -> Path:
        """Keep a picture of the window as it is, scroll bars included, which `picture` hides."""
        ARTIFACTS.mkdir(exist_ok=True)
        path = ARTIFACTS / f"{name}.png"
        session = self.page.context.new_cdp_session(self.page)
        path.write_bytes(base64.b64decode(session.send("Page.captureScreenshot", {"format": "png"})["data"]))
        session.detach()
        return path


def finger_reads(canvas: Locator, at: tuple[float, float], readout: Locator, pattern: str) -> None:
    """Move a finger over a drawing, again and again until it is drawn and its readout says what is to be read there."""

    def reads() -> bool:
        for step in (1, 0):
            canvas.hover(position={"x": at[0] + step, "y": at[1]})
        return re.search(pattern, readout.inner_text()) is not None

    wait_until(reads)


def drawn(page: Page) -> None:
    """Wait until a page that has loaded is drawn: scripts draw in the next frame, and what that changed in one more."""
    page.evaluate(
        "async () => { await document.fonts.ready;"
        " for (let frame = 0; frame < 4; frame++) await new Promise(requestAnimationFrame); }"
    )


def settled(look: Callable[[], int]) -> int:
    """What `look` finds above nought once it finds the same twice."""
    found = [0]

    def same() -> bool:
        time.sleep(0.3)
        found.append(look())
        return found[-1] == found[-2] > 0

    wait_until(same)
    return found[-1]


Open = Callable[..., Visit]


@pytest.fixture
def visit(browser: Browser, served: PageProcess, data: Path) -> Iterator[Open]:
    """Opens visits, logged in unless a stranger's; each must have stayed at home and complained of nothing."""
    contexts: list[BrowserContext] = []
    visits: list[Visit] = []

    def open_visit(
        size: dict[str, int] | None = None,
        *,
        script: bool = True,
        stranger: bool = False,
        locale: str = "en",
        worker: bool = False,
    ) -> Visit:
        size = size or DESK
        phone = size["width"] < 400
        context = browser.new_context(
            viewport={"width": size["width"], "height": size["height"]},
            is_mobile=phone,
            has_touch=phone,
            java_script_enabled=script,
            locale=locale,
            service_workers="allow" if worker else "block",  # one of its own for each of hundreds of visits costs time
        )
        contexts.append(context)
        context.set_default_timeout(WAIT_LIMIT_MS)
        page = context.new_page()
        if not stranger:
            become_operator(page, served.address, data)
        visit = Visit(page, served.address)
        page.on("request", lambda request: visit.asked.append(request.url))
        page.on("pageerror", lambda error: visit.complaints.append(str(error)))
        page.on("console", lambda m: visit.complaints.append(m.text) if "Content Security" in m.text else None)
        visits.append(visit)
        return visit

    yield open_visit
    for context in contexts:
        context.close()
    for each in visits:
        assert each.outside() == []
        assert each.complaints == []
