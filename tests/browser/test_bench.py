"""The Bench in a real browser, against a fake control: phone and desk, live, under commands, when things fail."""

import signal
from typing import Any

from playwright.sync_api import Page, expect

from tests.browser import shared
from tests.browser.acting import act, choose
from tests.browser.conftest import DESK, PHONE, PHONE_AT_LEAST, SIZES, Open, finger_reads
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl, RefusalError, wait_until
from tests.webui.page_process import PageProcess

control, data, lasting_control, served = shared.control, shared.data, shared.lasting_control, shared.served


CURVE_PIXELS = "() => Array.from(document.getElementById('curve').getContext('2d').getImageData(0, 0, 300, 300).data)"


BRIGHT_BELOW_TARGET = """() => {
  const canvas = document.getElementById('curve');
  const [x, y] = [canvas.width * 0.2, canvas.height * 0.3];
  const area = canvas.getContext('2d').getImageData(x, y, canvas.width * 0.6, canvas.height * 0.5).data;
  return area.filter((value, index) => index % 4 === 0 && value > 200).length;
}"""
"""Bright dots where only the curve of the dose can be: below the target, within the frame."""


def press(page: Page, name: str) -> None:
    """Press the button of that name."""
    page.get_by_role("button", name=name, exact=False).click()


@PHONE_AT_LEAST
def test_a_panel_is_started_watched_and_done(visit: Open, control: FakeControl, size: dict[str, int]) -> None:
    """The way of a person through one exposure: choose, label, start, watch the dose rise, see the rest begin."""

    def begin(request: dict[str, Any]) -> dict[str, Any]:
        control.say(fake.rising_slowly)
        return {"state": "dark_check"}

    control.answers["start"] = begin
    seen = visit(size)
    seen.go()
    expect(seen.page.get_by_role("status")).to_contain_text("Ready")
    choose(seen.page, "blue-38")
    seen.page.get_by_label("Label of the panel").fill("P12")
    act(seen.page, "Light blue-38")
    expect(seen.page.get_by_role("heading", level=1)).to_have_text("Exposing")
    start = next(c for c in control.commands if c["command"] == "start")
    assert (start["recipe"], start["panel"], start["note"]) == ("blue-38", "P12", "")
    expect(seen.page.get_by_label("Label of the panel")).to_be_hidden()
    dose = seen.page.locator("[data-text='side.A.dose']")
    first = float(dose.inner_text())
    seen.page.wait_for_function(f"() => Number(document.querySelector('.dose b').innerText) > {first + 2}")
    before = seen.page.evaluate(CURVE_PIXELS)
    wait_until(lambda: seen.page.evaluate(CURVE_PIXELS) != before)
    seen.picture(f"bench-light-{size['width']}")
    control.say(lambda seconds: fake.rising(5.0 + 3.0 * seconds))  # so much faster that the end is not waited for long
    expect(seen.page.get_by_role("heading", level=1)).to_have_text("Done, lamps off")
    assert seen.page.evaluate(BRIGHT_BELOW_TARGET) > 100
    expect(seen.page.get_by_text("Develop in 15 min")).to_be_visible()
    expect(seen.page.get_by_label("Label of the panel")).to_have_value("blue-38 · 1")
    seen.picture(f"bench-done-{size['width']}")


@SIZES
def test_lamps_off_is_in_reach_without_scrolling_and_reaches_the_box(
    visit: Open, control: FakeControl, size: dict[str, int]
) -> None:
    """On every page, at every size, one press; also when the page is left before it has heard the answer."""
    control.say(fake.lit())
    seen = visit(size)
    for path in ("/", "/recipes/new", "/panels/"):
        seen.go(path)
        button = seen.page.get_by_role("button", name="Lamps off")
        expect(button).to_be_in_viewport(ratio=1)
        # One that the page could not see through may be sent again: dark twice is dark.
        control.commands.clear()
        button.click()
        seen.go("/box/")
        wait_until(lambda: "dark" in control.names())


def test_dark_is_sent_once_more_by_a_page_that_is_left_before_its_answer(visit: Open, control: FakeControl) -> None:
    """The first one hangs on the way; nobody is left on the page to press again."""
    control.say(fake.lit())
    seen = visit(PHONE)
    seen.go()
    seen.page.evaluate("() => { window.fetch = () => new Promise(() => {}); }")
    seen.page.get_by_role("button", name="Lamps off").click()
    assert control.names() == []
    seen.go("/box/")
    wait_until(lambda: control.names() == ["dark"])


def test_dark_that_is_lost_is_said_loudly(visit: Open, control: FakeControl) -> None:
    """Control hangs: the person at the phone learns that the lamps may be lit, and what helps."""
    control.say(fake.lit())
    seen = visit(PHONE)
    seen.go()
    control.mute.set()
    press(seen.page, "Lamps off")
    expect(seen.page.get_by_role("alert").filter(has_text="Lamps off did NOT reach the box.")).to_be_visible()
    expect(seen.page.locator("#answer")).to_contain_text("Open the lid or use the emergency stop")
    seen.picture("bench-dark-lost")
    control.mute.clear()


