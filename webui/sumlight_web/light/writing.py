"""One number of a recipe changed by one press, the rest of its file left as a person wrote it."""

from collections.abc import Mapping

from sumlight.checkedfile import FileProblemsError
from sumlight.quantity import shown
from sumlight.store.recipes import (
    RecipeChangedError,
    RecipeStore,
    RecipeStoreError,
    StoredRecipe,
    UnknownRecipeError,
)
from sumlight.store.rewriting import CommentsLostError, rewritten
from sumlight_web.language import _
from sumlight_web.texts import text_of
from sumlight_web.words import sentence

ENDINGS = ("dose_mj_cm2", "draft_lit_s", "dose_unknown")
"""Keys of a recipe of which one says what ends the light."""


class NotWrittenError(RuntimeError):
    """The recipe is as it was; the message says why and what to do."""


def put(shelf: RecipeStore, name: str, key: str, value: float, expected_sha256: str) -> StoredRecipe:
    """Write `value` at `key` of a recipe that is still the one with that hash. Raises NotWrittenError."""
    return put_all(shelf, name, {key: value}, expected_sha256)


def put_all(shelf: RecipeStore, name: str, given: Mapping[str, float], expected_sha256: str) -> StoredRecipe:
    """The same for several numbers that belong together."""
    try:
        stored = shelf.load(name)
        values: dict[str, float | None] = dict.fromkeys(ENDINGS) if any(key in ENDINGS for key in given) else {}
        values |= {key: float(shown(value, 4)) for key, value in given.items()}
        return shelf.save(name, rewritten(stored, values), expected_sha256)
    except RecipeChangedError as error:
        raise NotWrittenError(
            _("Recipe '{name}' was changed meanwhile; nothing was written. Look at it, then press again.", name=name)
        ) from error
    except CommentsLostError as error:
        raise NotWrittenError(
            _(
                "Recipe '{name}' is written in a way in which its comments would be lost; nothing was written. "
                "Change it on the page Recipes.",
                name=name,
            )
        ) from error
    except UnknownRecipeError as error:
        raise NotWrittenError(_("There is no recipe '{name}' any more.", name=name)) from error
    except FileProblemsError as error:
        why = " ".join(sentence(text_of(problem.message)) for problem in error.problems)
        text = _("The recipe would not be sound: {why} Nothing was written.", why=why)
        raise NotWrittenError(text) from error
    except RecipeStoreError as error:
        raise NotWrittenError(sentence(text_of(error.message))) from error
