"""Cards and baths against the real control on the twin: what a card costs in taps, timers on every page, two walks."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from sumlight.protocol.client import ControlClient
from tests.browser.acting import act
from tests.browser.conftest import PHONE, WAIT_LIMIT_MS
from tests.browser.test_twin import RECIPE, SPEED, TURNED, attended
from tests.running import RunningTwin
from tests.webui.fake_control import wait_until
from tests.webui.operating import become_operator

MOST_TAPS_MORE = 3
"""What a card that nobody fills in may cost over exposing alone (issue 'The whole job')."""


@pytest.fixture
def twin(tmp_path: Path) -> Iterator[RunningTwin]:
    """A running twin with one recipe."""
    (tmp_path / "recipes").mkdir()
    (tmp_path / "recipes" / "blue.yaml").write_text(RECIPE, encoding="utf-8")
    (tmp_path / "turned").write_text(TURNED, encoding="utf-8")
    with RunningTwin(tmp_path, speed=SPEED) as running, ControlClient(running.socket) as client:
        running.wait_until_ready(client)
        yield running


@pytest.fixture
def phone(browser: Browser, twin: RunningTwin) -> Iterator[Page]:
    """An operator's phone that shows the Bench and counts every tap of a finger."""
    page = browser.new_page(viewport={"width": PHONE["width"], "height": PHONE["height"]}, locale="en")
    become_operator(page, twin.url, twin.data)
    page.set_default_timeout(WAIT_LIMIT_MS)
    page.add_init_script(
        "addEventListener('click', (e) => { if (e.isTrusted)"
        " sessionStorage.taps = Number(sessionStorage.taps || 0) + 1; }, true)"
    )
    page.goto(twin.url)
    yield page
    page.close()


def taps(page: Page) -> int:
    """How many so far."""
    return int(page.evaluate("Number(sessionStorage.taps || 0)"))


def state(twin: RunningTwin) -> dict[str, object]:
    """The snapshot."""
    with ControlClient(twin.socket) as client:
        found: dict[str, object] = client.ask("state")
        return found


def expose(page: Page, twin: RunningTwin) -> int:
    """Light what the bar offers, to its end; returns the taps so far when it had begun."""
    act(page, "Light blue")
    wait_until(lambda: state(twin)["state"] not in ("idle", "done"))
    begun = taps(page)
    attended(page, lambda: state(twin)["state"] == "done")
    return begun


def test_an_untouched_card_costs_three_taps_more_than_exposing_alone(phone: Page, twin: RunningTwin) -> None:
    """Jobs, New job, Make the card; the bar lights from there, and the card has noted it by itself."""
    alone = expose(phone, twin)
    with ControlClient(twin.socket) as client:  # the panel is taken out by hand, which is no tap
        for do in ("lid_opens", "lid_closes"):
            client.ask("simulate", do=do)
            wait_until(lambda do=do: state(twin)["lid"] == ("open" if do == "lid_opens" else "shut"))  # type: ignore[misc]
    before = taps(phone)
    phone.get_by_role("link", name="Jobs").click()
    phone.get_by_role("link", name="New job").click()
    phone.get_by_role("button", name="Make the card").first.click()
    expect(phone.get_by_role("heading", name="blue · 2")).to_be_visible()
    assert expose(phone, twin) - before - alone <= MOST_TAPS_MORE
    assert state(twin)["exposure"]["panel"] == "blue · 2"  # type: ignore[index]
    phone.reload()
    expect(phone.get_by_role("heading", name="Hold")).to_be_visible()
    expect(phone.get_by_text("Let it rest in the dark for 15 min").first).to_be_visible()


def test_a_timer_rings_on_whatever_page_is_open_until_it_was_heard(phone: Page, twin: RunningTwin) -> None:
    """Without loading the page again; one tap answers it."""
    phone.goto(f"{twin.url.rstrip('/')}/recipes/")
    with ControlClient(twin.socket) as client:
        client.ask("timer_start", seconds=5.0, title="rinse")
    expect(phone.locator(".ring")).to_contain_text("rinse")
    expect(phone.locator(".ring")).to_contain_text("The time is over.")
    phone.get_by_role("button", name="I heard it").click()
    expect(phone.locator(".ring")).to_have_count(0)
    assert state(twin)["jobs"]["timers"] == []  # type: ignore[index]
    phone.goto(twin.url)
    with ControlClient(twin.socket) as client:
        client.ask("timer_start", seconds=5.0, title="dry")
    expect(phone.locator(".ring")).to_contain_text("dry")


