"""The socket: whatever clients do, the loop goes on and the others are served."""

import json
import socket
import stat
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

from sumlight.control.server.socket_server import (
    ACTS_PER_POLL,
    ANSWERING_S,
    ANSWERS_PER_POLL,
    BACKLOG_MAX_BYTES,
    CLIENTS_MAX,
    Service,
    SocketInUseError,
)
from sumlight.protocol.messages import LINE_LIMIT, BadRequestError, Request, request_line
from tests.control.bench_box import BenchBox

STATE = b'{"id": 1, "command": "state"}\n'


class Caller:
    """A client that never waits: it sends what fits and takes what has come."""

    def __init__(self, path: Path) -> None:
        self.link = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self.link.settimeout(30)  # a door too narrow is a failure, not a wait for ever
        self.link.connect(str(path))
        self.link.setblocking(False)
        self.received = b""

    def send(self, data: bytes) -> int:
        """Send what fits; returns how much, -1 when the other side hung up."""
        try:
            return self.link.send(data)
        except BlockingIOError:
            return 0
        except OSError:
            return -1

    def take(self) -> list[dict[str, Any]]:
        """The messages so far."""
        with suppress(BlockingIOError, ConnectionError):
            while chunk := self.link.recv(1 << 20):
                self.received += chunk
        *lines, _ = self.received.split(b"\n")
        return [json.loads(line) for line in lines]

    def hung_up(self) -> bool:
        """Whether the other side has closed the connection."""
        try:
            while self.link.recv(1 << 20):
                pass
        except BlockingIOError:
            return False
        except OSError:
            return True
        return True


