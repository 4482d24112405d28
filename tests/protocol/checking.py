"""Judges what control writes to its socket and answers to commands, wherever tests run it in their own process."""

import json
from collections.abc import Callable
from functools import cache, wraps
from typing import Annotated, Any, Literal

from pydantic import Field, TypeAdapter, with_config
from typing_extensions import TypedDict

from sumlight.control.server.commands import Commander
from sumlight.protocol import messages
from sumlight.protocol.answers import ANSWERS
from sumlight.protocol.errors import ErrorCode
from sumlight.protocol.snapshot import STRICT, Snapshot
from sumlight.text.message import Message, packed

Number = Annotated[int, Field(ge=0)] | None


@with_config(STRICT)
class Push(TypedDict):
    """A snapshot to a client that watches."""

    event: Literal["state"]
    state: Snapshot


@with_config(STRICT)
class Failure(TypedDict):
    """Why a request was not carried out."""

    code: ErrorCode
    field: str | None
    message: Message
    remedy: Message | None


@with_config(STRICT)
class Refusal(TypedDict):
    """The reply to a request that was not carried out."""

    id: Number
    ok: Literal[False]
    error: Failure


SNAPSHOT, PUSH, REFUSAL = TypeAdapter(Snapshot), TypeAdapter(Push), TypeAdapter(Refusal)


def check_snapshot(snapshot: object) -> None:
    """Raise ValidationError for one that is not as its type says, or that JSON does not give back as it was."""
    line = json.dumps(packed(snapshot), allow_nan=False)
    assert json.loads(SNAPSHOT.dump_json(SNAPSHOT.validate_json(line))) == json.loads(line)


def check_line(line: bytes) -> None:
    """Raise ValidationError for a snapshot or a refusal that is not as its type says."""
    told = json.loads(line)
    if told.get("event") == "state":
        PUSH.validate_json(line)
    elif told["ok"] is False:
        REFUSAL.validate_json(line)
    elif "state_number" in told["result"]:
        SNAPSHOT.validate_json(json.dumps(told["result"]))


@cache
def _answers(command: str) -> TypeAdapter[Any]:
    return TypeAdapter(ANSWERS[command])


def check_answer(command: str, answer: object) -> None:
    """Raise ValidationError for an answer that is not as its type says, for commands that have one."""
    if command in ANSWERS and command not in ("state", "watch"):  # those two are looked at as lines
        _answers(command).validate_json(json.dumps(packed(answer), allow_nan=False))


def recording(write: Callable[..., bytes]) -> Callable[..., bytes]:
    """A writer of lines whose every line is judged."""

    def written(*given: object) -> bytes:
        line = write(*given)
        check_line(line)
        return line

    return written


def record() -> Callable[[], None]:
    """Judge every line from now on; returns what ends that."""
    names = ("state_line", "reply_line", "error_line")
    before = {name: getattr(messages, name) for name in names}
    for name, write in before.items():
        setattr(messages, name, recording(write))

    handle = Commander.handle

    @wraps(handle)
    def handled(self: Commander, request: messages.Request) -> dict[str, Any]:
        answer = handle(self, request)
        check_answer(request.command, answer)
        return answer

    Commander.handle = handled  # type: ignore[method-assign]

    def end() -> None:
        Commander.handle = handle  # type: ignore[method-assign]
        for name, write in before.items():
            setattr(messages, name, write)

    return end
