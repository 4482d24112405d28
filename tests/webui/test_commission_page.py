"""Commissioning on the page: where it stands, each step, what is refused, the override, and the reports."""

import re
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight.text.message import Message, say
from sumlight_web.bench.view import LOCKED, bench_view
from sumlight_web.link import Latest
from sumlight_web.services import AppServices
from tests.control.bench_box import demo_box
from tests.control.real_box import RealBox
from tests.webui import commission_told as told
from tests.webui.fake_control import FakeControl, RefusalError, wait_until
from tests.webui.given import ORIGIN
from tests.webui.light_runs import asked, beside, post
from tests.webui.test_hostile import visit_as

HERE = "/box/commissioning"
NAME = "commissioning-20261125-080000.html"


@pytest.fixture
def says(control: FakeControl, services: AppServices) -> Any:
    """Lets the box say something and waits until the page has heard it."""

    def let_say(said: dict[str, Any]) -> None:
        control.say(said)
        wait_until(
            lambda: dict(services.watch.latest().snapshot or {}).get("commissioning") == said.get("commissioning")
        )

    return let_say


def page(client: FlaskClient) -> str:
    """What the page shows, spaces made even."""
    return re.sub(r"\s+", " ", client.get(HERE).text)


# -- where it stands --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("state", "words"),
    [
        ("locked", "Exposures are locked"),
        ("passed", "Passed for the present wiring on 2026-11-25"),
        ("unlocked", "by B. Ench: the radiometer comes tomorrow"),
        ("hand", "Simulated box: nothing is locked here"),
    ],
)
def test_it_is_told_where_commissioning_stands(client: FlaskClient, says: Any, state: str, words: str) -> None:
    """On its own page and on Box, which leads to it."""
    says(told.STATES[state])
    assert words in page(client)
    box = re.sub(r"\s+", " ", client.get("/box/").text)
    assert words in box
    assert f'href="{HERE}"' in box


def test_the_bench_of_a_locked_box_says_so_with_a_way_out(client: FlaskClient, says: Any) -> None:
    """Also for a run under way; a box that is free says nothing."""
    says(told.STATES["locked"])
    assert "Commission the box" in client.get("/").text
    assert HERE in client.get("/").text
    says(told.STATES["step"])
    assert "To the step that is due" in client.get("/").text
    says(told.STATES["passed"])
    assert HERE not in client.get("/").text


@pytest.mark.parametrize("path", ["/", "/box/"])
@pytest.mark.parametrize(("language", "words"), [("en", "not been commissioned for"), ("de", "nicht abgenommen")])
def test_a_lock_is_told_once_and_at_all_times(
    client: FlaskClient, control: FakeControl, services: AppServices, says: Any, path: str, language: str, words: str
) -> None:
    """Beside the way out of it; among the warnings where that way is not shown: in a run, and with an old picture."""
    client.set_cookie("sumlight_language", language)
    says(told.STATES["locked"])
    assert client.get(path).text.count(words) == 1
    if path == "/":
        says(told.STATES["step"])
        assert client.get(path).text.count(words) == 1
    control.mute.set()
    wait_until(lambda: not services.watch.latest().live)
    assert words in client.get(path).text


def test_the_lock_in_the_words_of_control_is_the_one_that_is_left_out(tmp_path: Path) -> None:
    """Of a real box that nobody has commissioned; another warning stays."""
    box = RealBox(tmp_path, demo_box())
    snapshot = box.ask("state")
    box.daemon.close()
    view = bench_view(Latest(snapshot, 0.0, True, 1))  # type: ignore[arg-type]
    assert view.lock == "locked"
    assert [told.code for told in snapshot["warnings"] if isinstance(told, Message)].count(LOCKED) == 1
    assert view.warnings == [
        told for told in snapshot["warnings"] if not isinstance(told, Message) or told.code != LOCKED
    ]


def test_a_bench_that_stands_open_hears_of_the_lock() -> None:
    """Its actions are drawn anew when the lock goes, and when a run begins."""
    keys = {
        bench_view(Latest(told.STATES[name], 0.0, True, 1)).keys["actions"]  # type: ignore[arg-type]
        for name in ("locked", "passed", "step")
    }
    assert len(keys) == 3


def test_a_box_that_was_never_heard_is_not_called_free(tmp_path: Path, data: Path) -> None:
    """Nothing is known then, and nothing can be unlocked."""
    from sumlight_web.app import create_app
    from sumlight_web.services import PageConfig
    from tests.webui.operating import operator_of

    app = create_app(PageConfig(tmp_path / "nobody.sock", data))
    try:
        text = app.test_client().get(HERE).text
        assert "not known until the box answers" in text
        assert "Not heard from the box" in text
        assert "Unlock without" not in text
        answer = operator_of(app).post(f"{HERE}/abort", headers=ORIGIN)
        assert answer.status_code == 503
        assert "Nothing was started or changed" in answer.text
    finally:
        app.extensions["sumlight"].close()


