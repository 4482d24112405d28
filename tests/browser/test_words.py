"""Few enough words on a phone without a tap: at most 120 on Bench and 150 on Light (the limits are issue 14's)."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.records import FaultRecord
from sumlight.text.message import say
from tests.benchmarks.page_words import in_browser
from tests.browser import shared
from tests.browser.conftest import Open, fill, until_it_says
from tests.browser.test_states import STATES
from tests.browser.words_shown import words_of_faults, words_shown
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl
from tests.webui.light_runs import KINDS, keep
from tests.webui.page_process import PageProcess
from tests.webui.test_cautions import CAUTIONS
from tests.webui.test_panels import BEGAN, record

control, lasting_control, served = shared.control, shared.lasting_control, shared.served

PHONE = {"width": 360, "height": 640}
MOST_ON_BENCH, MOST_ON_LIGHT = 120, 150
ORDINARY = sorted(set(STATES) - {"faulted", "remark", "series", "between-rounds"})
"""What is wrong with the box, or was, and a table of legs, take the words that they take."""


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Recipes, a panel, and three faults of which nothing has shown that they are over: they take words and room."""
    folder = tmp_path_factory.mktemp("words")
    fill(folder)
    number = record(folder / "logbook.sqlite")
    with Logbook(folder / "logbook.sqlite", durable=False) as book:
        for name in ("tube_out", "lid_bounces"):
            detail = say("less_light", bank="lower", share=0.2, limit=0.1)
            book.add_fault(FaultRecord(name, detail, number, BEGAN + timedelta(seconds=9)))
            book.clear_fault(name, BEGAN + timedelta(minutes=2), "Ada")
    return folder


def edges(page: Page, at: str) -> tuple[float, float]:
    """Top and bottom of what is shown there, in pixels of the window."""
    box = page.locator(at).first.bounding_box()
    assert box is not None
    return box["y"], box["y"] + box["height"]


def test_the_bench_has_few_words_in_every_ordinary_state(
    visit: Open, control: FakeControl, served: PageProcess
) -> None:
    """Idle, in light, paused, turned, done; on a real box, for a simulated one has hands of its own on its page."""
    control.say(fake.snapshot(simulated=False, box="Real box"))
    until_it_says(served, "Real box")
    seen = visit(PHONE)
    seen.go()
    for name in ORDINARY:
        control.say(STATES[name] | {"simulated": False})
        expect(seen.page.locator("#bench")).to_have_attribute("data-is", STATES[name]["state"])
        found = words_shown(seen.page, CAUTIONS["/"])
        assert len(found) - words_of_faults(seen.page) <= MOST_ON_BENCH, f"{name}: {len(found)}: {' '.join(found)}"


def test_light_has_few_words(visit: Open, control: FakeControl, data: Path) -> None:
    """With a run of each kind behind it."""
    for kind in KINDS:
        keep(data / "logbook.sqlite", kind)
    seen = visit(PHONE)
    seen.go("/light/")
    found = words_shown(seen.page, CAUTIONS["/light/"])
    assert len(found) <= MOST_ON_LIGHT, f"{len(found)}: {' '.join(found)}"
    assert {"Workshop", "even?"} <= set(found)


def test_no_page_is_longer_than_its_goal(browser: Browser) -> None:
    """Words and screens of every page with a goal, as the benchmark counts them."""
    found = in_browser(browser)
    assert len(found) > 20
    assert [figure for figure in found if not figure.passed] == []


def test_the_count_sees_what_is_shown_and_nothing_else(visit: Open) -> None:
    """Counted by hand: two words in sight, one in a summary; folded, hidden and spoken ones are none."""
    seen = visit(PHONE, script=False)
    seen.go("/help/")
    seen.page.evaluate(
        "() => { document.body.innerHTML = '<p>two words</p>"
        "<details><summary>Fold</summary><p>folded away</p></details>"
        '<p hidden>hidden</p><p class="quiet">spoken only</p><p>Beware of it.</p><p>–</p>\'; }'
    )
    assert words_shown(seen.page, ["Beware of it."]) == ["two", "words", "Fold"]
    seen.page.evaluate("() => { document.querySelector('details').open = true; }")
    assert words_shown(seen.page, ["Beware of it."]) == ["two", "words", "Fold", "folded", "away"]


