"""Bounds of commands: stated once, and the same to pydantic, to control and to the reader of what people type."""

from typing import Annotated, Any

import pytest
from pydantic import BaseModel, TypeAdapter, ValidationError

from sumlight.bounds import bounds_of, is_whole
from sumlight.protocol import amounts
from sumlight.protocol.amounts import Amounts
from sumlight.protocol.commands import COMMANDS
from sumlight.protocol.fields import LARGEST
from sumlight.quantity import QuantityError, read
from sumlight.store.recipe import Recipe


def numbers(model: type[BaseModel]) -> list[str]:
    """The numbers that people type for a model; those of a list have bounds of their own kind."""
    plain = (name for name in model.model_fields if "tuple" not in str(model.model_fields[name].annotation))
    return [name for name in plain if bounds_of(model, name).high is not None]


FIELDS = [
    (model, name)
    for model in [*Amounts.__subclasses__(), *COMMANDS.values()]
    for name in numbers(model)
    if (bounds_of(model, name).high or 0.0) < LARGEST
]


def taken(attempt: Any) -> bool:
    """Whether something was not refused."""
    try:
        attempt()
    except (ValidationError, QuantityError):
        return False
    return True


@pytest.mark.parametrize(("model", "name"), FIELDS, ids=[f"{model.__name__}.{name}" for model, name in FIELDS])
def test_pydantic_and_forms_draw_the_line_at_the_same_place(model: type[BaseModel], name: str) -> None:
    """At each end and just beyond it; pydantic, which reads its own rules, is the judge."""
    field, bounds = model.model_fields[name], bounds_of(model, name)
    rules = Annotated[(field.annotation, *field.metadata)] if field.metadata else field.annotation
    adapter: TypeAdapter[Any] = TypeAdapter(rules)  # type: ignore[arg-type]
    assert bounds.low is not None
    assert bounds.high is not None
    step = 1 if is_whole(model, name) else bounds.high / 1000
    for value in (bounds.low, bounds.high, bounds.low - step, bounds.high + step):
        judged = taken(lambda value=value: adapter.validate_python(value))
        assert taken(lambda value=value: read(f"{value:.12f}", "", bounds)) == judged


def test_a_recipe_may_ask_for_what_a_series_may_give() -> None:
    """Its file's model lies on the same floor as the protocol, so the two cannot share the number."""
    assert bounds_of(Recipe, "dose_mj_cm2").high == amounts.MOST_DOSE_MJ_CM2


def test_a_tolerance_that_a_recipe_may_state_may_be_asked_for() -> None:
    """For the same reason."""
    assert bounds_of(Recipe, "tolerance") == bounds_of(COMMANDS["calibration"], "tolerance")
