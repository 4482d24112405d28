"""What a new job is likely to be: as the last one, as far as the recipe lets it. Nothing is asked that can be known."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from sumlight.craft.checks import RefusedError
from sumlight.craft.jobs import plans
from sumlight.craft.jobs.instructions import PanelNumbers, etch_plan


def usual_plan(sides: int, last: PanelNumbers | None) -> str:
    """The last job's plan if the recipe lights as many sides as it needs, else the simplest that fits."""
    if last is not None and last.plan in plans.PLANS and plans.sides_of(last.plan) == sides:
        return last.plan
    return "board_one" if sides == 1 else "sheet_two"


def usual_metal(plan: str, last: PanelNumbers | None) -> tuple[str, float]:
    """Metal and thickness in µm: those of the last job of the same kind of stock, else what is usual."""
    if last is not None and (last.plan in plans.BOARDS) == (plan in plans.BOARDS):
        return last.metal, last.thickness_um
    return plans.USUAL[plan]


def with_baths(panel: PanelNumbers, last: PanelNumbers | None) -> PanelNumbers:
    """The same with what was timed for the last job, where it is still true: same resist's recipe, same metal.

    A rate that the recipe holds goes before the last job's.
    """
    if last is None:
        return panel
    clear_s = last.clear_s if last.recipe == panel.recipe else None
    panel = replace(panel, baths=last.baths)
    if last.metal != panel.metal:
        return replace(panel, clear_s=clear_s)
    rate = panel.recipe_rates_um_min.get(last.etchant or "", last.rate_um_min)
    found = replace(panel, clear_s=clear_s, etchant=last.etchant, rate_um_min=rate)
    try:
        etch_plan(found)
    except (RefusedError, ValueError):
        return replace(panel, clear_s=clear_s)
    return found


def numbers_from(values: Mapping[str, Any]) -> PanelNumbers:
    """Read the numbers of a panel back from where they were kept. Raises TypeError for what are none."""
    lists = {name: tuple(values.get(name, ())) for name in ("baths", "stock")}
    return PanelNumbers(**{**values, **lists})
