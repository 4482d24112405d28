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
from sumlight.protocol.press import seen
from sumlight.store.recipes import RecipeStore
from tests.browser.acting import act, choose
from tests.browser.conftest import ARTIFACTS, DESK, PHONE, PHONE_AT_LEAST, WAIT_LIMIT_MS
from tests.running import RunningTwin
from tests.webui.operating import become_operator

SPEED = 8.0
DOSE_MJ_CM2, SIDE_MJ_CM2, LONG_MJ_CM2 = 200.0, 120.0, 4000.0
"""Light for some seven seconds, for twice half as much, and for longer than any crowded machine takes."""

LIMIT_MS = 120_000

HANDS = ("Open the lid", "Shut the lid")

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


def put_recipes(data: Path) -> None:
    """Three recipes for the twin."""
    (data / "recipes").mkdir()
    for name, text in (("blue", RECIPE), ("blue-long", LONG), ("turned", TURNED)):
        (data / "recipes" / f"{name}.yaml").write_text(text, encoding="utf-8")


@pytest.fixture(scope="module")
def lasting_twin(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningTwin]:
    """A running twin, some times faster than life, which takes longer to start than most jobs take."""
    data = tmp_path_factory.mktemp("twin")
    put_recipes(data)
    with RunningTwin(data, speed=SPEED) as running:
        yield running


@pytest.fixture
def twin(lasting_twin: RunningTwin) -> RunningTwin:
    """The twin, ready for a panel, whatever the test before has left in it."""
    lasting_twin.put_in_order()
    return lasting_twin


@pytest.fixture
def new_twin(tmp_path: Path) -> Iterator[RunningTwin]:
    """A twin that has never run before."""
    put_recipes(tmp_path)
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
    """Press the button of that name; the bar may say the words of a hand on the lid among others."""
    page.get_by_role("button", name=name, exact=name in HANDS).click()


def open_lid(page: Page) -> None:
    """Open the lid and keep it open until control has seen it: at rest it looks 50 times a second only."""
    press(page, "Open the lid")
    expect(page.locator('[data-text="lid"]').first).to_contain_text("Open")


def attended(page: Page, holds: Callable[[], bool], limit_s: float = LIMIT_MS / 1000) -> None:
    """Wait until it holds. On a crowded machine control may be held up and go dark: then do what the page says."""
    end_s = time.monotonic() + limit_s
    clear = page.get_by_role("button", name="I have seen to it: clear")
    while not holds():
        assert time.monotonic() < end_s, page.get_by_role("status").inner_text()
        held_up = page.get_by_role("alert").filter(has_text=re.compile("was held up|computer is too slow"))
        if held_up.count() and clear.count():
            clear.click()
            act(page, "Continue")
        page.wait_for_timeout(100)


def headline(page: Page, text: str) -> None:
    """Wait until the Bench says so."""
    attended(page, lambda: page.get_by_role("heading", level=1).inner_text() == text)


def start(page: Page, recipe: str, label: str) -> None:
    """Choose, label, start, and wait for light."""
    choose(page, recipe)
    page.get_by_label("Label of the panel").fill(label)
    act(page, f"Light {recipe}")
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
        return page.get_by_text("Paused because someone pressed Lamps off.").count() > 0

    attended(page, dark)


def test_a_panel_is_exposed_darkened_continued_and_found_in_its_record(page: Page) -> None:
    """Choose, label, start; the dose rises; dark keeps it; continue ends on the dose; the record draws the light."""
    expect(page.get_by_text("Simulated box: no real lamps")).to_be_visible()
    start(page, "blue", "P1")
    dose_over(page, 20)
    page.screenshot(path=ARTIFACTS / "twin-light.png")
    dark_by(page.get_by_role("button", name="Lamps off"), page)
    expect(page.get_by_text("Switched off", exact=True)).to_be_visible()
    kept = float(page.locator(".dose b").inner_text())
    assert 20 < kept < DOSE_MJ_CM2
    act(page, "Continue")
    headline(page, "Done, lamps off")
    assert float(page.locator(".dose b").inner_text()) == pytest.approx(DOSE_MJ_CM2, rel=0.01)
    expect(page.get_by_text(re.compile("Develop in"))).to_be_visible()
    page.screenshot(path=ARTIFACTS / "twin-done.png", full_page=True)
    page.get_by_role("link", name="Panels").click()
    expect(page.get_by_role("listitem").filter(has_text="Panel P1").filter(has_text="completed")).to_be_visible()
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
    expect(page.get_by_role("button", name="Continue")).to_be_disabled()
    press(page, "Shut the lid")
    act(page, "Continue")
    headline(page, "Turn the panel")
    open_lid(page)
    press(page, "Shut the lid")
    act(page, "Light side B")
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
    expect(page.get_by_text("Paused because the controller was restarted.")).to_be_visible()
    assert float(page.locator(".dose b").inner_text()) > 20
    page.screenshot(path=ARTIFACTS / "twin-resumed.png", full_page=True)
    act(page, "Continue")
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
    act(page, "Continue")
    headline(page, "Done, lamps off")


