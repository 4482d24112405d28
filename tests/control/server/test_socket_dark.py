"""*Dark* over the socket: before everything else, whatever the line holds and whoever waits."""

from pathlib import Path

import pytest

from sumlight.control.server.socket_server import (
    ACTS_PER_POLL,
    ANSWERING_S,
    CLIENTS_MAX,
)
from sumlight.protocol.messages import request_line
from sumlight.store.logbook.export import rows
from tests.control.bench_box import BenchBox
from tests.control.server.socket_desk import STATE, Caller, Desk


def test_idle_clients_cannot_keep_dark_out(desk: Desk) -> None:
    """Ten times as many as there are places, all silent, all there before; the door is wide enough for a rush."""
    for _ in range(10 * CLIENTS_MAX):
        desk.caller()
    waiting = [Caller(desk.path) for _ in range(100)]  # more than the door held before, and nobody lets them in yet
    desk.callers += waiting
    late = Caller(desk.path)
    desk.callers.append(late)
    late.send(b'{"id": 9, "command": "dark"}\n')
    desk.poll(40)
    assert [request.command for request in desk.handled] == ["dark"]
    assert [message["id"] for message in late.take()] == [9]


def test_dark_is_answered_before_what_others_asked_earlier(desk: Desk) -> None:
    """A full house of questions, one of which takes all the time that a tick has."""
    others = [desk.caller() for _ in range(CLIENTS_MAX - 1)]
    late = desk.caller()
    desk.takes_s = 2 * ANSWERING_S
    for caller in others:
        caller.send(STATE)
    late.send(b'{"id": 9, "command": "dark"}\n')
    desk.poll(1 + CLIENTS_MAX // ACTS_PER_POLL)
    assert [message["id"] for message in late.take()] == [9]
    assert len(desk.handled) <= 2 + CLIENTS_MAX // ACTS_PER_POLL


@pytest.mark.parametrize(
    ("line", "code"),
    [
        (b'{"id": 1, "command": "dark", "who": "Ada", "at": 3}', "bad_request"),
        (b'{"id": "seven", "command": "dark"}', "bad_request"),
        (b'{"command": "dark"}', "bad_request"),
        (b'{"version": 9, "id": -1, "command": "dark"}', "bad_request"),
        (b'{"id": 1, "command": "Dark "}', "unknown_command"),
        (b'{"id": 1, "command": "d\\u0061rk", "x": 1}', "bad_request"),
        (b'{"id": 1, "command": "dark", "command": "go"}', "bad_value"),
        (b'{"id": 1, "command": "dark"', "bad_request"),
        (b'{"id": 1, "command": "dark", "note": "\xff"}', "bad_request"),
        (b"dark", "bad_request"),
        (b"  DARK!\r", "bad_request"),
        (b'["dark"]', "bad_request"),
    ],
)
def test_dark_is_obeyed_whatever_else_the_line_holds(bench: BenchBox, tmp_path: Path, line: bytes, code: str) -> None:
    """In the same tick; then the line gets the error that it deserves."""
    bench.daemon.serve(tmp_path / "s")
    bench.light_up()
    caller = Caller(tmp_path / "s")
    bench.step()
    caller.send(line + b"\n")
    at_s = bench.clock.now_s
    bench.step()
    assert bench.switched_off_after(at_s) == 0.0
    assert bench.state == "paused"
    assert caller.take()[0]["error"]["code"] == code
    caller.link.close()


def test_a_dark_over_the_network_is_recorded_with_its_sender(bench: BenchBox, tmp_path: Path) -> None:
    """Beside the panel under light, or beside none; a dark from the page is not."""
    bench.daemon.serve(tmp_path / "s")
    bench.light_up()
    caller = Caller(tmp_path / "s")
    bench.step()
    caller.send(request_line(1, "dark", sender="office"))
    at_s = bench.clock.now_s
    bench.step()
    assert bench.switched_off_after(at_s) == 0.0
    assert [message["ok"] for message in caller.take()] == [True]
    bench.ask("dark")
    bench.ask("abandon")
    bench.run(0.5)
    bench.ask("dark", sender="porter")
    bench.run(0.5)
    caller.link.close()
    with bench.logbook() as book:
        found = book.exposure(1)
        assert found is not None
        assert [dark["sender"] for dark in found["network_darks"]] == ["office"]
        every = [(dark["exposure_id"], dark["sender"]) for dark in rows(book, "darks")]
    assert every == [(1, "office"), (None, "porter")]


@pytest.mark.parametrize(
    "note", ['"command": "dark"', '{"id": 1, "command": "dark"}', "dark", '\\"command\\":\\"dark\\"']
)
def test_what_somebody_writes_into_a_note_is_no_command(bench: BenchBox, tmp_path: Path, note: str) -> None:
    """The lamps burn on."""
    bench.daemon.serve(tmp_path / "s")
    bench.light_up()
    caller = Caller(tmp_path / "s")
    bench.step()
    caller.send(request_line(1, "note", exposure_id=1, note=note))
    bench.run(0.1)
    assert caller.take()[0]["ok"] is True
    assert bench.state == "light"
    assert bench.any_relay_lights()
    caller.link.close()


def test_a_dark_command_over_the_socket_darkens_in_the_same_tick(bench: BenchBox, tmp_path: Path) -> None:
    """Not one more beat of light."""
    bench.daemon.serve(tmp_path / "s")
    bench.light_up()
    caller = Caller(tmp_path / "s")
    bench.step()
    caller.send(b'{"id": 3, "command": "dark"}\n')
    at_s = bench.clock.now_s
    bench.step()
    assert caller.take()[0]["ok"] is True
    assert bench.switched_off_after(at_s) == 0.0
    caller.link.close()
