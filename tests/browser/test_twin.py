"""The happy path against the real control program on the twin: a panel is exposed from the page, in real processes."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from sumlight.control.client import ControlClient
from tests.browser.conftest import ARTIFACTS, DESK
from tests.running import RunningTwin

SPEED = 4.0
DOSE_MJ_CM2 = 100.0

RECIPE = f"""\
resist: Invented film 38
thickness_um: 38.0
sides: one
dose_mj_cm2: {DOSE_MJ_CM2}
transmission:
  a: 0.82
time_guard_s: 300.0
hold_s: 900.0
interruptions:
  forgiven: 2
  longest_gap_s: 120.0
"""


@pytest.fixture
def twin(tmp_path: Path) -> Iterator[RunningTwin]:
    """A running twin, some times faster than life."""
    (tmp_path / "recipes").mkdir()
    (tmp_path / "recipes" / "blue-100.yaml").write_text(RECIPE, encoding="utf-8")
    with RunningTwin(tmp_path, speed=SPEED) as running, ControlClient(running.socket) as client:
        running.wait_until_ready(client)
        yield running


def test_a_panel_is_exposed_darkened_continued_and_found_in_its_record(browser: Browser, twin: RunningTwin) -> None:
    """Choose, label, start; the dose rises; dark keeps it; continue ends on the dose; the record draws the light."""
    page = browser.new_page(viewport={"width": DESK["width"], "height": DESK["height"]})
    page.set_default_timeout(15_000)
    try:
        page.goto(twin.url)
        expect(page.get_by_text("Simulated box: no real lamps")).to_be_visible()
        page.get_by_text("blue-100").click()
        page.get_by_label("Label of the panel").fill("P1")
        page.get_by_role("button", name="Start").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("Exposing", timeout=15_000)
        page.wait_for_function("() => Number(document.querySelector('.dose b').innerText) > 20")
        page.screenshot(path=ARTIFACTS / "twin-light.png")
        page.get_by_role("button", name="Dark").click()
        expect(page.get_by_text("Paused because someone pressed dark.")).to_be_visible()
        expect(page.get_by_text("Switched off", exact=True)).to_be_visible()
        kept = float(page.locator(".dose b").inner_text())
        assert 20 < kept < DOSE_MJ_CM2
        page.get_by_role("button", name="Continue").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("Done, lamps off", timeout=40_000)
        assert float(page.locator(".dose b").inner_text()) == pytest.approx(DOSE_MJ_CM2, rel=0.01)
        page.screenshot(path=ARTIFACTS / "twin-done.png", full_page=True)
        page.get_by_role("link", name="Panels").click()
        expect(page.get_by_text(re.compile("completed"))).to_be_visible()
        page.get_by_role("link", name="Panel P1").click()
        expect(page.get_by_role("img", name=re.compile("Side A: light over"))).to_be_visible()
        page.screenshot(path=ARTIFACTS / "twin-record.png", full_page=True)
    finally:
        page.close()
