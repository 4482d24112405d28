"""The page Lamps in a browser: the curve under a finger, a swap recorded on a phone against the real control."""

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe  # type: ignore[import-untyped]
from playwright.sync_api import Browser, Page, expect

from sumlight.protocol.client import ControlClient
from sumlight.store.logbook.logbook import Logbook
from tests.browser.conftest import ARTIFACTS, DESK, PHONE, PHONE_AT_LEAST, WAIT_LIMIT_MS, Open, finger_reads
from tests.browser.test_look import assert_safelight
from tests.browser.test_twin import LONG
from tests.pressing import press
from tests.running import RunningTwin
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl, wait_until
from tests.webui.lamp_book import live
from tests.webui.operating import become_operator

INK = """canvas => { const { width, height } = canvas;
  const data = canvas.getContext('2d').getImageData(0, 0, width, height).data;
  const columns = new Set();
  for (let i = 3; i < data.length; i += 4) if (data[i] > 200) columns.add(((i - 3) / 4) % width);
  return columns.size / width; }"""


@pytest.fixture
def lives(data: Path, control: FakeControl) -> None:
    """One bank at work, the other worn out after losing a tube."""
    control.say(fake.snapshot(banks=[fake.bank(), fake.bank("upper", "B")]))
    live(data / "logbook.sqlite", worn=True)
    live(data / "logbook.sqlite", bank="upper", strength_mw_cm2=4.6, per_h=9e-4, factor_from=(200, 5 / 6))


@pytest.mark.usefixtures("lives")
def test_the_curve_is_drawn_and_reads_out_what_is_under_the_finger(visit: Open) -> None:
    """Over the whole width; a place on the curve is named with its interval, as the numbers of the page have it."""
    seen = visit(PHONE)
    seen.go("/lamps/")
    canvas = seen.page.locator("canvas.life").first
    canvas.scroll_into_view_if_needed()
    wait_until(lambda: canvas.evaluate(INK) > 0.8)
    box, data = canvas.bounding_box(), json.loads(canvas.get_attribute("data-values") or "")
    assert box is not None
    readout = seen.page.locator("[data-readout]").first
    canvas.hover(position={"x": box["width"] * 0.8, "y": 30})
    expect(readout).to_have_text(re.compile(r"^\d+ h: \d\.\d{3} \(\d\.\d{3} – \d\.\d{3}\) mW/cm²$"))
    told = [float(number) for number in re.findall(r"[\d.]+", readout.inner_text())[:4]]
    nearest = min(data["line"], key=lambda row: abs(row[0] - told[0]))
    assert told[1:] == pytest.approx(nearest[1:], abs=6e-4)
    seen.picture("lamps-curve-phone")


@pytest.mark.usefixtures("lives")
def test_a_german_drawing_reads_out_with_a_decimal_comma(visit: Open) -> None:
    """What the script writes under the finger, as the page's other numbers."""
    seen = visit(PHONE)
    seen.go("/lamps/")
    seen.page.get_by_role("button", name="Deutsch").click()
    expect(seen.page.locator("html")).to_have_attribute("lang", "de")
    canvas = seen.page.locator("canvas.life").first
    canvas.scroll_into_view_if_needed()
    wait_until(lambda: canvas.evaluate(INK) > 0.8)
    finger_reads(
        canvas,
        (250, 30),
        seen.page.locator("[data-readout]").first,
        r"^\d+ h: \d,\d{3} \(\d,\d{3} – \d,\d{3}\) mW/cm²$",
    )


@pytest.mark.usefixtures("lives")
def test_on_paper_and_without_script_the_curve_is_a_drawing(visit: Open) -> None:
    """The canvas gives way to it."""
    seen = visit(DESK, script=False)
    seen.go("/lamps/")
    expect(seen.page.locator(".paper svg").first).to_be_visible()
    expect(seen.page.locator("canvas.life").first).to_be_hidden()
    with_script = visit(DESK)
    with_script.go("/lamps/")
    expect(with_script.page.locator(".paper svg").first).to_be_hidden()
    with_script.page.emulate_media(media="print")
    expect(with_script.page.locator(".paper svg").first).to_be_visible()
    expect(with_script.page.locator("canvas.life").first).to_be_hidden()
    with_script.picture("lamps-print")


