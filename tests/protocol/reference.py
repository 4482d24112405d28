"""Write the reference of the socket's commands from their models: `python -m tests.protocol.reference`."""

import json
import sys
from pathlib import Path
from types import NoneType, UnionType
from typing import Any, Literal, NotRequired, Union, get_args, get_origin, get_type_hints

from pydantic.fields import FieldInfo
from typing_extensions import is_typeddict

from sumlight.bounds import bounds_of, longest_of
from sumlight.protocol import errors
from sumlight.protocol.answers import ANSWERS
from sumlight.protocol.commands import COMMANDS, Command
from sumlight.protocol.fields import LARGEST
from sumlight.text.message import Message

PATH = Path(__file__).resolve().parents[2] / "firmware/sumlight/protocol/commands.md"

HEAD = f"""# What control understands

Written by `python -m tests.protocol.reference` from the models of `protocol`; do not edit.

One JSON object a line: `{{"id": 1, "command": "trace", "since_s": 12.5}}`. The answer is
`{{"id": 1, "ok": true, "result": {{…}}}}`, or `{{"id": 1, "ok": false, "error": {{…}}}}` with `field`,
`message`, `remedy` and a `code` of {", ".join(f"`{code}`" for code in errors.CODES)}.
A line that asks for *dark* is obeyed whatever else it holds.

What each `result` holds stands at the end, by its name. A message is an object of its `code` and its `values`.
"""

PLAIN = {str: "text", float: "a number", int: "a whole number", bool: "true or false", NoneType: "null"}


def told(model: type[Command], name: str) -> str:
    """What a field takes: kind, bounds, default."""
    field = model.model_fields[name]
    return (field.description or kind(model, name)) + usual(field)


def kind(model: type[Command], name: str) -> str:
    """Of what kind a field is, with its bounds."""
    annotation, bounds = model.model_fields[name].annotation, bounds_of(model, name)
    types = plain_types(annotation)
    if dict in types:
        return "an object"
    if bool in types:
        return "true or false"
    if float in types or int in types:
        number = "a number" if float in types else "a whole number"
        return f"{number} {bounds.in_words()}" if bounds.high is not None and bounds.high < LARGEST else number
    return f"text{longest(model, name)}" if str in types else literal(annotation)


def usual(field: FieldInfo) -> str:
    """What stands for a field that is left out."""
    if field.is_required():
        return ""
    given = field.default in (None, "", ())
    return "; may be left out" if given else f"; {json.dumps(field.default)} if left out"


def plain_types(annotation: Any) -> set[Any]:
    """The types that an annotation is made of."""
    inner = [plain_types(part) for part in get_args(annotation) if not isinstance(part, str)]
    return {get_origin(annotation) or annotation}.union(*inner)


def longest(model: type[Command], name: str) -> str:
    """How long a text may be, where the model says so outright."""
    try:
        return f" of at most {longest_of(model, name)} characters"
    except StopIteration:
        return ""


def literal(annotation: Any) -> str:
    """The words that a field takes."""
    return " or ".join(f"`{word}`" for word in getattr(annotation, "__args__", ()) if isinstance(word, str) and word)


def held(hint: Any) -> str:
    """What a field of an answer holds."""
    inner, origin = [held(part) for part in get_args(hint) if not isinstance(part, str)], get_origin(hint)
    if hint in PLAIN:
        return PLAIN[hint]
    if origin in (Union, UnionType):
        return " or ".join(inner)
    if origin is Literal:
        return ", ".join(f"`{word}`" for word in get_args(hint))
    if origin is list:
        return f"a list, each {inner[0]}"
    if origin is tuple:
        return f"[{', '.join(inner)}]"
    if origin is dict:
        return f"by name: {inner[1]}"
    if origin is NotRequired:
        return f"{inner[0]}; may be missing"
    return "a message" if hint is Message else f"`{hint.__name__}`" if is_typeddict(hint) else "a name"


def answer_types() -> list[Any]:
    """Every type that is met in an answer, in the order in which they are met."""
    found: dict[Any, None] = {}

    def walk(hint: Any) -> None:
        if is_typeddict(hint) and hint not in found:
            found[hint] = None
            for each in get_type_hints(hint).values():
                walk(each)
        for part in get_args(hint) if get_origin(hint) is not Literal else ():
            walk(part)

    for answer in ANSWERS.values():
        walk(answer)
    return list(found)


def table(head: str, rows: list[str]) -> str:
    """A table of fields."""
    return "\n".join([f"| field | {head} |", "| --- | --- |", *rows]) + "\n"


def described(kind: Any) -> str:
    """What a model or a type says of itself."""
    return " ".join((kind.__doc__ or "").split())


def reference() -> str:
    """The whole text."""
    parts = [HEAD]
    for name, model in COMMANDS.items():
        parts.append(f"## {name}\n\n{described(model)} Answers `{ANSWERS[name].__name__}`.\n")
        rows = [f"| `{field}` | {told(model, field)} |" for field in model.model_fields]
        if rows:
            parts.append(table("takes", rows))
    parts.append("# What control answers\n")
    for kind_ in answer_types():
        hints = get_type_hints(kind_, include_extras=True)
        rows = [f"| `{field}` | {held(hint)} |" for field, hint in hints.items()]
        parts.append(f"## `{kind_.__name__}`\n\n{described(kind_)}\n\n{table('holds', rows)}")
    return "\n".join(parts)


if __name__ == "__main__":
    PATH.write_text(reference(), encoding="utf-8")
    sys.stdout.write(f"{PATH}\n")
