"""The page against the real control program on the twin, in real processes: whole jobs as a person does them."""

import os
import re
import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from sumlight.protocol.client import ControlClient
from tests.browser.conftest import ARTIFACTS, DESK, PHONE, SIZES, WAIT_LIMIT_MS
from tests.running import RunningTwin
from tests.webui.operating import become_operator

SPEED = 4.0
DOSE_MJ_CM2, SIDE_MJ_CM2, LONG_MJ_CM2 = 200.0, 120.0, 4000.0
"""Light for about a quarter of a minute, for twice half as much, and for longer than any crowded machine takes."""

LIMIT_MS = 120_000

RECIPE = f"""\
resist: Invented film 38
thickness_um: 38.0
sides: one
dose_mj_cm2: {DOSE_MJ_CM2}
transmission:
  a: 0.82
time_guard_s: 300.0
hold_s: 900.0
interruptions:
  forgiven: 2
  longest_gap_s: 120.0
"""
TURNED = (
    RECIPE.replace("sides: one", "sides: turned")
    .replace("  a: 0.82", "  a: 0.82\n  b: 0.8")
    .replace(f"{DOSE_MJ_CM2}", f"{SIDE_MJ_CM2}")
)
LONG = RECIPE.replace(f"{DOSE_MJ_CM2}", f"{LONG_MJ_CM2}").replace("time_guard_s: 300.0", "time_guard_s: 3600.0")


@pytest.fixture
def twin(tmp_path: Path) -> Iterator[RunningTwin]:
    """A running twin, some times faster than life, its sensor settled."""
    (tmp_path / "recipes").mkdir()
    (tmp_path / "recipes" / "blue.yaml").write_text(RECIPE, encoding="utf-8")
    (tmp_path / "recipes" / "blue-long.yaml").write_text(LONG, encoding="utf-8")
    (tmp_path / "recipes" / "turned.yaml").write_text(TURNED, encoding="utf-8")
    with RunningTwin(tmp_path, speed=SPEED) as running, ControlClient(running.socket) as client:
        running.wait_until_ready(client)
        yield running


@pytest.fixture
def page(browser: Browser, twin: RunningTwin) -> Iterator[Page]:
    """A desk browser on the Bench of the twin."""
    ARTIFACTS.mkdir(exist_ok=True)
    page = browser.new_page(viewport={"width": DESK["width"], "height": DESK["height"]}, locale="en")
    become_operator(page, twin.url, twin.data)
    page.set_default_timeout(WAIT_LIMIT_MS)
    page.goto(twin.url)
    yield page
    page.close()


def press(page: Page, name: str) -> None:
    """Press the button of that name."""
    page.get_by_role("button", name=name).click()


def attended(page: Page, holds: Callable[[], bool], limit_s: float = LIMIT_MS / 1000) -> None:
    """Wait until it holds. On a crowded machine control may be held up and go dark: then do what the page says."""
    end_s = time.monotonic() + limit_s
    clear = page.get_by_role("button", name="I have seen to it: clear")
    while not holds():
        assert time.monotonic() < end_s, page.get_by_role("status").inner_text()
        held_up = page.get_by_role("alert").filter(has_text=re.compile("was held up|computer is too slow"))
        if held_up.count() and clear.count():
            clear.click()
            page.get_by_role("button", name="Continue").click()
        page.wait_for_timeout(100)


def headline(page: Page, text: str) -> None:
    """Wait until the Bench says so."""
    attended(page, lambda: page.get_by_role("heading", level=1).inner_text() == text)


def start(page: Page, recipe: str, label: str) -> None:
    """Choose, label, start, and wait for light."""
    page.get_by_text(recipe, exact=True).click()
    page.get_by_label("Label of the panel").fill(label)
    press(page, "Start")
    headline(page, "Exposing")


def dose_over(page: Page, value: float) -> None:
    """Wait until the first side shows more than that, under light."""
    attended(page, lambda: float(page.locator(".dose b").first.inner_text() or 0) > value and lit(page))


def lit(page: Page) -> bool:
    """Whether the lamps are on, as the page says."""
    return page.get_by_role("heading", level=1).inner_text() == "Exposing"


def dark_by(button: Locator, page: Page) -> None:
    """Press dark under light; pressed again when a crowded machine had made it dark before."""

    def dark() -> bool:
        if lit(page):
            button.click()
        return page.get_by_text("Paused because someone pressed dark.").count() > 0

    attended(page, dark)


