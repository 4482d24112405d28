"""The page Jobs: cards with one act, the rest folded; forms that ask control; timers that ring on every page."""

import re
from html import unescape

import pytest
from flask.testing import FlaskClient

from sumlight.text.message import say
from tests.webui import fake_control as fake
from tests.webui import fake_jobs
from tests.webui.fake_control import FakeControl, RefusalError, wait_until
from tests.webui.given import BATHS, JOBS, LIGHT, ORIGIN


def page(client: FlaskClient, path: str, status: int = 200) -> str:
    """The text of a page."""
    answer = client.get(path)
    assert answer.status_code == status
    return re.sub(r"\s+", " ", unescape(answer.text))


def asked(control: FakeControl, command: str) -> dict[str, object]:
    """The only time that a command was given, without its number."""
    (found,) = [request for request in control.commands if request["command"] == command]
    return {key: value for key, value in found.items() if key not in ("id", "command")}


def test_the_list_says_what_is_due_on_each_panel(client: FlaskClient) -> None:
    """And how far it is."""
    text = page(client, "/jobs/")
    assert "blue-38 · 4" in text
    assert "Etch</b> (begun)" in text
    assert "Step 17 of 23" in text
    assert "Cut and deburr" in text


def test_a_card_says_what_to_do_now_after_its_cautions(client: FlaskClient) -> None:
    """With this panel's numbers: 150 µm at 10 µm/min from both sides, a fifth less than 7.5 min (by hand)."""
    text = page(client, "/jobs/panels/7")
    caution, sentence = text.index("Gloves, goggles, and no metal tools."), text.index("first look after 6.0 min")
    assert caution < sentence
    assert "seen, not timed" in text


def test_a_card_has_one_act_and_the_rest_is_folded(client: FlaskClient) -> None:
    """Done is on top; skip, wrong and giving up lie in a fold."""
    text = page(client, "/jobs/panels/7")
    section = text[text.index('<section class="result"') : text.index("</section>")]
    before_fold = section[: section.index("<details>")]
    assert re.findall(r'name="act" value="(\w+)"', before_fold) == ["done"]
    assert set(re.findall(r'name="act" value="(\w+)"', section)) == {"done", "skip", "wrong"}


@pytest.mark.parametrize(
    ("kind", "state", "act"),
    [("etch", "wrong", "again"), ("etch", "begun", "done"), ("strip", "begun", "done")],
)
def test_the_one_act_follows_the_state(
    client: FlaskClient, control: FakeControl, kind: str, state: str, act: str
) -> None:
    """What went wrong is done again; what was begun is done."""
    control.answers["card"] = lambda _request: fake_jobs.card(kind, state)
    text = page(client, "/jobs/panels/7")
    assert re.search(r'name="act" value="(\w+)" class="big"', text)[1] == act  # type: ignore[index]


def test_a_press_on_a_card_is_noted_by_control(client: FlaskClient, control: FakeControl) -> None:
    """With who pressed; then the card is shown again."""
    answer = client.post("/jobs/panels/7/step", data={"step_id": "17", "act": "done"}, headers=ORIGIN)
    assert (answer.status_code, answer.headers["Location"]) == (303, "/jobs/panels/7")
    assert asked(control, "job_step") == {"panel_id": 7, "step_id": 17, "act": "done", "word": "", "who": "Ada"}


def test_a_watcher_notes_nothing(app, control: FakeControl) -> None:  # type: ignore[no-untyped-def]
    """And is offered nothing."""
    watcher = app.test_client()
    assert watcher.post("/jobs/panels/7/step", data={"step_id": "17", "act": "done"}, headers=ORIGIN).status_code == 401
    assert "job_step" not in control.names()
    assert 'name="act"' not in watcher.get("/jobs/panels/7").text
    assert 'action="/jobs/new"' not in watcher.get("/jobs/new").text


