"""A phone without the box: the offline page, *Lamps off* that says it was not sent, and a screen that stays on."""

import re
import shutil
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from sumlight_web import words
from tests.browser import shared
from tests.browser.conftest import FLAGS, PHONE, Open, until_it_says
from tests.browser.test_look import assert_safelight
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl, wait_until
from tests.webui.page_process import page_process

control, data, lasting_control, served = shared.control, shared.data, shared.lasting_control, shared.served

WAKE = """
window.locks = [];
window.grants = true;
Object.defineProperty(Navigator.prototype, 'wakeLock', { configurable: true, get: () => ({
  request: async (kind) => {
    if (!window.grants) throw new DOMException('no', 'NotAllowedError');
    const lock = new EventTarget();
    lock.kind = kind;
    lock.held = true;
    lock.release = async () => { lock.held = false; };
    window.locks.push(lock);
    return lock;
  } }) });
"""
"""A stand-in for the Screen Wake Lock API (W3C), which a browser without a screen refuses."""


def test_without_the_box_the_page_says_that_nothing_is_known(
    browser: Browser, visit: Open, control: FakeControl
) -> None:
    """A real worker in a real browser: the state of before is nowhere, the kept files hold none, *Lamps off* says that
    it was not sent, and the page comes back by itself."""
    control.say(fake.lit())
    seen = visit({"width": 360, "height": 640}, worker=True)
    page, title = seen.page, seen.page.get_by_role("heading", level=1)
    seen.go()
    expect(title).to_have_text("Exposing")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    seen.go("/recipes/")  # through the worker: it keeps nothing of what it passes on
    page.evaluate("async () => { await (await fetch('/bar.json')).json(); }")
    page.context.set_offline(True)
    seen.go("/panels/")
    expect(title).to_have_text("No connection to the box")
    assert page.locator("#bar").count() == 0
    assert not re.search(r"Exposing|mJ|Demo", page.locator("body").inner_text())
    kept = page.evaluate(
        "async () => (await Promise.all((await caches.keys()).map(async (name) =>"
        " (await (await caches.open(name)).keys()).map((each) => new URL(each.url).pathname)))).flat().sort()"
    )
    assert kept == ["/offline", "/static/icon.svg", "/static/offline.js", "/static/sumlight.css"]
    page.get_by_role("button", name="Lamps off").click()
    expect(page.locator("#told")).to_have_text("NOT sent: use the emergency stop at the box or open the lid.")
    assert "dark" not in control.names()
    assert_safelight(browser, seen.picture("offline"))
    page.context.set_offline(False)
    expect(title).to_have_text("Exposing")


def test_lamps_off_that_nobody_answers_says_so_before_it_gives_up(visit: Open, control: FakeControl) -> None:
    """The request hangs for good, as in a dead spot of the workshop: only the page's own clock can tell of it."""
    control.say(fake.lit())
    seen = visit(PHONE)
    seen.go()
    seen.page.evaluate("() => { window.fetch = () => new Promise(() => {}); }")
    seen.page.get_by_role("button", name="Lamps off").click()
    expect(seen.page.locator("#answer")).to_contain_text("No answer to Lamps off yet.")
    expect(seen.page.locator("#answer")).to_contain_text("Open the lid or use the emergency stop")


def test_the_screen_is_kept_on_while_lamps_burn_and_let_go_after(visit: Open, control: FakeControl) -> None:
    """On any page; again after the phone was put away, which takes the lock."""
    control.say(fake.snapshot())
    seen = visit(PHONE)
    seen.page.add_init_script(WAKE)
    seen.go("/recipes/")
    seen.page.wait_for_load_state("networkidle")
    assert seen.page.evaluate("() => window.locks.length") == 0
    control.say(fake.lit())
    seen.page.wait_for_function("() => window.locks.length === 1 && window.locks[0].held")
    assert seen.page.evaluate("() => window.locks[0].kind") == "screen"
    seen.page.evaluate(
        "() => { window.locks[0].release(); window.locks[0].dispatchEvent(new Event('release'));"
        " document.dispatchEvent(new Event('visibilitychange')); }"
    )
    seen.page.wait_for_function("() => window.locks.length === 2 && window.locks[1].held")
    control.say(fake.snapshot())
    seen.page.wait_for_function("() => !window.locks.some((lock) => lock.held)")


@pytest.mark.parametrize("why", ["window.grants = false", "delete Navigator.prototype.wakeLock"])
def test_a_screen_that_cannot_be_kept_on_is_told_of_while_lamps_burn(
    visit: Open, control: FakeControl, why: str
) -> None:
    """A battery that is nearly empty, or a page over plain HTTP, where the browser has no such thing."""
    control.say(fake.snapshot())
    seen = visit(PHONE)
    seen.page.add_init_script(f"{WAKE}; {why};")
    seen.go()
    told = seen.page.locator("#awake")
    expect(told).to_be_hidden()
    control.say(fake.lit())
    expect(told).to_be_visible()
    expect(told).to_contain_text("The light does not need it.")
    control.say(fake.snapshot())
    expect(told).to_be_hidden()


def test_over_plain_http_on_the_network_the_page_does_without_and_says_so(
    browser: Browser, control: FakeControl, data: Path
) -> None:
    """Under a name of the network, where browsers give neither wake lock nor service worker (W3C, Secure Contexts):
    one sentence while lamps burn, no error, and *Lamps off* arrives."""
    name = "box.shop.example"
    control.say(fake.lit())
    rules = f"--host-resolver-rules=MAP {name} 127.0.0.1"
    elsewhere = browser.browser_type.launch(executable_path=shutil.which("chromium"), args=[*FLAGS, rules])
    with page_process(control.path, data, "--host-name", name) as served:
        until_it_says(served, "Exposing")
        page = elsewhere.new_page(viewport={"width": PHONE["width"], "height": PHONE["height"]})
        complaints: list[str] = []
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("console", lambda told: complaints.append(told.text) if told.type == "error" else None)
        page.goto(served.address.replace("127.0.0.1", name))
        given = page.evaluate("() => [isSecureContext, 'wakeLock' in navigator, 'serviceWorker' in navigator]")
        assert given == [False] * 3
        expect(page.locator("#awake")).to_be_visible()
        expect(page.locator("#awake")).to_contain_text("The light does not need it.")
        page.get_by_role("button", name="Lamps off").click()
        wait_until(lambda: "dark" in [each["command"] for each in control.commands])
        assert complaints == []
        elsewhere.close()


def test_the_clock_that_times_are_by_is_named_where_the_phone_has_another(visit: Open) -> None:
    """Once the phone stands where the box does, and once where clocks show another time all year."""
    seen = visit(PHONE)
    zone, judged = seen.page.locator("#box-zone"), "() => !document.getElementById('box-zone').dataset.offsets"
    seen.go("/panels/")
    seen.page.wait_for_function(judged)
    expect(zone).to_be_hidden()
    far = "Pacific/Honolulu" if words.zone().offsets[0][1] > 0 else "Asia/Kathmandu"
    session = seen.page.context.new_cdp_session(seen.page)
    session.send("Emulation.setTimezoneOverride", {"timezoneId": far})
    seen.go("/panels/")
    seen.page.wait_for_function(judged)
    expect(zone).to_be_visible()
    expect(zone).to_have_text(f"Times are those of the box: {words.zone().name}.")
