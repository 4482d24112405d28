"""The words that control and its clients exchange: one JSON object a line, at most `LINE_LIMIT` bytes. Pure."""

import json
import re
from dataclasses import dataclass, field
from typing import Any

from sumlight.protocol.commands import Command, made
from sumlight.protocol.errors import BadRequestError
from sumlight.text.message import packed, say

LINE_LIMIT = 4 * 1024
"""Longest request, in bytes; a longer one is not read to its end and ends the connection."""


@dataclass(frozen=True)
class Request:
    """A command as it came in; `number` is the caller's own and comes back in the reply.

    One whose fields are not as `protocol.commands` has them cannot be made, wherever it comes from; `asked` is what is
    asked, checked. Raises BadRequestError.
    """

    number: int
    command: str
    values: dict[str, Any] = field(default_factory=dict)
    asked: Command = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "asked", made(self.command, self.values))


_DARK = re.compile(rb'"command"\s*:\s*"dark"')
_DARK_WORD = re.compile(rb"\bdark\b", re.IGNORECASE)


def says_dark(line: bytes) -> bool:
    """Whether a line asks for *dark*, whatever else is right or wrong with it.

    Text that somebody typed into a note cannot look so: JSON writes its quotes as \\". A line that is no request at
    all, such as one typed by hand, asks for dark if it holds the word: at worst it is dark without need.
    """
    if _DARK.search(line):
        return True
    try:
        data = json.loads(line)
    except (ValueError, RecursionError):
        data = None
    if not isinstance(data, dict):
        return _DARK_WORD.search(line) is not None
    command = data.get("command")
    return isinstance(command, str) and command.strip().lower() == "dark"


def parse_request(line: bytes) -> Request:
    """Read one line. Raises BadRequestError, with the request's number if it has one.

    Nothing of the line is believed before it is checked.
    """
    try:
        data = json.loads(line)
    except (ValueError, RecursionError) as error:
        raise BadRequestError("bad_request", say("line_not_json"), remedy=say("send_json_lines")) from error
    if not isinstance(data, dict):
        raise BadRequestError("bad_request", say("line_not_an_object"))
    number, command = data.get("id"), data.get("command")
    if isinstance(number, bool) or not isinstance(number, int) or not 0 <= number < 2**53:
        raise BadRequestError("bad_request", say("id_not_whole"), field="id")
    if not isinstance(command, str):
        command = ""
    values = {key: value for key, value in data.items() if key not in ("id", "command")}
    try:
        return Request(number, command, values)
    except BadRequestError as error:
        error.number = number
        raise


def request_line(number: int, command: str, **values: Any) -> bytes:
    """One request ready to send. Half a pair of characters, which no request may hold, is sent escaped."""
    text = json.dumps({"id": number, "command": command, **values}, ensure_ascii=False, separators=(",", ":"))
    try:
        return text.encode() + b"\n"
    except UnicodeEncodeError:
        return json.dumps({"id": number, "command": command, **values}).encode() + b"\n"


def reply_line(number: int | None, result: dict[str, Any]) -> bytes:
    """The reply to a request that was carried out."""
    return json.dumps({"id": number, "ok": True, "result": packed(result)}).encode() + b"\n"


def error_line(number: int | None, error: BadRequestError) -> bytes:
    """The reply to a request that was not."""
    body = {"code": error.code, "field": error.field, "message": error.message, "remedy": error.remedy}
    return json.dumps({"id": number, "ok": False, "error": packed(body)}).encode() + b"\n"


def state_line(snapshot: dict[str, Any]) -> bytes:
    """A snapshot pushed to a watching client."""
    return json.dumps({"event": "state", "state": packed(snapshot)}).encode() + b"\n"
