"""The bar at the bottom of every page: one tap to the right light, Esc is *Lamps off*."""

import signal
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser.acting import READ_MS, act, choose
from tests.browser.changing import CHANGES, eight, lit_by
from tests.browser.conftest import DESK, PHONE, Open
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl, wait_until
from tests.webui.given import BLUE
from tests.webui.page_process import PageProcess

SIZES = [
    (360, 640),
    (800, 360),
    pytest.param(360, 740, marks=pytest.mark.campaign),
    pytest.param(1280, 800, marks=pytest.mark.campaign),
]
"""The least room upright and lying down; where there is more, as a campaign."""

PATHS = ("/", "/recipes/", "/recipes/new", "/panels/", "/light/", "/lamps/", "/box/", "/access/")


@pytest.mark.parametrize("path", ["/", "/recipes/new"])
@pytest.mark.parametrize(("width", "height"), SIZES)
def test_a_returning_person_lights_with_one_tap(
    visit: Open, control: FakeControl, data: Path, width: int, height: int, path: str
) -> None:
    """No typing, no scrolling; the last recipe used is named and lit, the label filled in, the usual time told."""
    eight(data)
    seen = visit({"width": width, "height": height})
    seen.go(path)
    button = seen.page.locator("#act button")
    # The panel was put into the logbook behind the page's back: its last look at it is good for two seconds.
    expect(button).to_contain_text("Light blue-38")
    expect(button).to_be_in_viewport(ratio=1)
    assert " ".join(button.inner_text().split()) == "Light blue-38 about 15 s"
    assert seen.page.evaluate("() => scrollY") == 0
    seen.picture(f"bar-ready{path.replace('/', '-')}-{width}x{height}")
    seen.page.wait_for_timeout(READ_MS)
    button.click()
    wait_until(lambda: lit_by(control) != [])
    (start,) = lit_by(control)
    assert (start["recipe"], start["side"], start["panel"]) == ("blue-38", "A", "blue-38 · 4")
    assert start["state_number"] == fake.STATE_NUMBER


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_the_bar_is_whole_on_every_page(visit: Open, control: FakeControl, width: int, height: int) -> None:
    """State, act and Lamps off are in sight without scrolling, and leave most of the screen to the page."""
    control.say(CHANGES["turned"][0])
    seen = visit({"width": width, "height": height})
    for path in PATHS:
        seen.go(path)
        expect(seen.page.locator(".bar-line b")).to_have_text("Turn the panel")
        for part in ("#light", "#dark", ".bar-line"):
            expect(seen.page.locator(part)).to_be_in_viewport(ratio=1)
        bar = seen.page.locator("#bar").bounding_box()
        assert bar is not None
        assert bar["height"] < 0.28 * height, path


def test_another_recipe_is_another_act(visit: Open, control: FakeControl, data: Path) -> None:
    """It is named at once, takes no press before it can have been read, and is then what is lit."""
    eight(data)
    seen = visit(PHONE)
    seen.go()
    seen.page.wait_for_timeout(READ_MS)
    choose(seen.page, "brass-8min")
    button = seen.page.locator("#act button")
    button.click()
    assert lit_by(control) == []
    expect(button).to_contain_text("Light brass-8min")
    expect(seen.page.get_by_label("Label of the panel")).to_have_value("brass-8min · 1")
    expect(seen.page.get_by_text("It had only just changed.")).to_be_visible()
    act(seen.page, "Light brass-8min")
    wait_until(lambda: lit_by(control) != [])
    (start,) = lit_by(control)
    assert (start["recipe"], start["panel"]) == ("brass-8min", "brass-8min · 1")


def test_enter_in_the_label_does_not_light(visit: Open, control: FakeControl, data: Path) -> None:
    """It ends the typing; what was typed goes with the press."""
    eight(data)
    seen = visit(DESK)
    seen.go()
    seen.page.wait_for_timeout(READ_MS)
    field = seen.page.get_by_label("Label of the panel")
    field.fill("mine")
    field.press("Enter")
    seen.page.wait_for_timeout(200)
    assert lit_by(control) == []
    act(seen.page, "Light blue-38")
    wait_until(lambda: lit_by(control) != [])
    assert lit_by(control)[0]["panel"] == "mine"


def test_keyboard_alone_lights_and_darkens(visit: Open, control: FakeControl, data: Path) -> None:
    """Tab reaches the act, Enter lights; Lamps off is one key from anywhere."""
    eight(data)
    seen = visit(DESK)
    seen.go()
    for _step in range(60):
        seen.page.keyboard.press("Tab")
        if seen.page.evaluate("() => document.activeElement?.id") == "light":
            break
    seen.page.wait_for_timeout(READ_MS)
    seen.page.keyboard.press("Enter")
    wait_until(lambda: control.names() == ["start"])
    seen.page.keyboard.press("Escape")
    wait_until(lambda: control.names() == ["start", "dark"])


@pytest.mark.parametrize("path", PATHS)
def test_esc_is_lamps_off_on_every_page(visit: Open, control: FakeControl, path: str) -> None:
    """Said where the thumb is, also when no lamp burned."""
    seen = visit(DESK)
    seen.go(path)
    expect(seen.page.locator("#dark")).to_have_attribute("aria-keyshortcuts", "Escape")
    seen.page.keyboard.press("Escape")
    wait_until(lambda: control.names()[-1:] == ["dark"])  # a page may have asked something of its own before
    expect(seen.page.locator("#told")).to_have_text("All lamps are off.")


