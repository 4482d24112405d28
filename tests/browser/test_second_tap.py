"""A press that lights counts only where the act under it could have been read: not the second tap of another press."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.acting import READ_MS, act
from tests.browser.changing import CHANGES, eight, lit_by
from tests.browser.conftest import DESK, PHONE, Open, Visit
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl, wait_until

EARLY_MS = (20, 50, 100, 200, 400, 700)
HELD_MS = 800
"""A finger that goes down earlier than this after the act was shown was meant for what stood there before."""

ATTEMPTS, SOONER_MS = 9, 60
"""A crowded machine is late with its presses: one that came after the 0.8 s may light, and is made again, a little
sooner."""

LATE_ARRIVES_MS = 1500
"""Until then a press that came too late has reached the box."""

WATCHED = """
window.shownAt = 0; window.downAt = 0; window.wanted = null;
const look = () => {
  const button = document.querySelector('#act button:enabled');
  const carried = button?.form.querySelector('[name=state_number]').value;
  if (carried === window.wanted && !window.shownAt) window.shownAt = performance.now();
};
new MutationObserver(look).observe(document, { subtree: true, childList: true, attributes: true, characterData: true });
for (const kind of ['pointerdown', 'keydown'])
  addEventListener(kind, (event) => { window.downAt = event.timeStamp; }, true);
"""
"""Watches from outside when the act was filled and when a finger went down: the judge shares nothing with the guard."""

WAIT_AFTER_SHOWN = """ms => new Promise((done) => {
  const look = () => (window.shownAt && performance.now() - window.shownAt >= ms ? done() : setTimeout(look, 1));
  look();
})"""


def by_touch(page: Page) -> Callable[[], None]:
    """A tap where the act stands."""
    box = page.locator("#bar .place").bounding_box()
    assert box is not None
    return lambda: page.touchscreen.tap(box["x"] + 50, box["y"] + box["height"] / 2)


def by_mouse(page: Page) -> Callable[[], None]:
    """A click where the act stands."""
    box = page.locator("#bar .place").bounding_box()
    assert box is not None
    return lambda: page.mouse.click(box["x"] + 50, box["y"] + box["height"] / 2)


def by_enter(page: Page) -> Callable[[], None]:
    """Enter with the keyboard on the act, as soon as there is one."""

    def press() -> None:
        page.locator("#act button").evaluate("button => button.focus()")
        page.keyboard.press("Enter")

    return press


MEANS = {"touch": (PHONE, by_touch), "mouse": (DESK, by_mouse), "enter": (DESK, by_enter)}


def second_tap(seen: Visit, after_ms: int, means: Callable[[Page], Callable[[], None]]) -> float:
    """Press so long after the act was filled; returns how long it really was."""
    page = seen.page
    press = means(page)
    page.evaluate(WAIT_AFTER_SHOWN, after_ms)
    press()
    page.wait_for_timeout(120)
    found: float = page.evaluate("() => window.downAt - window.shownAt")
    return found


def early(seen: Visit, control: FakeControl, after_ms: int, means: Callable[[Page], Callable[[], None]]) -> bool:
    """Whether a second tap came as early as it was meant to. One that did not is forgotten, with what it lit."""
    if second_tap(seen, after_ms, means) < HELD_MS:
        return True
    seen.page.wait_for_timeout(LATE_ARRIVES_MS)
    control.commands.clear()
    return False


def cases(short: list[tuple[Any, ...]], every: list[tuple[Any, ...]]) -> list[Any]:
    """Every case, those that are not in short as a campaign."""
    return [pytest.param(*case, marks=[] if case in short else [pytest.mark.campaign]) for case in every]


@pytest.mark.parametrize(
    ("means", "change"),
    cases(
        [("touch", "light-paused"), ("mouse", "taken-out"), ("enter", "turned"), ("mouse", "same-words")],
        [(means, change) for means in MEANS for change in CHANGES],
    ),
)
def test_a_second_tap_after_a_change_of_state_never_lights(
    visit: Open, control: FakeControl, means: str, change: str
) -> None:
    """Whatever had stood there, and however short after; a press of somebody who has read it does light."""
    size, hand = MEANS[means]
    before, after, words = CHANGES[change]
    seen = visit(size)
    seen.page.add_init_script(WATCHED)
    control.say(before)
    seen.go()
    for after_ms in EARLY_MS:
        for attempt in range(ATTEMPTS):
            control.say(before)
            filled = "enabled" if change == "same-words" else "disabled"
            expect(seen.page.locator(f"#light:{filled}, #act-link")).to_have_count(1)
            carried = seen.page.locator(f"#act [name=state_number][value='{after['state_number']}']")
            expect(carried).to_have_count(0)
            seen.page.evaluate("number => { window.shownAt = 0; window.wanted = number; }", str(after["state_number"]))
            control.say(after)
            if early(seen, control, after_ms - attempt * SOONER_MS, hand):
                break
        else:
            pytest.fail("this machine never managed an early press")
        assert lit_by(control) == [], f"lit {after_ms} ms after it was shown"
    act(seen.page, words)
    wait_until(lambda: len(lit_by(control)) == 1)


@pytest.mark.parametrize(
    ("means", "after_ms"),
    cases(
        [("touch", 20), ("mouse", 200), ("enter", 700)], [(means, after_ms) for means in MEANS for after_ms in EARLY_MS]
    ),
)
def test_a_tap_right_after_the_page_came_never_lights(
    visit: Open, control: FakeControl, data: Path, means: str, after_ms: int
) -> None:
    """The second tap of a press that led to another page."""
    eight(data)
    size, hand = MEANS[means]
    seen = visit(size)
    seen.page.add_init_script(WATCHED + f"window.wanted = '{fake.STATE_NUMBER}';")
    seen.go("/recipes/")
    for attempt in range(ATTEMPTS):
        seen.page.goto(seen.address, wait_until="commit")
        if early(seen, control, after_ms - attempt * SOONER_MS, hand):
            break
    else:
        pytest.fail("this machine never managed an early press")
    assert lit_by(control) == []


def test_a_key_held_down_does_not_light_when_the_time_is_over(visit: Open, control: FakeControl) -> None:
    """It went down too early, and stays one press however often it repeats."""
    control.say(CHANGES["turned"][1])
    seen = visit(DESK)
    seen.go()
    seen.page.locator("#act button").focus()
    for _repeat in range(25):
        seen.page.keyboard.down("Enter")
        seen.page.wait_for_timeout(60)
    assert lit_by(control) == []
    seen.page.keyboard.up("Enter")
    act(seen.page, "Light side B")
    wait_until(lambda: len(lit_by(control)) == 1)


def test_a_finger_that_went_down_on_another_act_does_not_light(visit: Open, control: FakeControl) -> None:
    """It rests on the place while the act under it changes, and is lifted seconds later."""
    before, after, words = CHANGES["same-words"]
    control.say(before)
    seen = visit(DESK)
    seen.go()
    seen.page.wait_for_timeout(READ_MS)
    box = seen.page.locator("#act button").bounding_box()
    assert box is not None
    seen.page.mouse.move(box["x"] + 40, box["y"] + 30)
    seen.page.mouse.down()
    control.say(after)
    expect(seen.page.locator(f"#act [name=state_number][value='{after['state_number']}']")).to_have_count(1)
    seen.page.wait_for_timeout(3 * READ_MS)
    seen.page.mouse.up()
    seen.page.wait_for_timeout(150)
    assert lit_by(control) == []
    act(seen.page, words)
    wait_until(lambda: len(lit_by(control)) == 1)
