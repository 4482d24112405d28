"""One line of the socket: what is understood, what is refused and how."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sumlight.protocol import messages
from sumlight.protocol.commands import COMMANDS
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.messages import Request, parse_request
from sumlight.text.message import as_written, say
from tests.webui.fake_control import snapshot


def refused(line: bytes) -> BadRequestError:
    """The error that a line must give."""
    with pytest.raises(BadRequestError) as error:
        parse_request(line)
    assert error.value.message
    return error.value


@pytest.mark.parametrize(
    ("line", "code", "field"),
    [
        (b"", "bad_request", None),
        (b"\x00\xff\xfe", "bad_request", None),
        (b"{", "bad_request", None),
        (b"[]", "bad_request", None),
        (b'"state"', "bad_request", None),
        (b"[" * 50_000, "bad_request", None),
        (b'{"command": "state"}', "bad_request", "id"),
        (b'{"id": "1", "command": "state"}', "bad_request", "id"),
        (b'{"id": true, "command": "state"}', "bad_request", "id"),
        (b'{"id": -1, "command": "state"}', "bad_request", "id"),
        (b'{"id": 1.5, "command": "state"}', "bad_request", "id"),
        (b'{"id": 1e999, "command": "state"}', "bad_request", "id"),
        (b'{"id": ' + b"9" * 5000 + b', "command": "state"}', "bad_request", None),
        (b'{"id": 1}', "unknown_command", "command"),
        (b'{"id": 1, "command": "light"}', "unknown_command", "command"),
        (b'{"id": 1, "command": ["state"]}', "unknown_command", "command"),
        (b'{"id": 1, "command": "go", "force": true}', "bad_request", "force"),
    ],
)
def test_a_line_that_is_no_request_is_refused_by_its_field(line: bytes, code: str, field: str | None) -> None:
    """Nothing of it is believed."""
    error = refused(line)
    assert (error.code, error.field) == (code, field)


def test_an_unknown_command_is_told_what_there_is() -> None:
    """So that a person at a terminal can help herself."""
    assert all(command in refused(b'{"id": 1, "command": "x"}').message for command in COMMANDS)


@given(st.binary(max_size=200))
def test_no_garbage_gets_through_or_raises_anything_else(line: bytes) -> None:
    """Either a request or BadRequestError."""
    code = None
    try:
        parse_request(line)
    except BadRequestError as error:
        code = error.code
    assert code in (None, "bad_request", "unknown_command", "bad_value")


def test_errors_have_one_shape() -> None:
    """Four keys, whatever was wrong."""
    line = messages.error_line(None, BadRequestError("refused", as_written("No."), field="x"))
    message = {"code": "as_written", "values": {"text": "No."}}
    assert json.loads(line) == {
        "id": None,
        "ok": False,
        "error": {"code": "refused", "field": "x", "message": message, "remedy": None},
    }


def test_replies_and_snapshots_are_one_line_each() -> None:
    """Also with line breaks inside."""
    for line in (messages.reply_line(1, {"a": "b\nc"}), messages.state_line(snapshot(sentence=as_written("b\nc")))):
        assert line.count(b"\n") == 1
        assert json.loads(line)


@pytest.mark.parametrize("command", ["state", "start", "calibration", "tablet_readings"])
def test_a_field_that_a_command_does_not_take_is_refused_without_a_socket_too(command: str) -> None:
    """A retired field that is quietly left out gives the default in its place."""
    with pytest.raises(BadRequestError, match=f"'{command}' takes") as caught:
        Request(1, command, {"share": 0.05})
    assert (caught.value.code, caught.value.field) == ("bad_request", "share")


def test_a_command_that_nobody_knows_cannot_be_made() -> None:
    """Wherever it comes from."""
    with pytest.raises(BadRequestError, match="no such command") as caught:
        Request(1, "light")
    assert caught.value.code == "unknown_command"


def test_a_refusal_reads_as_sentences_in_a_terminal() -> None:
    """A message without a stop gets one before what helps; alone it stays as it is."""
    told, helps = say("exposure_not_ended", number=3), say("finish_or_abandon_first")
    assert BadRequestError("refused", told, remedy=helps).in_full == f"{told}. {helps}"
    assert BadRequestError("refused", helps, remedy=told).in_full == f"{helps} {told}"
    assert BadRequestError("refused", told).in_full == told
