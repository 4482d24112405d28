"""Every measurement of Light on the real twin, by the page alone: what control really answers is understood."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from sumlight.protocol.client import ControlClient
from sumlight.store.recipes import RecipeStore
from tests.browser.conftest import ARTIFACTS, DESK, WAIT_LIMIT_MS
from tests.browser.test_light_twin import expose_on_the_bench, light_next_leg, press
from tests.browser.test_twin import RECIPE, attended, headline, open_lid
from tests.running import RunningTwin
from tests.webui.operating import become_operator

SPEED = 12.0
STEADY_S = 5.0
"""Of the box's time; the page asks for three before a radiometer is read."""


@pytest.fixture
def twin(tmp_path: Path) -> Iterator[RunningTwin]:
    """A running twin, faster than life, with nobody at it."""
    (tmp_path / "recipes").mkdir()
    (tmp_path / "recipes" / "film.yaml").write_text(RECIPE, encoding="utf-8")
    with RunningTwin(tmp_path, speed=SPEED) as running, ControlClient(running.socket) as client:
        running.wait_until_ready(client)
        yield running


@pytest.fixture
def page(browser: Browser, twin: RunningTwin) -> Iterator[Page]:
    """The page of Light, on a desk."""
    page = browser.new_page(viewport={"width": DESK["width"], "height": DESK["height"]})
    page.set_default_timeout(WAIT_LIMIT_MS)
    ARTIFACTS.mkdir(exist_ok=True)
    become_operator(page, twin.url, twin.data)
    page.goto(f"{twin.url}/light/")
    yield page
    page.close()


def open_job(page: Page, name: str) -> None:
    """By its link on the page of Light."""
    page.get_by_role("link", name="Light", exact=True).click()
    page.get_by_text("Workshop", exact=True).click()
    page.get_by_role("list").get_by_role("link", name=name, exact=True).click()


def take_out(twin: RunningTwin) -> None:
    """Open and shut the lid: control lights nothing else before."""
    with ControlClient(twin.socket) as client:
        twin.change_panel(client)


def work_out(page: Page) -> None:
    """From the Bench, when all legs are done, to the result."""
    expose_on_the_bench(page)
    page.locator("#next-step").click()


def test_time_strip_and_check_by_the_page_alone(page: Page, twin: RunningTwin) -> None:
    """Teach, test strip, self-check, radiometer, new lamps: each ends in a sentence of control's."""
    open_job(page, "Self-check")
    press(page, "Check now")
    expect(page.get_by_text("later ones are compared with it")).to_be_visible()

    open_job(page, "Teach")
    page.get_by_label("Time known to be good").fill("6")
    press(page, "Start")
    work_out(page)
    press(page, "It was good: make it a dose")
    expect(page.get_by_text("Put this dose into the recipe")).to_be_visible()
    press(page, re.compile("into recipe film"))
    expect(page.get_by_text("Recipe film is written.")).to_be_visible()
    expect(page.get_by_text("Doses repeat, in units of this box", exact=False)).to_be_visible()
    taught = RecipeStore(twin.data / "recipes").load("film").recipe.dose_mj_cm2
    assert taught is not None
    assert taught < 60
    page.screenshot(path=ARTIFACTS / "light-relative-desk.png", full_page=True)
    page.get_by_role("link", name="See the recipe").click()
    expect(page.get_by_label("Dose at the resist", exact=False).first).to_have_value(f"{taught:g}")
    for way in ("Teach", "Tablet run"):
        page.goto(f"{twin.url}/recipes/film")
        page.get_by_role("link", name=way, exact=True).click()
        expect(page.get_by_role("radio", name="film")).to_be_checked()

    take_out(twin)
    open_job(page, "Test strip")
    page.get_by_label("Dose of the first zone").fill("12")
    page.get_by_label("Zones").fill("3")
    press(page, "Propose the strip")
    press(page, "Start the strip")
    work_out(page)
    page.get_by_text("Zone 2", exact=True).click()
    press(page, "Work it out")
    expect(page.get_by_text("The resist begins to hold between")).to_be_visible()

    take_out(twin)
    open_job(page, "Radiometer")
    press(page, "Light the lamps")
    with ControlClient(twin.socket) as client:
        while (lit := client.ask("state"))["state"] != "light":
            page.wait_for_timeout(50)
        while client.ask("state")["mono_s"] - lit["mono_s"] < STEADY_S:
            page.wait_for_timeout(50)
    page.get_by_label("The radiometer reads").fill("5.0")
    page.get_by_label("Its uncertainty").fill("4")
    press(page, "Set the calibration by it")
    expect(page.get_by_text("in the radiometer's unit now")).to_be_visible()
    press(page, "Lamps off")
    page.get_by_role("link", name="Bench").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Paused, lamps off")
    page.get_by_text("End this measurement for good").click()
    press(page, "Yes, give up this measurement")
    expect(page.get_by_role("heading", level=1)).to_have_text("Given up, lamps off")

    open_job(page, "New lamps")
    page.get_by_label("All tubes of the bank").check()
    page.get_by_label("If all: how many tubes").fill("6")
    page.get_by_label("Type").fill("invented tubes")
    page.get_by_label("Wavelength").fill("UV-A 365 nm")
    press(page, "Record these tubes")
    page.get_by_role("link", name="Calibrate with a step tablet").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Tablet run")
    open_job(page, "Safe dose window")
    for label, typed in (
        ("Clear film passes", "80"),
        ("Black film passes", "0.05"),
        ("Dose of the tablet panel", "60"),
    ):
        page.get_by_label(label).fill(typed)
    page.get_by_label("Last step held on it").fill("8")
    page.get_by_label("First step without any residue").fill("12")
    press(page, "Work it out")
    expect(page.get_by_text("Margin")).to_be_visible()