# -- step by step -----------------------------------------------------------------------------------------------------


def test_it_begins_with_a_name(client: FlaskClient, control: FakeControl, says: Any) -> None:
    """An empty one is named beside its field, and so is one that is too long."""
    says(told.STATES["locked"])
    answer = post(client, f"{HERE}/begin", who="  ")
    assert answer.status_code == 422
    assert "Say who does it" in beside(answer.text, "f-who")
    answer = post(client, f"{HERE}/begin", who="x" * 61)
    assert "At most 60 characters" in beside(answer.text, "f-who")
    assert "x" * 61 in answer.text
    assert control.names() == []
    answer = post(client, f"{HERE}/begin", who=" A. Nyone ")
    assert (answer.status_code, answer.location) == (303, HERE)
    assert asked(control, "commission_begin") == {"who": "A. Nyone"}


def test_a_step_says_what_to_do_and_a_press_names_the_moment_it_is_meant_for(
    client: FlaskClient, control: FakeControl, says: Any
) -> None:
    """Number, title, one sentence; the moment goes along, for control to compare."""
    says(told.STATES["step"])
    text = page(client)
    for words in ("Step 2 of 13: The lid reads open", "Open the lid wide.", "I have done it", "Done by A. Nyone"):
        assert words in text
    at = re.search(r'name="at" value="([^"]+)"', text)
    assert at is not None
    post(client, f"{HERE}/next", at=at[1])
    assert asked(control, "commission_next") == {"at": told.run()["at"]}


def test_a_second_browsers_press_is_refused_in_controls_words(
    client: FlaskClient, control: FakeControl, says: Any
) -> None:
    """As control refuses a moment that is over, in the reader's language."""
    says(told.STATES["step"])

    def no(_request: dict[str, Any]) -> dict[str, Any]:
        raise RefusalError("refused", say("walk_has_gone_on"), None, say("look_at_step_due"))

    control.answers["commission_next"] = no
    answer = post(client, f"{HERE}/next", at="old")
    assert answer.status_code == 409
    assert "has gone on meanwhile. Look at the step that is now due." in answer.text
    german = client.post(f"{HERE}/next", data={"at": "old"}, headers=ORIGIN | {"Accept-Language": "de"})
    assert "Die Abnahme ist inzwischen weitergegangen." in german.text


def test_while_the_box_watches_there_is_nothing_to_press_but_give_up(
    client: FlaskClient, control: FakeControl, says: Any
) -> None:
    """And one press gives up."""
    says(told.STATES["lighting"])
    text = page(client)
    assert "Wait: the lamps are lighting." in text
    assert f'action="{HERE}/next"' not in text
    assert f'action="{HERE}/abort"' in text
    assert post(client, f"{HERE}/abort").status_code == 303
    assert control.names() == ["commission_abort"]


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("", "Enter the highest reading"),
        ("much", "is not a number"),
        ("1e3", "is not a number"),
        ("nan", "is not a number"),
        ("-0.1", "from 0 to 1000 mW/cm²"),
        ("1000.5", "from 0 to 1000 mW/cm²"),
        ("9" * 40, "from 0 to 1000 mW/cm²"),
    ],
)
def test_a_leak_reading_that_cannot_be_is_named(
    client: FlaskClient, control: FakeControl, says: Any, typed: str, words: str
) -> None:
    """Beside its field; what was typed stays, control is not asked."""
    says(told.STATES["leak"])
    answer = post(client, f"{HERE}/next", at=told.LEAK["at"], leak_mw_cm2=typed)
    assert answer.status_code == 422
    assert words in beside(answer.text, "f-leak_mw_cm2")
    assert f'value="{typed}"' in answer.text
    assert control.names() == []


@pytest.mark.parametrize(("typed", "value"), [("0.004", 0.004), ("0,004", 0.004), ("0", 0.0), ("1000", 1000.0)])
def test_a_leak_reading_goes_to_control(
    client: FlaskClient, control: FakeControl, says: Any, typed: str, value: float
) -> None:
    """With a point or a comma."""
    says(told.STATES["leak"])
    post(client, f"{HERE}/next", at=told.LEAK["at"], leak_mw_cm2=typed)
    assert asked(control, "commission_next") == {"at": told.LEAK["at"], "leak_mw_cm2": value}


