"""On which scale the box counts doses now: mJ/cm², or box units while nothing outside it has checked them."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from sumlight.store.recipe import Recipe
from sumlight_web import words
from sumlight_web.bar.act import counts_alone
from sumlight_web.forms import Input
from sumlight_web.services import services


def unit(side: str = "A") -> str:
    """The unit of a dose that the lamps of `side` would give now; those of a series are side A's."""
    return words.unit_of_dose(counts_alone(side, services().watch.latest().snapshot))


def ending(recipe: Recipe) -> str:
    """What ends the light of a recipe on this box."""
    return words.ending(recipe, box_units=counts_alone(recipe.first_lit(), services().watch.latest().snapshot))


def of_run(run: Mapping[str, Any]) -> str:
    """The unit in which the doses of a recorded run were counted."""
    return words.unit_of_dose(any(_counted_alone(run, side) for side in run["sides"]))


def of_side(run: Mapping[str, Any], side: Mapping[str, Any]) -> str:
    """The unit of the dose of one of its sides."""
    return words.unit_of_dose(_counted_alone(run, side))


def _counted_alone(run: Mapping[str, Any], side: Mapping[str, Any]) -> bool:
    """As its budget says, which a side has from its end on: until then no calibration can change."""
    if side["budget"] is not None or run["outcome"] is not None:
        return words.in_box_units(side)
    snapshot = services().watch.latest().snapshot
    return snapshot is not None and any(
        block["relative"] for bank, block in snapshot["calibration"].items() if bank == side["bank"]
    )


def counted(inputs: Sequence[Input], *keys: str) -> tuple[Input, ...]:
    """The same inputs; those of `keys`, doses as the box counts them, are told in the unit of now."""
    return tuple(replace(each, told=unit()) if each.key in keys else each for each in inputs)
