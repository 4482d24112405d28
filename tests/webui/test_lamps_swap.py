"""The swap dialogue of Lamps: what control is asked, mistakes beside their fields, who may, what control refuses."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight.store.logbook.lamps import MOST_TUBES, NewTube
from sumlight.store.logbook.logbook import Logbook
from sumlight.text.message import say
from sumlight_web import services
from sumlight_web.lamps.swap import read_form
from sumlight_web.services import AppServices
from tests.webui.fake_control import FakeControl, RefusalError
from tests.webui.lamp_book import live, two_banks
from tests.webui.light_runs import asked, beside, post
from tests.webui.operating import set_up

ALL = {
    "bank": "lower",
    "scope": "all",
    "tubes": "6",
    "places": "",
    "lamp_type": "T8 15 W (invented)",
    "wavelength_class": "UV-A 368 nm",
    "label": "",
    "hours": "",
    "life": "2000",
}
SOME = ALL | {"scope": "some", "tubes": "", "places": "2, 5", "label": "spare", "hours": "12.5"}
PHONE = {"REMOTE_ADDR": "192.168.1.77"}


@pytest.fixture(autouse=True)
def _does_not_wait(monkeypatch: pytest.MonkeyPatch) -> None:
    """The fake control writes no logbook that could be waited for; one test below does."""
    monkeypatch.setattr(services, "WRITTEN_S", 0.0)


@pytest.fixture
def register(data: Path) -> list[dict[str, Any]]:
    """Six tubes a hundred days old; number 2 was taken out with 200 h."""
    live(data / "logbook.sqlite", days=100)
    with Logbook(data / "logbook.sqlite") as book:
        book.lamps.fit_tubes("lower", [NewTube(2, "T8", "UV-A", "spare")], datetime.now(UTC), whole=False)
        return book.lamps.tubes()


def test_all_tubes_of_a_bank_are_told_to_control(client: FlaskClient, control: FakeControl) -> None:
    """And the page then says what is next: calibrate."""
    answered = post(client, "/lamps/tubes", **ALL)
    assert (answered.status_code, answered.location) == (303, "/lamps/?fitted=lower&whole=1")
    assert asked(control, "tubes_fitted") == {
        "bank": "lower",
        "tubes": 6,
        "lamp_type": "T8 15 W (invented)",
        "wavelength_class": "UV-A 368 nm",
        "label": "",
        "hours": 0.0,
        "expected_life_h": 2000.0,
    }
    page = client.get(answered.location).text
    assert "New lamps are recorded for bank lower." in page
    assert "Next: expose a step tablet before the first panel." in page
    assert 'href="/light/tablet"' in page


def test_single_tubes_are_told_by_their_places(client: FlaskClient, control: FakeControl) -> None:
    """The others go on, so nothing is said of a new life."""
    answered = post(client, "/lamps/tubes", **SOME)
    sent = asked(control, "tubes_fitted")
    assert (sent["positions"], sent["label"], sent["hours"]) == ([2, 5], "spare", 12.5)
    assert "tubes" not in sent
    page = client.get(answered.location).text
    assert "The tubes of bank lower are recorded; the others go on as they were." in page
    assert "Next: expose" not in page


def test_a_tube_that_comes_back_brings_its_hours_and_starts(
    client: FlaskClient, control: FakeControl, register: list[dict[str, Any]]
) -> None:
    """By its mark; hours that are typed are believed, and a mark that is in a bank now is another tube's."""
    post(client, "/lamps/tubes", **SOME | {"places": "3", "label": "No 2", "hours": ""})
    sent = asked(control, "tubes_fitted")
    assert (sent["hours"], sent["strikes"]) == (pytest.approx(200), 900)
    post(client, "/lamps/tubes", **SOME | {"places": "3", "label": "No 2", "hours": "7"})
    assert asked(control, "tubes_fitted")["hours"] == 7
    assert read_form(SOME | {"label": "No 1", "hours": ""}, ["lower"], register).asked["hours"] == 0
    assert read_form(SOME | {"label": "", "hours": ""}, ["lower"], register).asked["hours"] == 0


MISTAKES = [
    ({"bank": "attic"}, "bank", "Choose the bank."),
    ({"scope": ""}, "scope", "Choose one."),
    ({"tubes": ""}, "tubes", "Fill this in."),
    ({"tubes": "0"}, "tubes", "from 1 to 60"),
    ({"tubes": str(MOST_TUBES + 1)}, "tubes", "from 1 to 60"),
    ({"tubes": "six"}, "tubes", "is not a number"),
    ({"tubes": "2.5"}, "tubes", "is not a whole number"),
    ({"scope": "some", "places": ""}, "places", "Name each place once"),
    ({"scope": "some", "places": "2, 2"}, "places", "Name each place once"),
    ({"scope": "some", "places": "0"}, "places", "from 1 to 60"),
    ({"scope": "some", "places": "1.5"}, "places", "from 1 to 60"),
    ({"lamp_type": "  "}, "lamp_type", "Fill this in."),
    ({"wavelength_class": ""}, "wavelength_class", "Fill this in."),
    ({"lamp_type": "x" * 61}, "lamp_type", "At most 60 characters; this has 61."),
    ({"label": "x" * 61}, "label", "At most 60 characters"),
    ({"hours": "-1"}, "hours", "from 0 to 1000000"),
    ({"hours": "1000001"}, "hours", "from 0 to 1000000"),
    ({"life": "long"}, "life", "is not a number"),
    ({"life": "2.000"}, "life", "can mean 2 h or 2000 h. Write 2 or 2000."),
]