def test_a_panel_is_exposed_darkened_continued_and_found_in_its_record(page: Page) -> None:
    """Choose, label, start; the dose rises; dark keeps it; continue ends on the dose; the record draws the light."""
    expect(page.get_by_text("Simulated box: no real lamps")).to_be_visible()
    start(page, "blue", "P1")
    dose_over(page, 20)
    page.screenshot(path=ARTIFACTS / "twin-light.png")
    dark_by(page.get_by_role("button", name="Dark"), page)
    expect(page.get_by_text("Switched off", exact=True)).to_be_visible()
    kept = float(page.locator(".dose b").inner_text())
    assert 20 < kept < DOSE_MJ_CM2
    press(page, "Continue")
    headline(page, "Done, lamps off")
    assert float(page.locator(".dose b").inner_text()) == pytest.approx(DOSE_MJ_CM2, rel=0.01)
    expect(page.get_by_text(re.compile("Let the panel rest for"))).to_be_visible()
    page.screenshot(path=ARTIFACTS / "twin-done.png", full_page=True)
    page.get_by_role("link", name="Panels").click()
    expect(page.get_by_role("listitem").filter(has_text="completed")).to_be_visible()
    page.get_by_role("link", name="Panel P1").click()
    expect(page.get_by_role("img", name=re.compile("Side A: light over"))).to_be_visible()
    page.screenshot(path=ARTIFACTS / "twin-record.png", full_page=True)
    page.get_by_label("Result after developing").fill("Lines true to size")
    press(page, "Save note and result")
    page.get_by_role("link", name="See them").click()
    expect(page.get_by_label("Result after developing")).to_have_value("Lines true to size")


def test_both_sides_with_the_lid_opened_in_the_middle_of_the_first(page: Page) -> None:
    """The lid ends the light, a press continues it; the panel is turned; side B ends on its dose too."""
    start(page, "turned", "P2")
    dose_over(page, 8)
    press(page, "Open the lid")
    expect(page.get_by_text("Paused because the lid was opened.")).to_be_visible()
    expect(page.get_by_text("Switched off", exact=True)).to_be_visible()
    expect(page.get_by_role("button", name="Continue")).to_be_hidden()
    press(page, "Shut the lid")
    press(page, "Continue")
    headline(page, "Turn the panel")
    press(page, "Open the lid")
    expect(page.get_by_text("Open", exact=True)).to_be_visible()
    press(page, "Shut the lid")
    press(page, "The panel is turned: light side B")
    headline(page, "Done, lamps off")
    doses = [float(text) for text in page.locator(".dose b").all_inner_texts()]
    assert doses == [pytest.approx(SIDE_MJ_CM2, rel=0.02)] * 2
    page.screenshot(path=ARTIFACTS / "twin-two-sides.png", full_page=True)


def test_a_run_that_was_cut_off_is_offered_and_continued(page: Page, twin: RunningTwin) -> None:
    """Control is killed under light: the page says that nothing is live, then offers the panel with its dose."""
    start(page, "blue", "P3")
    dose_over(page, 30)
    os.kill(twin.control_pid(), signal.SIGKILL)
    expect(page.get_by_text(re.compile("Nothing here is live"))).to_be_visible()
    expect(page.get_by_text("Paused because the control program was restarted.")).to_be_visible()
    assert float(page.locator(".dose b").inner_text()) > 20
    page.screenshot(path=ARTIFACTS / "twin-resumed.png", full_page=True)
    press(page, "Continue")
    headline(page, "Done, lamps off")
    assert float(page.locator(".dose b").inner_text()) == pytest.approx(DOSE_MJ_CM2, rel=0.06)


def test_a_lost_sensor_is_a_fault_with_a_remedy_and_the_panel_goes_on(page: Page, twin: RunningTwin) -> None:
    """Its cable is pulled under light and put back: fault, what to do, clear, continue, done."""
    start(page, "blue", "P4")
    dose_over(page, 15)
    with ControlClient(twin.socket) as client:
        client.ask("simulate", do="meter_disappears")
        fault = page.get_by_role("alert").filter(has_text="What to do:")
        expect(fault).to_contain_text("The light meter went silent")
        expect(fault).to_contain_text("Check the sensor's cable and plug.")
        expect(page.get_by_text("Not reading")).to_be_visible()
        page.screenshot(path=ARTIFACTS / "twin-fault.png", full_page=True)
        client.ask("simulate", do="meter_returns")
    expect(page.get_by_text("The cause is gone.")).to_be_visible()
    press(page, "I have seen to it: clear")
    press(page, "Continue")
    headline(page, "Done, lamps off")