def test_a_new_job_is_proposed_whole(client: FlaskClient, control: FakeControl) -> None:
    """As the last one, as far as the only recipe lets it: that lights one side, so it is a board."""
    text = page(client, "/jobs/new")
    assert re.search(r'value="blue-38" checked', text)
    assert re.search(r'value="board_one" checked', text)
    assert re.search(r'value="copper" checked', text)
    assert 'value="35"' in text
    sent = {"recipe": "blue-38", "plan": "board_one", "metal": "copper", "thickness_um": "35", "wanted": "1"}
    answer = client.post("/jobs/new", data=sent, headers=ORIGIN)
    assert answer.headers["Location"] == "/jobs/panels/7"
    known = {"recipe": "blue-38", "plan": "board_one", "metal": "copper", "thickness_um": 35.0, "wanted": 1}
    assert asked(control, "job_new") == known | {"artwork": "", "who": "Ada"}


@pytest.mark.parametrize(("field", "value"), [("thickness_um", "-35"), ("thickness_um", "last year"), ("wanted", "0")])
def test_what_cannot_be_stands_beside_its_field_and_nothing_is_asked(
    client: FlaskClient, control: FakeControl, field: str, value: str
) -> None:
    """What was typed stays."""
    sent = {"recipe": "blue-38", "plan": "board_one", "metal": "copper", "thickness_um": "35", "wanted": "1"}
    answer = client.post("/jobs/new", data=sent | {field: value}, headers=ORIGIN)
    assert answer.status_code == 422
    assert f'id="f-{field.replace("_", "-")}-error"' in answer.text
    assert f'value="{value}"' in answer.text
    assert "job_new" not in control.names()


def test_what_control_refuses_stands_in_the_form(client: FlaskClient, control: FakeControl) -> None:
    """Aluminium in peroxide."""

    def refuse(_request: object) -> dict[str, object]:
        raise RefusalError("refused", "Refused: aluminium does not go into peroxide bath: it boils over.")

    control.answers["job_numbers"] = refuse
    answer = client.post("/jobs/3/numbers", data={"etchant": "peroxide", "rate_um_min": "10"}, headers=ORIGIN)
    assert answer.status_code == 409
    assert "aluminium does not go into peroxide bath" in answer.text


def test_numbers_plan_and_end_are_asked_of_control(client: FlaskClient, control: FakeControl) -> None:
    """Each by its own command."""
    client.post("/jobs/3/numbers", data={"clear_s": "30 s", "etchant": "iron", "rate_um_min": "9,5"}, headers=ORIGIN)
    told = {"job_id": 3, "clear_s": 30.0, "etchant": "iron", "rate_um_min": 9.5, "open_cm2": None}
    assert asked(control, "job_numbers") == told
    client.post("/jobs/3/plan", data={"step_id": "5", "act": "edit", "words": "Two passes."}, headers=ORIGIN)
    assert asked(control, "job_plan") == {"job_id": 3, "step_id": 5, "act": "edit", "words": "Two passes."}
    client.post("/jobs/3/end", data={"panel_id": "7"}, headers=ORIGIN)
    assert asked(control, "job_end") == {"job_id": 3, "panel_id": 7}


def test_a_timer_is_started_by_hand_and_answered(client: FlaskClient, control: FakeControl) -> None:
    """Times as people write them; one of last year is a clear error."""
    assert client.post("/jobs/timers", data={"seconds": "8 min", "title": "tea"}, headers=ORIGIN).status_code == 303
    assert asked(control, "timer_start") == {"seconds": 480.0, "title": "tea"}
    wrong = client.post("/jobs/timers", data={"seconds": "2025-11-29"}, headers=ORIGIN)
    assert wrong.status_code == 422
    assert "is not a time" in unescape(wrong.text)
    answer = client.post("/jobs/timers/2", data={"panel_id": "7"}, headers=ORIGIN)
    assert answer.headers["Location"] == "/jobs/panels/7"
    assert asked(control, "timer_answer") == {"timer_id": 2, "stop": False}


def rings(control: FakeControl, client: FlaskClient, **changed: object) -> None:
    """From now on the etch's timer rings."""
    one = fake_jobs.timer(say("ring_look_etch"), panel="blue-38 · 4", **changed)
    control.say(fake.snapshot(jobs=fake_jobs.said(timers=[one])))
    wait_until(lambda: "Look: the places" in client.get("/bar.json").text)


