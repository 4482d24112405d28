"""How the pages look and feel: safelight colours, touch targets, narrow screens, accessibility."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe  # type: ignore[import-untyped]
from playwright.sync_api import Browser, Page, expect

from sumlight.text.message import as_written
from tests.browser import shared
from tests.browser.acting import fed
from tests.browser.conftest import DESK, PHONE, PHONE_AT_LEAST, Open, Visit, drawn, finger_reads, until_it_says
from tests.browser.pixels import colours
from tests.browser.shop_data import REPORT_NAME, RUNS, lived_in
from tests.webui import commission_told as told
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl
from tests.webui.given import ARTWORK, BATHS, JOBS, LIGHT, STOCK
from tests.webui.page_process import PageProcess

control, data, lasting_control, served = shared.control, shared.data, shared.lasting_control, shared.served

MOST_BLUE = round(0.05 * 255)
MOST_GREEN = round(0.55 * 255)
"""Safelight rule of the design: a screen beside open resist must not expose it."""

SMALLEST_TARGET_PX = 48

PATHS = (
    "/",
    "/recipes/",
    "/recipes/new",
    "/recipes/blue-38",
    "/recipes/blue-38/copy",
    "/recipes/blue-38/history",
    "/recipes/blue-38/results",
    "/recipes/blue-38/sheet",
    "/recipes/compare?a=blue-38&b=board-turned",
    "/recipes/import",
    "/recipes/shared",
    "/panels/?panel=P",
    "/panels/1",
    "/panels/1/traveller",
    "/panels/1/why",
    "/panels/2",
    "/panels/drift",
    "/lamps/",
    "/lamps/tubes?bank=lower",
    "/box/",
    "/box/faults",
    "/box/first",
    "/box/changes",
    "/box/commissioning",
    f"/box/commissioning/reports/{REPORT_NAME}",
    "/access/",
    "/offline",
    "/help/",
    "/help/?q=lid",
    "/help/access",
    "/help/faults",
    "/help/recipes",
    "/nowhere",
    *LIGHT,
    *RUNS.values(),
    *JOBS,
    *BATHS,
    *STOCK,
    *ARTWORK,
)


@pytest.fixture(scope="module")
def long_life(data: Path) -> None:
    """A shop's data: whatever can stand on a page."""
    lived_in(data)


@pytest.fixture
def busy(long_life: None, control: FakeControl, served: PageProcess) -> FakeControl:
    """A box that shows all it can at once: a fault, two sides, warnings, a full disk, a doubtful panel, drift."""
    both = fake.exposure(
        fake.side("A"),
        fake.side("B", state="waiting"),
        pause_cause="fault",
        doubtful=True,
        doubtful_why=as_written("gap too long"),
    )
    control.say(
        fake.snapshot(
            state="paused",
            sentence=as_written("The lamps are off."),
            may=["go", "abandon", "dark", "acknowledge", "start"],
            lid="disagree",
            banks=[fake.bank(commanded=True), fake.bank("upper", "B", meter_ok=False)],
            faults=[fake.fault()],
            warnings=[as_written("No contactor K1 enable line is declared.")],
            logbook={"ok": False, "message": as_written("The disk is full."), "lag_s": 4.0, "keep_traces_days": None},
            exposure=both,
            commissioning=told.told(run=told.FAILED),
        )
    )
    until_it_says(served, "The disk is full.")
    return control


def assert_safelight(browser: Browser, picture: Path) -> None:
    """No pixel of the picture has more blue or green than the rule allows."""
    red, green, blue = (max(channel) for channel in zip(*colours(browser, picture), strict=True))
    assert red > 150, "the picture shows nothing"
    assert green <= MOST_GREEN, f"{picture.name}: green {green}"
    assert blue <= MOST_BLUE, f"{picture.name}: blue {blue}"


def assert_accessible(page: Page, name: str, theme: str = "safelight") -> None:
    """No fault of axe's rules; in daylight of those about colours, for that is all in which the two differ."""
    rules = {"runOnly": {"type": "rule", "values": ["color-contrast"]}} if theme == "daylight" else {}
    results = Axe().run(page, options={"resultTypes": ["violations"], **rules})
    assert results.violations_count == 0, f"{name}: {results.generate_report()}"


@PHONE_AT_LEAST
def test_no_pixel_of_any_page_exposes_resist(
    browser: Browser, visit: Open, busy: FakeControl, size: dict[str, int]
) -> None:
    """Every page, by default, with everything on it that can be."""
    seen = visit(size)
    for path in PATHS:
        seen.go(path)
        drawn(seen.page)
        assert_safelight(browser, seen.picture(f"safelight{path.partition('?')[0].replace('/', '-')}-{size['width']}"))


