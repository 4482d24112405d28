"""The Bench by Flask's client: what it shows and which commands reach control."""

import re
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from sumlight.cli import display
from sumlight.text.message import Message, joined, say
from sumlight_web.services import AppServices
from tests.webui import fake_control as fake
from tests.webui.fake_answers import calibration
from tests.webui.fake_control import FakeControl, RefusalError, hear, wait_until
from tests.webui.given import ORIGIN
from tests.webui.operating import NAME

TYPED = {"recipe": "blue-38", "panel": "P12", "note": ""}
START = TYPED | fake.SEEN_BEFORE_START
JSON = ORIGIN | {"Accept": "application/json"}


def shown(client: FlaskClient, services: AppServices, control: FakeControl, said: dict[str, Any]) -> str:
    """The Bench once the box says `said`."""
    hear(services.watch, control, said)
    return client.get("/").text


def chosen(page: str) -> list[str]:
    """The recipes that the Bench shows as chosen."""
    return re.findall(r'data-recipe="([^"]+)" aria-current="true"', page)


def test_an_idle_bench_offers_recipes_a_label_and_start(client: FlaskClient) -> None:
    """The first thing a person sees is what to do next."""
    page = client.get("/").text
    assert "Choose a recipe, then light it." in page
    assert "Light blue-38" in page
    assert "60 mJ/cm²" in page
    assert "Simulated box" in page


def test_recipes_to_choose_from_tell_their_dose_in_the_units_of_the_box(
    client: FlaskClient, services: AppServices, control: FakeControl
) -> None:
    """A Bench that stands open hears of a calibration that was made meanwhile."""
    told = {}
    for relative, unit in ((True, "60 box units ·"), (False, "60 mJ/cm² ·")):
        hear(services.watch, control, fake.snapshot(calibration={"lower": calibration(relative=relative)}))
        page = client.get("/").text
        picks = page.split('data-part="picks"')[1].split("</a>")[0]
        assert unit in picks
        told[unit] = picks.split('data-key="')[1].split('"')[0]
    assert len(set(told.values())) == 2


def test_start_reaches_control_and_leads_back_to_the_bench(client: FlaskClient, control: FakeControl) -> None:
    """Without script a plain form does it."""
    response = client.post("/bench/start", data=START | {"panel": "  P12 "}, headers=ORIGIN)
    assert (response.status_code, response.location) == (303, "/")
    seen = {"state_number": fake.STATE_NUMBER, "recipe_sha256": fake.RECIPE_SHA256, "side": "A"}
    told = {key: value for key, value in control.commands[-1].items() if key != "id"}
    assert told == {"command": "start", "who": NAME} | TYPED | seen


@pytest.mark.parametrize("command", ["go", "dark", "abandon", "acknowledge"])
def test_plain_commands_reach_control(client: FlaskClient, control: FakeControl, command: str) -> None:
    """Each button is one command, for forms and for scripts."""
    form = fake.SEEN_BEFORE_GO if command == "go" else {}
    assert client.post(f"/bench/{command}", data=form, headers=ORIGIN).status_code == 303
    answer = client.post(f"/bench/{command}", data=form, headers=JSON)
    assert answer.json is not None
    assert answer.json["ok"] is True
    assert control.names() == [command, command]


@pytest.mark.parametrize("command", ["start", "go", "dark", "abandon", "acknowledge"])
def test_commands_do_not_pass_by_link(client: FlaskClient, control: FakeControl, command: str) -> None:
    """An address that someone follows must not light a lamp."""
    assert client.get(f"/bench/{command}", headers=ORIGIN).status_code == 405
    assert control.names() == []


def test_an_empty_start_names_both_fields_and_sends_nothing(client: FlaskClient, control: FakeControl) -> None:
    """Each mistake beside its field."""
    response = client.post("/bench/start", headers=ORIGIN)
    assert response.status_code == 422
    assert "Choose a recipe." in response.text
    assert "Give the panel a label" in response.text
    assert control.names() == []


def test_a_refused_field_is_shown_beside_it_and_the_text_is_kept(client: FlaskClient, control: FakeControl) -> None:
    """Control's words come through, and nothing has to be typed again."""

    def refuse(request: object) -> dict[str, Any]:
        raise RefusalError("bad_value", "This label is taken.", field="panel", remedy="Use another.")

    control.answers["start"] = refuse
    response = client.post("/bench/start", data=START, headers=ORIGIN)
    assert response.status_code == 422
    assert "This label is taken. Use another." in response.text
    assert 'value="P12"' in response.text
    assert chosen(response.text) == ["blue-38"]


def test_a_refusal_for_a_script_is_json_with_message_and_remedy(client: FlaskClient, control: FakeControl) -> None:
    """The script puts it in place."""

    def refuse(request: object) -> dict[str, Any]:
        raise RefusalError("refused", "The lid is open.", remedy="Shut the lid.")

    control.answers["go"] = refuse
    response = client.post("/bench/go", data=fake.SEEN_BEFORE_GO, headers=JSON)
    assert response.status_code == 409
    assert response.json is not None
    assert response.json["error"] == {
        "code": "refused",
        "field": None,
        "message": "The lid is open.",
        "remedy": "Shut the lid.",
    }


