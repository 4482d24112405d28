"""Words and screens of each page on a small phone, without a tap, with a shop's data behind them.

The most words of Bench and Light are issue 14's (`tests/browser/test_words.py` holds them in every state). The other
limits are what each page takes and a little more, and none is above what the page was criticised for: a page that grows
has to say so here. Screens are the page's whole length by what is seen of it above the bar. What tells of a fault
before is not counted.
"""

import contextlib
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

from playwright.sync_api import Browser, sync_playwright

from tests.benchmarks.figure import Figure
from tests.browser.conftest import FLAGS, drawn, fill, until_it_says
from tests.browser.shop_data import lived_in
from tests.browser.test_states import STATES
from tests.browser.words_shown import words_of_faults, words_shown
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl
from tests.webui.operating import become_operator
from tests.webui.page_process import PageProcess, page_process
from tests.webui.test_cautions import CAUTIONS

PHONE = (360, 640)
SCREENS = """() => {
  const main = document.getElementById('main').getBoundingClientRect();
  const bar = document.getElementById('bar')?.getBoundingClientRect().height ?? 0;
  return (main.bottom + scrollY) / (innerHeight - bar);
}"""


class Page(NamedTuple):
    """A page, where it is, the most words and screens it may take, and the state of the box meanwhile."""

    name: str
    path: str
    most_words: int
    most_screens: float
    state: str = "idle"


PAGES = (
    Page("Bench", "/", 120, 2.0),
    Page("Bench, lit", "/", 120, 2.5, "light"),
    Page("Bench, after a panel", "/", 120, 3.0, "done"),
    Page("Jobs", "/jobs/", 120, 2.0),
    Page("Recipes", "/recipes/", 160, 3.0),
    Page("New recipe", "/recipes/new", 150, 2.5),
    Page("Panels", "/panels/", 190, 3.5),
    Page("Record of a panel", "/panels/1", 200, 3.5),
    Page("Light", "/light/", 150, 1.5),
    Page("Lamps", "/lamps/", 250, 4.0),
    Page("Box", "/box/", 210, 3.5),
    Page("Help", "/help/", 120, 2.5),
)


def measure() -> list[Figure]:
    """Two figures for each page."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        found = in_browser(browser)
        browser.close()
    return found


def in_browser(browser: Browser) -> list[Figure]:
    """The same, where a browser runs already."""
    found = []
    with _shop() as (served, data, control):
        for page in PAGES:
            name = f"Words {page.state}"  # no other state of the box has this name
            control.say(STATES[page.state] | {"box": name, "simulated": False})
            until_it_says(served, name)
            words, screens = _of(browser, served, data, page)
            found.append(Figure(f"page: words shown, {page.name}", words, "", "at most", page.most_words))
            found.append(Figure(f"page: screens long, {page.name}", screens, "", "at most", page.most_screens))
    return found


@contextlib.contextmanager
def _shop() -> Iterator[tuple[PageProcess, Path, FakeControl]]:
    """A page on a shop's data with a box that is a fake."""
    with contextlib.ExitStack() as stack:
        data = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        fill(data)
        lived_in(data)
        control = stack.enter_context(FakeControl(data / "control.sock"))
        control.say(fake.snapshot())
        served = stack.enter_context(page_process(control.path, data))
        yield served, data, control


def _of(browser: Browser, served: PageProcess, data: Path, page: Page) -> tuple[int, float]:
    width, height = PHONE
    options: dict[str, Any] = {"is_mobile": True, "has_touch": True, "locale": "en"}
    context = browser.new_context(viewport={"width": width, "height": height}, **options)
    seen = context.new_page()
    become_operator(seen, served.address, data)
    seen.goto(served.address.rstrip("/") + page.path)
    drawn(seen)
    seen.wait_for_function("() => !document.getElementById('sound')?.hidden")  # the last that scripts show
    words = len(words_shown(seen, CAUTIONS.get(page.path, CAUTIONS["/"]))) - words_of_faults(seen)
    screens = float(seen.evaluate(SCREENS))
    context.close()
    return words, screens
