"""The end is told, in the title and by sound; after sleep and lost networks the page comes back by itself."""

import re
import time

from playwright.sync_api import Page, expect

from tests.browser import shared
from tests.browser.acting import fed
from tests.browser.conftest import DESK, PHONE, Open
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl, wait_until

control, data, lasting_control, served = shared.control, shared.data, shared.lasting_control, shared.served

HIDE = """hidden => {
  Object.defineProperty(document, 'hidden', { configurable: true, get: () => hidden });
  document.hasFocus = () => !hidden;
  document.dispatchEvent(new Event('visibilitychange'));
}"""
"""A headless browser never hides a page by itself; the page only looks at `document.hidden` and its event."""

LATE_SCRIPTS = re.compile(r"/static/(bench|bar|curve|notice|axes|reach)\.js")
"""What a page fetches once it is shown."""

CALLED = "() => document.getElementById('sound').dataset.told ?? ''"


def sleep_or_wake(page: Page, *, hidden: bool) -> None:
    """Put the page into a pocket, or take it out."""
    page.evaluate(HIDE, hidden)


def test_sound_is_asked_for_by_a_press_and_remembered(visit: Open, control: FakeControl) -> None:
    """Silence is the default and one press away."""
    seen = visit(PHONE)
    seen.go()
    button = seen.page.locator("#sound")
    expect(button).to_have_attribute("aria-pressed", "false")
    button.click()
    expect(button).to_have_text("Sound: on")
    seen.go()
    expect(button).to_have_attribute("aria-pressed", "true")
    expect(button).to_have_text("Sound: touch the page once")
    button.click()
    expect(button).to_have_text("Sound: on")
    button.click()
    expect(button).to_have_text("Sound: off")


def test_sound_that_the_phone_took_away_is_not_called_on(visit: Open, control: FakeControl) -> None:
    """A call, or another program: the audio's own state decides, and any touch asks for it again."""
    seen = visit(PHONE)
    seen.page.add_init_script(
        "const Real = AudioContext; window.AudioContext = class extends Real {"
        " constructor() { super(); window.voice = this; } };"
    )
    seen.go()
    button = seen.page.locator("#sound")
    button.click()
    expect(button).to_have_text("Sound: on")
    seen.page.evaluate("() => window.voice.suspend()")
    expect(button).to_have_text("Sound: touch the page once")
    seen.page.locator("h1").click()
    expect(button).to_have_text("Sound: on")


def test_the_end_is_told_once_in_sound_and_title(visit: Open, control: FakeControl) -> None:
    """Tones are really made: the audio's own clock runs and its oscillators are counted."""
    seen = visit(DESK)
    seen.page.add_init_script(
        "window.tones = 0; const start = OscillatorNode.prototype.start;"
        "OscillatorNode.prototype.start = function (...when) { window.tones += 1; return start.apply(this, when); };"
    )
    control.say(fake.lit())
    seen.go()
    seen.page.locator("#sound").click()
    assert seen.page.evaluate("() => window.tones") == 2
    expect(seen.page).to_have_title("52 % – Sumlight")
    control.say(fake.rising(20.0))
    expect(seen.page.get_by_role("heading", level=1)).to_have_text("Done, lamps off")
    seen.page.wait_for_function("() => document.getElementById('sound').dataset.told === 'good'")
    assert seen.page.evaluate("() => window.tones") == 5
    expect(seen.page).to_have_title("Rest 15 min – Sumlight")


def test_a_page_in_the_pocket_holds_no_stream_and_still_tells_the_end(visit: Open, control: FakeControl) -> None:
    """It looks now and then while lamps burn, and marks its title until it is looked at."""
    seen = visit(PHONE)
    control.say(fake.lit())
    seen.go()
    expect(seen.page.get_by_role("heading", level=1)).to_have_text("Exposing")
    fed(seen.page)
    sleep_or_wake(seen.page, hidden=True)
    control.say(fake.snapshot(state="faulted", may=["dark"], faults=[fake.fault()], exposure=fake.exposure()))
    expect(seen.page).to_have_title("‼ Fault, lamps off – Sumlight")
    assert seen.page.evaluate(CALLED) == "bad"
    streams = sum("/stream" in url for url in seen.asked)
    seen.page.wait_for_timeout(2500)
    assert sum("/stream" in url for url in seen.asked) == streams
    sleep_or_wake(seen.page, hidden=False)
    expect(seen.page).to_have_title("Fault, lamps off – Sumlight")