def test_a_dark_that_did_not_arrive_says_so_and_what_to_do(
    client: FlaskClient, control: FakeControl, services: AppServices
) -> None:
    """The most important refusal of all: the lamps may still be lit."""
    control.__exit__(None, None, None)
    try:
        response = client.post("/bench/dark", headers=ORIGIN)
        assert response.status_code == 503
        assert "Lamps off did NOT reach the box." in response.text
        assert "Open the lid or use the emergency stop" in response.text
        wait_until(lambda: not services.watch.latest().connected)
        assert "No word from the box" in client.get("/").text
    finally:
        control.__enter__()


def test_dark_is_on_every_page(client: FlaskClient) -> None:
    """Whatever a person is looking at."""
    for path in ("/", "/recipes/", "/recipes/new", "/panels/", "/panels/99"):
        assert 'action="/bench/dark"' in client.get(path).text


def test_a_turned_panel_asks_for_side_b(client: FlaskClient, services: AppServices, control: FakeControl) -> None:
    """One big act, named after what it does."""
    both = fake.exposure(fake.side("A", state="done"), fake.side("B", state="waiting", dose_mj_cm2=0.0))
    said = fake.snapshot(state="turn", may=["go", "abandon", "dark"], sentence="Turn it.", exposure=both)
    page = shown(client, services, control, said)
    assert "Light side B" in page
    assert "Yes, give up this panel" in page
    assert "Side B" in page


@pytest.mark.parametrize(
    ("cause", "words"),
    [
        ("lid", "the lid was opened"),
        ("dark_command", "someone pressed Lamps off"),
        ("fault", "a fault put the lamps off"),
        ("restart", "the controller was restarted"),
    ],
)
def test_a_pause_names_its_cause(
    client: FlaskClient, services: AppServices, control: FakeControl, cause: str, words: str
) -> None:
    """A person must know why it is dark before pressing continue."""
    said = fake.lit(state="paused", may=["go", "abandon", "dark"], exposure=fake.exposure(pause_cause=cause))
    page = shown(client, services, control, said)
    assert f"Paused because {words}." in page
    assert "Continue" in page


def test_a_fault_shows_remedy_and_can_be_cleared_only_when_control_allows(
    client: FlaskClient, services: AppServices, control: FakeControl
) -> None:
    """The button appears with the permission."""
    said = fake.snapshot(state="faulted", may=["dark"], faults=[fake.fault(cause_gone=False)])
    page = shown(client, services, control, said)
    assert "Check the cable of the meter" in page
    assert "The cause is still there." in page
    assert "/bench/acknowledge" not in page
    said = fake.snapshot(state="faulted", may=["dark", "acknowledge"], faults=[fake.fault()])
    assert "/bench/acknowledge" in shown(client, services, control, said)


def test_lamps_that_are_off_are_not_said_to_be_mended(
    client: FlaskClient, services: AppServices, control: FakeControl
) -> None:
    """A dark tube is not seen in the dark: what has gone is the light, not its cause."""
    for name, told in (("tube_out", "nobody has looked at them yet."), ("meter_lost", "The cause is gone.")):
        fault = fake.fault(name=name, cause_gone=True)
        page = shown(client, services, control, fake.snapshot(state="faulted", faults=[fault]))
        card = page.split('<section class="fault"')[1].split("</section>")[0]
        assert told in card
        assert ("The cause is gone." in card) == (name == "meter_lost")


@pytest.mark.parametrize(
    ("said", "words", "why"),
    [
        ({"lid": "open"}, "Light blue-38", "Shut the lid first."),
        ({"lid": "disagree"}, "Light blue-38", "The lid&#39;s contacts disagree."),
        (
            {"state": "paused", "lid": "open", "exposure": fake.exposure(pause_cause="lid")},
            "Continue blue-38",
            "Shut the lid first.",
        ),
    ],
)
def test_an_act_that_is_not_possible_stands_in_its_place_with_the_reason(
    client: FlaskClient, services: AppServices, control: FakeControl, said: dict[str, Any], words: str, why: str
) -> None:
    """Continue lies where it will be pressed while the lid is still open, so that nothing moves under a thumb."""
    page = shown(client, services, control, fake.snapshot(may=["abandon", "dark"], **said))
    (button,) = re.findall(r'<button class="act" id="light"( disabled)?>(.*?)</button>', page)
    assert button[0] == " disabled"
    assert words in button[1]
    assert why in button[1]
    assert "for good" not in page.split('class="place"')[1]


def test_unsaved_records_and_warnings_are_shown(
    client: FlaskClient, services: AppServices, control: FakeControl
) -> None:
    """Trouble with the disk is the operator's business too."""
    said = fake.snapshot(
        logbook={"ok": False, "message": "The disk is full.", "lag_s": 9.0, "keep_traces_days": None},
        warnings=["No K1 enable line."],
    )
    page = shown(client, services, control, said)
    assert "Records are not being saved." in page
    assert "The disk is full." in page
    assert "No K1 enable line." in page