def test_a_card_goes_from_begin_to_done(phone: Page, twin: RunningTwin) -> None:
    """One act at a time, with the caution where the danger is."""
    with ControlClient(twin.socket) as client:
        panel_id = client.ask("job_new")["panel_ids"][0]
    phone.goto(f"{twin.url.rstrip('/')}/jobs/panels/{panel_id}")
    expect(phone.get_by_role("heading", name="Cut and deburr")).to_be_visible()
    expect(phone.get_by_text("Gloves: fresh edges cut.")).to_be_visible()
    phone.locator("button.big", has_text="Done").click()
    expect(phone.get_by_role("heading", name="Degrease")).to_be_visible()
    phone.get_by_text("Something else", exact=True).click()
    phone.get_by_label("What went wrong?").fill("a scratch")
    phone.get_by_role("button", name="It went wrong").click()
    expect(phone.get_by_text("Noted: a scratch")).to_be_visible()
    phone.get_by_role("button", name="Do it again").click()
    expect(phone.locator("button.big", has_text="Done")).to_be_visible()


STATIONS = 23
"""Steps of a sheet that is lit from two sides."""


def opened_and_shut(twin: RunningTwin) -> None:
    """A hand at the box takes the panel out, or turns it."""
    with ControlClient(twin.socket) as client:
        for do, lid in (("lid_opens", "open"), ("lid_closes", "shut")):
            client.ask("simulate", do=do)
            wait_until(lambda lid=lid: state(twin)["lid"] == lid)  # type: ignore[misc]


def spoil_and_mend(page: Page, title: str) -> None:
    """The station goes wrong, is noted in a word, and is done again."""
    page.get_by_text("Something else", exact=True).click()
    page.get_by_label("What went wrong?").fill(f"spoilt: {title}")
    page.get_by_role("button", name="It went wrong").click()
    expect(page.get_by_text(f"Noted: spoilt: {title}")).to_be_visible()
    page.get_by_role("button", name="Do it again").click()
    expect(page.locator("button.big", has_text=re.compile("Begin|Done"))).to_be_visible()


def fill_the_shelf(page: Page, address: str) -> None:
    """A roll of resist, and a stencil through its steps, measured: by the page alone."""
    page.goto(f"{address}/stock/roll")
    page.get_by_role("button", name="Put it on the shelf").click()
    expect(page.get_by_role("heading", name="Roll 1")).to_be_visible()
    page.goto(f"{address}/stock/stencil")
    page.get_by_label("Artwork").fill("gear")
    page.get_by_label("Strip between the sheets").fill("400")
    page.get_by_role("button", name="Put it on the shelf").click()
    for step in ("print", "let it lie", "register and fix", "check against light"):
        page.get_by_role("button", name=f"Done {step}").click()
        expect(page.get_by_role("button", name=f"Take back {step}")).to_be_visible()
    page.get_by_text("Note what was measured", exact=True).click()
    page.get_by_label("Front and back lie apart by").fill("40")
    page.get_by_role("button", name="Note it").click()
    expect(page.get_by_text("Front and back lie 40 µm apart").first).to_be_visible()


SHELF = {
    "Laminate side A": "No step tablet was lit since this roll was opened",
    "Expose side A": "Its strip is 400 µm and the metal 35 µm: the films will shift.",
}
"""What the shelf says on the card at a station."""


FRAME = {
    "Expose side A": "In the frame: stencil 2 (gear), front film (A) towards the lamps",
    "Expose side B": "In the frame: stencil 2 (gear), back film (B) towards the lamps",
}
"""What the Bench says of the stencil where a side is begun."""


