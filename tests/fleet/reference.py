"""Write what crosses the broker from the models: `python -m tests.fleet.reference`."""

import json
import sys
from pathlib import Path
from typing import Any

from sumlight import fleet
from sumlight.fleet import messages, topics

FOLDER = Path(str(fleet.__file__)).parent
TEXT, SCHEMAS = FOLDER / "messages.md", FOLDER / "schemas.json"

HEAD = """# What boxes and collector say to each other

Written by `python -m tests.fleet.reference` from the models of `fleet`; do not edit.

MQTT 5, QoS 1, at most 48 KiB a message, JSON in UTF-8. Units stand in the names, times are ISO 8601 in UTC. Nothing
unknown is taken. [schemas.json](schemas.json) holds a JSON Schema (draft 2020-12) of each. A box is known by its
user name at the broker, which is its `box_id`; `sumlight fleet rights` prints who may write and read what.

"""

TOPICS: tuple[tuple[str, type[messages.FleetMessage], str], ...] = (
    ("record", messages.Record, "box"),
    ("ack", messages.Acknowledgement, "collector"),
    ("state", messages.BoxState, "box"),
    ("online", messages.BoxOnline, "box"),
    ("dark", messages.DarkOrder, "whoever may ask for dark"),
    ("dark_answer", messages.DarkAnswer, "box"),
)


def told(model: type[messages.Part]) -> str:
    """What a model says of itself, and its fields."""
    rows = [f"| `{name}` | {_kind(field.annotation)} |" for name, field in model.model_fields.items()]
    words = " ".join((model.__doc__ or "").split())
    return "\n".join([words, "", "| field | holds |", "| --- | --- |", *rows, ""])


def _kind(annotation: Any) -> str:
    """The type as it is written, without its module."""
    text = getattr(annotation, "__name__", None) if isinstance(annotation, type) else None
    plain = text or str(annotation).replace("typing.", "").replace("sumlight.fleet.messages.", "")
    return f"`{plain.replace('|', 'or')}`"


def reference() -> str:
    """The whole text."""
    parts = [HEAD]
    for what, model, writer in TOPICS:
        parts.append(f"## `{topics.BASE}/box/BOX_ID/{what}`\n\nWritten by: {writer}. {told(model)}")
    online = told(messages.CollectorOnline)
    parts.append(f"## `{topics.COLLECTOR_ONLINE}`\n\nWritten by: collector. {online}")
    parts.append("# Bodies of records\n")
    parts += [f"## {kind}\n\n{told(model)}" for kind, model in messages.BODIES.items()]
    parts += [
        f"## {model.__name__}\n\n{told(model)}" for model in (messages.SideBody, messages.StepBody, messages.BankState)
    ]
    return "\n".join(parts)


def schemas() -> str:
    """The schemas, by topic and by kind of record."""
    found: dict[str, Any] = {what: model.model_json_schema() for what, model, _ in TOPICS}
    found["collector_online"] = messages.CollectorOnline.model_json_schema()
    found |= {f"record.body.{kind}": model.model_json_schema() for kind, model in messages.BODIES.items()}
    return json.dumps(found, indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    TEXT.write_text(reference(), encoding="utf-8")
    SCHEMAS.write_text(schemas(), encoding="utf-8")
    sys.stdout.write(f"{TEXT}\n{SCHEMAS}\n")
