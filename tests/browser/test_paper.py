"""What a printer gets of every page that is made for paper: the record alone, dark on white, as wide as the sheet."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser import shared
from tests.browser.conftest import Open, fill
from tests.browser.shop_data import REPORT_NAME, lived_in

control, served, lasting_control = shared.control, shared.served, shared.lasting_control

A4_WITHIN_MARGINS = {"width": 718, "height": 1047}
"""210 × 297 mm less a margin of 10 mm, at the 96 pixels of an inch of CSS (ISO 216; CSS Values, absolute lengths)."""

FOR_PAPER = (
    "/panels/1",
    "/panels/1/traveller",
    "/recipes/blue-38/sheet",
    "/jobs/panels/7/sheet",
    f"/box/commissioning/reports/{REPORT_NAME}",
)
WITH_CODE = FOR_PAPER[:4]

OF_THE_SCREEN = ".bar, .top, footer, .skip, .no-print, button, .button, summary, input[type=file]"
SHOWN = "(each) => each.filter((e) => e.checkVisibility()).map((e) => e.outerHTML.slice(0, 90))"
PALE = """() => {
  const part = (c) => (c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  const found = [], texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (texts.nextNode()) {
    const at = texts.currentNode.parentElement;
    if (!texts.currentNode.textContent.trim() || !at.checkVisibility()) continue;
    const style = getComputedStyle(at), ink = at.closest('svg') ? style.fill : style.color;
    const [r, g, b] = ink.match(/\\d+/g).map(Number);
    const light = 0.2126 * part(r) + 0.7152 * part(g) + 0.0722 * part(b);
    if (1.05 / (light + 0.05) < 4.5) found.push(`${texts.currentNode.textContent.trim().slice(0, 40)}: ${r},${g},${b}`);
  }
  return found;
}"""
"""Texts with less than 4.5 : 1 against white (WCAG 2.2, 1.4.3)."""

INKS = """() => {
  const alarm = document.createElement('p');
  alarm.className = 'notice alarm error';
  document.getElementById('main').append(alarm);
  const found = new Set();
  for (const e of document.querySelectorAll('main, main *')) {
    const style = getComputedStyle(e);
    found.add(style.color);
    if (parseFloat(style.borderTopWidth)) found.add(style.borderTopColor);
  }
  alarm.remove();
  return [...found];
}"""
"""Colours of letters and lines, those of something wrong too: a sheet may or may not have it."""


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop's data: whatever can stand on a sheet."""
    folder = tmp_path_factory.mktemp("paper")
    fill(folder)
    lived_in(folder)
    return folder


@pytest.fixture
def printed(visit: Open) -> Page:
    """A window as wide as what a printer fills of a sheet, that shows pages as they print."""
    seen = visit(A4_WITHIN_MARGINS)
    seen.go()
    seen.page.emulate_media(media="print")
    return seen.page


@pytest.mark.parametrize("theme", ["safelight", "daylight"])
@pytest.mark.parametrize("path", FOR_PAPER)
def test_paper_gets_the_record_alone_dark_on_white(printed: Page, path: str, theme: str) -> None:
    """Nothing to press, nothing of the page around it, no letter too pale and none beyond the sheet's edge."""
    printed.context.add_cookies([{"name": "sumlight_theme", "value": theme, "url": printed.url}])
    printed.goto(printed.url.rstrip("/") + path)
    expect(printed.locator("html")).to_have_attribute("data-theme", theme)
    assert printed.locator(OF_THE_SCREEN).evaluate_all(SHOWN) == []
    assert printed.evaluate(PALE) == []
    for at in ("html", "main *"):
        grounds = printed.locator(at).evaluate_all("each => each.map((e) => getComputedStyle(e).backgroundColor)")
        assert set(grounds) <= {"rgb(255, 255, 255)", "rgba(0, 0, 0, 0)"}
    for ink in printed.evaluate(INKS):
        assert len(set(re.findall(r"\d+", ink)[:3])) == 1, f"{ink} is no grey"
    assert printed.evaluate("() => document.documentElement.scrollWidth") <= A4_WITHIN_MARGINS["width"]
    assert len(printed.locator("main").inner_text().split()) > 30


@pytest.mark.parametrize("path", WITH_CODE)
def test_paper_has_a_code_to_find_it_again(printed: Page, path: str) -> None:
    """Three centimetres wide, dark on white."""
    printed.goto(printed.url.rstrip("/") + path)
    code = printed.locator("svg.code")
    expect(code).to_be_visible()
    assert abs(code.evaluate("each => each.getBoundingClientRect().width") - 3 / 2.54 * 96) < 1
    assert code.locator(".modules").evaluate("each => getComputedStyle(each).stroke") == "rgb(0, 0, 0)"
