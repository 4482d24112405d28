"""Why did it fail? Signs as chips, causes with what speaks for and against them, and *This was it*."""

import re
import threading
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight.craft.causes.signs import SIGNS
from sumlight.store.logbook.logbook import Logbook
from sumlight_web import services
from sumlight_web.panels.drawings import BODIES
from tests.store.making import later
from tests.webui.fake_control import FakeControl, RefusalError
from tests.webui.given import ORIGIN
from tests.webui.test_panels import record


@pytest.fixture
def panel(data: Path, monkeypatch: pytest.MonkeyPatch) -> int:
    """A finished panel; the fake control writes nothing, so nobody waits for it."""
    monkeypatch.setattr(services, "WRITTEN_S", 0.0)
    return record(data / "logbook.sqlite")


@pytest.fixture
def spoilt(data: Path, panel: int) -> int:
    """The same with resist that came off, two steps short."""
    with Logbook(data / "logbook.sqlite", durable=False) as book:
        known = {"held_step": 6.0, "wanted_step": 8.0, "same_place": False, "developer_used": 0.25}
        book.findings.put_findings(panel, ["floats_off"], known, "Ada", later(1))
    return panel


def asked(control: FakeControl) -> dict[str, Any]:
    """The last command without its number."""
    return {key: value for key, value in control.commands[-1].items() if key != "id"}


def test_every_sign_is_a_chip_with_a_drawing_of_its_own(client: FlaskClient, panel: int) -> None:
    """From the closed list; no two drawings are the same."""
    page = client.get(f"/panels/{panel}/why").text
    assert re.findall(r'name="sign" value="(\w+)"', page) == list(SIGNS)
    assert page.count('<svg class="drawing"') == len(SIGNS)
    assert BODIES.keys() == SIGNS.keys()
    assert len(set(BODIES.values())) == len(SIGNS)
    assert 'id="why"' not in page
    assert f'href="/panels/{panel}/why"' in client.get(f"/panels/{panel}").text


def test_signs_and_what_is_known_go_to_control(client: FlaskClient, control: FakeControl, panel: int) -> None:
    """Per cent become a share, units are understood, what is empty is not said."""
    fields = {"sign": ["scum", "clears_late"], "place": "everywhere", "same_place": "no", "clear_s": "1 min"}
    fields |= {"developer_used": "80 %", "developer_warmer_c": "-5", "contact": ""}
    answer = client.post(f"/panels/{panel}/signs", data=fields, headers=ORIGIN)
    assert answer.status_code == 303
    assert asked(control) == {
        "command": "findings",
        "exposure_id": panel,
        "signs": ["clears_late", "scum"],
        "place": "everywhere",
        "same_place": False,
        "clear_s": 60.0,
        "developer_used": 0.8,
        "developer_warmer_c": -5.0,
        "who": "Ada",
    }
    assert "on its way to the logbook" in client.get(answer.headers["Location"]).text