def _focus(seen: Visit) -> None:
    seen.page.get_by_label("Dose at the resist").focus()


def _select_text(seen: Visit) -> None:
    seen.page.get_by_label("Dose at the resist").fill("123456")
    seen.page.get_by_label("Dose at the resist").select_text()


def _select_page(seen: Visit) -> None:
    seen.page.keyboard.press("Control+a")


def _focus_radio(seen: Visit) -> None:
    seen.page.get_by_label("One side").focus()
    seen.page.keyboard.press("ArrowDown")


def _hover(seen: Visit) -> None:
    seen.page.get_by_role("button", name="Save recipe").hover()


def _press(seen: Visit) -> None:
    seen.page.get_by_role("button", name="Lamps off").hover()
    seen.page.mouse.down()


def _follow_tab(seen: Visit) -> None:
    for _ in range(4):
        seen.page.keyboard.press("Tab")


def _drag(seen: Visit) -> None:
    seen.page.get_by_label("Note").fill("a line\n" * 40)
    seen.page.mouse.wheel(0, 3000)


@pytest.mark.parametrize("act", [_focus, _select_text, _select_page, _focus_radio, _hover, _press, _follow_tab, _drag])
def test_form_controls_stay_safe_whatever_is_done_to_them(
    browser: Browser, visit: Open, act: Callable[[Visit], None]
) -> None:
    """Focus rings, selected text, radio buttons, the text cursor, scroll bars."""
    seen = visit({"width": 500, "height": 500})
    seen.go("/recipes/blue-38")
    act(seen)
    assert seen.page.evaluate("() => innerWidth - document.documentElement.clientWidth") > 5, "no scroll bar"
    assert_safelight(browser, seen.window(f"safelight-{act.__name__.strip('_')}"))


NEWER = (
    "/light/tablet",
    "/light/radiometer",
    "/light/window",
    "/light/field",
    "/recipes/import",
    "/box/",
    "/box/commissioning",
    f"/box/commissioning/reports/{REPORT_NAME}",
    "/access/",
)
CONTROLS = ("input[type=text]", "input[type=password]", "input[type=radio]", "input[type=checkbox]", "textarea",
            "input[type=file]", "select", "summary", "main button", "main a.button", ".scroll")  # fmt: skip


@pytest.mark.parametrize("path", NEWER)
def test_controls_of_newer_pages_stay_safe_under_hand_and_keyboard(
    browser: Browser, visit: Open, busy: FakeControl, tmp_path: Path, path: str
) -> None:
    """The first of each kind: pointed at with the keyboard on it, text selected, a file chosen."""
    file = tmp_path / "a.yaml"
    file.write_text("resist: x\n", encoding="utf-8")
    seen = visit({"width": 500, "height": 500})
    seen.go(path)
    for summary in seen.page.locator("main summary").all():
        summary.click()
    seen.page.keyboard.press("Shift")  # from here on focus is shown as for a keyboard
    done = 0
    for number, kind in enumerate(CONTROLS):
        control = seen.page.locator(f"{kind}:visible").first
        if not control.count() or control.is_disabled():
            continue
        if kind in ("input[type=text]", "textarea"):
            control.fill("12.5")
            control.select_text()
        elif kind == "input[type=file]":
            control.set_input_files(file)
        control.focus()
        control.hover(force=True)
        name = path.strip("/").replace("/", "-").partition(".")[0]
        assert_safelight(browser, seen.window(f"safelight-hand-{name}-{number}"))
        done += 1
    assert done >= 2


def test_the_picture_check_sees_a_wrong_colour(browser: Browser, visit: Open) -> None:
    """Daylight colours, which are asked for by a press and remembered, do not pass as safelight."""
    seen = visit(PHONE)
    seen.go()
    seen.page.get_by_role("button", name="Daylight colours").click()
    expect(seen.page.locator("html")).to_have_attribute("data-theme", "daylight")
    seen.go("/recipes/")
    picture = seen.picture("daylight-recipes-360")
    assert max(blue for _, _, blue in colours(browser, picture)) > 200
    seen.go()
    seen.picture("daylight-bench-360")
    with pytest.raises(AssertionError, match="green"):
        assert_safelight(browser, picture)
    seen.page.get_by_role("button", name="Safelight colours").click()
    expect(seen.page.locator("html")).to_have_attribute("data-theme", "safelight")