@pytest.mark.parametrize("stations", [4, pytest.param(STATIONS, marks=pytest.mark.campaign)])
def test_a_two_sided_panel_goes_from_cut_metal_to_the_parted_part(
    phone: Page, twin: RunningTwin, stations: int
) -> None:
    """By the page alone, on a phone, with a fault at each station; the box notes both sides by itself."""
    (twin.data / "turned").rename(twin.data / "recipes" / "turned.yaml")
    if stations == STATIONS:
        fill_the_shelf(phone, twin.url.rstrip("/"))
    phone.goto(f"{twin.url.rstrip('/')}/jobs/new")
    phone.locator('input[name="recipe"][value="turned"]').check()
    phone.locator('input[name="plan"][value="sheet_two"]').check()
    phone.get_by_label("Artwork").fill("gear")
    phone.get_by_role("button", name="Make the card").first.click()
    expect(phone.get_by_role("heading", name="turned · 1")).to_be_visible()
    card = phone.url
    titles: list[str] = []
    while "/panels/" in phone.url and len(titles) < stations:
        title = phone.locator("#now").inner_text().partition(" Step")[0].strip()
        titles.append(title)
        if stations == STATIONS and title in SHELF:
            expect(phone.locator("#now").locator("..")).to_contain_text(SHELF[title])
        spoil_and_mend(phone, title)
        if title.startswith("Expose"):
            if title.endswith("A"):  # of two recipes none was used yet: the card leads to the Bench with its own
                phone.get_by_role("link", name="To the Bench").click()
            if stations == STATIONS:
                phone.goto(f"{twin.url}?recipe=turned" if title.endswith("A") else twin.url)
                expect(phone.locator(".films:visible").first).to_contain_text(FRAME[title])
            act(phone, "Light turned" if title.endswith("A") else "Light side B")
            phone.goto(twin.url)  # there a loop that a crowded machine held up can be cleared
            done = "turn" if title.endswith("A") else "done"
            attended(phone, lambda done=done: state(twin)["state"] == done)  # type: ignore[misc]
            opened_and_shut(twin)
            phone.goto(card)
        elif phone.locator("button.big", has_text="Begin").count():
            phone.locator("button.big", has_text="Begin").click()
            expect(phone.locator("button.big", has_text="Done")).to_be_visible()
            phone.locator("button.big", has_text="Done").click()
        else:
            phone.locator("button.big", has_text="Done").click()
        phone.wait_for_function(
            "(was) => !document.getElementById('now') || !document.getElementById('now').innerText.startsWith(was)",
            arg=title,
        )
    assert titles[0] == "Cut and deburr"
    if stations == STATIONS:
        assert titles[-1] == "Part from the frame"
        expect(phone.get_by_text("That panel is finished.")).to_be_visible()
        phone.goto(f"{twin.url.rstrip('/')}/stock/2")
        expect(phone.get_by_text("Panels made with it: 1.")).to_be_visible()


def keep_a_mix(page: Page, address: str) -> None:
    """Mix ferric chloride for the wanted litre, and keep it."""
    page.goto(f"{address}/baths/mix/iron")
    page.get_by_label("The number on the can").fill("40")
    page.get_by_role("button", name="Work it out").click()
    page.get_by_role("button", name="It is mixed: keep this bath").click()
    expect(page.get_by_role("heading", name="Bath 1 (ferric chloride)")).to_be_visible()
    expect(page.get_by_text("Nothing has been in it yet.")).to_be_visible()


def etch_one(page: Page, address: str, twin: RunningTwin, number: int) -> None:
    """One panel whose card has come to its etch: begun with the bath's temperature, then done."""
    with ControlClient(twin.socket) as client:
        panel_id = client.ask("job_new")["panel_ids"][0]
        step = next(s for s in client.ask("card", panel_id=panel_id)["steps"] if s["kind"] == "mask_back")
        client.ask("job_step", panel_id=panel_id, step_id=step["step_id"], act="done")
    page.goto(f"{address}/jobs/panels/{panel_id}")
    expect(page.get_by_text("Take bath 1 (ferric chloride).").first).to_be_visible()
    page.get_by_label("Temperature of the bath").fill("22")
    page.locator("button.big", has_text="Begin").click()
    expect(page.get_by_text("Rings in").first).to_be_visible()
    page.locator("button.big", has_text="Done").click()
    expect(page.locator("#now")).to_contain_text("Rinse")
    page.goto(f"{address}/baths/1")
    expect(page.get_by_text(f"Panels so far: {number}.").first).to_be_visible()


@pytest.mark.parametrize("panels", [1, pytest.param(12, marks=pytest.mark.campaign)])
def test_a_bath_goes_from_its_mix_to_waste(phone: Page, twin: RunningTwin, panels: int) -> None:
    """Cards find it, it counts what goes through, a wrong container is refused and the right one takes it."""
    address = twin.url.rstrip("/")
    keep_a_mix(phone, address)
    for number in range(1, panels + 1):
        etch_one(phone, address, twin, number)
    for into, words in (
        ("peroxide", "Refused: ferric chloride and peroxide bath must not meet"),
        ("iron", "Waste since"),
    ):
        if not phone.locator(f'input[name="into"][value="{into}"]').is_visible():
            phone.get_by_text("Move it to waste", exact=True).click()
        phone.locator(f'input[name="into"][value="{into}"]').check()
        phone.get_by_role("button", name="It is in there").click()
        expect(phone.get_by_text(words).first).to_be_visible()
    phone.goto(f"{address}/baths/")
    expect(phone.get_by_text("No bath is in use.")).to_be_visible()
    expect(phone.get_by_role("link", name="Bath 1 (ferric chloride)")).to_be_visible()