def test_a_desk_shows_number_curve_and_chips_of_a_light_at_once(visit: Open, control: FakeControl) -> None:
    """Two sides, 1280 × 800: the time left, the largest thing, stands left of its curve, and nothing scrolls away."""
    control.say(fake.lit(exposure=fake.exposure(fake.side("A"), fake.side("B", state="waiting"))))
    seen = visit({"width": 1280, "height": 800})
    seen.go()
    places = seen.page.evaluate(
        "() => Object.fromEntries(Object.entries({number: '.side[data-is=lit] .still b', curve: '#curve',"
        " tiles: '.tiles', bar: '#bar'}).map(([name, at]) => {"
        " const box = document.querySelector(at).getBoundingClientRect();"
        " return [name, [box.left, box.top, box.right, box.bottom]]; }))"
    )
    number, curve, tiles, bar = (places[name] for name in ("number", "curve", "tiles", "bar"))
    assert number[2] < curve[0]
    assert max(number[3], curve[3], tiles[3]) < bar[1]
    sizes = seen.page.evaluate(
        "() => [...document.querySelectorAll('main *')].filter((e) => e.checkVisibility() && e.textContent.trim())"
        ".map((e) => [parseFloat(getComputedStyle(e).fontSize), e.textContent.trim()])"
    )
    assert max(sizes)[1] == seen.page.locator(".side[data-is=lit] .still b").inner_text()


@pytest.mark.parametrize("true_dose", [{}, {"true_dose_mj_cm2": {"A": 30.6, "B": 0.0}}], ids=["real", "simulated"])
def test_a_phone_shows_both_sides_of_a_turned_panel_above_the_bar(
    visit: Open, control: FakeControl, true_dose: dict[str, Any]
) -> None:
    """360 × 740, while the first side is lit: the second, which waits, stands whole below it."""
    both = fake.exposure(
        fake.side("A"), fake.side("B", state="waiting"), sides_mode="turned", resist="Invented etch film 50"
    )
    control.say(fake.lit(exposure=both, **true_dose))
    seen = visit({"width": 360, "height": 740})
    seen.go()
    expect(seen.page.locator(".side[data-is=waiting] .dose b")).to_be_visible()
    waiting = edges(seen.page, ".side[data-is=waiting]")
    assert edges(seen.page, ".side[data-is=lit]")[1] <= waiting[0]
    assert waiting[1] <= edges(seen.page, "#bar")[0]


@pytest.mark.parametrize(
    ("language", "told"),
    [("en", "A tube may have gone out (and 2 more faults)"), ("de", "(und 2 weitere Störungen)")],
)
def test_a_fault_before_pushes_no_recipe_under_the_bar(visit: Open, language: str, told: str) -> None:
    """One in words, the others counted; the recipe stays above the bar at 360 × 640."""
    seen = visit(PHONE, locale=language)
    seen.go()
    expect(seen.page.locator(".before")).to_contain_text(told)
    assert edges(seen.page, ".picks .pick")[1] <= edges(seen.page, "#bar")[0]


def test_a_phone_shows_the_curve_of_a_record_whole_and_legibly(visit: Open) -> None:
    """Not cut at the edge of the screen; its figures at least 11 pixels high."""
    seen = visit(PHONE)
    seen.go("/panels/1")
    box = seen.page.locator(".record-curve").bounding_box()
    assert box is not None
    assert 0 <= box["x"] <= box["x"] + box["width"] <= PHONE["width"]
    shown = "(e) => parseFloat(getComputedStyle(e).fontSize) * e.ownerSVGElement.getScreenCTM().a"
    assert seen.page.locator(".record-curve text").first.evaluate(shown) >= 11


def test_the_keyboard_never_works_under_the_bar(visit: Open) -> None:
    """Tab by tab through the longest form: whatever has the focus stands whole above the bar, or in it."""
    seen = visit(PHONE)
    seen.go("/recipes/blue-38")
    covered = (
        "() => { const at = document.activeElement, bar = document.getElementById('bar');"
        " return bar.contains(at) || at === document.body ? '' :"
        " at.getBoundingClientRect().bottom > bar.getBoundingClientRect().top + 1 ? at.outerHTML.slice(0, 90) : ''; }"
    )
    for _press in range(45):
        seen.page.keyboard.press("Tab")
        assert seen.page.evaluate(covered) == ""