class Desk:
    """A service with an easy handler, and its callers."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.handled: list[Request] = []
        self.answer: dict[str, Any] = {"fine": True}
        self.takes_s = 0.0
        self.now_s = 1000.0
        self.service = Service(path, self._handle, lambda: self.now_s)
        self.callers: list[Caller] = []

    def _handle(self, request: Request) -> dict[str, Any]:
        self.handled.append(request)
        time.sleep(self.takes_s)
        if request.command == "go":
            raise BadRequestError("refused", "Not now.", remedy="Later.")
        return self.answer

    def caller(self) -> Caller:
        """A new client, accepted."""
        caller = Caller(self.path)
        self.callers.append(caller)
        self.poll()
        return caller

    def poll(self, times: int = 1) -> None:
        """Let the service work as often as so many ticks would."""
        for _ in range(times):
            self.now_s += 0.005
            self.service.poll()


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    """A service at a path of its own, closed afterwards."""
    desk = Desk(tmp_path / "s")
    yield desk
    desk.service.close()
    for caller in desk.callers:
        caller.link.close()


def test_a_request_is_answered_under_its_number(desk: Desk) -> None:
    """Carried out or refused."""
    caller = desk.caller()
    caller.send(b'{"id": 41, "command": "state"}\n{"id": 42, "command": "go"}\n')
    desk.poll(3)
    assert caller.take() == [
        {"id": 41, "ok": True, "result": {"fine": True}},
        {
            "id": 42,
            "ok": False,
            "error": {"code": "refused", "field": None, "message": "Not now.", "remedy": "Later."},
        },
    ]


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


def test_a_line_of_ten_megabytes_is_cut_off_early(desk: Desk) -> None:
    """It is told why; never more than a little is kept; another client is served meanwhile."""
    big, polite = desk.caller(), desk.caller()
    polite.send(STATE)
    left = 10_000_000
    while left > 0:
        sent = big.send(b"x" * min(left, 1 << 16))
        if sent < 0:
            break
        left -= sent
        desk.poll()
        assert all(len(client.inbox) <= 2 * LINE_LIMIT for client in desk.service._clients.values())
    assert left > 9_000_000
    assert big.take()[0]["error"]["message"].startswith("a line may hold at most 4 KiB")
    assert big.hung_up()
    assert len(polite.take()) == 1


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


def test_a_client_that_never_reads_is_cut_off(desk: Desk) -> None:
    """What is kept for it is bounded."""
    desk.answer = {"big": "x" * 20_000}
    deaf, polite = desk.caller(), desk.caller()
    for _ in range(200):
        deaf.send(STATE)
        desk.poll()
        for client in desk.service._clients.values():
            assert len(client.outbox) <= BACKLOG_MAX_BYTES
    assert len(desk.service._clients) == 1
    polite.send(STATE)
    desk.poll()
    assert len(polite.take()) == 1


def test_a_watcher_that_never_reads_is_cut_off(desk: Desk) -> None:
    """Pushed snapshots pile up just the same."""
    deaf = desk.caller()
    deaf.send(b'{"id": 1, "command": "watch"}\n')
    desk.poll()
    assert desk.service.watched
    for _ in range(100):
        desk.service.push({"big": "x" * 20_000})
        desk.poll()
    assert not desk.service.watched


def test_watchers_get_every_snapshot_and_others_none(desk: Desk) -> None:
    """After the reply to `watch`."""
    watcher, other = desk.caller(), desk.caller()
    watcher.send(b'{"id": 5, "command": "watch"}\n')
    desk.poll(2)
    desk.service.push({"seq": 1})
    desk.service.push({"seq": 2})
    assert watcher.take()[1:] == [{"event": "state", "state": {"seq": n}} for n in (1, 2)]
    assert other.take() == []


def test_a_request_that_comes_with_its_client_is_answered_at_once(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """In the same tick, of several clients; the page opens a connection for each question."""
    monkeypatch.setattr("sumlight.control.server.socket_server.ANSWERING_S", 1.0)
    callers = [Caller(desk.path) for _ in range(3)]
    desk.callers += callers
    for caller in callers:
        caller.send(STATE)
    desk.poll()
    assert [len(caller.take()) for caller in callers] == [1, 1, 1]


def test_a_rush_of_clients_is_let_in_a_few_each_tick(desk: Desk) -> None:
    """No tick does more than its share for it: letting in and reading are an act each."""
    rush = [Caller(desk.path) for _ in range(12)]
    desk.callers += rush
    for caller in rush:
        caller.send(STATE)
    desk.poll()
    assert len(desk.service._clients) == ACTS_PER_POLL // 2
    desk.poll(len(rush))
    assert [len(caller.take()) for caller in rush] == [1] * 12


def test_a_flood_of_requests_is_worked_off_a_little_each_tick(desk: Desk) -> None:
    """No tick answers more than a few, whatever ten clients send at once."""
    flood = [desk.caller() for _ in range(10)]
    for caller in flood:
        caller.send(STATE * 400)
    for _ in range(50):
        before = len(desk.handled)
        desk.poll()
        assert len(desk.handled) - before <= ANSWERS_PER_POLL


def test_after_an_answer_that_took_long_the_others_wait_for_the_next_tick(desk: Desk) -> None:
    """A long curve takes milliseconds to write down; four of them would hold up the lid."""
    callers = [desk.caller() for _ in range(3)]
    desk.takes_s = 2 * ANSWERING_S
    for caller in callers:
        caller.send(STATE)
    for count in (1, 2, 3):
        desk.poll()
        assert len(desk.handled) == count


def test_a_flood_does_not_keep_others_waiting(desk: Desk) -> None:
    """With ten clients sending without pause, a `dark` of an eleventh comes through within a few ticks."""
    flood = [desk.caller() for _ in range(10)]

    def feed() -> None:
        for caller in flood:
            while caller.send(STATE * 100) > 0:
                pass
            caller.take()
            caller.received = b""

    feed()
    desk.poll(5)
    polite = desk.caller()
    polite.send(b'{"id": 9, "command": "dark"}\n')
    for _ in range(12):
        feed()
        desk.poll()
        if polite.take():
            break
    assert [message["id"] for message in polite.take()] == [9]


def test_one_client_more_than_allowed_takes_the_place_of_the_one_idle_longest(desk: Desk) -> None:
    """It may bring *dark*. Who watches stays before who does nothing."""
    callers = [desk.caller() for _ in range(CLIENTS_MAX)]
    callers[0].send(b'{"id": 1, "command": "watch"}\n')
    desk.poll()
    for caller in callers[1:2] + callers[3:]:
        caller.send(STATE)
    desk.poll(CLIENTS_MAX)
    next(iter(desk.service._clients.values())).heard_s = 0.0  # the watcher: let in first, silent ever since
    late = desk.caller()
    late.send(b'{"id": 9, "command": "dark"}\n')
    desk.poll()
    assert [message["id"] for message in late.take()] == [9]
    gone = [number for number, caller in enumerate(callers) if caller.hung_up()]
    assert gone == [2]
    assert len(desk.service._clients) == CLIENTS_MAX


def test_a_question_that_waits_for_its_answer_is_not_sent_away(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """However old the connection: those leave that ask nothing."""
    old = desk.caller()
    callers = [desk.caller() for _ in range(CLIENTS_MAX - 1)]
    monkeypatch.setattr("sumlight.control.server.socket_server.ANSWERS_PER_POLL", 0)
    old.send(STATE)
    desk.poll()
    desk.caller()
    monkeypatch.undo()
    desk.poll()
    assert len(old.take()) == 1
    assert [caller.hung_up() for caller in callers[:2]] == [True, False]


@pytest.mark.parametrize("said", [b"", b'{"id": 1, "comm'], ids=["nothing", "half a line"])
def test_who_says_nothing_for_a_minute_is_sent_away(desk: Desk, said: bytes) -> None:
    """Also where there is room. Half a line now and then is no word."""
    silent, speaks = desk.caller(), desk.caller()
    for _ in range(7):
        assert not silent.hung_up()
        silent.send(said)
        speaks.send(STATE)
        desk.poll(3)
        desk.now_s += 10.0
    desk.poll()
    assert silent.hung_up()
    assert len(desk.service._clients) == 1
    assert len(speaks.take()) == 7
    assert not speaks.hung_up()


def test_who_watches_may_be_silent_as_long_as_it_reads(desk: Desk) -> None:
    """A page that somebody leaves open over night."""
    watcher = desk.caller()
    watcher.send(b'{"id": 1, "command": "watch"}\n')
    desk.poll()
    for _ in range(100):
        desk.now_s += 100.0
        desk.poll()
        desk.service.push({"state": "idle"})
    assert len(watcher.take()) == 101


def test_a_question_that_could_not_be_answered_for_a_minute_still_is(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is control that kept the client waiting then."""
    asks = desk.caller()
    monkeypatch.setattr("sumlight.control.server.socket_server.ANSWERS_PER_POLL", 0)
    asks.send(STATE)
    desk.poll()
    desk.now_s += 100.0
    desk.poll()
    monkeypatch.undo()
    desk.poll()
    assert len(asks.take()) == 1


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
        (b'{"id": 1, "command": "dark", "command": "go"}', "bad_request"),
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


