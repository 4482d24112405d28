"""Messages: a code with its values, which everything passes on, and the words that are made of them at the edge.

A `Message` reads as English wherever a text is wanted (a log, a terminal). The page looks its code up in its own
language. A text put together from messages with `+` or an f-string is no message any more; `joined` keeps them.
"""

import json
import string
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple, Union

from sumlight.text.words import WORDS

Value = Union[str, int, float, "Message", Sequence["Value"]]
"""A name stays as it is, a number is written as the words ask for it, a message and each part of a list is said."""

AS_WRITTEN = "as_written"
"""The code of a text that nobody can translate: typed by a person, told by the system, or kept from an old record."""

SENTENCES = "sentences"


class Message(str):
    """What is said, in English; `code` and `values` are what it was made from."""

    code: str
    values: dict[str, Value]
    __slots__ = ("code", "values")

    @classmethod
    def __get_pydantic_core_schema__(cls, *_: object) -> Any:
        """On the wire a message is an object of its code and values; nothing else is one."""
        from pydantic_core import core_schema

        as_object = core_schema.plain_serializer_function_ser_schema(packed)
        return core_schema.no_info_plain_validator_function(_checked, serialization=as_object)

    def __reduce__(self) -> tuple[object, ...]:
        return _said, (self.code, self.values)


class _Filler(string.Formatter):
    """Fills the `{names}` of words; `put` writes what is neither text nor list."""

    def __init__(self, put: Callable[[Value, str], str]) -> None:
        self._put = put

    def format_field(self, value: Value, format_spec: str) -> str:
        """A list's format is what stands between its parts: `{steps: }` a space, a comma if none is given."""
        if isinstance(value, str | int | float):
            return self._put(value, format_spec)
        return (format_spec or ", ").join(self.format_field(part, "") for part in value)


PLAIN_TYPES = frozenset((str, float, int, bool, type(None)))
"""What is in JSON as it is. A message is of none of them, but of a kind of its own."""

PLAIN = "plain"
"""As a format: all the decimals that a number has, never an exponent."""


def written(value: Value, wanted: str) -> str:
    """A value in a format of Python's, or PLAIN: a number with up to nine decimals."""
    if wanted != PLAIN or not isinstance(value, int | float):
        return format(value, "" if wanted == PLAIN else wanted)
    text = f"{value:.9f}"
    return text.rstrip("0").rstrip(".")


def filled(words: str, values: Mapping[str, Value], put: Callable[[Value, str], str] = written) -> str:
    """Fill `values` into `words`; `put` writes one value that is not a list in the format that the words ask for."""
    return _Filler(put).vformat(words, (), values)


def say(code: str, /, **values: Value) -> Message:
    """Make a message. Keep `code` a plain literal: the tests look here for what is said, and with which values.

    Raises KeyError for a code without words, or for words that want other values.
    """
    return _said(code, values)


def say_named(code: str) -> Message:
    """Make a message whose code is put together from a name in another table: its own test looks through that table."""
    return _said(code, {})


class Later(NamedTuple):
    """A message that is not made yet: where something has to be dark before words are found for it."""

    code: str
    values: dict[str, Value]

    def said(self) -> Message:
        """Make it now. Never raises: at worst it reads as its code and values."""
        return _read(self.code, self.values)

    def __str__(self) -> str:
        return self.said()


def later(code: str, /, **values: Value) -> Later:
    """Note what is to be said, as `say` takes it; nothing is looked up or put into words yet."""
    return Later(code, values)


def _said(code: str, values: dict[str, Value]) -> Message:
    message = Message(filled(WORDS[code], values))
    message.code, message.values = code, values
    return message


def joined(*messages: Message | None) -> Message:
    """Several messages, one after the other; what is None or empty leaves nothing."""
    parts = [message for message in messages if message]
    return parts[0] if len(parts) == 1 else _said(SENTENCES, {"parts": parts})


def as_written(text: str) -> Message:
    """A text that has no code. A message stays what it is."""
    return text if isinstance(text, Message) else _said(AS_WRITTEN, {"text": text})


def messages_of(error: Exception) -> list[Message]:
    """List what an error says: its `message` and `remedy`, or its first argument; its text where it has no code."""
    told = getattr(error, "message", None)
    if not isinstance(told, Message):
        told = error.args[0] if error.args and isinstance(error.args[0], Message) else as_written(str(error))
    remedy = getattr(error, "remedy", None)
    return [told, remedy] if isinstance(remedy, Message) and remedy else [told]


NOTHING = as_written("")
"""Where there is nothing to say."""


def packed(data: Any) -> Any:
    """`data` ready for JSON, each message in it as an object of its `code` and `values`."""
    if isinstance(data, Message):
        return {"code": data.code, "values": packed(data.values)}
    if isinstance(data, dict):  # most of what is in one is plain, and snapshots are packed several times a second
        return {key: value if type(value) in PLAIN_TYPES else packed(value) for key, value in data.items()}
    if isinstance(data, list | tuple):
        return [value if type(value) in PLAIN_TYPES else packed(value) for value in data]
    return data


def unpacked(data: Any) -> Any:
    """The other way round. A message that this version has no words for reads as its code and values."""
    if isinstance(data, dict):
        if data.keys() == {"code", "values"} and isinstance(data["code"], str) and isinstance(data["values"], dict):
            return _read(data["code"], {str(name): unpacked(value) for name, value in data["values"].items()})
        return {key: unpacked(value) for key, value in data.items()}
    return [unpacked(value) for value in data] if isinstance(data, list) else data


def stored(message: Message) -> str:
    """A message as text for a record: its code and values, so that it can be said in any language later."""
    return json.dumps(packed(message), ensure_ascii=False)


def read_stored(text: str) -> Message:
    """What `stored` wrote; a plain text of an earlier version as it was written."""
    try:
        found = unpacked(json.loads(text))
    except (ValueError, RecursionError):
        found = None
    return found if isinstance(found, Message) else as_written(text)


def _checked(data: object) -> Message:
    if isinstance(data, Message):
        return data
    if not (isinstance(data, dict) and data.keys() == {"code", "values"} and isinstance(data["values"], dict)):
        raise ValueError(f"a message is an object of code and values, not {data!r}")
    try:
        return _said(str(data["code"]), unpacked(data["values"]))
    except (KeyError, TypeError) as error:
        raise ValueError(f"no words are known for {data!r}") from error


def _read(code: str, values: dict[str, Any]) -> Message:
    try:
        return _said(code, values)
    except (KeyError, ValueError, TypeError, IndexError):
        put = ", ".join(f"{name} {value}" for name, value in values.items())
        return as_written(f"{code}: {put}" if put else code)
