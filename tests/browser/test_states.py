"""Every state of the Bench, in both languages: safe colours, accessible, nothing cut off; drawings and paper."""

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from sumlight.text.message import say
from tests.browser import shared
from tests.browser.conftest import DESK, PHONE, Open, drawn, finger_reads, settled
from tests.browser.test_look import assert_accessible, assert_safelight
from tests.webui import commission_told as told
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl, wait_until
from tests.webui.page_process import PageProcess
from tests.webui.test_panels import record

control, data, lasting_control, served = shared.control, shared.data, shared.lasting_control, shared.served


def _legs() -> dict[str, Any]:
    done = [fake.side(str(n + 1), state="done", target_mj_cm2=None, lit_for_s=10.0) for n in range(4)]
    now = fake.side("5", target_mj_cm2=None, lit_for_s=10.0, lit_s=4.0)
    later = [fake.side(str(n), state="waiting", target_mj_cm2=None, lit_for_s=10.0, dose_mj_cm2=0.0) for n in (6, 7)]
    return fake.exposure(*done, now, *later, sides_mode="series", kind="tablet")


def _between_rounds() -> dict[str, Any]:
    done = fake.side("1", state="done", target_mj_cm2=None, lit_for_s=6.0)
    later = [fake.side(str(n), state="waiting", target_mj_cm2=None, lit_for_s=6.0, dose_mj_cm2=0.0) for n in (2, 3)]
    return fake.exposure(done, *later, sides_mode="series", kind="compare")


def _draft() -> dict[str, Any]:
    first = fake.side("A", target_mj_cm2=None, lit_for_s=480.0, lit_s=120.0, left_s=360.0)
    second = fake.side("B", state="waiting", target_mj_cm2=None, lit_for_s=480.0, dose_mj_cm2=0.0, lit_s=0.0)
    return fake.exposure(first, second, sides_mode="turned", recipe="brass-8-min")


def _remark() -> dict[str, Any]:
    return fake.fault(name="clock_stepped", title="The clock jumped", stops=False)


def _turned(**changed: Any) -> dict[str, Any]:
    """Side A has its dose; the panel is still to be turned."""
    first, second = fake.side("A", state="done", dose_mj_cm2=60.1), fake.side("B", state="waiting", dose_mj_cm2=0.0)
    both = fake.exposure(first, second, sides_mode="turned", recipe="board-turned")
    now = {"sentence": say("turn_the_panel"), "may": ["abandon", "dark"], "exposure": both}
    return fake.snapshot(state="turn", **(now | changed))


def _together() -> dict[str, Any]:
    """Two banks, each ending on its own dose: B has it already."""
    second = fake.side("B", bank="upper", state="done", dose_mj_cm2=60.0, irradiance_at_resist_mw_cm2=None, left_s=None)
    banks = [fake.bank(commanded=True, irradiance_mw_cm2=4.93), fake.bank("upper", "B")]
    return fake.lit(banks=banks, exposure=fake.exposure(fake.side("A"), second, sides_mode="together"))


def _over(**changed: Any) -> dict[str, Any]:
    """A panel has its dose and still lies in the box."""
    return fake.rising(20.0) | {"sentence": say("done_take_out"), "may": ["dark"]} | changed


PAUSED = {"state": "paused", "sentence": say("lid_was_opened"), "exposure": fake.exposure(pause_cause="lid")}

