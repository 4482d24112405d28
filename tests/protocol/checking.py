"""Judges every line that crosses control's socket, wherever tests run it or a stand-in in their own process."""

import json
from collections.abc import Callable
from functools import cache, wraps
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, TypeAdapter, with_config
from typing_extensions import TypedDict

from sumlight.control.server.commands import Commander
from sumlight.control.server.socket_server import Service
from sumlight.protocol import messages
from sumlight.protocol.answers import ANSWERS
from sumlight.protocol.commands import COMMANDS, Command, made
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
    """Raise ValidationError for a push or a refusal that is not as its type says; answers are judged where made."""
    told = json.loads(line)
    if told.get("event") == "state":
        PUSH.validate_json(line)
    elif told["ok"] is False:
        REFUSAL.validate_json(line)


@cache
def _answers(command: str) -> TypeAdapter[Any]:
    return TypeAdapter(ANSWERS[command])


def check_answer(command: str, answer: object) -> None:
    """Raise ValidationError for an answer that is not as its type says, or that JSON does not give back as it was."""
    line, known = json.dumps(packed(answer), allow_nan=False), _answers(command)
    assert json.loads(known.dump_json(known.validate_json(line))) == json.loads(line)


def check_request(asked: Command) -> None:
    """A command says the same when it is sent once more."""
    name = next(name for name, model in COMMANDS.items() if model is type(asked))
    assert made(name, json.loads(asked.model_dump_json(exclude_unset=True))) == asked


Handler = Callable[[messages.Request], dict[str, Any]]


def judged(handle: Handler) -> Handler:
    """A service's handler whose every answer is judged by the type of its command."""

    @wraps(handle)
    def handled(request: messages.Request) -> dict[str, Any]:
        answer = handle(request)
        check_answer(request.command, answer)
        return answer

    return handled


def recording(write: Callable[..., bytes]) -> Callable[..., bytes]:
    """A writer of lines whose every line is judged."""

    def written(*given: object) -> bytes:
        line = write(*given)
        check_line(line)
        return line

    return written


def record() -> Callable[[], None]:
    """Judge every line from now on, and what a commander answers without a socket; returns what ends that."""
    replaced: list[tuple[Any, str, Any]] = []

    def replace(owner: Any, name: str, new: Any) -> None:
        replaced.append((owner, name, getattr(owner, name)))
        setattr(owner, name, new)

    for name in ("state_line", "error_line"):
        replace(messages, name, recording(getattr(messages, name)))
    parse, handle, begin = messages.parse_request, Commander.handle, Service.__init__

    def parsed(line: bytes) -> messages.Request:
        request = parse(line)
        check_request(request.asked)
        return request

    @wraps(handle)
    def handled(self: Commander, request: messages.Request) -> dict[str, Any]:
        answer = handle(self, request)
        if request.command not in ("state", "watch"):  # asked for all the time; judged as lines
            check_answer(request.command, answer)
        return answer

    @wraps(begin)
    def begun(self: Service, path: Path, handle: Handler, *given: Any) -> None:
        begin(self, path, judged(handle), *given)

    replace(messages, "parse_request", parsed)
    replace(Commander, "handle", handled)
    replace(Service, "__init__", begun)

    def end() -> None:
        for owner, name, before in replaced:
            setattr(owner, name, before)

    return end