def test_a_client_that_leaves_makes_room(desk: Desk) -> None:
    """Also in the middle of a line."""
    callers = [desk.caller() for _ in range(CLIENTS_MAX)]
    callers[3].send(b'{"id": 1')
    callers[3].link.close()
    desk.poll(CLIENTS_MAX)
    late = desk.caller()
    late.send(STATE)
    desk.poll(CLIENTS_MAX)
    assert len(late.take()) == 1


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
    with pytest.raises(SocketInUseError, match="another control process answers"):
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


def test_a_flooded_box_still_exposes_to_its_dose(bench: BenchBox, tmp_path: Path) -> None:
    """Ten clients flooding the real daemon, one sending garbage, one deaf watcher: dose, lid and ticks as ever."""
    path = tmp_path / "s"
    bench.daemon.serve(path)
    bench.start()
    callers = []
    for _ in range(12):
        callers.append(Caller(path))
        bench.step()
    callers[10].send(b'{"id": 1, "command": "watch"}\n')

    def feed() -> None:
        for caller in callers[:10]:
            caller.send(STATE * 5)
            caller.hung_up()
        callers[11].send(b"\xff{}garbage\n")

    bench.after_step = feed
    bench.run(4.0)
    at_s = bench.clock.now_s
    bench.happen("lid_opens")
    bench.run(0.1)
    assert bench.switched_off_after(at_s) <= 0.01
    bench.shut_lid()
    bench.ask("go")
    bench.until_state("done")
    assert bench.true_dose() == pytest.approx(20, rel=0.01)
    for caller in callers:
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