def test_a_page_that_goes_into_the_pocket_before_any_news_tells_the_end_too(visit: Open, control: FakeControl) -> None:
    """What the server wrote into it says that lamps burn."""
    seen = visit(PHONE)
    control.say(fake.lit())
    wait_until(lambda: ">Exposing" in seen.page.request.get(seen.address).text())
    seen.page.add_init_script(f"({HIDE})(true)")
    seen.go()
    expect(seen.page.get_by_role("heading", level=1)).to_have_text("Exposing")
    control.say(fake.snapshot(state="faulted", may=["dark"], faults=[fake.fault()], exposure=fake.exposure()))
    expect(seen.page).to_have_title("‼ Fault, lamps off – Sumlight", timeout=20_000)
    assert not any("/stream" in url for url in seen.asked)


def test_after_a_long_sleep_nothing_old_is_shown_as_live(visit: Open, control: FakeControl) -> None:
    """The moment it wakes, before any news has come."""
    seen = visit(DESK)
    control.say(fake.snapshot())
    seen.go()
    lamps = seen.page.locator("[data-text='bank.lower.asked']")
    expect(lamps).to_have_text("Switched off")
    fed(seen.page)
    sleep_or_wake(seen.page, hidden=True)
    seen.page.wait_for_timeout(1800)
    shown = seen.page.evaluate(
        f"() => {{ ({HIDE})(false); return document.querySelector('[data-live]').textContent; }}"
    )
    assert shown == "–"
    expect(lamps).to_have_text("Switched off")


def test_a_wireless_network_that_drops_is_noticed_and_the_curve_has_no_gap(visit: Open, control: FakeControl) -> None:
    """Real network loss in the browser for four seconds; what it missed is filled in."""
    control.say(fake.rising_slowly)
    seen = visit(PHONE)
    seen.go()
    fed(seen.page)
    seen.page.wait_for_function("() => Number(document.querySelector('.dose b').innerText) > 1")
    seen.page.context.set_offline(True)
    session = seen.page.context.new_cdp_session(seen.page)
    session.send("Network.enable")
    offline = {"offline": True, "latency": 0, "downloadThroughput": 0, "uploadThroughput": 0}
    session.send("Network.emulateNetworkConditions", offline)
    seen.page.evaluate("() => dispatchEvent(new Event('online'))")  # drops the stream that still stands
    expect(seen.page.get_by_text("Nothing here is live")).to_be_visible()
    seen.picture("bench-network-lost")
    seen.page.get_by_role("button", name="Lamps off").click()
    expect(seen.page.locator("#answer")).to_contain_text("Lamps off did NOT reach the box.")
    control.samples = [[1000.0 + n / 20, "A", 4.0, n / 5] for n in range(80)]
    session.send(
        "Network.emulateNetworkConditions",
        offline | {"offline": False, "downloadThroughput": -1, "uploadThroughput": -1},
    )
    seen.page.context.set_offline(False)
    expect(seen.page.get_by_text("Nothing here is live")).to_be_hidden()
    expect(seen.page.locator("#answer")).to_be_visible()  # lamps burn: that it was lost still matters
    ends_s = time.monotonic() + 60
    while not any("after=5%3A" in url for url in seen.asked):
        assert time.monotonic() < ends_s, "asked for what it missed"
        seen.page.wait_for_timeout(100)


def test_scripts_lost_in_a_dead_spot_leave_nothing_old_as_live_and_come_after_it(
    visit: Open, control: FakeControl
) -> None:
    """The page came, what keeps it up to date did not: it says so, asks again, and is live once that has come."""
    dead_spot = [True]
    seen = visit(PHONE)
    seen.page.route(LATE_SCRIPTS, lambda route: route.abort() if dead_spot else route.continue_())
    seen.go()
    bar, lamps = seen.page.locator("#bar"), seen.page.locator("[data-text='bank.lower.asked']")
    expect(bar).to_contain_text("No word from the page's server")
    expect(bar).to_have_attribute("data-is", "unknown")
    expect(lamps).to_have_text("–")
    dead_spot.clear()
    expect(bar).to_have_attribute("data-is", "off")
    expect(lamps).to_have_text("Switched off")
