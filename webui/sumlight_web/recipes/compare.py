"""Two texts of a recipe side by side: by field where both can be read, else line by line. Pure."""

import difflib
from dataclasses import dataclass

from sumlight.checkedfile import FileProblemsError
from sumlight.store.recipe import Recipe
from sumlight.store.recipes import recipe_from_text
from sumlight_web.forms import Input
from sumlight_web.language import _, figure
from sumlight_web.recipes import rates
from sumlight_web.recipes.form import FIELDS, form_of


@dataclass(frozen=True)
class Difference:
    """One field of two recipes, in words."""

    label: str
    unit: str
    before: str
    after: str

    @property
    def same(self) -> bool:
        """Whether both say the same."""
        return self.before == self.after


def by_field(before: str, after: str) -> list[Difference] | None:
    """Every field of both texts; None when one of them is no recipe any more."""
    try:
        recipes = [recipe_from_text(text, "recipe").recipe for text in (before, after)]
    except FileProblemsError:
        return None
    first, second = (form_of(recipe).values for recipe in recipes)
    found = [Difference(_(f.label), _unit(f), first[f.key], second[f.key]) for f in FIELDS if f.key != "known"]
    one, other = map(_rates, recipes)
    told = dict.fromkeys([*one, *other])
    return [*found, *(Difference(rate, rates.UNIT, one.get(rate, ""), other.get(rate, "")) for rate in told)]


def parameters(text: str, dose_unit: str) -> list[tuple[str, str]]:
    """What a recipe says, as label and value with its unit; nothing for a text that is no recipe any more.

    `dose_unit` is that of its dose, which the text does not tell.
    """
    try:
        recipe = recipe_from_text(text, "recipe").recipe
    except FileProblemsError:
        return []
    form = form_of(recipe)
    told = [(f, form.values[f.key]) for f in FIELDS if f.kind != "pick" and form.values[f.key]]
    said = [
        (_(f.label), f"{figure(float(v), '.6g')} {_unit(f, dose_unit)}".strip() if f.numeric else v) for f, v in told
    ]
    return [*said, *((label, f"{figure(float(v), '.6g')} {rates.UNIT}") for label, v in _rates(recipe).items())]


def _unit(field: Input, of_dose: str = "") -> str:
    """A field's unit. On which scale a dose was found stands in no text."""
    return of_dose if field.key == "dose_mj_cm2" else field.unit_shown


def _rates(recipe: Recipe) -> dict[str, str]:
    """The etching rates that a recipe holds, by metal and bath in words."""
    return {
        rates.label(metal, bath): f"{rate:g}"
        for metal, baths in (recipe.etch_rates_um_min or {}).items()
        for bath, rate in baths.items()
    }


def by_line(before: str, after: str) -> list[str]:
    """What was taken out (-) and put in (+)."""
    lines = difflib.unified_diff(before.splitlines(), after.splitlines(), lineterm="", n=2)
    return [line for line in lines if not line.startswith(("---", "+++"))][:400]
