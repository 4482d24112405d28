"""Contact, weak against strong light, and a tablet's result, on a phone: results and mistakes, in both colours."""

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from sumlight.store.logbook.calibrations import TabletRecord
from sumlight.store.logbook.logbook import Logbook
from tests.browser import shared
from tests.browser.conftest import PHONE, Open, Visit, drawn
from tests.browser.test_look import assert_accessible, assert_safelight
from tests.webui.light_runs import keep

control, data, lasting_control, served = shared.control, shared.data, shared.lasting_control, shared.served


@pytest.fixture
def runs(data: Path) -> list[int]:
    """Two tablet runs with readings."""
    found = [keep(data / "logbook.sqlite", "tablet") for _ in range(2)]
    with Logbook(data / "logbook.sqlite") as book:
        for run, step in zip(found, ("6", "5"), strict=True):
            record = TabletRecord(run, "1", 10.0, step, "last_held", False, "L7", "2026-11-25T08:00:00.000000Z")
            book.calibrations.add_metrology(record)
    return found


def contact(seen: Visit, _runs: list[int]) -> None:
    """An artwork that lies the wrong way up."""
    seen.go("/light/contact")
    for label, typed in (("Half the width", "90"), ("From the lamps", "120"), ("Air between", "50")):
        seen.page.get_by_label(label).fill(typed)
    seen.page.get_by_label("Thickness of the resist").fill("38")
    seen.page.get_by_text("Away from the resist").click()
    seen.page.get_by_role("button", name="Work it out").click()
    expect(seen.page.get_by_text("A line grows by up to")).to_be_visible()


def weak_light(seen: Visit, runs: list[int]) -> None:
    """Taken from runs whose lights were the same, then mended by hand."""
    seen.go("/light/reciprocity")
    seen.page.get_by_text("Take them from tablet runs").click()
    for run in runs:
        seen.page.get_by_role("checkbox", name=f"Run {run}").check()
    seen.page.get_by_role("button", name="Take these in").click()
    expect(seen.page.get_by_label("Irradiance, light 2")).to_have_value("8.3330")
    seen.page.get_by_role("button", name="Work it out").click()
    expect(seen.page.get_by_role("alert")).to_contain_text("change the light more")
    seen.page.get_by_label("Irradiance, light 2").fill("4")
    seen.page.get_by_role("button", name="Work it out").click()
    expect(seen.page.get_by_text("At half the light the resist needs")).to_be_visible()


def mistakes(seen: Visit, _runs: list[int]) -> None:
    """All at once, each beside its field."""
    seen.go("/light/contact")
    seen.page.get_by_label("Air between").fill("wide")
    seen.page.get_by_role("button", name="Work it out").click()
    expect(seen.page.get_by_text("'wide' is not a number")).to_be_visible()


def readings(seen: Visit, runs: list[int]) -> None:
    """What a tablet says, with both uncertainties and both ways to use it."""
    seen.go(f"/light/tablet/{runs[0]}")
    seen.page.get_by_text("Last step held", exact=True).click()
    for zone in (1, 2, 3):
        seen.page.get_by_label(f"Step in zone {zone}").fill("6")
    seen.page.get_by_label("Uncertainty of that dose").fill("3")
    seen.page.get_by_role("button", name="Work it out").click()
    expect(seen.page.get_by_text("10.0 %")).to_be_visible()
    expect(seen.page.get_by_role("button", name="Put 48.6 mJ/cm² into recipe blue-38")).to_be_visible()


@pytest.mark.parametrize("theme", ["safelight", "daylight"])
@pytest.mark.parametrize("fill", [contact, weak_light, mistakes, readings])
def test_results_and_mistakes_are_safe_readable_and_fit_a_phone(
    browser: Browser, visit: Open, runs: list[int], fill: Callable[[Visit, list[int]], None], theme: str
) -> None:
    """No pixel too bright, no fault of axe's rules, nothing cut off at 360 px."""
    seen = visit(PHONE)
    seen.go()
    if theme == "daylight":
        seen.page.get_by_role("button", name="Daylight colours").click()
    fill(seen, runs)
    drawn(seen.page)
    picture = seen.picture(f"light-{fill.__name__}-{theme}")
    if theme == "safelight":
        assert_safelight(browser, picture)
    assert_accessible(seen.page, fill.__name__, theme)
    assert seen.page.evaluate("() => document.documentElement.scrollWidth") <= PHONE["width"]


@pytest.mark.parametrize("language", ["en", "de"])
def test_no_figure_is_broken_over_two_lines(visit: Open, runs: list[int], language: str) -> None:
    """1,995 with its 5 on the next line reads as 1,99; the words beside a figure give way to it."""
    seen = visit(PHONE)
    seen.page.context.add_cookies([{"name": "sumlight_language", "value": language, "url": seen.address}])
    seen.go(f"/light/tablet/{runs[0]}")
    seen.page.locator("[name=convention]").first.check(force=True)
    for zone in (1, 2, 3):
        seen.page.locator(f"[name=step_{zone}]").fill("6")
    seen.page.locator("button.big").first.click()
    figures = seen.page.locator(".result .facts dd")
    expect(figures.nth(3)).to_be_visible()
    lines = figures.evaluate_all(
        """all => all.filter(each => !/\\s/.test(each.innerText.trim())).map(each => {
             const range = document.createRange(); range.selectNodeContents(each);
             return [each.innerText, new Set([...range.getClientRects()].map(r => Math.round(r.top))).size]; })"""
    )
    assert len(lines) >= 1
    assert [text for text, rows in lines if rows > 1] == []