def test_words_from_outside_are_escaped(
    client: FlaskClient, services: AppServices, control: FakeControl, data: Path
) -> None:
    """A label is text, whatever is typed into it."""
    evil = "<script>alert(1)</script>"
    said = fake.lit(
        box=evil, sentence=evil, warnings=[evil], faults=[fake.fault(title=evil)], exposure=fake.exposure(panel=evil)
    )
    page = shown(client, services, control, said)
    assert evil not in page
    assert "&lt;script&gt;" in page
    state = client.get("/state.json").json
    assert state is not None
    assert evil not in str(state["parts"])


def test_the_bench_comes_up_without_a_recipe_folder(client: FlaskClient, data: Path) -> None:
    """Dark must be there even when nothing else is."""
    for file in (data / "recipes").iterdir():
        file.unlink()
    (data / "recipes").rmdir()
    assert "There is no usable recipe yet." in client.get("/").text
    (data / "recipes").write_text("a file where a folder should be", encoding="utf-8")
    response = client.get("/")
    assert response.status_code == 200
    assert "cannot be read" in response.text
    assert "Lamps off" in response.text


def test_the_recipe_of_the_last_panel_is_chosen_again(
    client: FlaskClient, services: AppServices, control: FakeControl
) -> None:
    """The next panel is mostly like the last."""
    assert chosen(shown(client, services, control, fake.rising(20.0))) == ["blue-38"]


def test_hands_move_the_lid_of_a_simulated_box(client: FlaskClient, control: FakeControl) -> None:
    """Somebody who tries the page has no real lid to lift."""
    assert "Your hands on the simulated box" in client.get("/").text
    assert client.post("/bench/hands", data={"do": "lid_opens"}, headers=ORIGIN).status_code == 303
    assert {key: value for key, value in control.commands[-1].items() if key != "id"} == {
        "command": "simulate",
        "do": "lid_opens",
    }


@pytest.mark.parametrize(
    ("sign", "told", "shown_words"),
    [
        ("needs_you", None, "two short tones"),
        ("fault", None, "five long tones"),
        ("ready", say("go_begins_nothing"), "The go button begins nothing here."),
    ],
)
def test_hands_press_the_buttons_of_a_simulated_box_and_see_and_hear_its_signs(
    client: FlaskClient, services: AppServices, control: FakeControl, sign: str, told: Message | None, shown_words: str
) -> None:
    """Where it has a front panel; why a press did nothing is said there, too."""
    panel = {"has": ["go", "stop"], "sign": sign, "buzzer": False, "light": True, "waits_s": None, "said": told}
    page = shown(client, services, control, fake.snapshot(front_panel=panel))
    assert all(f'value="{do}"' in page for do in ("go_tapped", "stop_tapped"))
    assert shown_words in page
    assert "go_tapped" not in shown(client, services, control, fake.snapshot())


def test_hands_read_the_display_of_a_simulated_box(
    client: FlaskClient, services: AppServices, control: FakeControl
) -> None:
    """The rows that the box's own display would show, where it has one; a long sentence turns its page in time."""
    panel = {"has": ["display"], "sign": "ready", "buzzer": False, "light": True, "waits_s": None, "said": None}
    told = {"state": "light", "sentence": say("panel_receives_light"), "front_panel": panel}
    long = fake.snapshot(**told | {"sentence": joined(*[say("panel_receives_light")] * 2)})
    sheets = set()
    for mono_s in (0.0, 3.0):
        page = shown(client, services, control, long | {"mono_s": mono_s})
        sheets.add(page.partition('data-text="display">')[2].partition("<")[0])
    assert len(sheets) == 2
    page = shown(client, services, control, fake.snapshot(**told))
    rows = page.partition('data-text="display">')[2].partition("<")[0].split("\n")
    assert rows == display.lines(fake.snapshot(**told), 20, 4)
    assert "On the display" not in shown(client, services, control, fake.snapshot(front_panel=panel | {"has": ["go"]}))


def test_a_real_box_shows_no_hands(client: FlaskClient, services: AppServices, control: FakeControl) -> None:
    """Its lid is moved by real ones."""
    assert "Your hands" not in shown(client, services, control, fake.snapshot(simulated=False))


def test_the_state_stands_in_the_first_page_and_little_is_fetched_before_it_is_shown(client: FlaskClient) -> None:
    """One script: each further file delays the first paint of a slow phone by a request.

    What keeps the page up to date is named in `data-late`, which commands.js fetches once the page has been painted.
    """
    page = client.get("/").text
    assert "Ready" in page.split("<main")[1]
    # Browsers read these when they have nothing else to do, or when the page is put on a phone's screen.
    paint = re.sub(r'<link rel="(manifest|apple-touch-icon)"[^>]*>', "", page)
    fetched = re.findall(r'<(?:script|link)[^>]*?(?:src|href)="(/[^"]+)"', paint)
    assert sorted(fetched) == ["/static/commands.js", "/static/icon.svg"]
    late = " ".join(re.findall(r'data-late="([^"]*)"', page)).split()
    assert sorted(late) == [f"/static/{name}.js" for name in ("axes", "bar", "bench", "curve", "notice", "reach")]
