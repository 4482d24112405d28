"""The page's end of the socket."""

import json
import socket
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.messages import LINE_LIMIT
from sumlight_web.link import ControlLink, LinkDownError, SnapshotWatch, is_snapshot
from tests.webui import fake_control
from tests.webui.fake_control import FakeControl, RefusalError, state_of, wait_until

SEEN: dict[str, Any] = {"who": "", "state_number": 3, "recipe_sha256": "0" * 64, "side": "A"}
"""What whoever pressed had before their eyes."""


@pytest.fixture
def watch(control: FakeControl) -> Iterator[SnapshotWatch]:
    """A watch in touch with the fake control."""
    watch = SnapshotWatch(control.path)
    watch.start()
    wait_until(lambda: watch.latest().live)
    yield watch
    watch.close()


def test_a_command_arrives_with_its_fields_and_gives_the_result(control: FakeControl) -> None:
    """What is asked reaches control unchanged."""
    control.answers["start"] = lambda request: {"state": "dark_check"}
    result = ControlLink(control.path).ask("start", recipe="blue-38", panel="Ä 1", note="", **SEEN)
    assert result == {"state": "dark_check"}
    given = {"id": 1, "command": "start", "recipe": "blue-38", "panel": "Ä 1", "note": ""}
    assert control.commands == [given | SEEN]


def test_a_refusal_keeps_code_field_message_and_remedy(control: FakeControl) -> None:
    """The page needs all four to show the refusal beside its field."""

    def refuse(request: object) -> dict[str, object]:
        raise RefusalError("bad_value", "Too long.", field="panel", remedy="Use 60 letters.")

    control.answers["start"] = refuse
    with pytest.raises(BadRequestError) as caught:
        ControlLink(control.path).ask("start", recipe="a", panel="b", note="", **SEEN)
    error = caught.value
    assert (error.code, error.field, error.message, error.remedy) == (
        "bad_value",
        "panel",
        "Too long.",
        "Use 60 letters.",
    )


def test_without_control_a_command_fails_and_says_that_it_was_not_sent(tmp_path: Path) -> None:
    """Nobody listens: the command certainly had no effect."""
    with pytest.raises(LinkDownError) as caught:
        ControlLink(tmp_path / "nobody.sock").ask("go")
    assert caught.value.sent is False


def test_a_control_that_hangs_fails_in_time_and_may_have_got_the_command(control: FakeControl) -> None:
    """The page does not wait longer than its limit, and does not claim that nothing happened."""
    control.mute.set()
    with pytest.raises(LinkDownError) as caught:
        ControlLink(control.path, answer_limit_s=0.2).ask("start", recipe="a", panel="b", note="")
    assert caught.value.sent is True


@pytest.mark.parametrize(
    "answer",
    [
        b"not json\n",
        b"[]\n",
        b'{"id": 99, "ok": true, "result": {}}\n',
        b'{"id": 1}\n',
        b'{"id": 1, "ok": false}\n',
        b'{"id": 1, "ok": false, "error": {"code": "refused", "message": "No.", "field": null, "remedy": null}}\n',
        b"",
    ],
)
def test_an_answer_that_makes_no_sense_is_a_broken_link(tmp_path: Path, answer: bytes) -> None:
    """A late answer to another question, or noise, never passes for success."""
    path = tmp_path / "odd.sock"
    with socket.socket(socket.AF_UNIX) as listener:
        listener.bind(str(path))
        listener.listen()

        def once() -> None:
            connection, _ = listener.accept()
            with connection:
                connection.recv(65536)
                connection.sendall(answer)

        thread = threading.Thread(target=once)
        thread.start()
        with pytest.raises(LinkDownError):
            ControlLink(path).ask("go")
        thread.join()


def test_text_too_long_for_a_line_is_refused_before_it_is_sent(control: FakeControl) -> None:
    """Control takes lines of limited length; the person hears why."""
    with pytest.raises(BadRequestError, match="too much text"):
        ControlLink(control.path).ask("start", recipe="a", panel="x" * LINE_LIMIT, note="")
    assert control.commands == []


def test_the_watch_hears_every_change(control: FakeControl, watch: SnapshotWatch) -> None:
    """The newest snapshot is at hand without asking."""
    control.say(fake_control.lit())
    wait_until(lambda: state_of(watch) == "light")
    assert watch.latest().live


def test_a_silent_control_turns_the_snapshot_old(control: FakeControl, watch: SnapshotWatch) -> None:
    """Real time: past 1.5 s without a word nothing counts as live, though the snapshot is kept."""
    control.mute.set()
    wait_until(lambda: not watch.latest().live)
    assert watch.latest().snapshot is not None
    assert watch.latest().age_s > 1.5


def test_the_watch_finds_a_control_that_was_started_again(control: FakeControl, watch: SnapshotWatch) -> None:
    """After a restart of control the page comes back by itself."""
    control.__exit__(None, None, None)
    wait_until(lambda: not watch.latest().connected)
    assert not watch.latest().live
    control.__enter__()
    wait_until(lambda: watch.latest().live)


def test_a_snapshot_of_another_version_is_not_shown(control: FakeControl, watch: SnapshotWatch) -> None:
    """A key that the page needs is missing: it says 'no word', and does not fail."""
    odd = fake_control.snapshot()
    del odd["banks"][0]["meter_ok"]
    control.say(odd)
    wait_until(lambda: not watch.latest().connected)


def test_waiting_for_news_ends_at_the_news_and_at_the_limit(control: FakeControl, watch: SnapshotWatch) -> None:
    """A stream sleeps until there is something to send."""
    heard = watch.latest().heard
    assert watch.wait_newer(heard, 60.0).heard > heard
    control.mute.set()
    heard = watch.latest().heard
    assert watch.wait_newer(heard + 1, 0.05).heard <= heard + 1


@pytest.mark.parametrize(
    "value", [None, [], {}, {"state": "idle"}, fake_control.snapshot(state="odd"), fake_control.snapshot(banks=3)]
)
def test_what_is_not_a_snapshot_is_recognised(value: object) -> None:
    """Only a whole snapshot counts."""
    assert not is_snapshot(value)


def test_an_example_of_every_state_is_a_snapshot() -> None:
    """The fakes of these tests speak the language of the page."""
    both = fake_control.exposure(fake_control.side("A"), fake_control.side("B"))
    for said in (fake_control.snapshot(), fake_control.lit(exposure=both), fake_control.rising(20.0)):
        assert is_snapshot(json.loads(json.dumps(said)))
