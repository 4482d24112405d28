"""How the pages look and feel: safelight colours, touch targets, narrow screens, accessibility."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe  # type: ignore[import-untyped]
from playwright.sync_api import Browser, expect

from tests.browser.conftest import DESK, PHONE, Open, Visit
from tests.browser.pixels import colours
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl
from tests.webui.test_panels import record

MOST_BLUE = round(0.05 * 255)
MOST_GREEN = round(0.55 * 255)
"""Safelight rule of the design: a screen beside open resist must not expose it."""

SMALLEST_TARGET_PX = 48

PATHS = (
    "/",
    "/recipes/",
    "/recipes/new",
    "/recipes/blue-38",
    "/recipes/blue-38/history",
    "/recipes/compare?a=blue-38&b=board-turned",
    "/recipes/import",
    "/panels/?panel=P",
    "/panels/1",
    "/panels/1/traveller",
    "/light/",
    "/lamps/",
    "/box/",
    "/box/first",
    "/access/",
    "/nowhere",
)
SIZES = pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])


@pytest.fixture
def busy(data: Path, control: FakeControl) -> FakeControl:
    """A box that shows as much as it can at once: a fault, two sides, warnings, a full disk, a doubtful panel."""
    record(data / "logbook.sqlite")
    both = fake.exposure(
        fake.side("A"), fake.side("B", state="waiting"), pause_cause="fault", doubtful=True, doubtful_why="gap too long"
    )
    control.say(
        fake.snapshot(
            state="paused",
            sentence="The lamps are off.",
            may=["go", "abandon", "dark", "acknowledge", "start"],
            lid="disagree",
            banks=[fake.bank(commanded=True), fake.bank("upper", "B", meter_ok=False)],
            faults=[fake.fault()],
            warnings=["No contactor K1 enable line is declared."],
            logbook={"ok": False, "message": "The disk is full.", "lag_s": 4.0},
            exposure=both,
        )
    )
    return control


def assert_safelight(browser: Browser, picture: Path) -> None:
    """No pixel of the picture has more blue or green than the rule allows."""
    red, green, blue = (max(channel) for channel in zip(*colours(browser, picture), strict=True))
    assert red > 150, "the picture shows nothing"
    assert green <= MOST_GREEN, f"{picture.name}: green {green}"
    assert blue <= MOST_BLUE, f"{picture.name}: blue {blue}"


@SIZES
def test_no_pixel_of_any_page_exposes_resist(
    browser: Browser, visit: Open, busy: FakeControl, size: dict[str, int]
) -> None:
    """Every page, by default, with everything on it that can be."""
    seen = visit(size)
    for path in PATHS:
        seen.go(path)
        seen.page.wait_for_timeout(250)
        assert_safelight(browser, seen.picture(f"safelight{path.partition('?')[0].replace('/', '-')}-{size['width']}"))


def _legs() -> dict[str, Any]:
    done = [fake.side(str(n + 1), state="done", target_mj_cm2=None, lit_for_s=10.0) for n in range(4)]
    now = fake.side("5", target_mj_cm2=None, lit_for_s=10.0, lit_s=4.0)
    later = [fake.side(str(n), state="waiting", target_mj_cm2=None, lit_for_s=10.0, dose_mj_cm2=0.0) for n in (6, 7)]
    return fake.exposure(*done, now, *later, sides_mode="series", kind="tablet")


def _remark() -> dict[str, Any]:
    return fake.fault(name="clock_stepped", title="The clock jumped", stops=False)


STATES: dict[str, dict[str, Any]] = {
    "idle": fake.snapshot(),
    "dark-check": fake.snapshot(state="dark_check", exposure=fake.exposure(fake.side(state="waiting"))),
    "light": fake.lit(warnings=["No contactor K1 is declared."]),
    "series": fake.lit(exposure=_legs()),
    "paused": fake.snapshot(state="paused", may=["go", "abandon"], exposure=fake.exposure(pause_cause="lid")),
    "turn": fake.snapshot(state="turn", may=["go", "abandon"], exposure=fake.exposure(fake.side("A", state="done"))),
    "faulted": fake.snapshot(state="faulted", may=["acknowledge"], faults=[fake.fault(), _remark()]),
    "remark": fake.lit(faults=[_remark()], may=["dark", "acknowledge"]),
    "done": fake.rising(20.0),
    "overdue": fake.rising(20.0) | {"exposure": fake.rising(20.0)["exposure"] | {"hold_state": "overdue"}},
}
"""Every state the Bench can show."""


@pytest.mark.parametrize("locale", ["en", "de"])
@SIZES
def test_every_state_of_the_bench_is_safe_to_show_and_accessible(
    browser: Browser, visit: Open, control: FakeControl, size: dict[str, int], locale: str
) -> None:
    """Colours, axe's rules, nothing cut off; in both languages, for one of them is longer."""
    seen = visit(size, locale=locale)
    control.samples = fake.past(1000.0)
    seen.go()
    for name, state in STATES.items():
        control.say(state)
        expect(seen.page.locator("#bench")).to_have_attribute("data-is", state["state"])
        seen.page.wait_for_timeout(250)
        assert_safelight(browser, seen.picture(f"state-{name}-{locale}-{size['width']}"))
        results = Axe().run(seen.page)
        assert results.violations_count == 0, f"{name}: {results.generate_report()}"
        assert seen.page.evaluate("() => document.documentElement.scrollWidth") <= size["width"], name