STATES: dict[str, dict[str, Any]] = {
    "idle": fake.snapshot(),
    "lid-open": fake.snapshot(lid="open", may=["dark"]),
    "vacuum": fake.snapshot(
        state="vacuum",
        may=["dark"],
        sentence=say("pulling_vacuum", seconds=14.0),
        exposure=fake.exposure(fake.side(state="waiting")),
    ),
    "dark-check": fake.snapshot(
        state="dark_check",
        may=["dark"],
        sentence=say("measuring_darkness"),
        exposure=fake.exposure(fake.side(state="waiting")),
    ),
    "light": fake.lit(warnings=["No contactor K1 is declared."]),
    "together": _together(),
    "series": fake.lit(exposure=_legs()),
    "between-rounds": fake.snapshot(
        state="turn", may=["go", "abandon", "dark"], sentence=say("change_what_lies_there"), exposure=_between_rounds()
    ),
    "draft": fake.lit(exposure=_draft()),
    "paused": fake.snapshot(may=["go", "abandon", "dark"], **PAUSED),
    "paused-open": fake.snapshot(lid="open", may=["abandon", "dark"], **PAUSED),
    "turn": _turned(),
    "turned": _turned(may=["go", "abandon", "dark"]),
    "faulted": fake.snapshot(state="faulted", may=["acknowledge"], faults=[fake.fault(), _remark()]),
    "remark": fake.lit(faults=[_remark()], may=["dark", "acknowledge"]),
    "done": _over(),
    "taken-out": _over(sentence=say("done_rest_outside"), may=["start", "dark"]),
    "overdue": _over(
        sentence=say("done_hold_overdue"), exposure=fake.rising(20.0)["exposure"] | {"hold_state": "overdue"}
    ),
}
"""Every state the Bench can show, with what control says and allows in it."""


LOOKS = pytest.mark.parametrize(
    ("size", "locale", "looks"),
    [
        pytest.param(DESK, "en", True, id="desk-en"),
        pytest.param(PHONE, "de", False, id="phone-de"),
        pytest.param(PHONE, "en", True, id="phone-en", marks=pytest.mark.campaign),
        pytest.param(PHONE, "de", True, id="phone-de-looks", marks=pytest.mark.campaign),
        pytest.param(DESK, "de", True, id="desk-de-looks", marks=pytest.mark.campaign),
    ],
)
"""Markup and colours are the same in both languages and looked at in one; the other is longer: there it is whether it
fits, where there is least room."""


NAME_HEARD = "async () => (await (await fetch('/nowhere')).text())"
PARTS_SHOWN = """() => Object.fromEntries(
  Array.from(document.querySelectorAll('[data-part]'), (place) => [place.dataset.part, place.dataset.key]))"""
PARTS_NOW = """async () => {
  const news = document.getElementById('commissioning')?.dataset.now ?? document.getElementById('bench').dataset.state;
  const { parts } = await (await fetch(news)).json();
  return Object.fromEntries(Object.entries(parts).map(([name, part]) => [name, part.key])); }"""

BAR_IS_NEW = """async () => {
  const { parts } = await (await fetch(document.getElementById('bar').dataset.now)).json();
  return parts.bar.key === document.querySelector('[data-part=bar]').dataset.key; }"""


def shows_the_news(page: Page, box: str) -> None:
    """Wait until the server has heard that name of the box, and the page shows each part as the server has it now.

    The bar has news of its own: how high it is depends on what it says.
    """
    wait_until(lambda: f"{box}<" in page.evaluate(NAME_HEARD))
    parts = page.evaluate(PARTS_NOW)
    assert len(parts) > 3
    wait_until(lambda: parts.items() <= page.evaluate(PARTS_SHOWN).items())
    wait_until(lambda: page.evaluate(BAR_IS_NEW))


@LOOKS
def test_every_state_of_the_bench_is_safe_to_show_and_accessible(
    browser: Browser, visit: Open, control: FakeControl, size: dict[str, int], locale: str, looks: bool
) -> None:
    """Colours, axe's rules, nothing cut off."""
    seen = visit(size, locale=locale)
    control.samples = fake.past(1000.0)
    seen.go()
    for name, state in STATES.items():
        control.say(state | {"box": f"In state {name}"})
        shows_the_news(seen.page, f"In state {name}")
        drawn(seen.page)
        if looks:
            assert_safelight(browser, seen.picture(f"state-{name}-{locale}-{size['width']}"))
            assert_accessible(seen.page, name)
        assert seen.page.evaluate("() => document.documentElement.scrollWidth") <= size["width"], name


@pytest.fixture(scope="module")
def kept_report(data: Path) -> Path:
    """A commissioning run with its report, on record once for all tests of this file."""
    return told.report_kept(data)


