"""Parameters of a series: what is taken, what is refused, and what a record gives back."""

import json
from typing import Any

import pytest

from sumlight.bounds import Bounds, bounds_of
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.run_parameters import FieldParameters, TabletParameters, checked, recorded


@pytest.mark.parametrize(
    ("kind", "given"),
    [
        ("tablet", {"target_step": 9}),
        ("tablet", {"target_step": 2, "reference_mj_cm2": 0.1}),
        ("tablet", {"target_step": 20, "reference_mj_cm2": 5000}),
        ("field", {"places": [[0, 0], [-60.5, 2000]]}),
        ("strip", {}),
    ],
)
def test_what_was_sent_is_what_the_record_gives_back(kind: str, given: dict[str, Any]) -> None:
    """By way of JSON text, as the logbook keeps it."""
    found = checked(kind, given, 2)
    kept = json.loads(found.as_json())
    assert kept == given
    assert recorded(kind, kept) == found


@pytest.mark.parametrize(
    ("kind", "given", "field", "words"),
    [
        ("tablet", [], "parameters", "must be an object"),
        ("tablet", {}, "parameters.target_step", "is missing; it must lie between 2 and 20"),
        ("tablet", {"target_step": 1}, "parameters.target_step", "is 1; it must lie between 2 and 20"),
        ("tablet", {"target_step": 21}, "parameters.target_step", "is 21; it must lie between 2 and 20"),
        ("tablet", {"target_step": 10**400}, "parameters.target_step", "it must lie between 2 and 20"),
        ("tablet", {"target_step": 8.5}, "parameters.target_step", "must be a whole number, not 8.5"),
        ("tablet", {"target_step": True}, "parameters.target_step", "must be a whole number"),
        ("tablet", {"target_step": "9"}, "parameters.target_step", "must be a whole number"),
        (
            "tablet",
            {"target_step": 9, "reference_mj_cm2": 0.09},
            "parameters.reference_mj_cm2",
            "is 0.09; it must lie between 0.1 and 5000",
        ),
        ("tablet", {"target_step": 9, "reference_mj_cm2": 5001}, "parameters.reference_mj_cm2", "0.1 and 5000"),
        ("tablet", {"target_step": 9, "reference_mj_cm2": float("nan")}, "parameters.reference_mj_cm2", "a number"),
        ("tablet", {"target_step": 9, "reference_mj_cm2": "55"}, "parameters.reference_mj_cm2", "a number"),
        ("tablet", {"target_step": 9, "lot": "L1"}, "parameters.lot", "it takes target_step, reference_mj_cm2"),
        ("strip", {"target_step": 9}, "parameters.target_step", "not a parameter of a strip series; it takes none"),
        ("field", {}, "parameters.places", "1 to 60 places"),
        ("field", {"places": []}, "parameters.places", "1 to 60 places"),
        ("field", {"places": [[0, 0]] * 61}, "parameters.places", "1 to 60 places"),
        ("field", {"places": [[0, 0], [1]]}, "parameters.places", "[x, y] in mm"),
        ("field", {"places": [[0, 0], ["1", 2]]}, "parameters.places", "[x, y] in mm"),
        ("field", {"places": [[0, 0], [0, -2001]]}, "parameters.places", "none beyond 2000"),
        ("field", {"places": [[0, 0], [0, 1], [0, 2]]}, "parameters.places", "3 places, but the series has 2 rounds"),
    ],
)
def test_what_cannot_be_is_refused_with_its_field(kind: str, given: object, field: str, words: str) -> None:
    """And with what is allowed."""
    with pytest.raises(BadRequestError) as refused:
        checked(kind, given, 2)
    assert (refused.value.code, refused.value.field) == ("bad_value", field)
    assert words in refused.value.message


@pytest.mark.parametrize(
    "record", [None, {}, [], "9", {"target_step": 40}, {"target_step": "9"}, {"target_step": 9, "extra": 1}]
)
def test_a_record_that_does_not_tell_gives_nothing(record: object) -> None:
    """None, rather than something that passes for an answer."""
    assert recorded("tablet", record) is None


def test_bounds_are_those_of_the_model() -> None:
    """A tablet of 21 steps of half a stop: the last step cannot be held alone, and the first tells nothing."""
    assert bounds_of(TabletParameters, "target_step") == Bounds(2, 20)
    assert bounds_of(TabletParameters, "reference_mj_cm2") == Bounds(0.1, 5000)
    assert "places" in FieldParameters.model_fields
