"""Hands on the bar: choose a recipe, and press the one next act as somebody does who has read it."""

import re
import time

from playwright.sync_api import Error, Page, expect

READ_MS = 1000
"""Longer than the 0.8 s for which a new act takes no press."""

LIMIT_S = 60.0


def fed(page: Page) -> None:
    """Wait until the Bench has had its first news: its scripts come only after the first paint."""
    expect(page.locator("#bench[data-fed]")).to_be_attached()


def choose(page: Page, recipe: str) -> None:
    """Choose a recipe on the Bench."""
    fed(page)  # until then this is a plain link
    pick = page.locator(f'[data-recipe="{recipe}"]')
    expect(pick).to_have_count(1)
    if not pick.is_visible():
        page.locator("#others").click()
    pick.click()
    expect(pick).to_have_attribute("aria-current", "true")


def act(page: Page, words: str | re.Pattern[str]) -> None:
    """Wait until the bar offers this, read it, press it; again when it had changed under the finger."""
    button = page.locator("#act button", has_text=words)
    ends_s = time.monotonic() + LIMIT_S
    while time.monotonic() < ends_s:
        expect(button).to_be_enabled()
        page.wait_for_timeout(READ_MS)
        if not button.count() or button.is_disabled():
            continue
        button.click()
        try:
            page.wait_for_timeout(50)
            if not page.get_by_text("It had only just changed.").count():
                return
        except Error:  # the press has led to another page
            return
    raise AssertionError(f"the bar never took a press of {words}")