def test_a_remark_that_stops_nothing_is_no_fault(visit: Open, control: FakeControl) -> None:
    """Told as a notice, without alarm; light goes on."""
    control.say(STATES["remark"])
    seen = visit(PHONE)
    seen.go()
    remark = seen.page.get_by_role("region", name="Remark")
    expect(remark).to_contain_text("The clock jumped")
    expect(seen.page.get_by_role("region", name="Fault")).to_have_count(0)
    expect(seen.page.get_by_role("button", name="Seen: take the remark away")).to_be_visible()


def test_a_series_shows_the_leg_under_light_and_all_legs_in_a_table(visit: Open, control: FakeControl) -> None:
    """Timed legs have no target dose; the time stands there instead."""
    control.say(STATES["series"])
    seen = visit(PHONE)
    seen.go()
    leg = seen.page.get_by_role("region", name="Leg 5 of 7")
    expect(leg).to_contain_text("31.2 mJ/cm² in 4 s of 10 s")
    expect(seen.page.get_by_role("region", name="Leg 1")).to_have_count(0)
    expect(seen.page.locator("table.legs tbody tr")).to_have_count(7)


def test_the_band_of_uncertainty_is_drawn_around_the_dose(visit: Open, control: FakeControl) -> None:
    """Wide when the dose is unsure, gone when its worth is not known."""

    def band_pixels() -> int:
        seen.page.wait_for_timeout(300)
        found: int = seen.page.evaluate(
            """() => { const c = document.getElementById('curve');
                 const data = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;
                 let n = 0; for (let i = 0; i < data.length; i += 4) if (data[i + 3] > 130 && data[i + 3] < 180) n += 1;
                 return n; }"""
        )
        return found

    seen = visit(DESK)
    control.samples = [[1000.0 + n / 20, "A", 4.0, n / 5] for n in range(160)]
    control.say(fake.lit(mono_s=1008.0, exposure=fake.exposure(fake.side(expanded_uncertainty_mj_cm2=6.0))))
    seen.go()
    wide = band_pixels()
    control.say(fake.lit(mono_s=1008.1, exposure=fake.exposure(fake.side(expanded_uncertainty_mj_cm2=1.0))))
    narrow = band_pixels()
    control.say(fake.lit(mono_s=1008.2, exposure=fake.exposure(fake.side(expanded_uncertainty_mj_cm2=None))))
    assert wide > 2.5 * narrow > 0
    assert band_pixels() < narrow / 3


def test_a_finger_on_the_curve_reads_its_numbers(visit: Open, control: FakeControl) -> None:
    """Time, light and dose at that place."""
    seen = visit(DESK)
    control.samples = [[1000.0 + n / 20, "A", 4.0, n / 5] for n in range(160)]
    control.say(fake.lit(mono_s=1008.0))
    seen.go()
    seen.page.wait_for_timeout(300)
    seen.page.locator("#curve").hover(position={"x": 150, "y": 100})
    expect(seen.page.locator("#readout")).to_contain_text("4.00 mW/cm²")


