"""One number of a recipe changed by one press, the rest of its file left as a person wrote it."""

from sumlight.checkedfile import FileProblemsError
from sumlight.quantity import shown
from sumlight.store.recipes import (
    RecipeChangedError,
    RecipeShelf,
    RecipeShelfError,
    StoredRecipe,
    UnknownRecipeError,
)
from sumlight.store.rewriting import CommentsLostError, rewritten
from sumlight_web.language import _
from sumlight_web.spoken import said
from sumlight_web.words import sentence


class NotWrittenError(RuntimeError):
    """The recipe is as it was; the message says why and what to do."""


def put(shelf: RecipeShelf, name: str, key: str, value: float, expected_sha256: str) -> StoredRecipe:
    """Write `value` at `key` of a recipe that is still the one with that hash. Raises NotWrittenError."""
    try:
        stored = shelf.load(name)
        return shelf.save(name, rewritten(stored, {key: float(shown(value, 4))}), expected_sha256)
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
        why = " ".join(said(sentence(problem.message)) for problem in error.problems)
        text = _("The recipe would not be sound: {why} Nothing was written.", why=why)
        raise NotWrittenError(text) from error
    except RecipeShelfError as error:
        raise NotWrittenError(said(sentence(str(error)))) from error