@pytest.mark.parametrize(
    ("theme", "size"),
    [
        pytest.param("safelight", PHONE, id="safelight-phone"),
        pytest.param("daylight", DESK, id="daylight-desk", marks=pytest.mark.campaign),
        pytest.param("safelight", DESK, id="safelight-desk", marks=pytest.mark.campaign),
        pytest.param("daylight", PHONE, id="daylight-phone", marks=pytest.mark.campaign),
    ],
)
def test_pages_have_no_accessibility_faults(visit: Open, busy: FakeControl, size: dict[str, int], theme: str) -> None:
    """axe-core's rules, in both colours: labels, contrast, roles, headings."""
    seen = visit(size)
    seen.go()
    if theme == "daylight":
        seen.page.get_by_role("button", name="Daylight colours").click()
    for path in PATHS:
        seen.go(path)
        drawn(seen.page)
        assert_accessible(seen.page, path, theme)


BORDERS = """() => {
  const found = [];
  for (const e of document.querySelectorAll('input:not([type=hidden]), textarea, .pick, button')) {
    if (!e.getClientRects().length) continue;
    const clear = (each) => getComputedStyle(each).backgroundColor === 'rgba(0, 0, 0, 0)';
    let under = e.parentElement;
    while (clear(under) && under.parentElement) under = under.parentElement;
    const style = getComputedStyle(e);
    found.push([e.outerHTML.slice(0, 80), style.borderTopColor, getComputedStyle(under).backgroundColor]);
  }
  return found;
}"""


def luminance(colour: str) -> float:
    """Relative luminance of `rgb(r, g, b)` (WCAG 2.2, its definition)."""
    parts = [int(part) / 255 for part in re.findall(r"\d+", colour)[:3]]
    red, green, blue = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("theme", ["safelight", "daylight"])
def test_what_is_typed_into_and_pressed_has_an_edge_that_can_be_seen(visit: Open, theme: str) -> None:
    """At least 3 : 1 against what lies around it (WCAG 2.2, success criterion 1.4.11)."""
    seen = visit(DESK)
    seen.go()
    if theme == "daylight":
        seen.page.get_by_role("button", name="Daylight colours").click()
    for path in ("/", "/recipes/new", "/light/tablet", "/access/"):
        seen.go(path)
        edges = seen.page.evaluate(BORDERS)
        assert len(edges) > 3
        for html, edge, ground in edges:
            bright, dim = sorted((luminance(edge), luminance(ground)), reverse=True)
            assert (bright + 0.05) / (dim + 0.05) >= 3, f"{path}: {html}: {edge} on {ground}"


def test_axe_finds_a_fault_that_is_put_in(visit: Open) -> None:
    """So that silence means something."""
    seen = visit(DESK)
    seen.go("/recipes/new")
    seen.page.evaluate("() => document.querySelector('label[for=f-name]').remove()")
    with pytest.raises(AssertionError, match="label"):
        assert_accessible(seen.page, "/recipes/new")


def test_axe_finds_letters_that_are_too_faint_in_daylight(visit: Open) -> None:
    """There it looks for nothing else."""
    seen = visit(DESK)
    seen.go()
    seen.page.get_by_role("button", name="Daylight colours").click()
    seen.go("/recipes/new")
    assert_accessible(seen.page, "/recipes/new", "daylight")
    seen.page.evaluate("() => { document.querySelector('label[for=f-name]').style.color = '#ddd'; }")
    with pytest.raises(AssertionError, match="color-contrast"):
        assert_accessible(seen.page, "/recipes/new", "daylight")


@PHONE_AT_LEAST
def test_everything_to_press_is_large_enough_for_gloves(visit: Open, busy: FakeControl, size: dict[str, int]) -> None:
    """48 px in both directions; what is ticked or chosen is pressed anywhere on its words. Links within a sentence are
    no buttons and are left out."""
    seen = visit(size)
    for path in PATHS:
        seen.go(path)
        small = seen.page.evaluate(
            """limit => Array.from(document.querySelectorAll(
                 'button, .button, input:not([type=radio], [type=checkbox], [type=hidden]), textarea, summary, nav a,' +
                 '.pick, .tick, .card h2 a'
               )).filter(e => e.getClientRects().length).map(e => [e.outerHTML.slice(0, 90), e.getBoundingClientRect()])
               .filter(([, box]) => box.height < limit || box.width < limit).map(([html, box]) =>
                 `${html} ${box.width}x${box.height}`)""",
            SMALLEST_TARGET_PX,
        )
        assert small == [], path


TWICE_AS_LARGE = """() => {
  const root = document.documentElement;
  root.style.fontSize = '200%';
  const dark = document.getElementById('dark'), box = dark?.getBoundingClientRect();
  const under = box && document.elementFromPoint((box.left + box.right) / 2, (box.top + box.bottom) / 2);
  return [root.scrollWidth, !dark || (dark.contains(under) && box.bottom <= innerHeight && box.top >= 0)];
}"""


