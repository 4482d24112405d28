"""What the bench's arithmetic says has codes: also its errors, so that a page can say them in its own language."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from sumlight import craft
from sumlight.craft.checks import RefusedError, above, between, number, one_of
from sumlight.craft.chemistry import hazards, mixing, peroxide
from sumlight.craft.etching import limits
from sumlight.craft.etching.factor import MeaningNeededError, etch_factor
from sumlight.craft.etching.times import NeverFinishesError, etch_time_s
from sumlight.text.message import Message, say

ROOM = Path(str(craft.__file__)).parent
SAYERS = [ROOM / "checks.py", ROOM / "developing.py"]
SAYERS += [path for room in ("baths", "chemistry", "etching", "jobs") for path in ROOM.glob(f"{room}/*.py")]
SAYERS += ROOM.parent.glob("artwork/*.py")


def raised() -> Iterator[tuple[str, ast.expr]]:
    """The first argument of every error that these modules raise."""
    for path in SAYERS:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call) and node.exc.args:
                yield f"{path.name}:{node.lineno}", node.exc.args[0]


def test_no_error_is_a_text_of_its_own() -> None:
    """It is said by a code: neither a plain text nor one put together."""
    found = list(raised())
    assert len(found) > 20
    assert [where for where, told in found if isinstance(told, ast.Constant | ast.JoinedStr | ast.BinOp)] == []


def test_an_error_carries_its_code_and_its_numbers_as_numbers() -> None:
    """Nothing was written out before."""
    with pytest.raises(ValueError, match=r"volume_l must lie between 0\.02 and 200, not -1: mix what") as wrong:
        mixing.mix_powder("stripper", -1)
    told = wrong.value.args[0]
    assert isinstance(told, Message)
    assert told.code == "sum_with_hint"
    inner = told.values["told"]
    assert isinstance(inner, Message)
    assert inner.values == {"field": "volume_l", "value": -1, "low": 0.02, "high": 200.0}


@pytest.mark.parametrize("field", ["x", "volume_l"])
def test_checks_say_field_value_and_what_is_allowed(field: str) -> None:
    """In one order, whatever was wrong."""
    with pytest.raises(ValueError, match=f"{field} must be a number, not nan"):
        number(field, float("nan"))
    with pytest.raises(ValueError, match=f"{field} must be above 0 and at most 5, not 0$"):
        above(field, 0, 0, 5)
    with pytest.raises(ValueError, match=f"{field} must lie between 1 and 2.5, not 3: weigh"):
        between(field, 3, 1, 2.5, say("hint_weigh_more"))
    with pytest.raises(ValueError, match=f"{field} must be one of a, b, not 'c'"):
        one_of(field, "c", ("a", "b"))


def test_refusals_and_answers_are_messages_all_the_way_down() -> None:
    """What stands within is said in the reader's language too."""
    with pytest.raises(RefusedError) as refused:
        hazards.refuse_meeting("acid", "bleach")
    assert {type(value) for value in refused.value.args[0].values.values()} == {Message}
    with pytest.raises(MeaningNeededError) as asked:
        etch_factor(0.5)
    assert asked.value.question.code == "factor_meaning_asked"
    with pytest.raises(NeverFinishesError) as never:
        etch_time_s(200, 10, share_per_um=0.01)
    assert never.value.args[0].values == {"taken": 200.0, "left": 100.0}
    mixed = peroxide.mix_peroxide(1, 11.9, 31)
    assert all(isinstance(step, Message) for step in (*mixed.steps, *mixed.cautions, mixed.echo))
    assert limits.smallest("hole", 150).rule.code == "rule_hole"
