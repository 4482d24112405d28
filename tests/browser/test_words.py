"""Few enough words on a phone without a tap: at most 120 on Bench and 150 on Light (the limits are issue 14's)."""

from pathlib import Path

from playwright.sync_api import expect

from tests.browser import shared
from tests.browser.conftest import Open, until_it_says
from tests.browser.test_states import STATES
from tests.browser.words_shown import words_shown
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl
from tests.webui.light_runs import KINDS, keep
from tests.webui.page_process import PageProcess
from tests.webui.test_cautions import CAUTIONS

control, data, lasting_control, served = shared.control, shared.data, shared.lasting_control, shared.served

PHONE = {"width": 360, "height": 640}
MOST_ON_BENCH, MOST_ON_LIGHT = 120, 150
ORDINARY = sorted(set(STATES) - {"faulted", "remark", "series"})
"""What is wrong with the box, and a table of legs, take the words that they take."""


def test_the_bench_has_few_words_in_every_ordinary_state(
    visit: Open, control: FakeControl, served: PageProcess
) -> None:
    """Idle, in light, paused, turned, done; on a real box, for a simulated one has hands of its own on its page."""
    control.say(fake.snapshot(simulated=False, box="Real box"))
    until_it_says(served, "Real box")
    seen = visit(PHONE)
    seen.go()
    for name in ORDINARY:
        control.say(STATES[name] | {"simulated": False})
        expect(seen.page.locator("#bench")).to_have_attribute("data-is", STATES[name]["state"])
        found = words_shown(seen.page, CAUTIONS["/"])
        assert len(found) <= MOST_ON_BENCH, f"{name}: {len(found)}: {' '.join(found)}"


def test_light_has_few_words(visit: Open, control: FakeControl, data: Path) -> None:
    """With a run of each kind behind it."""
    for kind in KINDS:
        keep(data / "logbook.sqlite", kind)
    seen = visit(PHONE)
    seen.go("/light/")
    found = words_shown(seen.page, CAUTIONS["/light/"])
    assert len(found) <= MOST_ON_LIGHT, f"{len(found)}: {' '.join(found)}"
    assert {"Workshop", "even?"} <= set(found)


def test_the_count_sees_what_is_shown_and_nothing_else(visit: Open) -> None:
    """Counted by hand: two words in sight, one in a summary; folded, hidden and spoken ones are none."""
    seen = visit(PHONE, script=False)
    seen.go("/help/")
    seen.page.evaluate(
        "() => { document.body.innerHTML = '<p>two words</p>"
        "<details><summary>Fold</summary><p>folded away</p></details>"
        '<p hidden>hidden</p><p class="quiet">spoken only</p><p>Beware of it.</p><p>–</p>\'; }'
    )
    assert words_shown(seen.page, ["Beware of it."]) == ["two", "words", "Fold"]
    seen.page.evaluate("() => { document.querySelector('details').open = true; }")
    assert words_shown(seen.page, ["Beware of it."]) == ["two", "words", "Fold", "folded", "away"]


def test_a_desk_shows_number_curve_and_chips_of_a_light_at_once(visit: Open, control: FakeControl) -> None:
    """Two sides, 1280 × 800: the time left, the largest thing, stands left of its curve, and nothing scrolls away."""
    control.say(fake.lit(exposure=fake.exposure(fake.side("A"), fake.side("B", state="waiting"))))
    seen = visit({"width": 1280, "height": 800})
    seen.go()
    places = seen.page.evaluate(
        "() => Object.fromEntries(Object.entries({number: '.side[data-is=lit] .still b', curve: '#curve',"
        " tiles: '.tiles', bar: '#bar'}).map(([name, at]) => {"
        " const box = document.querySelector(at).getBoundingClientRect();"
        " return [name, [box.left, box.top, box.right, box.bottom]]; }))"
    )
    number, curve, tiles, bar = (places[name] for name in ("number", "curve", "tiles", "bar"))
    assert number[2] < curve[0]
    assert max(number[3], curve[3], tiles[3]) < bar[1]
    sizes = seen.page.evaluate(
        "() => [...document.querySelectorAll('main *')].filter((e) => e.checkVisibility() && e.textContent.trim())"
        ".map((e) => [parseFloat(getComputedStyle(e).fontSize), e.textContent.trim()])"
    )
    assert max(sizes)[1] == seen.page.locator(".side[data-is=lit] .still b").inner_text()


def test_a_phone_shows_both_sides_of_a_turned_panel_above_the_bar(visit: Open, control: FakeControl) -> None:
    """360 × 740, while the first side is lit: the second, which waits, stands whole below it."""
    both = fake.exposure(fake.side("A"), fake.side("B", state="waiting"), sides_mode="turned")
    control.say(fake.lit(exposure=both))
    seen = visit({"width": 360, "height": 740})
    seen.go()
    expect(seen.page.locator(".side[data-is=waiting] .dose b")).to_be_visible()
    places = [
        seen.page.locator(each).bounding_box() for each in (".side[data-is=lit]", ".side[data-is=waiting]", "#bar")
    ]
    lit, waiting, bar = (place for place in places if place is not None)
    assert lit["y"] + lit["height"] <= waiting["y"]
    assert waiting["y"] + waiting["height"] <= bar["y"]
