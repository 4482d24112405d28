"""What a series was run for, beside its legs: a model a kind, which states the bounds. Kept in the exposure's record.

Whoever starts a series sends them as `parameters`; whoever works it out later finds them in its record. Pure.
"""

from collections.abc import Mapping
from typing import Annotated, Final

from annotated_types import Ge, Le, MaxLen, MinLen
from pydantic import BaseModel, ConfigDict, Field, Strict, ValidationError
from pydantic_core import ErrorDetails

from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.fields import Dose, TargetStep, words
from sumlight.text.message import Message, say

FARTHEST_MM = 2000.0
MOST_PLACES = 60
"""A place a leg: as many as a series may have legs."""

Millimetres = Annotated[float, Strict(), Ge(-FARTHEST_MM), Le(FARTHEST_MM)]


class RunParameters(BaseModel):
    """Of a kind that has none; the others add theirs."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    def as_json(self) -> str:
        """As text for the record."""
        return self.model_dump_json(exclude_none=True)


class TabletParameters(RunParameters):
    """Of a run with a step tablet: the step that is to be just held, and the dose known to do it, if one is."""

    target_step: TargetStep
    reference_mj_cm2: Dose | None = None


class FieldParameters(RunParameters):
    """Of a walk through the field: where the sensor lies in each leg, [x, y] in mm."""

    places: Annotated[
        tuple[tuple[Millimetres, Millimetres], ...],
        MinLen(1),
        MaxLen(MOST_PLACES),
        Field(description=say("list_of_places_within", most=MOST_PLACES, farthest_mm=FARTHEST_MM)),
    ]


MODELS: Final[Mapping[str, type[RunParameters]]] = {"tablet": TabletParameters, "field": FieldParameters}
"""By kind of series; every other kind takes no parameters."""


def checked(kind: str, given: object, legs: int) -> RunParameters:
    """The parameters of a series of `legs` legs as they came in.

    Raises BadRequestError, its field such as `parameters.target_step`.
    """
    if not isinstance(given, dict):
        raise BadRequestError("bad_value", say("field_not_an_object", field="parameters"), field="parameters")
    try:
        found = MODELS.get(kind, RunParameters).model_validate(given)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        name = str(first["loc"][0])[:40]
        text = _words(kind, first)
        raise BadRequestError("bad_value", text, field=f"parameters.{name}") from error
    if isinstance(found, FieldParameters) and len(found.places) != legs:
        text = say("places_and_legs_differ", places=len(found.places), legs=legs)
        raise BadRequestError("bad_value", text, field="parameters.places")
    return found


def recorded(kind: str, record: object) -> RunParameters | None:
    """The parameters that a record holds; None where it holds none that can be used."""
    try:
        return None if record is None else MODELS.get(kind, RunParameters).model_validate(record)
    except ValidationError:
        return None


def _words(kind: str, error: ErrorDetails) -> Message:
    model, name = MODELS.get(kind, RunParameters), str(error["loc"][0])[:40]
    if error["type"] == "extra_forbidden":
        if not model.model_fields:
            return say("takes_no_parameter", field=name, kind=kind)
        return say("no_parameter", field=name, kind=kind, known=list(model.model_fields))
    return words(model, error)
