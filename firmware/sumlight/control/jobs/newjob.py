"""A new job: what was asked for, the rest as in the last one or as the recipe has it. Opens the shelf."""

from sumlight.control.refused import RefusedError, recipe_asked_for
from sumlight.craft.checks import one_of
from sumlight.craft.chemistry import hazards
from sumlight.craft.jobs import plans, proposals
from sumlight.craft.jobs.instructions import PanelNumbers
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.job_commands import JobNew
from sumlight.store.recipes import RecipeStore, RecipeStoreError, StoredRecipe
from sumlight.text.message import as_written, joined, messages_of, say


def steps_of(asked: JobNew, plan: str, *, together: bool) -> tuple[plans.Step, ...]:
    """The steps of a new job; `together` where both sides are lit at once.

    Raises BadRequestError for those of a shared job that the plan does not have.
    """
    if asked.steps is None:
        return plans.steps_of(plan, together=together)
    try:
        return plans.from_written(plan, asked.steps, together=together)
    except ValueError as error:
        raise BadRequestError("bad_value", joined(*messages_of(error)), field="steps") from error


def numbers_of(asked: JobNew, last: PanelNumbers | None, shelf: RecipeStore) -> tuple[PanelNumbers, bool]:
    """The numbers of a new job, and whether both sides are lit at once.

    Raises BadRequestError for a recipe, plan or metal that is none, RefusedError for a plan that the recipe does not
    light.
    """
    stored = _recipe(asked.recipe or (last.recipe if last else ""), shelf)
    recipe = stored.recipe
    sides = len(recipe.side_names())
    plan = _word("plan", asked.plan, tuple(plans.PLANS)) or proposals.usual_plan(sides, last)
    if plans.sides_of(plan) != sides:
        name = plans.PLAN_NAMES[plan]
        wants_two = plans.sides_of(plan) == 2
        told = say("plan_needs_two", plan=name, recipe=stored.name) if wants_two else None
        raise RefusedError(told or say("plan_needs_one", plan=name, recipe=stored.name), say("take_another_recipe"))
    metal, thickness_um = proposals.usual_metal(plan, last)
    metal = _word("metal", asked.metal, hazards.METALS) or metal
    panel = PanelNumbers(
        plan=plan,
        metal=metal,
        thickness_um=thickness_um if asked.thickness_um is None else asked.thickness_um,
        recipe=stored.name,
        dose_mj_cm2=recipe.dose_mj_cm2,
        hold_s=recipe.hold_s,
        hold_limit_s=recipe.hold_limit_s,
        film_um=recipe.thickness_um,
        resist=recipe.resist,
        break_point_share=recipe.break_point_share,
        recipe_rates_um_min=recipe.rates_of(metal),
    )
    return proposals.with_baths(panel, last), recipe.sides == "together"


def _recipe(name: str, shelf: RecipeStore) -> StoredRecipe:
    if name:
        return recipe_asked_for(shelf, name)
    try:
        usable = [entry for entry in shelf.list() if isinstance(entry, StoredRecipe)]
    except RecipeStoreError as error:
        raise BadRequestError("refused", error.message, field="recipe") from error
    if len(usable) != 1:
        raise BadRequestError("bad_value", say("field_missing", field="recipe"), field="recipe")
    return usable[0]


def _word(field: str, value: str, allowed: tuple[str, ...]) -> str:
    """A word of a closed list, or none. Raises BadRequestError."""
    if not value:
        return ""
    try:
        return one_of(field, value, allowed)
    except ValueError as error:
        raise BadRequestError("bad_value", as_written(error.args[0]), field=field) from error
