"""Every command is a model: what it takes, its bounds, and what is said of a value that does not fit."""

import json
import typing
from typing import Any

import pytest
from pydantic import BaseModel

from sumlight.bounds import bounds_of
from sumlight.protocol.commands import COMMANDS, Command, NoteExposure, Teach, made
from sumlight.protocol.errors import CODES, BadRequestError
from sumlight.protocol.messages import Request, parse_request, request_line
from sumlight.protocol.run_parameters import TabletParameters
from tests.protocol.examples import EXAMPLES, PRESS, START
from tests.protocol.reference import PATH, reference


def refused(command: str, **values: Any) -> BadRequestError:
    """The error that these fields must give."""
    with pytest.raises(BadRequestError) as caught:
        made(command, values)
    assert caught.value.message
    assert caught.value.code in CODES
    return caught.value


def test_there_is_an_example_of_each() -> None:
    """With every field that it takes."""
    assert EXAMPLES.keys() == COMMANDS.keys()
    assert all(values.keys() == set(COMMANDS[name].model_fields) for name, values in EXAMPLES.items())


@pytest.mark.parametrize("command", COMMANDS)
def test_what_is_sent_is_what_arrives(command: str) -> None:
    """By way of the line on the socket."""
    arrived = parse_request(request_line(7, command, **EXAMPLES[command]))
    assert arrived == Request(7, command, EXAMPLES[command])
    assert type(arrived.asked) is COMMANDS[command]
    assert json.loads(arrived.asked.model_dump_json(exclude_unset=True)) == EXAMPLES[command]


@pytest.mark.parametrize(("command", "field"), [(name, field) for name in EXAMPLES for field in EXAMPLES[name]])
def test_no_field_takes_what_it_is_not(command: str, field: str) -> None:
    """An object of nonsense fits nowhere, and the error names the field."""
    error = refused(command, **EXAMPLES[command] | {field: {"x": float("nan")}})
    assert error.code == "bad_value"
    assert error.field == field
    assert f"'{field}'" in error.message


LISTS = {"densities", "doses_mj_cm2", "positions", "covered", "sensor", "panel", "places"}
"""Whose bounds are those of each number within."""


def numbers() -> list[tuple[str, str, float, float]]:
    """Every number of every command with its bounds."""
    found = []
    for name, model in COMMANDS.items():
        for field in model.model_fields:
            limits = bounds_of(model, field)
            if limits.low is not None and limits.high is not None and field not in LISTS:
                found.append((name, field, limits.low, limits.high))
    return found


def test_the_bounds_of_many_numbers_are_known() -> None:
    """Else the test below could be empty. Those of a dose on a test strip stand for the rest."""
    assert ("strip_plan", "first_mj_cm2", 0.1, 5000.0) in numbers()
    assert ("tablet_plan", "reference_mj_cm2", 0.1, 5000.0) in numbers()
    assert len(numbers()) > 25


@pytest.mark.parametrize(("command", "field", "low", "high"), numbers())
def test_each_number_ends_at_its_bounds(command: str, field: str, low: float, high: float) -> None:
    """Both are still taken; the next ones are not, and the words name the field."""
    for limit, beyond in ((low, low - max(1.0, abs(low))), (high, high + max(1.0, abs(high)))):
        assert getattr(made(command, EXAMPLES[command] | {field: limit}), field) == limit
        error = refused(command, **EXAMPLES[command] | {field: beyond})
        assert (error.code, error.field) == ("bad_value", field)
        assert f"'{field}'" in error.message


def types_within(annotation: object) -> list[object]:
    """An annotation and all that it is made of, models and named types opened."""
    found: list[object] = [annotation]
    for part in typing.get_args(annotation):
        if not isinstance(part, str | int):
            found += types_within(part)
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        for field in annotation.model_fields.values():
            found += types_within(field.annotation)
    return found


@pytest.mark.parametrize("model", COMMANDS.values())
def test_no_field_is_of_any_type(model: type[Command]) -> None:
    """A field that takes anything is checked by nobody."""
    assert Any not in types_within(model)
    assert object not in types_within(model)


@pytest.mark.parametrize("field", PRESS)
def test_a_press_that_does_not_say_what_was_seen_lights_nothing(field: str) -> None:
    """Nor one that says null."""
    for values in ({k: v for k, v in START.items() if k != field}, START | {field: None}):
        error = refused("start", **values)
        assert (error.code, error.field) == ("bad_value", field)
        assert error.message == "This press does not say what was seen."
        assert error.remedy == "Load the page again, then press."


@pytest.mark.parametrize(
    ("command", "changed", "words"),
    [
        ("start", {"panel": "x" * 61}, "'panel' has 61 characters; at most 60"),
        ("start", {"panel": "P\ud800"}, "'panel' holds half of a character"),
        ("start", {"recipe": 5}, "'recipe' must be text"),
        ("trace", {"since_s": "5"}, "'since_s' must be a number"),
        ("trace", {"since_s": True}, "'since_s' must be a number"),
        ("trace", {"since_s": 10**400}, "'since_s' must be a number"),
        ("tablet_plan", {"target_step": 21}, "'target_step' is 21; it must lie between 2 and 20"),
        ("tablet_plan", {"target_step": 8.5}, "'target_step' must be a whole number, not 8.5"),
        ("tablet_plan", {"target_step": None}, "'target_step' is missing; it must lie between 2 and 20"),
        ("teach", {"exposure_id": 0}, "'exposure_id' must be a whole number from 1"),
        ("self_check", {"apply": "yes"}, "'apply' must be true or false"),
        ("tablet_readings", {"convention": "x"}, "'convention' must be one of last_held, first_cleared, not x"),
        ("field", {"places": [[1, 2], [3]]}, "'places' must be a list of 1 to 200 places [x, y] in mm"),
        ("transmission", {"covered": ["a"]}, "'covered' must be a list of at most 200 numbers"),
        ("series", {"parameters": []}, "'parameters' must be an object of names and values"),
    ],
)
def test_what_is_said_of_a_value_that_does_not_fit(command: str, changed: dict[str, Any], words: str) -> None:
    """The field, the value where it is short, and what is allowed."""
    assert refused(command, **EXAMPLES[command] | changed).message == words


def test_spaces_around_a_text_are_taken_off() -> None:
    """A label typed on a phone ends in one."""
    note = made("note", {"exposure_id": 1, "note": "  dusty film "})
    assert isinstance(note, NoteExposure)
    assert note.note == "dusty film"


def test_a_whole_number_may_come_as_a_float() -> None:
    """JavaScript has no other kind."""
    teach = made("teach", {"exposure_id": 4.0})
    assert isinstance(teach, Teach)
    assert teach.exposure_id == 4


def test_run_parameters_and_commands_share_the_bounds_of_a_target_step() -> None:
    """Said once."""
    assert bounds_of(TabletParameters, "target_step") == bounds_of(COMMANDS["tablet_plan"], "target_step")


def test_the_reference_is_up_to_date() -> None:
    """Write it with `python -m tests.protocol.reference`."""
    assert PATH.read_text(encoding="utf-8") == reference()