def test_the_traveller_prints_dark_on_white_without_buttons(visit: Open, busy: FakeControl) -> None:
    """Paper gets the record, not the page around it."""
    seen = visit(DESK)
    seen.go("/panels/1/traveller")
    seen.page.emulate_media(media="print")
    for name in (".darkbar", "nav", "footer", "#print"):
        expect(seen.page.locator(name).first).to_be_hidden()
    expect(seen.page.locator(".record-curve").first).to_be_visible()
    expect(seen.page.get_by_text("Developed: time, bath, by")).to_be_visible()
    assert (
        seen.page.evaluate("() => getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
    )
    seen.picture("traveller-print")


def test_plots_draw_points_and_squares_and_read_out_their_numbers(visit: Open, control: FakeControl) -> None:
    """Heat map and scatter, as later pages use them, on data of this test."""
    seen = visit(PHONE)
    seen.go("/lamps/")
    drawn = seen.page.evaluate(
        """async () => {
          const kinds = {
            heat: { x: [0, 50, 100], y: [0, 50], values: [[90, 100, null], [80, 95, 85]], unit: '%' },
            scatter: { points: [[1, 5, 4.8, 5.2], [200, 4, null, null]], line: [[0, 5], [200, 4]], x: 'h', y: 'mW' } };
          const counts = {};
          for (const [kind, values] of Object.entries(kinds)) {
            const figure = document.createElement('figure');
            figure.className = 'plot';
            const canvas = document.createElement('canvas');
            Object.assign(canvas.dataset, { plot: kind, values: JSON.stringify(values) });
            const readout = document.createElement('p');
            readout.dataset.readout = '';
            figure.append(canvas, readout);
            document.getElementById('main').prepend(figure);
          }
          await import('/static/plots.js?again');
          await new Promise((done) => setTimeout(done, 200));
          for (const canvas of document.querySelectorAll('canvas[data-plot]')) {
            const data = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;
            counts[canvas.dataset.plot] = data.filter((v, i) => i % 4 === 3 && v > 0).length;
          }
          return counts;
        }"""
    )
    assert drawn["heat"] > 20_000
    assert 500 < drawn["scatter"] < 20_000
    canvas = seen.page.locator("canvas[data-plot=heat]")
    box = canvas.bounding_box()
    assert box is not None
    canvas.hover(position={"x": box["width"] * 0.5, "y": box["height"] * 0.3})
    expect(seen.page.get_by_text("x 50 mm, y 0 mm: 100 %")).to_be_visible()
    seen.picture("plots")


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
    seen.page.get_by_role("button", name="Dark").hover()
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


@SIZES
@pytest.mark.parametrize("theme", ["safelight", "daylight"])
def test_pages_have_no_accessibility_faults(visit: Open, busy: FakeControl, size: dict[str, int], theme: str) -> None:
    """axe-core's rules, in both colours: labels, contrast, roles, headings."""
    seen = visit(size)
    seen.go()
    if theme == "daylight":
        seen.page.get_by_role("button", name="Daylight colours").click()
    axe = Axe()
    for path in PATHS:
        seen.go(path)
        seen.page.wait_for_timeout(250)
        results = axe.run(seen.page)
        assert results.violations_count == 0, f"{path}: {results.generate_report()}"


def test_axe_finds_a_fault_that_is_put_in(visit: Open) -> None:
    """So that silence means something."""
    seen = visit(DESK)
    seen.go("/recipes/new")
    seen.page.evaluate("() => document.querySelector('label[for=f-resist]').remove()")
    assert Axe().run(seen.page).violations_count > 0


@SIZES
def test_everything_to_press_is_large_enough_for_gloves(visit: Open, busy: FakeControl, size: dict[str, int]) -> None:
    """48 px in both directions; links within a sentence are no buttons and are left out."""
    seen = visit(size)
    for path in PATHS:
        seen.go(path)
        small = seen.page.evaluate(
            """limit => Array.from(document.querySelectorAll(
                 'button, .button, input:not([type=radio], [type=hidden]), textarea, summary, nav a, .pick, .card h2 a'
               )).filter(e => e.getClientRects().length).map(e => [e.outerHTML.slice(0, 90), e.getBoundingClientRect()])
               .filter(([, box]) => box.height < limit || box.width < limit).map(([html, box]) =>
                 `${html} ${box.width}x${box.height}`)""",
            SMALLEST_TARGET_PX,
        )
        assert small == [], path


@pytest.mark.parametrize("width", [320, 360])
def test_nothing_is_cut_off_on_a_narrow_phone(visit: Open, busy: FakeControl, width: int) -> None:
    """No page scrolls sideways."""
    seen = visit({"width": width, "height": 640})
    for path in PATHS:
        seen.go(path)
        assert seen.page.evaluate("() => document.documentElement.scrollWidth") <= width, path


def test_the_end_of_every_page_can_be_scrolled_above_the_dark_button(visit: Open, busy: FakeControl) -> None:
    """The bar never covers the last control for good."""
    seen = visit(PHONE)
    for path in PATHS:
        seen.go(path)
        seen.page.evaluate("() => window.scrollTo(0, document.body.scrollHeight)")
        gap = seen.page.evaluate(
            "() => document.querySelector('.darkbar').getBoundingClientRect().top"
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