@PHONE_AT_LEAST
@pytest.mark.usefixtures("lives")
def test_everything_opened_and_every_mistake_shown_stays_safe_and_accessible(
    browser: Browser, visit: Open, size: dict[str, int]
) -> None:
    """Tables of numbers open, two banks, the form with all of its mistakes; by pixels and by axe's rules."""
    seen = visit(size)
    seen.go("/lamps/")
    for summary in seen.page.locator("summary").all():
        summary.click()
    seen.page.wait_for_timeout(300)
    assert_safelight(browser, seen.picture(f"lamps-open-{size['width']}"))
    assert Axe().run(seen.page).violations_count == 0
    seen.page.get_by_label("Replace lamps at").fill("7")
    seen.page.get_by_role("button", name="Save the level").click()
    expect(seen.page.get_by_text("7 is not possible here: from 30 to 95 %. Nothing was changed.")).to_be_visible()
    assert Axe().run(seen.page).violations_count == 0
    seen.go("/lamps/tubes")
    seen.page.get_by_label("Expected life").fill("long")
    seen.page.get_by_role("button", name="Record these tubes").click()
    expect(seen.page.get_by_text("Choose the bank.")).to_be_visible()
    assert_safelight(browser, seen.picture(f"lamps-tubes-mistakes-{size['width']}"))
    assert Axe().run(seen.page).violations_count == 0
    assert seen.page.evaluate("() => document.documentElement.scrollWidth") <= size["width"]


@pytest.fixture
def twin(tmp_path: Path) -> Iterator[RunningTwin]:
    """A running twin whose lamps have half a year on record."""
    (tmp_path / "recipes").mkdir()
    (tmp_path / "recipes" / "film.yaml").write_text(LONG, encoding="utf-8")
    live(tmp_path / "logbook.sqlite")
    with RunningTwin(tmp_path, speed=4.0) as running, ControlClient(running.socket) as client:
        running.wait_until_ready(client)
        yield running


@pytest.fixture
def phone(browser: Browser, twin: RunningTwin) -> Iterator[Page]:
    """A phone on the page Lamps."""
    page = browser.new_page(viewport={"width": PHONE["width"], "height": PHONE["height"]}, locale="en")
    page.set_default_timeout(WAIT_LIMIT_MS)
    ARTIFACTS.mkdir(exist_ok=True)
    become_operator(page, twin.url, twin.data)
    page.goto(f"{twin.url}/lamps/")
    yield page
    page.close()


def test_somebody_looks_at_the_curve_and_records_new_lamps_on_a_phone(phone: Page, twin: RunningTwin) -> None:
    """During an exposure it is refused in control's words; afterwards the new set is there, and calibrating is next."""
    expect(phone.get_by_role("heading", name=re.compile(r"Bank lower: \d\d % of new"))).to_be_visible()
    expect(phone.get_by_text("At the present use of")).to_be_visible()
    with ControlClient(twin.socket) as client:
        press(client, "start", recipe="film", panel="P1", note="")
        while client.ask("state")["state"] != "light":
            phone.wait_for_timeout(50)
        phone.get_by_role("link", name="Record new tubes in bank lower").click()
        phone.get_by_label("Type").fill("T8 15 W new (invented)")
        phone.get_by_label("Mark on the tube").fill("lot 7")
        phone.get_by_role("button", name="Record these tubes").click()
        expect(phone.get_by_text("Tubes cannot be changed during an exposure.")).to_be_visible()
        client.ask("dark")
        client.ask("abandon")
        while client.ask("state")["state"] != "done":
            phone.wait_for_timeout(50)
    phone.get_by_role("button", name="Record these tubes").click()
    expect(phone.get_by_text("New lamps are recorded for bank lower.")).to_be_visible()
    phone.screenshot(path=ARTIFACTS / "lamps-new-set-phone.png", full_page=True)
    phone.locator("summary").filter(has_text=re.compile(r"^Tubes$")).click()
    tubes = phone.get_by_role("group", name="Tubes of bank lower")
    expect(tubes.get_by_role("row")).to_have_count(7)
    expect(tubes.get_by_role("row").nth(1)).to_contain_text("T8 15 W new (invented)")
    expect(tubes.get_by_role("row").nth(1)).to_contain_text("0 of 2000")
    phone.get_by_text("Tubes that were taken out").click()
    expect(phone.get_by_role("group", name="Tubes taken out of bank lower").get_by_role("row")).to_have_count(7)
    with Logbook.open_reader(twin.data / "logbook.sqlite") as book:
        assert {tube["label"] for tube in book.lamps.tubes("lower", removed=False)} == {"lot 7"}
        assert all(tube["hours"] >= 480 for tube in book.lamps.tubes("lower") if tube["removed_utc"])
    phone.get_by_role("link", name="Calibrate with a step tablet").click()
    expect(phone.get_by_role("heading", level=1)).to_have_text("Tablet run")
