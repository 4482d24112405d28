"""A newcomer with only the page: from a box whose number is wrong to a calibrated one, on the real twin."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from sumlight.protocol.client import ControlClient
from sumlight.twin import demo
from sumlight.twin.panel import Panel, Resist
from tests.browser.acting import act, choose
from tests.browser.conftest import ARTIFACTS, PHONE, WAIT_LIMIT_MS
from tests.browser.test_twin import DOSE_MJ_CM2, RECIPE, attended, headline, open_lid
from tests.running import RunningTwin
from tests.webui.operating import become_operator

SPEED = 6.0
WRONG = 1.35
"""The number in box.yaml says so many times too much."""
TARGET_STEP = 8
REFERENCE_MJ_CM2 = 36.0
THRESHOLD_MJ_CM2 = REFERENCE_MJ_CM2 * 10 ** -(0.05 + 0.15 * (TARGET_STEP - 1))
"""Behind step 8 of the usual 21-step tablet, 0.05 + 7 × 0.15 dense (definition of density, ISO 5-2)."""


@pytest.fixture
def box(tmp_path: Path) -> Path:
    """The demo box with a number that is off, and says itself that it is doubtful."""
    text = demo.BOX.read_text(encoding="utf-8").replace("0.50673", f"{WRONG * 0.50673:.5f}")
    file = tmp_path / "box.yaml"
    file.write_text(text.replace("calibration_uncertainty: 0.06", "calibration_uncertainty: 0.3"), encoding="utf-8")
    return file


@pytest.fixture
def twin(tmp_path: Path, box: Path) -> Iterator[RunningTwin]:
    """A running twin, some times faster than life, with nobody at it."""
    shelf = tmp_path / "data" / "recipes"
    shelf.mkdir(parents=True)
    (shelf / "film.yaml").write_text(RECIPE.replace(f"{DOSE_MJ_CM2}", f"{REFERENCE_MJ_CM2}"), encoding="utf-8")
    with RunningTwin(tmp_path / "data", speed=SPEED, box=box) as running, ControlClient(running.socket) as client:
        running.wait_until_ready(client)
        yield running


def press(page: Page, name: str | re.Pattern[str]) -> None:
    """Press the button of that name."""
    page.get_by_role("button", name=name).first.click()


def light_next_leg(page: Page) -> None:
    """Press, and wait until it has begun; at this speed it may be over before anybody looks."""
    states = page.locator("table.legs tbody td:last-child")
    before = states.all_inner_texts()
    act(page, "Light round")
    attended(page, lambda: states.all_inner_texts() not in (before, []))


def expose_on_the_bench(page: Page) -> None:
    """Do what the Bench asks for, leg by leg, until it says that all is done."""
    heading = page.get_by_role("heading", level=1)
    while True:
        attended(page, lambda: re.search("Next round|Done", heading.inner_text()) is not None)
        if page.locator("#next-step").is_visible():
            return
        open_lid(page)
        press(page, "Shut the lid")
        light_next_leg(page)


def change_panel(page: Page) -> None:
    """On the Bench, with the hands of the simulated box: what was lit last is taken out."""
    open_lid(page)
    press(page, "Shut the lid")
    expect(page.get_by_text("Shut", exact=True)).to_be_visible()


def test_a_newcomer_calibrates_the_box_with_nothing_but_the_page(browser: Browser, twin: RunningTwin) -> None:
    """Every step is one that the page before it names; the panel is developed by the twin's resist, not by control."""
    page = browser.new_page(viewport={"width": PHONE["width"], "height": PHONE["height"]})
    page.set_default_timeout(WAIT_LIMIT_MS)
    ARTIFACTS.mkdir(exist_ok=True)
    become_operator(page, twin.url, twin.data)
    try:
        page.goto(twin.url)
        page.get_by_role("link", name="Light", exact=True).click()
        page.get_by_role("link", name="Is my dose right?").click()
        expect(page.get_by_role("heading", name="Lamps lower: check due")).to_be_visible()
        page.get_by_text("The figures").click()
        expect(page.get_by_text("a number that its builder wrote in", exact=True)).to_be_visible()
        page.screenshot(path=ARTIFACTS / "light-uncalibrated.png", full_page=True)
        page.get_by_role("link", name="Begin a tablet run").click()
        press(page, "Propose the doses")
        expect(page.get_by_text("Expose 4 zones of one panel")).to_be_visible()
        page.screenshot(path=ARTIFACTS / "light-plan.png", full_page=True)
        press(page, re.compile("Start with zone 1"))
        expose_on_the_bench(page)
        page.screenshot(path=ARTIFACTS / "light-bench.png", full_page=True)
        page.get_by_role("link", name="enter the readings").click()
        with ControlClient(twin.socket) as client:
            true = client.ask("state")["true_dose_mj_cm2"]
        panel = Panel(Resist(threshold_mj_cm2=THRESHOLD_MJ_CM2), 3)
        page.get_by_text("Last step held", exact=True).click()
        for zone, dose in true.items():
            seen = panel.develop_tablet(dose, zone=zone)
            page.get_by_label(f"Step in zone {zone}").fill(str(seen.step))
            if seen.half:
                page.locator(f"[name=half_{zone}]").check()
        press(page, "Work it out")
        expect(page.get_by_text("95 % interval")).to_be_visible()
        page.screenshot(path=ARTIFACTS / "light-result.png", full_page=True)
        press(page, "Set the calibration by it")
        expect(page.get_by_role("heading", name="The calibration is set")).to_be_visible()
        page.get_by_role("link", name="See the state of calibration").click()
        expect(page.get_by_role("heading", name="Lamps lower: calibration holds")).to_be_visible()
        page.get_by_text("The figures").click()
        expect(page.get_by_text("a step tablet", exact=True)).to_be_visible()
        page.screenshot(path=ARTIFACTS / "light-calibrated.png", full_page=True)
        assert true_over_counted(page, twin) == pytest.approx(1.0, abs=0.1)
    finally:
        page.close()


def true_over_counted(page: Page, twin: RunningTwin) -> float:
    """An ordinary panel, started on the Bench: its true dose over what the box counted."""
    page.get_by_role("link", name="Bench", exact=True).click()
    change_panel(page)
    choose(page, "film")
    page.get_by_label("Label of the panel").fill("P1")
    act(page, "Light film")
    expect(page.get_by_text("Panel P1, recipe film")).to_be_visible()
    headline(page, "Done, lamps off")
    with ControlClient(twin.socket) as client:
        state = client.ask("state")
    return float(state["true_dose_mj_cm2"]["A"] / state["exposure"]["sides"][0]["dose_mj_cm2"])
