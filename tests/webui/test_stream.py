"""The live state: server-sent events and the JSON object."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight_web.app import create_app
from sumlight_web.services import AppServices, PageConfig
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl, state_of, wait_until


@pytest.fixture
def short(control: FakeControl, data: Path) -> Iterator[Flask]:
    """An application whose streams live for half a second, two at most."""
    app = create_app(PageConfig(control.path, data, stream_life_s=0.5, stream_limit=2))
    services: AppServices = app.extensions["sumlight"]
    wait_until(lambda: services.watch.latest().live)
    yield app
    services.close()


def events(text: str) -> list[dict[str, Any]]:
    """The `state` events of a stream."""
    found = []
    for block in text.split("\n\n"):
        lines = dict(line.split(": ", 1) for line in block.splitlines() if ": " in line)
        if lines.get("event") == "state":
            found.append(json.loads(lines["data"]) | {"event_id": lines.get("id")})
    return found


def heard(client: FlaskClient, count: int) -> list[dict[str, Any]]:
    """The first so many events of a stream."""
    with client.get("/stream", buffered=False) as response:
        text = ""
        for piece in response.iter_encoded():
            text += piece.decode()
            if len(events(text)) >= count:
                break
        return events(text)


def test_the_server_ends_a_stream_by_itself(short: Flask) -> None:
    """And says when to come back."""
    response = short.test_client().get("/stream")
    assert response.mimetype == "text/event-stream"
    assert response.text.startswith("retry: 500\n")


def test_a_stream_brings_the_whole_state_once_and_then_only_changes(client: FlaskClient, control: FakeControl) -> None:
    """Little is sent while little happens."""
    control.say(fake.rising)
    first, *later = heard(client, 4)
    parts = {"lamps", "step", "sides", "faults", "actions", "warnings", "picks", "asked", "bar", "rings"}
    assert set(first["parts"]) == parts
    assert first["texts"]["lid"] == "Shut"
    assert len(later) >= 2
    assert all("lid" not in event["texts"] for event in later)
    assert later[-1]["parts"] == {}
    assert later[-1]["texts"]["side.A.dose"]


def test_points_of_the_curve_follow_the_light(client: FlaskClient, services: AppServices, control: FakeControl) -> None:
    """Each event adds what is new, and names it, so that a browser can ask for what it missed."""
    control.say(fake.rising)
    wait_until(lambda: state_of(services.watch) == "light")
    got = heard(client, 4)
    times = [point[0] for event in got for point in event["points"]]
    assert times == sorted(times)
    assert len(times) >= 3
    assert got[-1]["event_id"] == f"5:{times[-1]}"


def test_a_new_page_gets_the_curve_from_the_beginning(
    client: FlaskClient, services: AppServices, control: FakeControl
) -> None:
    """A page opened in the middle shows the whole exposure and what is now."""
    control.samples = fake.past(1100.0, 1000.0)
    control.say(fake.lit(mono_s=1100.0))
    wait_until(lambda: state_of(services.watch) == "light")
    state = client.get("/state.json").json
    assert state is not None
    points = state["points"]
    assert points[0][0] == 1000.0
    assert points[-1][0] == 1100.0
    assert 1000 < len(points) <= 1501


def test_a_returning_browser_gets_only_what_it_missed(
    client: FlaskClient, services: AppServices, control: FakeControl
) -> None:
    """Last-Event-ID fills the gap; an id of another exposure brings everything."""
    control.samples = fake.past(1010.0, 1000.0)
    control.say(fake.lit(mono_s=1010.0))
    wait_until(lambda: state_of(services.watch) == "light")
    for given, first in (("5:1008.0", 1008.05), ("4:1008.0", 1000.0), ("5:nan", 1000.0), ("junk", 1000.0)):
        state = client.get("/state.json", headers={"Last-Event-ID": given}).json
        assert state is not None
        assert state["points"][0][0] == pytest.approx(first)
    state = client.get("/state.json?after=5:1009.0").json
    assert state is not None
    assert state["points"][0][0] == pytest.approx(1009.05)


def test_the_seventh_stream_is_refused_and_a_place_comes_back(short: Flask) -> None:
    """Threads are few; polling is always possible."""
    client = short.test_client()
    held = [client.get("/stream", buffered=False) for _ in range(2)]
    assert client.get("/stream").status_code == 503
    assert client.get("/state.json").status_code == 200
    for response in held:
        response.close()
    assert client.get("/stream", buffered=False).status_code == 200


def test_asking_for_the_head_of_a_stream_takes_no_place(short: Flask) -> None:
    """A scanner must not use up the streams."""
    client = short.test_client()
    for _ in range(5):
        assert client.head("/stream").status_code == 200


def test_a_stream_says_when_the_box_falls_silent(app: Flask, services: AppServices, control: FakeControl) -> None:
    """Real time: an open page learns within two seconds that what it shows is old."""
    control.say(fake.lit())
    stream = iter(app.test_client().get("/stream", buffered=False).response)
    control.mute.set()
    text = ""
    while '"live":false' not in text:
        piece = next(stream)
        text += piece.decode() if isinstance(piece, bytes) else str(piece)
    last = events(text)[-1]
    assert last["shows"]["stale"] is True
    assert last["texts"]["bank.lower.asked"] == "Not known"
    stream.close()  # type: ignore[attr-defined]


def test_closing_the_page_ends_its_streams(app: Flask, services: AppServices) -> None:
    """So that the process can end at once."""
    stream = iter(app.test_client().get("/stream", buffered=False).response)
    next(stream)
    services.close()
    assert len(list(stream)) <= 2


def test_a_browser_that_has_gone_ends_its_stream(app: Flask) -> None:
    """The server's own sign that nobody reads any more."""
    environ = {"waitress.client_disconnected": lambda: True}
    response = app.test_client().get("/stream", environ_overrides=environ)
    assert events(response.text) == []