def test_a_sheet_and_a_field_by_the_page_alone(page: Page, twin: RunningTwin) -> None:
    """Ninety percent pass the sheet, and go into the recipe's stack; the field comes out as a map and a table."""
    page.get_by_role("link", name="Light", exact=True).click()
    page.get_by_role("link", name="Is my sheet good?").click()
    expect(page.get_by_text("1 of 3: nothing over the sensor")).to_be_visible()
    press(page, "Start")
    heading = page.get_by_role("heading", level=1)
    with ControlClient(twin.socket) as client:
        for leg in (1, 2, 3):
            attended(page, lambda: re.search("Next round|Done", heading.inner_text()) is not None)
            if leg == 3:
                break
            step = "lay the sheet over the sensor" if leg == 1 else "take the sheet off"
            expect(page.get_by_text(f"{leg + 1} of 3: {step}")).to_be_visible()
            open_lid(page)
            client.ask("simulate", do="sheet_laid" if leg == 1 else "sheet_lifted")
            press(page, "Shut the lid")
            light_next_leg(page)
    headline(page, "Done, lamps off")
    page.locator("#next-step").click()
    expect(page.get_by_text("This sheet passes UV")).to_be_visible()
    page.screenshot(path=ARTIFACTS / "light-sheets-desk.png", full_page=True)
    press(page, re.compile("into recipe film, side A"))
    expect(page.get_by_text("Recipe film is written.")).to_be_visible()
    stack = RecipeStore(twin.data / "recipes").load("film").recipe.transmission.a
    assert stack == pytest.approx(0.9, abs=0.02)

    take_out(twin)
    page.get_by_role("link", name="Light", exact=True).click()
    page.get_by_role("link", name="Is my light even?").click()
    page.get_by_text("Another area or recipe").click()
    page.get_by_label("Length of a round").fill("3")
    press(page, "Propose the places")
    page.screenshot(path=ARTIFACTS / "light-field-plan-desk.png", full_page=True)
    press(page, re.compile("Start: 11 places"))
    expect(page.get_by_text("2 of 11: sensor 100 mm to the left, 75 mm towards you")).to_be_visible()
    page.screenshot(path=ARTIFACTS / "light-field-step.png", full_page=True)
    work_out(page)
    expect(page.get_by_role("heading", name=re.compile("for recipe film"))).to_be_visible()
    page.get_by_text("From the sensor to the panel").click()
    page.get_by_label("Sensor in use").fill("0, 0")
    page.get_by_label("Panel: left").fill("-60, 60, -40, 40")
    press(page, "Work it out")
    expect(page.get_by_role("img", name=re.compile("Heat map of the field"))).to_be_visible()
    page.screenshot(path=ARTIFACTS / "light-field-desk.png", full_page=True)