@pytest.mark.parametrize(("typed", "name", "said"), MISTAKES)
def test_a_mistake_stands_beside_its_field_and_control_is_not_asked(
    client: FlaskClient, control: FakeControl, services: AppServices, typed: dict[str, str], name: str, said: str
) -> None:
    """What was typed stays."""
    two_banks(control, services)
    answered = post(client, "/lamps/tubes", **ALL | typed)
    assert answered.status_code == 422
    assert said in beside(answered.text, "f-" + name.replace("_", "-"))
    assert "Nothing was recorded yet." in answered.text
    assert 'value="2000"' in answered.text or name == "life"
    assert control.names() == []


def test_all_mistakes_are_named_at_once(client: FlaskClient) -> None:
    """Not one after the other."""
    page = post(client, "/lamps/tubes", bank="lower").text
    for name in ("scope", "lamp_type", "wavelength_class"):
        html_id = "f-" + name.replace("_", "-")
        assert f'id="{html_id}-error"' in page
        assert f'<a href="#{html_id}">' in page


def test_control_says_no_during_an_exposure(client: FlaskClient, control: FakeControl) -> None:
    """In its own words, with what to do; what was typed stays."""

    def busy(_request: dict[str, Any]) -> dict[str, Any]:
        raise RefusalError("refused", say("tubes_not_during_exposure"), remedy=say("finish_panel_first"))

    control.answers["tubes_fitted"] = busy
    answered = post(client, "/lamps/tubes", **ALL)
    assert answered.status_code == 409
    assert "Tubes cannot be changed during an exposure. Finish the panel first, or give it up." in answered.text
    assert 'value="T8 15 W (invented)"' in answered.text


def test_a_field_that_control_refuses_is_named_by_its_name_here(client: FlaskClient, control: FakeControl) -> None:
    """Its `positions` are our places."""

    def no(_request: dict[str, Any]) -> dict[str, Any]:
        raise RefusalError("bad_value", say("places_once", most=20), "positions")

    control.answers["tubes_fitted"] = no
    answered = post(client, "/lamps/tubes", **SOME)
    assert answered.status_code == 422
    assert beside(answered.text, "f-places") == "Places are whole numbers from 1 to 20, each named once."


def test_a_box_that_is_silent_records_nothing(client: FlaskClient, control: FakeControl) -> None:
    """And the page says that it may have arrived."""
    control.__exit__(None, None, None)
    try:
        answered = post(client, "/lamps/tubes", **ALL)
    finally:
        control.__enter__()
    assert answered.status_code == 503
    assert "Nothing was recorded." in answered.text


def test_a_watcher_sees_the_lamps_but_may_change_nothing(app: Flask, control: FakeControl, data: Path) -> None:
    """Neither the register nor the level; the buttons are not shown."""
    live(data / "logbook.sqlite", days=30)
    set_up(app)
    phone = app.test_client()
    phone.environ_base |= PHONE
    assert post(phone, "/lamps/tubes", **ALL).status_code == 401
    assert post(phone, "/lamps/level", percent="60").status_code == 401
    page = phone.get("/lamps/").text
    assert "Bank lower" in page
    assert "Record new tubes" not in page
    assert "Save the level" not in page
    assert "Lamps are to be replaced at 70 % of new." in page
    assert "Record these tubes" not in phone.get("/lamps/tubes").text
    assert control.names() == []
    assert not (data / "lamps.yaml").exists()


def test_the_next_page_waits_until_the_logbook_has_the_swap(
    client: FlaskClient, control: FakeControl, data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Control answers before its writer has written; the page then shows the new set all the same."""
    monkeypatch.setattr(services, "WRITTEN_S", 5.0)
    live(data / "logbook.sqlite", days=30)

    def write_a_little_later(seconds: float) -> None:
        with Logbook(data / "logbook.sqlite") as book:
            book.lamps.fit_tubes("lower", [NewTube(1, "new (invented)", "UV-A")], datetime.now(UTC), whole=True)

    monkeypatch.setattr("sumlight_web.services.time.sleep", write_a_little_later)
    answered = post(client, "/lamps/tubes", **ALL)
    assert "new (invented)" in client.get(answered.location).text


def test_the_form_proposes_what_the_bank_has_now(client: FlaskClient, register: list[dict[str, Any]]) -> None:
    """Number and kind; a box with one bank is not asked which."""
    page = client.get("/lamps/tubes").text
    assert '<input type="hidden" name="bank" value="lower">' in page
    for value in ("6", "T8 15 W (invented)", "UV-A 368 nm", "2000"):
        assert f'value="{value}"' in page
    assert "lower" not in client.get("/lamps/?fitted=<script>").text.split("<h1>")[1].split("<section")[0]
