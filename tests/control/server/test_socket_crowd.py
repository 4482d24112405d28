"""Many, slow and silent clients at control's socket: none keeps others, or the light, waiting."""

from pathlib import Path

import pytest

from sumlight.control.server.socket_server import (
    ACTS_PER_POLL,
    ANSWERING_S,
    ANSWERS_PER_POLL,
    BACKLOG_MAX_BYTES,
    CLIENTS_MAX,
)
from sumlight.protocol.messages import LINE_LIMIT
from sumlight.text.message import as_written
from tests.control.bench_box import BenchBox
from tests.control.server.socket_desk import STATE, Caller, Desk
from tests.webui.fake_control import snapshot


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


def test_a_client_that_never_reads_is_cut_off(desk: Desk) -> None:
    """What is kept for it is bounded."""
    desk.answer = snapshot(sentence=as_written("x" * 20_000))
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
        desk.service.push(snapshot(sentence=as_written("x" * 20_000)))
        desk.poll()
    assert not desk.service.watched


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
        desk.service.push(snapshot())
        watcher.take()
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
