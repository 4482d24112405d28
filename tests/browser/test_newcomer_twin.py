"""A newcomer who knows a time, on the real control and the twin: a panel and a dose within twelve taps after log-in."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from sumlight.protocol.client import ControlClient
from sumlight.store.recipes import RecipeStore
from tests.browser.acting import READ_MS
from tests.browser.conftest import WAIT_LIMIT_MS
from tests.browser.test_twin import attended
from tests.running import RunningTwin
from tests.webui.operating import become_operator

SPEED = 30.0
"""Eight minutes of light for each side in some sixteen seconds."""

MOST_TAPS = 12
LIT_S = 480.0


@pytest.fixture
def twin(tmp_path: Path) -> Iterator[RunningTwin]:
    """A running twin on whose shelf nothing lies, as on a real box that is new."""
    with RunningTwin(tmp_path, speed=SPEED) as running, ControlClient(running.socket) as client:
        for file in (tmp_path / "recipes").glob("*.yaml"):
            file.unlink()
        running.wait_until_ready(client)
        yield running


class Finger:
    """Taps, and counts them."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.taps = 0

    def tap(self, where: Locator) -> None:
        """One tap."""
        expect(where).to_be_visible()
        where.tap()
        self.taps += 1

    def type(self, label: str, text: str) -> None:
        """A tap into a field, and what is typed there."""
        field = self.page.get_by_label(label)
        self.tap(field)
        expect(field).to_be_focused()
        self.page.keyboard.type(text)

    def act(self, words: str) -> None:
        """The bar's act, read first."""
        button = self.page.locator("#act button", has_text=words)
        expect(button).to_be_enabled()
        self.page.wait_for_timeout(READ_MS)
        self.tap(button)


def test_a_newcomer_gets_a_panel_and_a_dose_in_twelve_taps(browser: Browser, twin: RunningTwin) -> None:
    """Types "Brass 8 min", "8 min", "90 %" and "0,9", as people write them; turns the panel in between."""
    context = browser.new_context(viewport={"width": 360, "height": 640}, has_touch=True, locale="en")
    page = context.new_page()
    become_operator(page, twin.url, twin.data)
    page.set_default_timeout(WAIT_LIMIT_MS)
    page.goto(twin.url)
    finger = Finger(page)
    finger.tap(page.get_by_role("link", name="Write the first recipe"))
    finger.type("Name", "Brass 8 min")
    finger.tap(page.get_by_text("Two sides, panel turned by hand"))
    finger.type("Time under the lamps", "8 min")
    finger.tap(page.locator("summary", has_text="More"))
    finger.type("Light that passes glass and film, side A", "90 %")
    finger.type("Light that passes glass and film, side B", "0,9")
    finger.tap(page.get_by_role("button", name="Save recipe"))
    finger.act("Light brass-8-min · side A")
    with ControlClient(twin.socket) as client:
        attended(page, lambda: client.ask("state")["state"] == "turn")
        finger.tap(page.get_by_role("button", name="Open the lid", exact=True))
        expect(page.locator('[data-text="lid"]').first).to_contain_text("Open")
        finger.tap(page.get_by_role("button", name="Shut the lid", exact=True))
        finger.act("Light side B")
        attended(page, lambda: client.ask("state")["state"] == "done")
        state = client.ask("state")
    assert finger.taps <= MOST_TAPS
    a = state["exposure"]["sides"][0]
    assert a["lit_s"] == pytest.approx(LIT_S, abs=1.0)
    truth = state["true_dose_mj_cm2"]
    assert truth["B"] == pytest.approx(truth["A"], rel=0.01)
    assert a["dose_mj_cm2"] == pytest.approx(truth["A"], rel=0.3)
    shown = f"{a['dose_mj_cm2']:.{0 if a['dose_mj_cm2'] >= 1000 else 1}f}"
    expect(page.locator(".dose b").first).to_have_text(shown)
    recipe = RecipeStore(twin.data / "recipes").load("brass-8-min").recipe
    assert (recipe.draft_lit_s, recipe.transmission.a, recipe.transmission.b) == (LIT_S, 0.9, 0.9)
    expect(page.get_by_text("Was it good?")).to_be_visible()
    context.close()