def test_mistakes_of_start_stand_beside_their_fields(visit: Open, control: FakeControl) -> None:
    """Without leaving the page, and what was typed stays."""

    def refuse(request: object) -> dict[str, Any]:
        raise RefusalError("bad_value", "This recipe needs two banks.", field="recipe", remedy="Choose another.")

    seen = visit(PHONE)
    seen.go()
    expect(seen.page.get_by_role("button", name="Choose a recipe")).to_be_disabled()
    choose(seen.page, "board-turned")
    seen.page.get_by_label("Label of the panel").fill("")
    seen.page.evaluate("() => scrollTo(0, document.body.scrollHeight)")
    act(seen.page, "Light board-turned")
    expect(seen.page.locator("#error-panel")).to_contain_text("Give the panel a label")
    expect(seen.page.locator("#error-panel")).to_be_in_viewport(ratio=1)
    red = seen.page.locator("#error-panel").evaluate("each => getComputedStyle(each).color")
    seen.picture("bench-errors")
    control.answers["start"] = refuse
    seen.page.get_by_label("Label of the panel").fill("P7")
    expect(seen.page.locator("#error-panel")).not_to_have_css("color", red)  # it is being put right
    expect(seen.page.get_by_label("Label of the panel")).not_to_have_attribute("aria-invalid", "true")
    act(seen.page, "Light board-turned")
    expect(seen.page.locator("#error-recipe")).to_have_text("This recipe needs two banks. Choose another.")
    expect(seen.page.get_by_label("Label of the panel")).to_have_value("P7")
    assert seen.page.url == seen.address


def test_typing_is_not_disturbed_by_news(visit: Open, control: FakeControl) -> None:
    """Ten snapshots a second, a warning comes and goes: the cursor stays where it was."""
    seen = visit(DESK)
    seen.go("/?recipe=blue-38")
    field = seen.page.get_by_label("Label of the panel")
    field.fill("P1")
    control.say(fake.snapshot(warnings=["The meter is warm."], lid="open", may=["dark"]))
    expect(seen.page.get_by_text("The meter is warm.")).to_be_visible()
    expect(field).to_be_focused()
    expect(field).to_have_value("P1")
    expect(seen.page.get_by_role("button", name="Light blue-38")).to_be_disabled()
    control.say(fake.snapshot())
    expect(seen.page.get_by_role("button", name="Light blue-38")).to_be_enabled()


def test_a_turned_panel_and_a_lid_pause_are_continued_by_one_press(visit: Open, control: FakeControl) -> None:
    """The big action is named after what it does and is seen without scrolling on a phone."""
    both = fake.exposure(fake.side("A", state="done"), fake.side("B", state="waiting", dose_mj_cm2=0.0))
    may = ["go", "abandon", "dark"]
    control.say(fake.snapshot(state="turn", sentence="Side A is done. Turn the panel.", may=may, exposure=both))
    seen = visit(PHONE)
    seen.go()
    expect(seen.page.get_by_role("button", name="Light side B")).to_be_in_viewport(ratio=1)
    seen.picture("bench-turn")
    act(seen.page, "Light side B")
    wait_until(lambda: control.names() == ["go"])
    control.say(fake.lit(state="paused", may=may, lid="open", exposure=fake.exposure(pause_cause="lid")))
    expect(seen.page.get_by_text("Paused because the lid was opened.")).to_be_visible()
    expect(seen.page.get_by_role("button", name="Continue")).to_be_in_viewport(ratio=1)
    seen.picture("bench-paused")
    seen.page.get_by_text("End this exposure for good").click()
    press(seen.page, "Yes, give up this panel")
    wait_until(lambda: control.names() == ["go", "abandon"])


def test_a_fault_is_shown_and_cleared(visit: Open, control: FakeControl) -> None:
    """What happened, what to do, and one button."""
    control.say(fake.snapshot(state="faulted", may=["dark", "acknowledge"], faults=[fake.fault()], sentence="Look."))
    seen = visit(PHONE)
    seen.go()
    expect(seen.page.get_by_text("Check the cable of the meter")).to_be_visible()
    seen.picture("bench-fault")
    press(seen.page, "I have seen to it: clear")
    wait_until(lambda: control.names() == ["acknowledge"])
    control.say(fake.snapshot())
    expect(seen.page.get_by_text("Check the cable of the meter")).to_be_hidden()