def test_what_is_put_on_is_there_when_the_page_comes_back(
    client: FlaskClient, control: FakeControl, data: Path, panel: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Control writes a moment after it answers: the page waits for that, and then says nothing of being on the way."""
    monkeypatch.setattr(services, "WRITTEN_S", 20.0)

    def keep(request: dict[str, Any]) -> dict[str, Any]:
        known = {name: value for name, value in request.items() if name == "clear_s"}

        def write() -> None:
            with Logbook(data / "logbook.sqlite", durable=False) as book:
                book.findings.put_findings(panel, request["signs"], known, request["who"], later(1))

        threading.Timer(0.1, write).start()
        return {"exposure_id": panel}

    control.answers["findings"] = keep
    answer = client.post(f"/panels/{panel}/signs", data={"sign": "scum", "clear_s": "60"}, headers=ORIGIN)
    page = client.get(answer.headers["Location"]).text
    assert "on its way" not in page
    assert re.search(r'value="scum" checked', page)


def test_three_causes_come_with_reasons_a_check_and_what_to_change(client: FlaskClient, spoilt: int) -> None:
    """In words; what was put on stands above and in the form."""
    page = client.get(f"/panels/{spoilt}/why").text
    assert page.count("This was it<") == 3
    assert "Too little light" in page
    assert "Multiply the dose by 2.00" in page
    assert "seen: resist comes off all over in the developer" in page
    assert "Check first," in page
    assert re.search(r'value="floats_off" checked', page)
    assert re.search(r'name="same_place" value="no"\s+checked', page)
    assert re.search(r'name="developer_used"[^>]*value="25"', page)
    assert "Resist comes off all over in the developer" in client.get(f"/panels/{spoilt}").text


def test_in_german_nothing_stays_english(client: FlaskClient, spoilt: int) -> None:
    """Codes travel, words are made where they are read."""
    client.set_cookie("sumlight_language", "de")
    page = client.get(f"/panels/{spoilt}/why", headers={"Accept-Language": "de"}).text
    assert "Zu wenig Licht" in page
    assert "Das war es<" in page
    assert "seen: resist" not in page


def test_this_was_it_goes_to_control_and_can_be_taken_back(
    client: FlaskClient, control: FakeControl, data: Path, spoilt: int
) -> None:
    """Only then it counts."""
    answer = client.post(f"/panels/{spoilt}/cause", data={"cause": "underexposed"}, headers=ORIGIN)
    assert answer.status_code == 303
    wanted = {"command": "confirm_cause", "exposure_id": spoilt, "cause": "underexposed", "confirmed": True}
    assert asked(control) == {**wanted, "who": "Ada"}
    with Logbook(data / "logbook.sqlite", durable=False) as book:
        book.findings.confirm_cause(spoilt, "underexposed", True, "Ada", later(2))
    page = client.get(f"/panels/{spoilt}/why").text
    assert "It was: too little light." in page
    client.post(f"/panels/{spoilt}/cause", data={"cause": "underexposed", "confirmed": "no"}, headers=ORIGIN)
    assert asked(control)["confirmed"] is False


def test_a_mistake_is_told_beside_its_field_and_nothing_is_sent(
    client: FlaskClient, control: FakeControl, panel: int
) -> None:
    """What was put on stays put on."""
    before = len(control.commands)
    answer = client.post(f"/panels/{panel}/signs", data={"sign": "scum", "held_step": "99"}, headers=ORIGIN)
    assert answer.status_code == 422
    assert "from 0 to 21" in answer.text
    assert re.search(r'value="scum" checked', answer.text)
    assert client.post(f"/panels/{panel}/cause", data={"cause": "moonlight"}, headers=ORIGIN).status_code == 422
    assert len([each for each in control.commands[before:] if each["command"] in ("findings", "confirm_cause")]) == 0


def test_a_no_of_control_is_shown(client: FlaskClient, control: FakeControl, panel: int) -> None:
    """Nothing looks kept that is not."""

    def refuse(request: dict[str, Any]) -> dict[str, Any]:
        raise RefusalError("refused", "The card is full.")

    control.answers["findings"] = refuse
    answer = client.post(f"/panels/{panel}/signs", data={"sign": "scum"}, headers=ORIGIN)
    assert answer.status_code == 409
    assert "The card is full." in answer.text


def test_watchers_see_the_answer_and_change_nothing(app: Flask, client: FlaskClient, spoilt: int) -> None:
    """Who has not logged in has no chips to press, and no way around."""
    watcher = app.test_client()
    page = watcher.get(f"/panels/{spoilt}/why").text
    assert "Too little light" in page
    assert 'name="sign"' not in page
    assert "This was it" not in page
    assert watcher.post(f"/panels/{spoilt}/signs", data={"sign": "scum"}, headers=ORIGIN).status_code in (
        302,
        303,
        401,
        403,
    )
    assert watcher.post(f"/panels/{spoilt}/cause", data={"cause": "fogged"}, headers=ORIGIN).status_code in (
        302,
        303,
        401,
        403,
    )


def test_a_panel_that_is_not_there(client: FlaskClient, panel: int) -> None:
    """Said as elsewhere."""
    assert client.get("/panels/99/why").status_code == 404
    assert client.post("/panels/99/signs", data={}, headers=ORIGIN).status_code == 404