@pytest.mark.usefixtures("kept_report")
@LOOKS
def test_every_state_of_commissioning_is_safe_to_show_and_accessible(
    browser: Browser, visit: Open, control: FakeControl, size: dict[str, int], locale: str, looks: bool
) -> None:
    """Colours, axe's rules, nothing cut off; what is due can be pressed without scrolling."""
    seen = visit(size, locale=locale)
    control.say(told.STATES["locked"])
    seen.go("/box/commissioning")
    for name, state in told.STATES.items():
        control.say(state | {"box": f"In state {name}"})
        shows_the_news(seen.page, f"In state {name}")
        seen.page.evaluate("() => document.querySelectorAll('main details').forEach((each) => { each.open = true; })")
        if looks:
            assert_safelight(browser, seen.picture(f"commissioning-{name}-{locale}-{size['width']}"))
            assert_accessible(seen.page, name)
        assert seen.page.evaluate("() => document.documentElement.scrollWidth") <= size["width"], name
        seen.page.evaluate("() => scrollTo(0, 0)")
        due = seen.page.locator("#go, #goyes").first
        bar = seen.page.locator(".bar").bounding_box()
        if due.count() and name != "leak":
            place = due.bounding_box()
            assert place is not None
            assert bar is not None
            assert place["y"] + place["height"] <= bar["y"], f"{name}: hidden behind the bar"


def test_what_is_typed_and_where_the_keyboard_stands_survive_the_news(visit: Open, control: FakeControl) -> None:
    """The reading is typed while the light on the page changes twice a second; then the step is over."""
    control.say(told.STATES["leak"])
    seen = visit(PHONE)
    seen.go("/box/commissioning")
    field = seen.page.get_by_label("Highest reading")
    field.fill("0.0")
    control.say(told.STATES["leak"] | {"lid": "open"})
    expect(seen.page.locator(".facts")).to_contain_text("Open")
    expect(field).to_be_focused()
    field.press_sequentially("04")
    expect(field).to_have_value("0.004")
    control.mute.set()
    expect(seen.page.get_by_text("Not heard from the box")).to_be_visible()
    expect(field).to_have_count(0)
    control.mute.clear()
    expect(field).to_have_value("0.004")
    field.focus()
    control.say(told.STATES["failed"])
    expect(seen.page.get_by_text("Commissioning has failed.")).to_be_visible()
    expect(seen.page.locator("[data-part=acts]")).to_be_focused()


def test_without_a_word_from_the_server_nothing_can_be_pressed(
    visit: Open, control: FakeControl, served: PageProcess
) -> None:
    """Said within seconds; afterwards the page goes on by itself."""
    control.say(told.STATES["step"])
    seen = visit(PHONE)
    seen.go("/box/commissioning")
    expect(seen.page.locator("#go")).to_be_enabled()
    seen.page.context.set_offline(True)
    expect(seen.page.get_by_role("alert").filter(has_text="No word from the page's server")).to_be_visible()
    expect(seen.page.locator("#go")).to_be_disabled()
    seen.page.context.set_offline(False)
    expect(seen.page.locator("#go")).to_be_enabled()
    expect(seen.page.locator("#lost")).to_be_hidden()


@pytest.mark.usefixtures("kept_report")
def test_a_report_prints_dark_on_white_without_buttons(visit: Open) -> None:
    """Paper gets the report with its line to sign, not the page around it."""
    seen = visit(DESK)
    seen.go("/box/commissioning")
    seen.page.get_by_role("link", name="Open the report").click()
    expect(seen.page.get_by_role("button", name="Print")).to_be_visible()
    seen.page.emulate_media(media="print")
    for name in (".bar", "nav", "footer", "#print"):
        expect(seen.page.locator(name).first).to_be_hidden()
    expect(seen.page.get_by_text("Date, signature")).to_be_visible()
    assert seen.page.evaluate("() => getComputedStyle(document.querySelector('.report')).color") == "rgb(0, 0, 0)"