def test_a_timer_rings_on_every_page(client: FlaskClient, control: FakeControl) -> None:
    """With what it is for, and the press that answers it."""
    rings(control, client)
    for path in ("/", "/recipes/", "/panels/", "/lamps/", "/box/", "/access/", LIGHT[0], BATHS[0], *JOBS):
        text = page(client, path)
        assert "<b>blue-38 · 4 · Etch</b> Look: the places that go last." in text, path
        assert 'action="/jobs/timers/2"' in text, path
    part = client.get("/bar.json").json["parts"]["rings"]  # type: ignore[index]
    assert "I heard it" in part["html"]


def test_a_timer_that_a_clock_made_unsure_says_so(client: FlaskClient, control: FakeControl) -> None:
    """Where it rings."""
    rings(control, client, unsure=True)
    assert "The clock was set meanwhile" in page(client, "/")


def test_a_watcher_hears_a_timer_but_has_no_press(app, client: FlaskClient, control: FakeControl) -> None:  # type: ignore[no-untyped-def]
    """Who watches must not silence it for the others."""
    rings(control, client)
    text = app.test_client().get("/panels/").text
    assert "look: the places that go last" in text.lower()
    assert "I heard it" not in text


def test_the_bench_says_in_one_line_what_is_due_next(client: FlaskClient, control: FakeControl) -> None:
    """Of all panels; nothing while none is on its way."""
    assert re.search(r'<p class="due" data-show="due" hidden>', page(client, "/"))
    control.say(fake.snapshot(jobs=fake_jobs.said()))
    wait_until(lambda: "Next in 4 min 20 s: blue-38 · 4, Etch" in page(client, "/"))
    waiting = {"panel_id": 8, "panel": "blue-38 · 5", "title": say("step_develop"), "left_s": 0.0}
    control.say(fake.snapshot(jobs=fake_jobs.said(due=waiting)))
    wait_until(lambda: "Due next: blue-38 · 5, Develop" in page(client, "/"))


def test_baths_stand_under_jobs(client: FlaskClient) -> None:
    """Seven places are what a row of fingers holds; the sums are one tap from the cards."""
    for path in ("/jobs/", "/baths/", "/baths/waste"):
        text = page(client, path)
        nav = text[text.index("<nav") : text.index("</nav>")]
        assert re.findall(r'href="([^"]+)" aria-current="page"', nav) == ["/jobs/"], path
        assert len(re.findall("<a ", nav)) == 7
    assert 'href="/baths/"' in page(client, "/jobs/")


def test_a_card_that_is_not_there_is_not_found(client: FlaskClient, control: FakeControl) -> None:
    """With control's words."""

    def none(_request: object) -> dict[str, object]:
        raise RefusalError("not_found", "there is no panel 9 in an open job", "panel_id")

    control.answers["card"] = none
    assert "There is no panel 9 in an open job." in page(client, "/jobs/panels/9", 404)


@pytest.mark.parametrize("language", ["en", "de"])
def test_no_page_of_an_etch_says_when_to_take_it_out(client: FlaskClient, language: str) -> None:
    """In any language: through is seen, not timed."""
    client.post("/choice", data={"language": language, "back": "/"}, headers=ORIGIN)
    text = page(client, "/jobs/panels/7")
    now = text[text.index('<section class="result"') : text.index("</section>")]
    assert not re.search(r"take (it|the panel) out|herausnehmen|nehmen Sie (sie|die Platte) heraus", now)
    assert ("seen, not timed" if language == "en" else "sieht man") in now


def test_a_card_says_when_the_bar_would_light_something_else(client: FlaskClient, control: FakeControl) -> None:
    """The bar offers blue-38 · 1, for the logbook knows of no card; this one is another panel."""
    control.answers["card"] = lambda _request: fake_jobs.card("expose", "wrong") | {"label": "blue-38 · 1"}
    assert "The bar below lights it" in page(client, "/jobs/panels/7")
    lit = fake_jobs.card("settle", "done")
    control.answers["card"] = lambda _request: lit
    text = page(client, "/jobs/panels/7")
    assert "Expose side A" in text
    assert "The bar would light something else" in text
    assert 'href="/?recipe=blue-38"' in text
    control.answers["card"] = lambda _request: lit | {"label": "blue-38 · 1"}
    assert "The bar below lights it" in page(client, "/jobs/panels/7")
