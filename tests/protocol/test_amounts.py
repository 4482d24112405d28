"""Bounds of commands: stated once, and the same to pydantic, to control and to the reader of what people type."""

import ast
from pathlib import Path
from typing import Annotated, Any

import pytest
from pydantic import TypeAdapter, ValidationError

import sumlight
from sumlight.bounds import bounds_of, is_whole
from sumlight.protocol import amounts
from sumlight.protocol.amounts import Amounts
from sumlight.protocol.messages import BadRequestError, Request
from sumlight.quantity import QuantityError, read
from sumlight.store.recipe import Recipe

FIELDS = [(model, name) for model in Amounts.__subclasses__() for name in model.model_fields]


def taken(attempt: Any) -> bool:
    """Whether something was not refused."""
    try:
        attempt()
    except (ValidationError, BadRequestError, QuantityError):
        return False
    return True


@pytest.mark.parametrize(("model", "name"), FIELDS, ids=[f"{model.__name__}.{name}" for model, name in FIELDS])
def test_pydantic_control_and_forms_draw_the_line_at_the_same_place(model: type[Amounts], name: str) -> None:
    """At each end and just beyond it; pydantic, which reads its own rules, is the judge."""
    field, bounds = model.model_fields[name], bounds_of(model, name)
    adapter: TypeAdapter[Any] = TypeAdapter(Annotated[(field.annotation, *field.metadata)])
    assert bounds.low is not None
    assert bounds.high is not None
    step = 1 if is_whole(model, name) else bounds.high / 1000
    for value in (bounds.low, bounds.high, bounds.low - step, bounds.high + step):
        request = Request(1, "state")
        request.values[name] = value
        judged = taken(lambda value=value: adapter.validate_python(value))
        assert taken(lambda request=request: request.amount(model, name)) == judged
        assert taken(lambda value=value: read(f"{value:.12f}", "", bounds)) == judged


def test_a_recipe_may_ask_for_what_a_series_may_give() -> None:
    """Its file's model lies on the same floor as the protocol, so the two cannot share the number."""
    assert bounds_of(Recipe, "dose_mj_cm2").high == amounts.MOST_DOSE_MJ_CM2


def test_control_states_no_bounds_of_its_own() -> None:
    """A literal limit beside a command's field would be a second one."""
    found = []
    for path in (Path(sumlight.__file__).parent / "control").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "attr", "") in ("number_between", "whole"):
                name, *limits = node.args
                own = [limit for limit in limits if isinstance(limit, ast.Constant) and limit.value]
                if ast.unparse(name) not in ("'exposure_id'", "'first_held_zone'") and own:
                    found.append(f"{path.name}:{node.lineno}")
    assert found == []