@pytest.mark.parametrize("answer", ["yes", "no"])
def test_the_question_after_the_kill_has_two_buttons(
    client: FlaskClient, control: FakeControl, says: Any, answer: str
) -> None:
    """What was seen decides, so neither is chosen beforehand."""
    says(told.STATES["asked"])
    assert f'name="answer" value="{answer}"' in page(client)
    post(client, f"{HERE}/next", at=told.ASKED["at"], answer=answer)
    assert asked(control, "commission_next")["answer"] == answer


@pytest.mark.parametrize("answer", ["yes", "no"])
def test_the_question_for_a_test_button_has_two_answers(
    client: FlaskClient, control: FakeControl, says: Any, answer: str
) -> None:
    """And neither says that lamps went dark."""
    says(told.STATES["button"])
    text = page(client)
    assert f'name="answer" value="{answer}"' in text
    assert "lamps went dark" not in text
    post(client, f"{HERE}/next", at=told.BUTTON["at"], answer=answer)
    assert asked(control, "commission_next") == {"at": told.BUTTON["at"], "answer": answer}


def test_who_lets_k1_be_held_says_that_he_stands_at_the_box(
    client: FlaskClient, control: FakeControl, says: Any
) -> None:
    """By the button that he presses there; another press does not say so."""
    says(told.STATES["place"])
    text = page(client)
    assert 'name="at_the_box" value="yes"' in text
    assert "I am standing at the box: hold K1" in text
    post(client, f"{HERE}/next", at=told.PLACE["at"], at_the_box="yes")
    assert asked(control, "commission_next")["at_the_box"] is True
    post(client, f"{HERE}/next", at=told.PLACE["at"])
    assert "at_the_box" not in asked(control, "commission_next")


def test_what_is_not_proved_is_never_called_passed(client: FlaskClient, says: Any) -> None:
    """Neither in the list, nor at its head."""
    says(told.STATES["incomplete"])
    text = page(client)
    assert "<b>not proved</b>" in text
    assert "<b>passed</b>" not in text
    assert "Incomplete. Not proved here: The thermal cut-out alone drops K1, Heat is noticed." in text
    assert "Commissioning has passed." not in text


def test_an_older_walk_is_told_with_what_it_did_not_prove(client: FlaskClient, says: Any) -> None:
    """Locked, and why."""
    says(told.STATES["older"])
    text = page(client)
    assert "commissioned by an older walk that proved less" in text
    assert "Not proved so far: The lid switch alone drops K1, The emergency stop alone drops K1." in text


def test_only_a_simulated_box_offers_a_hand(client: FlaskClient, control: FakeControl, says: Any) -> None:
    """And not where a step asks for nothing."""
    says(told.STATES["step"])
    assert "Do it on the simulated box" not in page(client)
    says(told.STATES["hand"])
    assert "Do it on the simulated box" in page(client)
    post(client, f"{HERE}/hands")
    assert asked(control, "simulate") == {"do": "as_asked"}
    says(told.box(simulated=True, run=told.run(kind="cut", waits_for_next=False)))
    assert "Do it on the simulated box" not in page(client)


def test_tubes_are_taken_out_by_hand_on_a_simulated_box_before_each_light(client: FlaskClient, says: Any) -> None:
    """The question whether they may be, the hand that moves them, and none where all are in."""
    says(told.box(simulated=True, run=told.run(kind="tubes", phase="ask", asks="button")))
    text = page(client)
    assert "Yes, one by one" in text
    assert "No: it is not proved here" in text
    assert "Do it on the simulated box" not in text
    for back, out in ((0, 1), (1, 2), (6, 0)):
        tubes = {"bank": "lower", "back": back, "out": out}
        says(told.box(simulated=True, run=told.run(kind="tubes", phase="prepare", tubes=tubes)))
        text = page(client)
        assert "Do it on the simulated box" in text
        assert "Ready: light the lamps" in text
    says(told.box(simulated=True, run=told.run(kind="tubes", phase="prepare", tubes=tubes | {"back": 0})))
    assert "Do it on the simulated box" not in page(client)


def test_a_box_that_goes_away_in_the_middle_is_said_to_and_taken_up_again(
    client: FlaskClient, control: FakeControl, services: AppServices, says: Any
) -> None:
    """The step that kills control: no old step is shown as the present one, nothing but giving up can be pressed."""
    killed = told.run(number=12, step="process_killed", kind="killed", do="Kill the controller.", waits_for_next=False)
    says(told.box(run=killed))
    control.mute.set()
    wait_until(lambda: not services.watch.latest().live)
    text = page(client)
    assert "Not heard from the box" in text
    assert "After the kill that is as it must be" in text
    assert "Kill the controller." not in text
    assert f'action="{HERE}/next"' not in text
    control.mute.clear()
    control.say(told.STATES["asked"])
    wait_until(lambda: services.watch.latest().live)
    wait_until(lambda: "Yes, all lamps went dark" in page(client))


