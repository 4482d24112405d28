"""The schemas that others read say the same as the models that we read by."""

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from sumlight.fleet.dark import Key, order
from sumlight.fleet.messages import Acknowledgement, Part, packed
from sumlight.fleet.outbox import Outbox
from sumlight.fleet.publisher import online, state_of
from tests.fleet import reference
from tests.fleet.air import NOW, expose

AGAIN = "write it again: .venv/bin/python -m tests.fleet.reference"
UTC = "2026-11-30T12:00:00.000000Z"


def test_text_and_schemas_are_up_to_date() -> None:
    """Every byte."""
    assert reference.TEXT.read_text(encoding="utf-8") == reference.reference(), AGAIN
    assert reference.SCHEMAS.read_text(encoding="utf-8") == reference.schemas(), AGAIN


def test_what_is_sent_is_valid_by_a_foreign_validator(logbook: Path) -> None:
    """jsonschema, draft 2020-12: each message, and no longer with one key more."""
    schemas = json.loads(reference.SCHEMAS.read_text(encoding="utf-8"))
    expose(logbook, 1)
    with Outbox(logbook) as outbox:
        records = outbox.after(0, 10, "bench-1", "0" * 16)
    ack = Acknowledgement(box_id="bench-1", epoch="0" * 16, seq=3, mark="1" * 16)
    told: list[tuple[str, Part]] = [
        *(("record", record) for record in records),
        ("ack", ack),
        ("state", state_of("bench-1", "0" * 16, UTC, None, 0)),
        ("dark", order(Key(b"k" * 64), "bench-1", "office", NOW)),
    ]
    for name, message in told:
        given = json.loads(packed(message))
        judge = Draft202012Validator(schemas[name])
        assert judge.is_valid(given), name
        assert not judge.is_valid({**given, "go": True}), name
        assert not judge.is_valid({**given, "box_id": "a/b"}), name
    for record in records:
        assert Draft202012Validator(schemas[f"record.body.{record.kind}"]).is_valid(record.body)
    assert Draft202012Validator(schemas["online"]).is_valid(json.loads(online("bench-1", "0" * 16, True)[1]))


@pytest.mark.parametrize("name", json.loads(reference.SCHEMAS.read_text(encoding="utf-8")))
def test_each_schema_is_one(name: str) -> None:
    """By the meta-schema."""
    Draft202012Validator.check_schema(json.loads(reference.SCHEMAS.read_text(encoding="utf-8"))[name])
