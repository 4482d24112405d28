"""The page of the faults so far, and the fault that the Bench goes on telling of."""

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from flask.testing import FlaskClient

from sumlight.protocol.snapshot import OF_LIGHT
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.records import FaultRecord
from sumlight.text.message import say
from sumlight_web.box.faults import PAGE_LENGTH, end
from sumlight_web.services import AppServices
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl, RefusalError, hear
from tests.webui.given import ORIGIN
from tests.webui.operating import NAME
from tests.webui.test_panels import BEGAN, record

DETAIL = say("less_light", bank="lower", share=0.2, limit=0.1)


def tube_out(data: Path, *, cleared_by: str = "Ada") -> int:
    """A panel during which a tube went out, and who cleared that; returns its number."""
    number = record(data / "logbook.sqlite")
    with Logbook(data / "logbook.sqlite", durable=False) as book:
        book.add_fault(FaultRecord("tube_out", DETAIL, number, BEGAN + timedelta(seconds=9)))
        book.clear_fault("tube_out", BEGAN + timedelta(minutes=2), cleared_by)
    return number


def test_a_box_without_faults_says_so(client: FlaskClient) -> None:
    """A new box is no error."""
    assert "No fault is recorded yet." in client.get("/box/faults").text
    assert 'href="/box/faults"' in client.get("/box/").text


def test_a_fault_that_is_over_can_be_read_when_what_over_which_panel_and_who_cleared_it(
    client: FlaskClient, data: Path
) -> None:
    """Title, detail, panel, and the press of the terminal in the reader's words; on the panel's record too."""
    number = tube_out(data, cleared_by="terminal")
    page = client.get("/box/faults").text
    for said in ("A tube may have gone out", DETAIL, f'href="/panels/{number}"', "by terminal."):
        assert said in page
    assert "by terminal." in client.get(f"/panels/{number}").text


def test_a_fault_that_nobody_cleared_is_told_apart(
    client: FlaskClient, data: Path, control: FakeControl, services: AppServices
) -> None:
    """Standing now, or swept away by a restart; nothing is claimed while there is no word from the box."""
    record(data / "logbook.sqlite")  # with a fault of the meter that nobody has cleared
    assert "Nobody cleared it before the box was restarted." in client.get("/box/faults").text
    hear(services.watch, control, fake.snapshot(state="faulted", faults=[fake.fault()]))
    assert "Not cleared yet." in client.get("/box/faults").text
    row = {"fault_id": 1, "name": "meter_lost", "cleared_utc": None}
    assert end([row], None) == {1: "unknown"}
    assert end([row | {"name": "clock_stepped"}], set()) == {1: "told"}


def test_long_lists_come_in_pages(client: FlaskClient, data: Path) -> None:
    """Each fault on one page only."""
    with Logbook(data / "logbook.sqlite", durable=False) as book:
        for number in range(PAGE_LENGTH + 2):
            book.add_fault(FaultRecord("too_hot", DETAIL, None, datetime(2026, 11, 1, number % 24, tzinfo=UTC)))
    first, rest = client.get("/box/faults").text, client.get("/box/faults?before=3").text
    assert first.count('<li class="card"') == PAGE_LENGTH
    assert "before=3" in first
    assert rest.count('<li class="card"') == 2
    assert client.get("/box/faults?before=nonsense").text.count('<li class="card"') == PAGE_LENGTH


def test_an_operator_notes_a_look_with_a_word(client: FlaskClient, data: Path, control: FakeControl) -> None:
    """Asked of control, written there, told with name and word on the faults' page and on the panel's record."""
    number = tube_out(data)

    def written(request: dict[str, Any]) -> dict[str, Any]:
        with Logbook(data / "logbook.sqlite", durable=False) as book:
            book.faults.look_at(request["fault_id"], OF_LIGHT, request["word"], request["who"], BEGAN)
        return {"fault_id": request["fault_id"]}

    control.answers |= {"looked_at": written}
    page = client.get("/box/faults").text
    fault_id = int(re.findall(r"/box/faults/(\d+)/looked", page)[0])
    assert "Unplug the box" in page
    looked = f"/box/faults/{fault_id}/looked"
    assert "Fill this in." in client.post(looked, data={"word": " "}, headers=ORIGIN).text
    assert control.commands[-1]["command"] != "looked_at"
    answer = client.post(looked, data={"word": "tube 2 sat loose"}, headers=ORIGIN)
    assert (answer.status_code, answer.location) == (303, f"/box/faults#fault-{fault_id}")
    asked = {"command": "looked_at", "fault_id": fault_id, "word": "tube 2 sat loose", "who": NAME}
    assert asked.items() <= control.commands[-1].items()
    page = client.get("/box/faults").text
    assert f"by {NAME}: tube 2 sat loose" in page
    assert "/looked" not in page
    assert "tube 2 sat loose" in client.get(f"/panels/{number}").text
    assert client.post(looked, data={"word": "again"}, headers=ORIGIN).status_code == 404
    assert "A tube may have gone out" not in client.get("/").text


def test_control_refuses_a_look_and_the_word_stays_in_its_field(
    client: FlaskClient, data: Path, control: FakeControl
) -> None:
    """Nothing that was typed is lost."""
    tube_out(data)

    def refuse(request: dict[str, Any]) -> dict[str, Any]:
        raise RefusalError("refused", "A fault is standing.")

    control.answers["looked_at"] = refuse
    fault_id = int(re.findall(r"/box/faults/(\d+)/looked", client.get("/box/faults").text)[0])
    looked = f"/box/faults/{fault_id}/looked"
    answer = client.post(looked, data={"word": "tube 2 sat loose"}, headers=ORIGIN)
    assert answer.status_code == 409
    assert 'value="tube 2 sat loose"' in answer.text
    assert "A fault is standing." in answer.text


def test_a_panel_lit_after_a_fault_of_light_carries_it(client: FlaskClient, data: Path) -> None:
    """On its record, with a link to what the fault means; the panel before does not."""
    before = tube_out(data)
    after = record(data / "logbook.sqlite", began=BEGAN + timedelta(hours=1))
    assert "Lit before anything had shown" in client.get(f"/panels/{after}").text
    assert "Lit before anything had shown" not in client.get(f"/panels/{before}").text


def test_the_bench_goes_on_telling_of_a_dark_tube_that_was_only_cleared(client: FlaskClient, data: Path) -> None:
    """Acknowledged is not mended: it stands on the Bench until light has shown more."""
    assert "A fault before" not in client.get("/").text
    tube_out(data)
    page = client.get("/").text
    assert 'aria-label="A fault before"' in page
    assert "has shown that it is over." in page
