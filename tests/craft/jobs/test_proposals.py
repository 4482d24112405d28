"""What a new job is likely to be: nothing is asked that the last one or the recipe tells."""

from dataclasses import asdict, replace

import pytest

from sumlight.craft.jobs import plans, proposals
from tests.craft.jobs.test_instructions import numbers


@pytest.mark.parametrize(
    ("sides", "last", "plan"),
    [
        (1, None, "board_one"),
        (2, None, "sheet_two"),
        (2, "board_two", "board_two"),
        (2, "half_etched", "half_etched"),
        (1, "sheet_two", "board_one"),
        (2, "board_one", "sheet_two"),
        (2, "a plan of a later version", "sheet_two"),
    ],
)
def test_the_plan_is_the_last_one_if_the_recipe_lights_it(sides: int, last: str | None, plan: str) -> None:
    """Else the simplest that it does light."""
    assert proposals.usual_plan(sides, None if last is None else numbers(plan=last)) == plan


def test_metal_is_the_last_one_of_the_same_stock() -> None:
    """A board's copper is no sheet of 35 µm."""
    sheet = numbers(plan="sheet_two", metal="steel", thickness_um=80.0)
    assert proposals.usual_metal("half_etched", sheet) == ("steel", 80.0)
    assert proposals.usual_metal("board_one", sheet) == ("copper", 35.0)
    assert proposals.usual_metal("sheet_two", None) == ("brass", 150.0)
    assert set(plans.USUAL) == set(plans.PLANS)


def test_what_was_timed_goes_on_where_it_is_still_true() -> None:
    """The time to clear with the recipe's resist, the rate with the metal."""
    last = numbers(clear_s=30.0, etchant="iron", rate_um_min=10.0)
    fresh = replace(last, clear_s=None, etchant=None, rate_um_min=None)
    assert proposals.with_baths(fresh, last) == last
    assert proposals.with_baths(fresh, None) == fresh
    other = proposals.with_baths(replace(fresh, recipe="red-50"), last)
    assert (other.clear_s, other.etchant, other.rate_um_min) == (None, "iron", 10.0)
    steel = proposals.with_baths(replace(fresh, metal="steel"), last)
    assert (steel.clear_s, steel.etchant, steel.rate_um_min) == (30.0, None, None)


def test_numbers_are_read_back_and_foreign_ones_are_refused() -> None:
    """A file or another version may hold anything."""
    assert proposals.numbers_from(asdict(numbers())) == numbers()
    with pytest.raises(TypeError):
        proposals.numbers_from({"gold": 1})
