"""Box tells what was done to the logbook and what is kept; a damaged one is told, and the box stays usable."""

from pathlib import Path

import pytest
from flask.testing import FlaskClient

from sumlight.store.logbook.logbook import Logbook
from sumlight.text.message import as_written
from sumlight_web.services import AppServices
from tests.control.bench_box import BenchBox
from tests.store.filled import fill
from tests.store.making import later
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl, hear


def test_what_was_done_to_the_logbook_is_told(client: FlaskClient, data: Path) -> None:
    """Newest first, in the reader's language."""
    assert "What was done to it" not in client.get("/box/").text
    with Logbook(data / "logbook.sqlite") as book:
        book.note_maintenance("checked", as_written("sound"), later(0))
        book.note_maintenance("tidied", as_written("7 pieces of traces"), later(60))
    page = client.get("/box/").text
    assert page.index("old samples removed") < page.index("looked through")
    assert "7 pieces of traces" in page
    assert "alte Messwerte entfernt" in client.get("/box/", headers={"Accept-Language": "de"}).text


@pytest.mark.parametrize(("days", "text"), [(None, "Nothing is removed from it"), (730, "older than 730 days")])
def test_the_rule_for_old_samples_is_told(
    client: FlaskClient, control: FakeControl, services: AppServices, days: int | None, text: str
) -> None:
    """Before they go."""
    kept = {"ok": True, "message": None, "lag_s": 0.1, "keep_traces_days": days}
    hear(services.watch, control, fake.snapshot(logbook=kept))
    assert text in client.get("/box/").text


@pytest.mark.parametrize("rate_hz", [None, 198.7])
def test_the_rate_of_control_is_told_where_time_is_real(
    client: FlaskClient, control: FakeControl, services: AppServices, rate_hz: float | None
) -> None:
    """With what K1's pump needs; a twin at another speed has none, and nothing is said."""
    hear(
        services.watch,
        control,
        fake.snapshot(ticks={"measured_hz": rate_hz, "needed_hz": 165.0, "longest_gap_s": None}),
    )
    page = client.get("/box/").text
    assert ("199 times a second" in page, "needs 165" in page) == (rate_hz is not None, rate_hz is not None)


def test_a_damaged_logbook_is_set_aside_told_and_the_box_is_usable(
    client: FlaskClient, control: FakeControl, services: AppServices, data: Path
) -> None:
    """From noise in the file to the page: the fault with what was saved, Panels with what is left, a lasting note."""
    path = data / "logbook.sqlite"
    fill(path, 40)
    with path.open("rb+") as file:
        file.seek(4096 * 6)
        file.write(b"\xff" * 4096 * 8)
    bench = BenchBox(data)
    told = bench.snapshot()
    assert [fault["name"] for fault in told["faults"]] == ["logbook_unsound"]
    bench.ready().start().until_state("done")
    bench.close()
    (aside,) = data.glob("logbook.damaged-*.sqlite")
    hear(services.watch, control, told)
    for address in ("/", "/box/"):
        page = client.get(address).text
        assert "Part of the logbook was damaged" in page
        assert aside.name in page
    assert "saved from a damaged one" in client.get("/box/").text
    panels = client.get("/panels/")
    assert panels.status_code == 200
    assert "quick" in panels.text


def test_a_logbook_that_cannot_be_read_is_told_on_box_and_panels(client: FlaskClient, data: Path) -> None:
    """While control has not started anew: words and what to do, not a trace of the program."""
    (data / "logbook.sqlite").write_bytes(b"noise, not a logbook" * 400)
    page = client.get("/box/")
    assert page.status_code == 200
    assert "The logbook cannot be read just now." in page.text
    assert client.get("/panels/").status_code == 503
    assert client.get("/").status_code == 200
