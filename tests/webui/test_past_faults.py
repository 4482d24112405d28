"""The page of the faults so far, and the fault that the Bench goes on telling of."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

from flask.testing import FlaskClient

from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.records import FaultRecord
from sumlight.text.message import say
from sumlight_web.box.faults import PAGE_LENGTH, end
from sumlight_web.services import AppServices
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl, hear
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
    assert first.count('<li class="card">') == PAGE_LENGTH
    assert "before=3" in first
    assert rest.count('<li class="card">') == 2
    assert client.get("/box/faults?before=nonsense").text.count('<li class="card">') == PAGE_LENGTH


def test_the_bench_goes_on_telling_of_a_dark_tube_that_was_only_cleared(client: FlaskClient, data: Path) -> None:
    """Acknowledged is not mended: it stands on the Bench until light has shown more."""
    assert "A fault before" not in client.get("/").text
    tube_out(data)
    page = client.get("/").text
    assert 'aria-label="A fault before"' in page
    assert "Light has not shown yet that it is over" in page