def test_dark_from_a_second_browser_ends_the_light_of_the_first(
    page: Page, browser: Browser, twin: RunningTwin
) -> None:
    """Whoever is nearest."""
    start(page, "blue-long", "P5")
    dose_over(page, 10)
    second = browser.new_page(viewport={"width": PHONE["width"], "height": PHONE["height"]}, locale="de")
    second.goto(twin.url)
    dark_by(second.get_by_role("button", name="Dunkel"), page)
    expect(second.get_by_text("Unterbrochen, weil jemand „Dunkel“ gedrückt hat.")).to_be_visible()
    second.close()


@pytest.mark.parametrize("end", ["done", "abandoned"])
def test_no_panel_is_lit_twice_from_the_page(page: Page, twin: RunningTwin, end: str) -> None:
    """Start is no button then; a form sent all the same is refused with what to do. The lid opened and shut frees it.

    The judge is the dose that the simulated panel really got.
    """
    start(page, "blue", "P6")
    if end == "done":
        headline(page, "Done, lamps off")
    else:
        dose_over(page, 8)
        press(page, "Dark")
        page.get_by_text("End this exposure for good").click()
        press(page, "Yes, give up this panel")
    expect(page.get_by_text("Take the panel out: open the lid, shut it again.")).to_be_visible()
    begin = page.get_by_role("button", name="Start")
    expect(begin).to_be_disabled()
    with ControlClient(twin.socket) as client:
        got = client.ask("state")["true_dose_mj_cm2"]
        page.get_by_text("turned", exact=True).click()
        page.get_by_label("Label of the panel").fill("P6 again")
        page.locator("form.start").evaluate("form => form.requestSubmit()")
        expect(page.get_by_text("What was lit last may still lie inside.")).to_be_visible()
        page.wait_for_timeout(1500)
        assert client.ask("state")["true_dose_mj_cm2"] == got
        assert got["A"] > 8
    press(page, "Open the lid")
    expect(page.get_by_text("Open", exact=True)).to_be_visible()
    expect(begin).to_be_disabled()
    press(page, "Shut the lid")
    expect(begin).to_be_enabled()
    start(page, "blue", "P7")


@pytest.mark.parametrize("size", SIZES, ids=["phone", "desk"])
def test_a_newcomer_finds_the_way_from_power_on_to_a_panel(
    browser: Browser, twin: RunningTwin, size: dict[str, int]
) -> None:
    """Only by what the page says: box check, operator, recipe, exposure."""
    context = browser.new_context(viewport={"width": size["width"], "height": size["height"]}, locale="en")
    page = context.new_page()
    page.set_default_timeout(WAIT_LIMIT_MS)
    page.goto(twin.url)
    page.get_by_role("link", name="From power-on to the first panel").click()
    now = page.locator("[aria-current=step]")
    expect(now).to_contain_text("Say who operates")
    page.screenshot(path=ARTIFACTS / f"first-run-{size['width']}.png", full_page=True)
    page.goto(twin.printed_address())
    page.get_by_label("Your name").fill("Ada")
    page.get_by_label("Password").fill("amber light 38")
    press(page, "Become the operator")
    expect(page.get_by_text("You are logged in as Ada.")).to_be_visible()
    page.goto(f"{twin.url}/box/first")
    expect(now).to_contain_text("Expose the first panel")
    page.get_by_role("link", name="New recipe").click()
    fields = {
        "Name": "my-first",
        "Resist": "Invented film",
        "Thickness of the resist": "38",
        "Dose at the resist": "200",
        "Light that passes the stack, side A": "0.82",
        "Time guard per side": "300",
        "Rest before developing": "900",
        "Pauses the resist forgives": "1",
        "Longest pause it forgives": "60",
    }
    for label, value in fields.items():
        page.get_by_role("textbox", name=re.compile(f"^{label}")).first.fill(value)
    press(page, "Save recipe")
    page.get_by_role("link", name="Bench").click()
    start(page, "my-first", "P1")
    headline(page, "Done, lamps off")
    page.goto(f"{twin.url}/box/first")
    expect(page.locator(".step").filter(has_text="Expose the first panel")).to_contain_text("done")
    context.close()
