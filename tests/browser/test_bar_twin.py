"""Presses on their way while the box moves on, against the real control on the twin: never light that nobody meant."""

import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from sumlight.protocol.client import ControlClient
from tests.browser.acting import act, choose
from tests.browser.conftest import DESK, PHONE, WAIT_LIMIT_MS
from tests.browser.test_twin import RECIPE, SPEED, attended, open_lid, press
from tests.running import RunningTwin
from tests.webui.fake_control import wait_until
from tests.webui.operating import become_operator

LATE_MS = (20, 50, 100, 200, 400, 700)


@pytest.fixture
def twin(tmp_path: Path) -> Iterator[RunningTwin]:
    """A running twin with two recipes of their own doses."""
    (tmp_path / "recipes").mkdir()
    (tmp_path / "recipes" / "long.yaml").write_text(RECIPE.replace("200.0", "3000.0").replace("300.0", "3600.0"))
    (tmp_path / "recipes" / "short.yaml").write_text(RECIPE)
    with RunningTwin(tmp_path, speed=SPEED) as running, ControlClient(running.socket) as client:
        running.wait_until_ready(client)
        yield running


def bench(browser: Browser, twin: RunningTwin, size: dict[str, int]) -> Page:
    """An operator's Bench."""
    page = browser.new_page(viewport={"width": size["width"], "height": size["height"]}, locale="en")
    become_operator(page, twin.url, twin.data)
    page.set_default_timeout(WAIT_LIMIT_MS)
    page.goto(twin.url)
    return page


def caught(page: Page) -> list[Route]:
    """From here on presses of this page stay on their way, in this list."""
    held: list[Route] = []
    page.route("**/bench/start", lambda route: held.append(route))
    return held


def on_its_way(page: Page, held: list[Route]) -> None:
    """Wait until the request of a press has been caught."""
    ends_s = time.monotonic() + WAIT_LIMIT_MS / 1000
    while not held:
        assert time.monotonic() < ends_s
        page.wait_for_timeout(10)


def test_a_request_that_arrives_after_the_box_has_moved_on_lights_nothing(browser: Browser, twin: RunningTwin) -> None:
    """The press was good when it was made; on its way the lid was opened and shut, and a hand may lie inside."""
    page = bench(browser, twin, DESK)
    choose(page, "short")
    with ControlClient(twin.socket) as client:
        for late_ms in LATE_MS:
            held = caught(page)
            act(page, "Light short")
            on_its_way(page, held)
            client.ask("simulate", do="lid_opens")
            wait_until(lambda: client.ask("state")["lid"] == "open")
            client.ask("simulate", do="lid_closes")
            wait_until(lambda: client.ask("state")["lid"] == "shut")
            page.wait_for_timeout(late_ms)
            held[0].continue_()
            expect(page.get_by_text("The box has moved on since you looked.")).to_be_visible()
            page.unroute("**/bench/start")
            state = client.ask("state")
            assert state["state"] == "idle"
            assert not any(bank["commanded"] for bank in state["banks"])
            assert max(state["true_dose_mj_cm2"].values(), default=0.0) == 0
    page.close()


def test_of_two_phones_with_different_recipes_one_lights_and_the_other_is_refused(
    browser: Browser, twin: RunningTwin
) -> None:
    """The panel gets what the first press named, and not one other light."""
    first, second = bench(browser, twin, PHONE), bench(browser, twin, DESK)
    choose(first, "short")
    choose(second, "long")
    held = caught(second)
    act(second, "Light long")
    on_its_way(second, held)
    act(first, "Light short")
    with ControlClient(twin.socket) as client:
        wait_until(lambda: client.ask("state")["state"] == "light")
        held[0].continue_()
        second.unroute("**/bench/start")
        expect(second.locator("#answer")).to_contain_text("An exposure is under way.")
        expect(first.locator("#light")).to_contain_text("Leave the lid shut")
        expect(second.locator("#light")).to_contain_text("Leave the lid shut")
        attended(first, lambda: client.ask("state")["state"] == "done")
        state = client.ask("state")
        assert (state["exposure"]["recipe"], state["exposure"]["sides"][0]["side"]) == ("short", "A")
        got = state["true_dose_mj_cm2"]
        second.locator("#bar .place").click(force=True)
        second.wait_for_timeout(500)
        open_lid(first)
        press(first, "Shut the lid")
        # Each phone still names what was chosen on it, and no press that it had not seen this act for lights.
        expect(second.locator("#act button")).to_contain_text("Light long")
        expect(first.locator("#act button")).to_contain_text("Light short")
        assert client.ask("state")["true_dose_mj_cm2"] == got
    first.close()
    second.close()