def test_the_sheet_of_a_card_prints_dark_on_white_with_its_code_and_room_to_write(visit: Open) -> None:
    """Paper gets the steps, not the page around them; the code is as wide as the sheet of a panel's record has it."""
    seen = visit(DESK)
    seen.go("/jobs/panels/7")
    seen.page.get_by_role("link", name="Sheet for printing").click()
    expect(seen.page.get_by_role("button", name="Print")).to_be_visible()
    expect(seen.page.get_by_text("Time, result, name").first).to_be_hidden()
    seen.page.emulate_media(media="print")
    for name in (".bar", "nav", "footer", "#print", ".no-print"):
        expect(seen.page.locator(name).first).to_be_hidden()
    expect(seen.page.get_by_text("Time, result, name").first).to_be_visible()
    step = seen.page.locator(".paper-step").first
    assert step.evaluate("(each) => getComputedStyle(each).color") == "rgb(0, 0, 0)"
    assert (
        seen.page.evaluate("() => getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
    )
    width = seen.page.locator("svg.code").evaluate("(each) => each.getBoundingClientRect().width")
    assert abs(width - 3 / 2.54 * 96) < 1  # 3 cm at the 96 pixels of an inch of CSS
    seen.picture("card-sheet-print")


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
    leg = seen.page.get_by_role("region", name="Round 5 of 7")
    expect(leg).to_contain_text("31.2 mJ/cm² in 4 s of 10 s")
    expect(seen.page.get_by_role("region", name="Round 1")).to_have_count(0)
    expect(seen.page.locator("table.legs tbody tr")).to_have_count(7)


def test_the_band_of_uncertainty_is_drawn_around_the_dose(visit: Open, control: FakeControl) -> None:
    """Wide when the dose is unsure, gone when its worth is not known."""

    def band_pixels() -> int:
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
    wide = settled(band_pixels)
    control.say(fake.lit(mono_s=1008.1, exposure=fake.exposure(fake.side(expanded_uncertainty_mj_cm2=1.0))))
    wait_until(lambda: 0 < 2.5 * band_pixels() < wide)
    narrow = settled(band_pixels)
    control.say(fake.lit(mono_s=1008.2, exposure=fake.exposure(fake.side(expanded_uncertainty_mj_cm2=None))))
    wait_until(lambda: band_pixels() < narrow / 3)


def test_a_finger_on_the_curve_reads_its_numbers(visit: Open, control: FakeControl) -> None:
    """Time, light and dose at that place; the dose of a box that nothing has checked in its own units."""
    seen = visit(DESK)
    control.samples = [[1000.0 + n / 20, "A", 4.0, n / 5] for n in range(160)]
    control.say(fake.lit(mono_s=1008.0))
    seen.go()
    curve, readout = seen.page.locator("#curve"), seen.page.locator("#readout")
    finger_reads(curve, (150, 100), readout, r"4\.00 mW/cm², \d+\.\d mJ/cm²$")
    control.say(fake.lit(mono_s=1008.1, exposure=fake.exposure(fake.side(relative=True))))
    finger_reads(curve, (152, 100), readout, r"4\.00 mW/cm², \d+\.\d box units$")


def test_the_traveller_prints_dark_on_white_without_buttons(visit: Open, data: Path) -> None:
    """Paper gets the record, not the page around it."""
    record(data / "logbook.sqlite")
    seen = visit(DESK)
    seen.go("/panels/1/traveller")
    seen.page.emulate_media(media="print")
    for name in (".bar", "nav", "footer", "#print"):
        expect(seen.page.locator(name).first).to_be_hidden()
    expect(seen.page.locator(".record-curve").first).to_be_visible()
    expect(seen.page.get_by_text("Developed: time, bath, by")).to_be_visible()
    assert (
        seen.page.evaluate("() => getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
    )
    seen.picture("traveller-print")
    for path in ("/recipes/blue-38/sheet", "/panels/1"):
        seen.go(path)
        expect(seen.page.locator(".code")).to_be_visible()
        expect(seen.page.get_by_text("Dose at the resist")).to_be_visible()
        for name in (".bar", "nav", "footer", "button", "textarea", "input"):
            assert not [each for each in seen.page.locator(name).all() if each.is_visible()], (path, name)
        seen.picture(f"print{path.replace('/', '-')}")


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
