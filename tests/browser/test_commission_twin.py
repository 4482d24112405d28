"""Commissioning from a phone: the whole way on the twin, over the kill and back, and the override of a locked box."""

import re
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe  # type: ignore[import-untyped]
from playwright.sync_api import Browser, Page, expect

from sumlight.box.wiring import wiring_sha256
from sumlight.control.daemon import LOGBOOK
from sumlight.protocol.client import ControlClient
from sumlight.store.logbook.logbook import Logbook
from tests.browser.conftest import ARTIFACTS, PHONE, WAIT_LIMIT_MS
from tests.browser.test_look import assert_safelight
from tests.control.bench_box import demo_box
from tests.control.commission_run import ALL_STEPS
from tests.control.real_box import RealBox
from tests.running import RunningTwin, first_in_line
from tests.webui.operating import become_operator
from tests.webui.page_process import page_process

SPEED = 5.0
PATIENCE_S = 600.0
FEW_STEPS = 5
"""Up to the over-temperature contact: readings, and contacts held by hand. All others by hand are as these."""


@pytest.fixture
def twin(tmp_path: Path) -> Iterator[RunningTwin]:
    """A running twin, some times faster than life, with nobody at it."""
    with RunningTwin(tmp_path, speed=SPEED) as running, ControlClient(running.socket) as client:
        running.wait_until_ready(client)
        yield running


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A phone."""
    ARTIFACTS.mkdir(exist_ok=True)
    context = browser.new_context(viewport={"width": PHONE["width"], "height": PHONE["height"]}, locale="en")
    page = context.new_page()
    page.set_default_timeout(WAIT_LIMIT_MS)
    yield page
    context.close()


def picture(browser: Browser, page: Page, name: str) -> None:
    """Keep it, and look at its colours and at what axe finds."""
    path = ARTIFACTS / f"commission-{name}.png"
    page.screenshot(path=path, full_page=True)
    assert_safelight(browser, path)
    results = Axe().run(page)
    assert results.violations_count == 0, f"{name}: {results.generate_report()}"


class Walk:
    """Presses what the page offers until the run is over; notes the steps, and what was told while control was away."""

    def __init__(self, browser: Browser, page: Page, twin: RunningTwin) -> None:
        self.browser, self.page, self.twin = browser, page, twin
        self.titles: list[str] = []
        self.away = ""
        self._hand_given_for = ""

    def to_the_end(self, steps: int) -> None:
        """Step by step, or until that many have begun."""
        until_s = time.monotonic() + PATIENCE_S
        while not self.page.locator("#begin").count():  # between two pages there is no #abort either
            if steps < len(ALL_STEPS) and len(self.titles) >= steps:
                return
            told = self.page.locator("[data-part=told]").inner_text()
            assert time.monotonic() < until_s, f"came to a standstill at: {told}"
            self._note(told)
            self._press(told)
        self.page.wait_for_timeout(700)
        # On a crowded machine control may be held up, which ends the run: then do what the page says.
        if self.page.locator("table.reactions").get_by_text("loop_late").count():
            self.titles.clear()
            self.page.locator("#anew").click()
            self.page.get_by_label("Your name").fill("A. Nyone")
            self.page.get_by_role("button", name="Begin commissioning").click()
            self.to_the_end(steps)

    def _note(self, told: str) -> None:
        found = re.search(r"Step \d+ of 17: (.+)", told)
        if found is None:
            self.away += f"{told}\n"  # that it has passed may be read here, too, before the next page
        elif found[1] not in self.titles:
            self.titles.append(found[1])
            if len(self.titles) in (2, 8):
                picture(self.browser, self.page, f"step-{len(self.titles)}")

    def _press(self, told: str) -> None:
        at = self.page.locator("input[name=at]").first
        meant = at.get_attribute("value") if at.count() else ""
        if self.page.locator("#f-leak_mw_cm2").count():
            self.page.locator("#f-leak_mw_cm2").fill("0,004")
            self.page.locator("#go").click()
        elif self.page.locator("#goyes").count():
            first_in_line(self.twin.control_pid())
            picture(self.browser, self.page, "asked")
            self.page.locator("#goyes").click()
        elif self.page.locator("#hand").count() and self._hand_given_for != told:
            self._hand_given_for = told
            self.page.locator("#hand").click()
            self.page.wait_for_timeout(600)  # a hand takes its time, and the box must see what it did
        elif meant and told == self.page.locator("[data-part=told]").inner_text():
            # Only what was read is confirmed: the page may have gone on since.
            self.page.locator(f'form:has(input[value="{meant}"]) #go').click()
        else:
            self.page.wait_for_timeout(200)


@pytest.mark.timeout(1800)
@pytest.mark.parametrize("steps", [FEW_STEPS, pytest.param(len(ALL_STEPS), marks=pytest.mark.campaign)])
def test_a_newcomer_commissions_the_twin_from_a_phone(
    browser: Browser, page: Page, twin: RunningTwin, steps: int
) -> None:
    """A late press of a second browser at the first; in the campaign every step, the kill of control and the report."""
    become_operator(page, twin.url, twin.data)
    page.goto(twin.url)
    page.get_by_role("link", name="Box", exact=True).click()
    page.get_by_role("link", name="To commissioning and its reports").click()
    expect(page.get_by_text("Simulated box: nothing is locked here")).to_be_visible()
    picture(browser, page, "begin")
    page.get_by_label("Your name").fill("")  # the operator's own stands there
    page.get_by_role("button", name="Begin commissioning").click()
    expect(page.locator("#f-who-error")).to_have_text("Say who does it: the name stands in the report.")
    page.get_by_label("Your name").fill("A. Nyone")
    page.get_by_role("button", name="Begin commissioning").click()
    expect(page.get_by_role("heading", name="Step 1 of 17: The lid reads shut")).to_be_visible()
    late = browser.new_context(java_script_enabled=False, locale="en")
    second = late.new_page()
    become_operator(second, twin.url, twin.data)
    second.goto(f"{twin.url}/box/commissioning")
    before = twin.control_pid()

    page.locator("#go").click()
    expect(page.get_by_role("heading", name="Step 2 of 17: K1's mirror shows it dropped at rest")).to_be_visible()
    second.locator("#go").click()
    expect(second.locator("#answer")).to_contain_text("The commissioning has gone on meanwhile.")
    expect(second.get_by_role("heading", name="Step 2 of 17: K1's mirror shows it dropped at rest")).to_be_visible()
    late.close()
    walk = Walk(browser, page, twin)
    walk.to_the_end(steps)
    if steps < len(ALL_STEPS):
        assert len(walk.titles) == steps
        with ControlClient(twin.socket) as client:
            results = client.ask("state")["commissioning"]["run"]["results"]
        assert all(result["passed"] for result in results)
        assert len(results) >= steps - 1  # the last has only begun; one that was begun anew counts its first, too
        return

    expect(page.get_by_text("Commissioning has passed.")).to_be_visible()
    assert len(walk.titles) >= len(ALL_STEPS) - 1  # the first was walked above
    assert "After the kill that is as it must be" in walk.away
    assert twin.control_pid() != before
    rows = page.locator("table.reactions tbody")
    expect(rows).to_have_count(len(ALL_STEPS))
    expect(rows.filter(has_text="FAILED")).to_have_count(0)
    expect(rows.filter(has_text="The lid darkens the lamps")).to_contain_text(
        re.compile(r"Lamps told to go dark\s*0\.0")
    )
    picture(browser, page, "passed")
    page.get_by_role("link", name="Open the report of this run").click()
    expect(page.get_by_role("heading", name="Commissioning of Demo box")).to_be_visible()
    expect(page.get_by_text("A. Nyone")).to_be_visible()
    picture(browser, page, "report")
    with ControlClient(twin.socket) as client:
        state = client.ask("state")
    assert state["commissioning"]["passed_by"] == "A. Nyone"
    assert not any(bank["commanded"] for bank in state["banks"])


@pytest.mark.timeout(900)
def test_giving_up_and_dark_are_one_press_away_under_light(page: Page, twin: RunningTwin) -> None:
    """While the lamps burn for a step; nothing is lit afterwards, and the run has to be begun anew."""
    become_operator(page, twin.url, twin.data)
    page.goto(f"{twin.url}/box/commissioning")
    page.get_by_label("Your name").fill("A. Nyone")
    page.get_by_role("button", name="Begin commissioning").click()
    with ControlClient(twin.socket) as client:
        for _press in range(400):  # as the buttons do; the walk itself is tested above
            run = client.ask("state")["commissioning"]["run"]
            if run["outcome"] == "failed" and "loop_late" in run["results"][-1]["found"]:
                client.ask("commission_begin", who="A. Nyone")  # a crowded machine, as above
                continue
            if (run["step"], run["phase"]) == ("lid_under_light", "act"):
                break
            if run["phase"] in ("act", "undo") and run["kind"] in ("reading", "watch", "alone"):
                client.ask("simulate", do="as_asked")
                time.sleep(0.3)
            if run["waits_for_next"]:
                said = {"button": {"answer": "yes"}, "place": {"at_the_box": True}}.get(run["asks"] or "", {})
                client.ask("commission_next", at=run["at"], **said)  # type: ignore[arg-type]
            _wait_past(client, run["at"])
        expect(page.get_by_role("heading", name="Step 12 of 17")).to_be_visible()
        expect(page.get_by_text("Switched on")).to_be_visible()
        page.get_by_role("button", name="Give up this commissioning: lamps off").click()
        expect(page.get_by_text("Commissioning was given up. It has to be started again.")).to_be_visible()
        state = client.ask("state")
    assert not any(bank["commanded"] for bank in state["banks"])
    expect(page.get_by_role("button", name="Lamps off")).to_be_visible()


def _wait_past(client: ControlClient, at: str) -> None:
    until_s = time.monotonic() + PATIENCE_S / 5
    while (run := client.ask("state")["commissioning"]["run"])["at"] == at and run["outcome"] is None:
        assert time.monotonic() < until_s, at
        time.sleep(0.05)


@pytest.fixture
def locked(tmp_path: Path) -> Iterator[Path]:
    """The data folder of a box that nobody has commissioned; its control runs in a thread of this process."""
    ready, stop = threading.Event(), threading.Event()

    def control() -> None:
        first_in_line(0)
        box = RealBox(tmp_path, demo_box(), speed=1.0)
        box.daemon.serve(tmp_path / "control.sock")
        ready.set()
        try:
            while not stop.is_set():
                box.daemon.step()
        finally:
            box.daemon.close()

    thread = threading.Thread(target=control, name="control")
    thread.start()
    assert ready.wait(120)
    yield tmp_path
    stop.set()
    thread.join()


def test_a_locked_box_is_unlocked_by_name_and_reason_and_says_so_from_then_on(
    browser: Browser, page: Page, locked: Path
) -> None:
    """The Bench leads there; a short reason is not taken; who and why stand on the Bench and in the logbook."""
    with page_process(locked / "control.sock", locked) as served:
        become_operator(page, served.address, locked)
        page.goto(served.address)
        expect(page.get_by_text("not been commissioned for its present wiring")).to_be_visible()  # and only once
        expect(page.locator("#act button")).to_have_count(0)
        picture(browser, page, "bench-locked")
        page.locator("#commissioning").click()
        expect(page.get_by_text("UV glasses on, skin covered, two people")).to_be_visible()
        page.get_by_text("Unlock without commissioning").click()
        page.get_by_label("Who unlocks it").fill("B. Ench")
        page.get_by_label("Why").fill("later")
        page.get_by_role("button", name="Unlock exposures, on record").click()
        expect(page.locator("#f-reason-error")).to_contain_text("at least 8 letters")
        expect(page.get_by_label("Who unlocks it")).to_have_value("B. Ench")
        picture(browser, page, "override")
        page.get_by_label("Why").fill("the radiometer comes tomorrow")
        page.get_by_role("button", name="Unlock exposures, on record").click()
        expect(page.get_by_text(re.compile("Unlocked all the same on .* by B. Ench: the radiometer"))).to_be_visible()
        expect(page.get_by_text("Unlock without commissioning")).to_have_count(0)
        page.get_by_role("link", name="Bench").click()
        expect(page.get_by_text(re.compile("unlocked by B. Ench on .*: the radiometer comes tomorrow"))).to_be_visible()
        expect(page.locator("#act")).to_have_count(1)
    with Logbook.open_reader(locked / LOGBOOK) as book:
        override = book.commissioned(wiring_sha256(demo_box())).override
    assert override is not None
    assert (override.who, override.reason) == ("B. Ench", "the radiometer comes tomorrow")