@pytest.mark.parametrize("width", [320, pytest.param(360, marks=pytest.mark.campaign)])
def test_nothing_is_cut_off_on_a_narrow_phone(visit: Open, busy: FakeControl, width: int) -> None:
    """No page scrolls sideways, also with letters of twice the size (WCAG 2.2, 1.4.4), and Lamps off is in sight."""
    seen = visit({"width": width, "height": 640})
    for path in PATHS:
        seen.go(path)
        assert seen.page.evaluate("() => document.documentElement.scrollWidth") <= width, path
        seen.page.set_viewport_size({"width": PHONE["width"], "height": PHONE["height"]})
        assert seen.page.evaluate(TWICE_AS_LARGE) == [PHONE["width"], True], path
        seen.page.set_viewport_size({"width": width, "height": 640})


@pytest.mark.parametrize("path", ["/", "/recipes/new"])
def test_letters_of_twice_the_size_leave_half_of_a_lying_phone_to_the_page(
    visit: Open, busy: FakeControl, path: str
) -> None:
    """The bar takes no more than half of the height, and Lamps off is in sight in it, whole."""
    width, height = 640, 360
    seen = visit({"width": width, "height": height})
    seen.go(path)
    wide, dark_in_sight = seen.page.evaluate(TWICE_AS_LARGE)
    assert wide <= width  # which may have a scroll bar
    assert dark_in_sight
    bar = seen.page.locator("#bar").bounding_box()
    assert bar is not None
    assert bar["height"] <= height / 2
    assert bar["y"] + bar["height"] == pytest.approx(height, abs=1)


def test_the_end_of_every_page_can_be_scrolled_above_the_dark_button(visit: Open, busy: FakeControl) -> None:
    """The bar never covers the last control for good."""
    seen = visit(PHONE)
    for path in (path for path in PATHS if path != "/offline"):  # which knows nothing that a bar could say
        seen.go(path)
        seen.page.evaluate("() => window.scrollTo(0, document.body.scrollHeight)")
        gap = seen.page.evaluate(
            "() => document.querySelector('.bar').getBoundingClientRect().top"
            " - document.querySelector('footer form').getBoundingClientRect().bottom"
        )
        assert gap >= 0, path


def test_signs_differ_in_shape_not_only_in_colour(visit: Open, control: FakeControl) -> None:
    """Lid open or shut, lamps on or off: the drawn paths differ."""
    seen = visit(DESK)

    def visible_paths() -> list[str]:
        found: list[str] = seen.page.evaluate(
            "() => Array.from(document.querySelectorAll('.tile path'))"
            ".filter(p => getComputedStyle(p).display !== 'none').map(p => p.getAttribute('d'))"
        )
        return found

    seen.go()
    shut_and_off = visible_paths()
    control.say(fake.lit(lid="open"))
    expect(seen.page.locator(".tile").first).to_contain_text("Open")
    expect(seen.page.get_by_text("Switched on")).to_be_visible()
    assert set(visible_paths()) != set(shut_and_off)


def test_the_colour_reader_reads_what_was_drawn(tmp_path: Path, browser: Browser, visit: Open) -> None:
    """Four known colours come back exactly."""
    seen = visit({"width": 200, "height": 200})
    seen.go()
    fed(seen.page)
    seen.page.evaluate(
        """() => { const c = document.createElement('canvas'); c.width = c.height = 200; c.id = 'probe';
             document.body.replaceChildren(c); const p = c.getContext('2d');
             c.style.width = c.style.height = '200px'; c.style.border = c.style.borderRadius = '0';
             [['#ff8c00',0,0],['#0000ff',100,0],['#123456',0,100],['#fff',100,100]].forEach(([f,x,y]) => {
               p.fillStyle = f; p.fillRect(x, y, 100, 100); }); }"""
    )
    path = tmp_path / "probe.png"
    seen.page.locator("#probe").screenshot(path=path)
    assert {(255, 140, 0), (0, 0, 255), (18, 52, 86), (255, 255, 255)} <= colours(browser, path)


def test_the_weeks_of_drift_are_drawn(visit: Open, busy: FakeControl) -> None:
    """One drawing for each measure; a point under the finger tells its week and value."""
    seen = visit(PHONE)
    seen.go("/panels/drift")
    charts = seen.page.locator("canvas.weeks")
    expect(charts).to_have_count(3)
    box = charts.last.bounding_box()
    assert box is not None
    charts.last.scroll_into_view_if_needed()
    last_point = (box["width"] - 26, 24 + (box["height"] - 64) / 12)  # the outlier, at the top right
    finger_reads(charts.last, last_point, seen.page.locator("[data-readout]").last, "2027-W14: 95 s")
