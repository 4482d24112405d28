"""Every page and every state of the Bench at four sizes, for people to look at: a shop's data, a box that is a fake."""

import re
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser

from sumlight.store.logbook.logbook import Logbook
from sumlight.text.message import as_written
from tests.browser.conftest import WAIT_LIMIT_MS, drawn, fill, until_it_says
from tests.browser.test_look import PATHS
from tests.browser.test_states import STATES
from tests.store.logbook.test_weekly_statistics import MONDAY
from tests.webui import commission_told as told
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl
from tests.webui.lamp_book import live
from tests.webui.operating import become_operator
from tests.webui.page_process import PageProcess, page_process
from tests.webui.test_drafts import panel
from tests.webui.test_drift import fill as fill_weeks
from tests.webui.test_panels import record

SIZES = ((360, 640), (360, 740), (800, 360), (1280, 800))
"""A small phone, a common one, a phone on its side, a bench PC."""


def hang(browser: Browser, folder: Path) -> int:
    """Write all pictures into `folder`, which is made; returns how many."""
    folder.mkdir(parents=True, exist_ok=True)
    count = 0
    with tempfile.TemporaryDirectory() as held:
        data = Path(held)
        lived_in(data)
        with FakeControl(data / "control.sock") as control, page_process(control.path, data) as served:
            until_it_says(served, "Demo box")
            for name, path, said in shown():
                control.say(said | {"box": name})
                until_it_says(served, name)
                for size in SIZES:
                    count += _take(browser, served, data, size, path, folder / f"{name}-{size[0]}x{size[1]}")
    return count


def shown() -> Iterator[tuple[str, str, dict[str, Any]]]:
    """What is shown: a name for the picture, the path of the page, and what the box says meanwhile."""
    for state, said in STATES.items():
        yield f"bench-{state}", "/", said
    for path in PATHS:
        if path != "/":
            yield re.sub(r"[^a-z0-9]+", "-", path.lower()).strip("-"), path, fake.snapshot()


def lived_in(data: Path) -> None:
    """Put a shop's data into a folder: recipes, a panel, weeks of others, worn lamps and a report."""
    fill(data)
    record(data / "logbook.sqlite")
    panel(data)
    fill_weeks(data / "logbook.sqlite", last_warm_up_s=95.0)
    with Logbook(data / "logbook.sqlite") as book:
        book.note_maintenance(
            "saved", as_written("The logbook was damaged (invented). Taken over: 21 exposures."), MONDAY
        )
    told.report_kept(data)
    live(data / "logbook.sqlite", worn=True)


def _take(browser: Browser, served: PageProcess, data: Path, size: tuple[int, int], path: str, to: Path) -> int:
    """The window as it opens and, of a page longer than that, at its end: there the bar could hide something."""
    width, height = size
    phone = min(size) < 400
    context = browser.new_context(
        viewport={"width": width, "height": height}, is_mobile=phone, has_touch=phone, locale="en"
    )
    context.set_default_timeout(WAIT_LIMIT_MS)
    page = context.new_page()
    become_operator(page, served.address, data)
    page.goto(served.address.rstrip("/") + path)
    drawn(page)
    page.screenshot(path=f"{to}.png")
    longer: bool = page.evaluate("() => document.documentElement.scrollHeight > innerHeight")
    if longer:
        page.evaluate("() => scrollTo(0, document.documentElement.scrollHeight)")
        drawn(page)
        page.screenshot(path=f"{to}-end.png")
    context.close()
    return 2 if longer else 1
