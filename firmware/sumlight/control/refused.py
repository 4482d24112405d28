"""Why a command is refused: sound, but not in this state of the box, or with a recipe that cannot be used."""

from sumlight.checkedfile import FileProblemsError
from sumlight.protocol.errors import BadRequestError
from sumlight.store.recipes import RecipeStore, RecipeStoreError, StoredRecipe, UnknownRecipeError
from sumlight.text.message import Message


class RefusedError(RuntimeError):
    """A command that is not possible now; `remedy` says what to do first."""

    def __init__(self, message: Message, remedy: Message) -> None:
        self.message, self.remedy = message, remedy
        super().__init__(f"{message} {remedy}")


def recipe_asked_for(shelf: RecipeStore, name: str, mend: Message | None = None) -> StoredRecipe:
    """Load the recipe that a command names in its field `recipe`; `mend` is the remedy for one that is damaged.

    Raises BadRequestError for one that is not there or cannot be used.
    """
    try:
        return shelf.load(name)
    except UnknownRecipeError as error:
        raise BadRequestError("not_found", error.told, field="recipe") from error
    except FileProblemsError as error:
        raise BadRequestError("bad_value", error.message, field="recipe", remedy=mend) from error
    except RecipeStoreError as error:
        raise BadRequestError("refused", error.message, field="recipe") from error
