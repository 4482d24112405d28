"""Every page, every state of the Bench and of commissioning at four sizes, for people to look at: a shop's data, a box
that is a fake."""

import contextlib
import re
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page

from tests.browser.conftest import WAIT_LIMIT_MS, drawn, fill, until_it_says
from tests.browser.shop_data import lived_in
from tests.browser.test_look import PATHS
from tests.browser.test_states import STATES
from tests.webui import commission_told as told
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl
from tests.webui.operating import become_operator
from tests.webui.page_process import PageProcess, page_process

SIZES = ((360, 640), (360, 740), (800, 360), (1280, 800))
"""A small phone, a common one, a phone on its side, a bench PC."""


def hang(browser: Browser, folder: Path) -> int:
    """Write all pictures into `folder`, which is made; returns how many."""
    folder.mkdir(parents=True, exist_ok=True)
    count = 0
    with contextlib.ExitStack() as open_now:
        data = Path(open_now.enter_context(tempfile.TemporaryDirectory()))
        fill(data)
        lived_in(data)
        control = open_now.enter_context(FakeControl(data / "control.sock"))
        control.say(fake.snapshot())
        served = open_now.enter_context(page_process(control.path, data))
        until_it_says(served, "Demo box")
        windows = {size: _window(browser, served, data, size) for size in SIZES}
        for name, path, said in shown():
            control.say(said | {"box": name})
            until_it_says(served, name)
            for (width, height), window in windows.items():
                count += _take(window, served.address.rstrip("/") + path, folder / f"{name}-{width}x{height}")
        for window in windows.values():
            window.context.close()
    return count


def shown() -> Iterator[tuple[str, str, dict[str, Any]]]:
    """What is shown: a name for the picture, the path of the page, and what the box says meanwhile."""
    for state, said in STATES.items():
        yield f"bench-{state}", "/", said
    for state, said in told.STATES.items():
        yield f"commissioning-{state}", "/box/commissioning", said
    for path in PATHS:
        if path != "/":
            yield re.sub(r"[^a-z0-9]+", "-", path.lower()).strip("-"), path, fake.snapshot()


def _window(browser: Browser, served: PageProcess, data: Path, size: tuple[int, int]) -> Page:
    """An operator's window of that size."""
    width, height = size
    phone = min(size) < 400
    context = browser.new_context(
        viewport={"width": width, "height": height}, is_mobile=phone, has_touch=phone, locale="en"
    )
    context.set_default_timeout(WAIT_LIMIT_MS)
    page = context.new_page()
    become_operator(page, served.address, data)
    return page


def _take(page: Page, address: str, to: Path) -> int:
    """The window as it opens and, of a page longer than that, at its end: there the bar could hide something."""
    page.goto(address)
    drawn(page)
    page.screenshot(path=f"{to}.png")
    longer: bool = page.evaluate("() => document.documentElement.scrollHeight > innerHeight")
    if longer:
        page.evaluate("() => scrollTo(0, document.documentElement.scrollHeight)")
        drawn(page)
        page.screenshot(path=f"{to}-end.png")
    return 2 if longer else 1