def test_dark_from_a_second_browser_ends_the_light_of_the_first(
    page: Page, browser: Browser, twin: RunningTwin
) -> None:
    """Whoever is nearest."""
    start(page, "blue-long", "P5")
    dose_over(page, 10)
    second = browser.new_page(viewport={"width": PHONE["width"], "height": PHONE["height"]}, locale="de")
    second.goto(twin.url)
    dark_by(second.get_by_role("button", name="Lampen aus"), page)
    expect(second.get_by_text("Unterbrochen, weil jemand „Lampen aus“ gedrückt hat.")).to_be_visible()
    second.close()


@pytest.mark.parametrize("end", ["done", "abandoned"])
def test_no_panel_is_lit_twice_from_the_page(page: Page, twin: RunningTwin, end: str) -> None:
    """No act then; a form sent all the same is refused with what to do. The lid opened and shut frees it.

    The judge is the dose that the simulated panel really got.
    """
    start(page, "blue", "P6")
    if end == "done":
        headline(page, "Done, lamps off")
    else:
        dose_over(page, 8)
        press(page, "Lamps off")
        page.get_by_text("End this exposure for good").click()
        press(page, "Yes, give up this panel")
    expect(page.get_by_text("Take the panel out: open the lid, shut it again.")).to_be_visible()
    expect(page.locator("#light")).to_be_disabled()
    expect(page.locator("#light")).to_contain_text("Take the panel out")
    with ControlClient(twin.socket) as client:
        got = client.ask("state")["true_dose_mj_cm2"]
        saw = seen(client.ask("state"), RecipeStore(twin.data / "recipes").load("turned").sha256, "A")
        form: dict[str, str | float | bool] = {
            "recipe": "turned",
            "panel": "P6 again",
            "note": "",
            "state_number": str(saw["state_number"]),
        }
        form["seen:turned"] = f"{saw['recipe_sha256']} A"
        answer = page.request.post(f"{twin.url}/bench/start", form=form, headers={"Origin": twin.url})
        assert "What was lit last may still lie inside." in answer.text()
        page.wait_for_timeout(1500)
        assert client.ask("state")["true_dose_mj_cm2"] == got
        assert got["A"] > 8
    open_lid(page)
    expect(page.locator("#light")).to_be_disabled()
    press(page, "Shut the lid")
    expect(page.locator("#act button")).to_be_enabled()
    start(page, "blue", "P7")


@PHONE_AT_LEAST
def test_a_newcomer_finds_the_way_from_power_on_to_a_panel(
    browser: Browser, new_twin: RunningTwin, size: dict[str, int]
) -> None:
    """Only by what the page says: box check, operator, recipe, exposure."""
    context = browser.new_context(viewport={"width": size["width"], "height": size["height"]}, locale="en")
    page = context.new_page()
    page.set_default_timeout(WAIT_LIMIT_MS)
    page.goto(new_twin.url)
    page.get_by_role("link", name="From power-on to the first panel").click()
    now = page.locator("[aria-current=step]")
    expect(now).to_contain_text("Say who operates")
    page.screenshot(path=ARTIFACTS / f"first-run-{size['width']}.png", full_page=True)
    page.goto(new_twin.printed_address())
    page.get_by_label("Your name").fill("Ada")
    page.get_by_label("Password").fill("amber light 38")
    press(page, "Become the operator")
    expect(page.get_by_text("You are logged in as Ada.")).to_be_visible()
    page.goto(f"{new_twin.url}/box/first")
    expect(now).to_contain_text("Expose the first panel")
    page.get_by_role("link", name="New recipe").click()
    page.get_by_label("Name").fill("my-first")
    page.get_by_text("A dose", exact=True).click()
    page.get_by_label("Dose at the resist").fill("200")
    press(page, "Save recipe")
    page.get_by_role("link", name="Bench").click()
    start(page, "my-first", "P1")
    headline(page, "Done, lamps off")
    page.goto(f"{new_twin.url}/box/first")
    expect(page.locator(".step").filter(has_text="Expose the first panel")).to_contain_text("done")
    context.close()
