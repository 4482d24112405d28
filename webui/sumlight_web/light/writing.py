"""One number of a recipe changed by one press, the rest of its file left as it stands."""

import re
from typing import Final

from sumlight.checkedfile import FileProblemsError
from sumlight.quantity import shown
from sumlight.store.recipe import Recipe
from sumlight.store.recipes import (
    RecipeChangedError,
    RecipeShelf,
    RecipeShelfError,
    StoredRecipe,
    UnknownRecipeError,
    recipe_from_text,
    recipe_to_text,
)
from sumlight_web.language import _
from sumlight_web.spoken import said
from sumlight_web.words import sentence

VALUE: Final = r"[0-9.eE+-]+"
PLACES: Final = {
    "dose_mj_cm2": rf"(?m)^(dose_mj_cm2\s*:\s*){VALUE}",
    "transmission.a": rf"(?m)^(transmission\s*:\s*(?:\{{\s*|\n\s+)a\s*:\s*){VALUE}",
    "transmission.b": rf"(?m)^(transmission\s*:[^#]*?\bb\s*:\s*){VALUE}",
}
"""Where each number stands in a recipe's text, as far as it is written in the usual way."""


class NotWrittenError(RuntimeError):
    """The recipe is as it was; the message says why and what to do."""


def put(shelf: RecipeShelf, name: str, key: str, value: float, expected_sha256: str) -> StoredRecipe:
    """Write `value` at `key` of a recipe that is still the one with that hash. Raises NotWrittenError."""
    try:
        stored = shelf.load(name)
        return shelf.save(name, changed_text(stored, key, value), expected_sha256)
    except RecipeChangedError as error:
        raise NotWrittenError(
            _("Recipe '{name}' was changed meanwhile; nothing was written. Look at it, then press again.", name=name)
        ) from error
    except UnknownRecipeError as error:
        raise NotWrittenError(_("There is no recipe '{name}' any more.", name=name)) from error
    except FileProblemsError as error:
        why = " ".join(said(sentence(problem.message)) for problem in error.problems)
        text = _("The recipe would not be sound: {why} Nothing was written.", why=why)
        raise NotWrittenError(text) from error
    except RecipeShelfError as error:
        raise NotWrittenError(said(sentence(str(error)))) from error


def changed_text(stored: StoredRecipe, key: str, value: float) -> str:
    """The recipe's text with one number changed; comments stay unless the file is written in an unusual way.

    Raises FileProblemsError when the recipe would not be sound.
    """
    number = shown(value, 4)
    fields = stored.recipe.model_dump()
    group, _, part = key.rpartition(".")
    (fields[group] if group else fields)[part] = float(number)
    anew = recipe_to_text(fields)
    wanted: Recipe = recipe_from_text(anew, stored.name).recipe
    text = re.sub(PLACES[key], lambda found: found[1] + number, stored.text, count=1)
    try:
        kept = recipe_from_text(text, stored.name).recipe == wanted
    except FileProblemsError:
        kept = False
    return text if kept else anew
