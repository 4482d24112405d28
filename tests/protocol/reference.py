"""Write the reference of the socket's commands from their models: `python -m tests.protocol.reference`."""

import json
import sys
from pathlib import Path
from typing import Any, get_args, get_origin

from pydantic.fields import FieldInfo

from sumlight.bounds import bounds_of, longest_of
from sumlight.protocol import errors
from sumlight.protocol.commands import COMMANDS, Command
from sumlight.protocol.fields import LARGEST

PATH = Path(__file__).resolve().parents[2] / "firmware/sumlight/protocol/commands.md"

HEAD = f"""# What control understands

Written by `python -m tests.protocol.reference` from `protocol/commands.py`; do not edit.

One JSON object a line: `{{"id": 1, "command": "trace", "since_s": 12.5}}`. The answer is
`{{"id": 1, "ok": true, "result": {{…}}}}`, or `{{"id": 1, "ok": false, "error": {{…}}}}` with `field`,
`message`, `remedy` and a `code` of {", ".join(f"`{code}`" for code in errors.CODES)}.
A line that asks for *dark* is obeyed whatever else it holds.
"""


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


def reference() -> str:
    """The whole text."""
    parts = [HEAD]
    for name, model in COMMANDS.items():
        parts.append(f"## {name}\n\n{' '.join((model.__doc__ or '').split())}\n")
        rows = [f"| `{field}` | {told(model, field)} |" for field in model.model_fields]
        if rows:
            parts.append("\n".join(["| field | takes |", "| --- | --- |", *rows]) + "\n")
    return "\n".join(parts)


if __name__ == "__main__":
    PATH.write_text(reference(), encoding="utf-8")
    sys.stdout.write(f"{PATH}\n")