def test_esc_is_lamps_off_in_text_fields_and_dialogs(visit: Open, control: FakeControl, data: Path) -> None:
    """Whatever else the key may mean there."""
    eight(data)
    seen = visit(DESK)
    seen.go("/recipes/new")
    seen.page.get_by_label("Note").focus()
    seen.page.keyboard.press("Escape")
    wait_until(lambda: control.names() == ["dark"])
    seen.go()
    seen.page.get_by_label("Label of the panel").fill("P1")
    seen.page.keyboard.press("Escape")
    wait_until(lambda: control.names() == ["dark"] * 2)
    expect(seen.page.get_by_label("Label of the panel")).to_have_value("P1")
    seen.page.evaluate(
        """() => { const box = document.createElement('dialog'); box.innerHTML = '<input id=inside>';
             box.addEventListener('keydown', (event) => event.stopPropagation());
             document.body.append(box); box.showModal(); document.getElementById('inside').focus(); }"""
    )
    seen.page.keyboard.press("Escape")
    wait_until(lambda: control.names() == ["dark"] * 3)


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_under_light_the_time_left_is_the_largest_thing_and_in_sight(
    visit: Open, control: FakeControl, width: int, height: int
) -> None:
    """Read across the room, on one screen."""
    control.say(fake.lit())
    seen = visit({"width": width, "height": height})
    seen.go()
    left = seen.page.locator(".still b")
    expect(left).to_have_text("0:07")
    expect(left).to_be_in_viewport(ratio=1)
    sizes = seen.page.evaluate(
        "() => Array.from(document.querySelectorAll('body *')).filter(e => e.getClientRects().length && e.innerText)"
        ".map(e => [parseFloat(getComputedStyle(e).fontSize), e.innerText])"
    )
    largest = max(size for size, _ in sizes)
    assert {text.strip() for size, text in sizes if size == largest} == {"0:07"}
    bar, place = seen.page.locator("#bar").bounding_box(), left.bounding_box()
    assert bar is not None
    assert place is not None
    assert place["y"] + place["height"] <= bar["y"]
    seen.picture(f"bar-lit-{width}x{height}")


def test_after_a_finished_panel_the_place_asks_to_take_it_out(visit: Open, control: FakeControl) -> None:
    """Dashed until the lid was opened and shut."""
    control.say(fake.rising(20.0) | {"may": ["dark"]})
    seen = visit(PHONE)
    seen.go("/panels/")
    light = seen.page.locator("#light")
    expect(light).to_be_disabled()
    expect(light).to_contain_text("Take the panel out")
    assert light.evaluate("each => getComputedStyle(each).borderTopStyle") == "dashed"
    control.say(fake.rising(20.0) | {"may": ["dark"], "lid": "open", "state_number": 2})
    expect(light).to_contain_text("shut the lid")
    expect(light).to_contain_text("Take the panel out")
    control.say(fake.rising(20.0) | {"state_number": 3})
    expect(light).to_contain_text("Light blue-38")
    expect(light).to_be_enabled()


def test_the_bar_of_every_page_follows_the_box(visit: Open, control: FakeControl, served: PageProcess) -> None:
    """Without a reload: light, the time left, the end of it; and what is old is not shown as live."""
    seen = visit(PHONE)
    seen.go("/recipes/")
    bar = seen.page.locator("#bar")
    expect(bar).to_have_attribute("data-is", "off")
    control.say(fake.lit())
    expect(bar).to_have_attribute("data-is", "on")
    expect(seen.page.locator(".bar-line")).to_contain_text("7 s left")
    expect(seen.page.locator("#light")).to_contain_text("Leave the lid shut")
    control.say(CHANGES["turned"][1])
    expect(seen.page.locator("#act button")).to_be_enabled()
    served.process.send_signal(signal.SIGSTOP)
    expect(seen.page.locator(".bar-line b")).to_have_text("No word from the page's server")
    expect(seen.page.locator("#act button")).to_be_disabled()
    expect(bar).to_have_attribute("data-is", "unknown")
    served.process.send_signal(signal.SIGCONT)
    expect(seen.page.locator("#act button")).to_be_enabled()
    act(seen.page, "Light side B")
    wait_until(lambda: len(lit_by(control)) == 1)


def test_without_script_the_act_of_any_page_is_a_plain_form(visit: Open, control: FakeControl, data: Path) -> None:
    """It lights what it names, also after another recipe was chosen."""
    eight(data)
    seen = visit(PHONE, script=False)
    seen.go()  # the Bench looks at shelf and logbook anew each time
    seen.go("/recipes/")
    seen.page.get_by_role("button", name="Light blue-38").click()
    seen.go()
    seen.page.locator("#others").click()
    seen.page.locator("[data-recipe='brass-8min']").click()
    seen.page.get_by_role("button", name="Light brass-8min").click()
    assert [each["recipe"] for each in lit_by(control)] == ["blue-38", "brass-8min"]


def test_a_recipe_that_this_box_cannot_light_says_so(visit: Open, control: FakeControl, data: Path) -> None:
    """Instead of being refused later."""
    both = BLUE.replace("sides: one", "sides: together").replace("  a: 0.82", "  a: 0.82\n  b: 0.8")
    (data / "recipes" / "two-banks.yaml").write_text(both, encoding="utf-8")
    seen = visit(PHONE)
    seen.go()
    choose(seen.page, "two-banks")
    light = seen.page.locator("#light")
    expect(light).to_contain_text("Needs two lamp banks, this box has one.")
    expect(light).to_be_disabled()