def test_results_stand_in_a_table_with_what_was_measured(client: FlaskClient, says: Any) -> None:
    """0.0123 s of at most 0.025 s; what failed says so in words, what was left out says why."""
    says(told.STATES["failed"])
    text = page(client)
    for words in (
        "<td>0.0123 s</td><td>0.025 s</td>",
        "Lamps told to go dark",
        "FAILED",
        "NOT KEPT",
        "The lid reads shut, but it is open.",
        "Heat is noticed: Not proved here: box.yaml leaves out signals.over_temperature_pin.",
        "Commissioning has failed.",
        f"{HERE}/reports/{NAME}",
    ):
        assert words in text, words


def test_the_script_gets_only_what_has_changed(client: FlaskClient, says: Any) -> None:
    """A form in which somebody types is not sent anew as long as it is the same."""
    says(told.STATES["leak"])
    first = client.get(f"{HERE}/now.json").json
    assert first is not None
    have = ",".join(part["key"] for part in first["parts"].values())
    again = client.get(f"{HERE}/now.json?have={have}").json
    assert again == {"parts": {}}
    says(told.STATES["failed"])
    later = client.get(f"{HERE}/now.json?have={have}").json
    assert later is not None
    assert {"told", "acts", "results"} <= later["parts"].keys()


def test_a_part_that_becomes_empty_is_taken_away_although_another_is_empty_too(client: FlaskClient, says: Any) -> None:
    """A box that has passed meanwhile must not offer to be unlocked until somebody opens the page anew."""
    says(told.STATES["locked"])
    before = client.get(f"{HERE}/now.json").json
    assert before is not None
    assert "" in [part["html"] for part in before["parts"].values()]
    says(told.STATES["passed"])
    have = ",".join(part["key"] for part in before["parts"].values())
    later = client.get(f"{HERE}/now.json?have={have}").json
    assert later is not None
    assert later["parts"]["override"]["html"] == ""


def test_a_mistake_stays_beside_its_field_although_the_page_looks_for_news(client: FlaskClient, says: Any) -> None:
    """The key of a form with mistakes is that of the form without."""
    says(told.STATES["leak"])
    plain = client.get(f"{HERE}/now.json").json
    assert plain is not None
    answer = post(client, f"{HERE}/next", at=told.LEAK["at"], leak_mw_cm2="much")
    assert f'data-part="acts" data-key="{plain["parts"]["acts"]["key"]}"' in answer.text


# -- who may ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("way", ["begin", "next", "abort", "override", "hands"])
def test_watchers_read_and_press_nothing(app: Flask, control: FakeControl, says: Any, way: str) -> None:
    """401 with the way to log in; a foreign page gets 403; neither reaches control."""
    says(told.STATES["locked"])
    watcher = visit_as(app, "a watcher")
    text = watcher.get(HERE).text
    assert "You are watching." in text
    assert f'action="{HERE}/' not in text
    fields = {"who": "A", "override_who": "A", "reason": "a good reason", "at": "x"}
    assert watcher.post(f"{HERE}/{way}", data=fields, headers=ORIGIN).status_code == 401
    operator = visit_as(app, "an operator")
    assert operator.post(f"{HERE}/{way}", data=fields, headers={"Origin": "http://evil.example"}).status_code == 403
    assert control.names() == []


def test_the_operators_name_is_proposed(app: Flask, says: Any) -> None:
    """It can be another's."""
    says(told.STATES["locked"])
    assert 'value="Ada"' in visit_as(app, "an operator").get(HERE).text


# -- override ---------------------------------------------------------------------------------------------------------


def test_an_override_needs_who_and_why(client: FlaskClient, control: FakeControl, says: Any) -> None:
    """Both mistakes at once; then it is asked as given."""
    says(told.STATES["locked"])
    answer = post(client, f"{HERE}/override", override_who="", reason="later")
    assert answer.status_code == 422
    assert "Say who unlocks it" in beside(answer.text, "f-override_who")
    assert "at least 8 letters" in beside(answer.text, "f-reason")
    assert 'value="later"' in answer.text
    assert "<details open>" in answer.text
    assert control.names() == []
    post(client, f"{HERE}/override", override_who="B. Ench", reason="the radiometer comes tomorrow")
    assert asked(control, "commission_override") == {"who": "B. Ench", "reason": "the radiometer comes tomorrow"}


@pytest.mark.parametrize("state", ["unlocked", "passed", "hand"])
def test_a_box_that_is_not_locked_has_no_override(client: FlaskClient, says: Any, state: str) -> None:
    """There is nothing to unlock."""
    says(told.STATES[state])
    assert "Unlock without" not in page(client)
