"""Control's socket: requests and answers, who watches, and the file it stands at."""

import socket
import stat
from pathlib import Path

import pytest

from sumlight.control.server.socket_server import (
    Service,
    SocketInUseError,
)
from sumlight.protocol.messages import LINE_LIMIT, request_line
from sumlight.text.message import as_written
from tests.control.server.socket_desk import STATE, Caller, Desk
from tests.protocol.examples import PRESS
from tests.webui.fake_control import snapshot


def test_a_request_is_answered_under_its_number(desk: Desk) -> None:
    """Carried out or refused."""
    caller = desk.caller()
    caller.send(request_line(41, "state") + request_line(42, "go", **PRESS))
    desk.poll(3)
    assert caller.take() == [
        {"id": 41, "ok": True, "result": desk.answer},
        {
            "id": 42,
            "ok": False,
            "error": {"code": "refused", "field": None, "message": "Not now.", "remedy": "Later."},
        },
    ]


def test_a_request_whose_fields_are_wrong_is_refused_under_its_number(desk: Desk) -> None:
    """Else its caller would wait for an answer that never comes."""
    caller = desk.caller()
    caller.send(b'{"id": 43, "command": "go"}\n')
    desk.poll(3)
    (answer,) = caller.take()
    assert (answer["id"], answer["ok"], answer["error"]["code"]) == (43, False, "bad_value")
    assert desk.handled == []


def test_a_request_may_come_in_pieces(desk: Desk) -> None:
    """It counts when its line ends."""
    caller = desk.caller()
    for byte in STATE[:-1]:
        caller.send(bytes([byte]))
        desk.poll()
    assert desk.handled == []
    caller.send(b"\n")
    desk.poll()
    assert len(caller.take()) == 1


@pytest.mark.parametrize(
    ("line", "code"),
    [
        (b"GET / HTTP/1.1\r\n", "bad_request"),
        (bytes(range(11, 256)) + b"\n", "bad_request"),
        (b"\n", "bad_request"),
        (b'{"id": 1, "command": "explode"}\n', "unknown_command"),
        (b'{"id": 1, "command": "state", "x": 1}\n', "bad_request"),
    ],
)
def test_garbage_is_answered_and_the_connection_lives_on(desk: Desk, line: bytes, code: str) -> None:
    """One bad line costs one error."""
    caller = desk.caller()
    caller.send(line + STATE)
    desk.poll(3)
    first, second = caller.take()
    assert first["error"]["code"] == code
    assert second["ok"] is True


@pytest.mark.parametrize(("length", "ok"), [(LINE_LIMIT, True), (LINE_LIMIT + 1, False)])
def test_the_longest_line_is_exactly_the_limit(desk: Desk, length: int, ok: bool) -> None:
    """One byte more is too much, even when its end has come in."""
    caller = desk.caller()
    line = STATE[:-1].ljust(length) + b"\n"
    while line:
        line = line[caller.send(line) :]
        desk.poll()
    desk.poll(10)
    assert caller.take()[0]["ok"] is ok


def test_watchers_get_every_snapshot_and_others_none(desk: Desk) -> None:
    """After the reply to `watch`."""
    watcher, other = desk.caller(), desk.caller()
    watcher.send(b'{"id": 5, "command": "watch"}\n')
    desk.poll(2)
    desk.service.push(snapshot(seq=1))
    desk.service.push(snapshot(seq=2))
    assert watcher.take()[1:] == [{"event": "state", "state": snapshot(seq=n)} for n in (1, 2)]
    assert other.take() == []


def test_the_rest_of_a_long_answer_follows_as_soon_as_there_is_room(desk: Desk) -> None:
    """Though the client that reads it sends nothing more."""
    desk.answer = snapshot(sentence=as_written("x" * 400_000))
    caller = desk.caller()
    caller.send(STATE)
    desk.poll()
    for _ in range(50):
        if caller.take():
            break
        desk.poll()
    assert caller.take()[0]["result"] == desk.answer


def test_a_request_that_comes_with_its_client_is_answered_at_once(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """In the same tick, of several clients; the page opens a connection for each question."""
    monkeypatch.setattr("sumlight.control.server.socket_server.ANSWERING_S", 1.0)
    callers = [Caller(desk.path) for _ in range(3)]
    desk.callers += callers
    for caller in callers:
        caller.send(STATE)
    desk.poll()
    assert [len(caller.take()) for caller in callers] == [1, 1, 1]


def test_the_socket_is_open_to_owner_and_group_only(desk: Desk) -> None:
    """The file's mode is the lock."""
    assert stat.S_IMODE(desk.path.stat().st_mode) == 0o660


def test_a_stale_socket_is_replaced(tmp_path: Path) -> None:
    """As a killed process leaves it."""
    path = tmp_path / "s"
    stale = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    stale.bind(str(path))
    stale.close()
    desk = Desk(path)
    caller = desk.caller()
    caller.send(STATE)
    desk.poll()
    assert len(caller.take()) == 1
    caller.link.close()
    desk.service.close()
    assert not path.exists()


def test_a_second_control_on_the_same_socket_is_refused(desk: Desk) -> None:
    """The first one keeps it."""
    with pytest.raises(SocketInUseError, match="another controller answers"):
        Service(desk.path, desk._handle)
    caller = desk.caller()
    caller.send(STATE)
    desk.poll(3)
    assert len(caller.take()) == 1


def test_a_file_in_the_way_is_not_removed(tmp_path: Path) -> None:
    """It may be somebody's work."""
    path = tmp_path / "s"
    path.write_text("precious")
    with pytest.raises(SocketInUseError, match="in the way"):
        Service(path, lambda _: {})
    assert path.read_text() == "precious"


@pytest.mark.parametrize("name", ["missing/s", "x" * 200])
def test_a_path_that_cannot_be_a_socket_is_told(tmp_path: Path, name: str) -> None:
    """With the reason."""
    with pytest.raises(SocketInUseError, match=r"cannot be made: \w+"):
        Service(tmp_path / name, lambda _: {})