def test_an_old_state_is_never_shown_as_live(visit: Open, control: FakeControl, served: PageProcess) -> None:
    """Real time: control falls silent, then the page's own server stops answering; both are said within seconds."""
    control.say(fake.lit())
    seen = visit(DESK)
    seen.go()
    lamps = seen.page.locator("[data-text='bank.lower.asked']")
    expect(lamps).to_have_text("Switched on")
    control.mute.set()
    expect(seen.page.get_by_text("No word from the box for")).to_be_visible()
    expect(lamps).to_have_text("Not known")
    seen.picture("bench-stale")
    control.mute.clear()
    expect(lamps).to_have_text("Switched on")
    paused = fake.exposure(pause_cause="lid", forgiven_left_s=40.0)
    control.say(
        fake.snapshot(state="paused", exposure=paused, may=["go", "abandon", "dark"], banks=fake.lit()["banks"])
    )
    expect(seen.page.get_by_text("Light it again within 40 s")).to_be_visible()
    served.process.send_signal(signal.SIGSTOP)
    expect(seen.page.get_by_role("heading", level=1)).to_have_text("No word from the page's server")
    expect(lamps).to_have_text("–")
    expect(seen.page.locator(".sentence")).to_have_text("Wait, or look at the box itself.")
    expect(seen.page).to_have_title("No word from the page's server – Sumlight")
    for old in (".forgiven", ".cause"):
        expect(seen.page.locator(old)).to_be_hidden()
    seen.picture("bench-server-stopped")
    served.process.send_signal(signal.SIGCONT)
    expect(lamps).to_have_text("Switched on")


def test_with_all_live_places_taken_the_page_still_keeps_up(visit: Open, control: FakeControl) -> None:
    """The seventh viewer asks once a second instead."""
    control.say(fake.rising_slowly)
    seen = visit(DESK)
    seen.page.route("**/stream*", lambda route: route.fulfill(status=503, body="full"))
    seen.go()
    first = float(seen.page.locator("[data-text='side.A.dose']").inner_text())
    seen.page.wait_for_function(f"() => Number(document.querySelector('.dose b').innerText) > {first + 6}")
    assert any("/state.json" in url for url in seen.asked)


def test_a_page_opened_in_the_middle_draws_what_has_been(visit: Open, control: FakeControl) -> None:
    """The curve begins where the exposure began: with weak light, which the page itself has not seen."""
    control.samples = fake.past(1000.0, 940.0)
    control.say(fake.rising_slowly)
    seen = visit(DESK)
    seen.go()
    expect(seen.page.get_by_role("heading", level=1)).to_have_text("Exposing")
    finger_reads(seen.page.locator("#curve"), (47, 100), seen.page.locator("#readout"), r"^A: 0\.\d s, 2\.\d\d mW/cm²")
    seen.picture("bench-curve-from-the-beginning")


def test_a_pause_is_no_time_on_the_live_curve(visit: Open, control: FakeControl) -> None:
    """Four seconds of light, a minute of dark, four seconds of weaker light: these lie just behind the first four."""
    control.samples = [[1000.0 + n / 20, "A", 4.0, n / 5] for n in range(80)]
    control.samples += [[1064.0 + n / 20, "A", 2.0, 16.0 + n / 10] for n in range(80)]
    waits = fake.side(state="waiting", left_s=None)
    control.say(fake.snapshot(state="paused", may=["go"], mono_s=1070.0, exposure=fake.exposure(waits)))
    seen = visit(DESK)
    seen.go()
    curve, readout = seen.page.locator("#curve"), seen.page.locator("#readout")
    box = curve.bounding_box()
    assert box is not None
    left, inside = 46, box["width"] - 100  # of the drawing's frame
    finger_reads(curve, (left + 0.2 * inside, 100), readout, r"^A: 1\.\d s, 4\.00 mW/cm²")
    finger_reads(curve, (left + 0.8 * inside, 100), readout, r"^A: 6\.\d s, 2\.00 mW/cm²")


def test_the_bench_works_without_script(visit: Open, control: FakeControl) -> None:
    """Start, continue and dark are plain forms."""
    seen = visit(PHONE, script=False)
    seen.go()
    seen.page.get_by_text("blue-38").click()
    expect(seen.page.get_by_label("Label of the panel")).to_have_value("blue-38 · 1")
    seen.page.get_by_label("Label of the panel").fill("P12")
    press(seen.page, "Light blue-38")
    started = next(c for c in control.commands if c["command"] == "start")
    assert (started["recipe"], started["panel"], started["side"]) == ("blue-38", "P12", "A")
    press(seen.page, "Lamps off")
    control.say(fake.lit(state="paused", may=["go", "abandon", "dark"]))

    def continue_is_offered() -> bool:
        seen.go()
        return "Continue" in seen.page.content()

    wait_until(continue_is_offered)
    press(seen.page, "Continue")
    assert control.names() == ["start", "dark", "go"]


def test_that_dark_was_lost_is_said_until_the_lamps_are_seen_off(visit: Open, control: FakeControl) -> None:
    """News that they still burn leaves it standing; news that they are off ends it."""
    control.say(fake.lit())
    seen = visit(PHONE)
    seen.page.route("**/bench/dark", lambda route: route.abort())
    seen.go()
    lost = seen.page.locator("#answer")
    expect(seen.page.locator("#bar")).to_have_attribute("data-is", "on")
    press(seen.page, "Lamps off")
    expect(lost).to_contain_text("Lamps off did NOT reach the box.")
    control.say(fake.lit(box="Still lit"))
    control.say(fake.snapshot())
    expect(seen.page.locator("#bar")).to_have_attribute("data-is", "off")
    expect(lost).to_be_hidden()
