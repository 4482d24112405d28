"""Why a command is refused: sound, but not possible now, or with a recipe that cannot be used."""

from sumlight.checkedfile import FileProblemsError
from sumlight.protocol.errors import BadRequestError
from sumlight.store.logbook.writer import LogWriter
from sumlight.store.recipes import RecipeStore, RecipeStoreError, StoredRecipe, UnknownRecipeError
from sumlight.text.message import Message, as_written, say


class RefusedError(RuntimeError):
    """A command that is not possible now; `remedy` says what to do first."""

    def __init__(self, message: Message, remedy: Message) -> None:
        self.message, self.remedy = message, remedy
        super().__init__(f"{message} {remedy}")


def refuse_if_unwritable(writer: LogWriter) -> None:
    """For what must not be lost. Raises RefusedError with what the card says."""
    if why := writer.error:
        raise RefusedError(say("logbook_cannot_be_written", why=as_written(why.rstrip("."))), say("make_room"))


def recipe_asked_for(shelf: RecipeStore, name: str, mend: Message | None = None, field: str = "recipe") -> StoredRecipe:
    """Load the recipe that `field` names; `mend` is the remedy for one that is damaged.

    Raises BadRequestError for one that is not there or cannot be used.
    """
    try:
        return shelf.load(name)
    except UnknownRecipeError as error:
        raise BadRequestError("not_found", error.told, field=field) from error
    except FileProblemsError as error:
        raise BadRequestError("bad_value", error.message, field=field, remedy=mend) from error
    except RecipeStoreError as error:
        raise BadRequestError("refused", error.message, field=field) from error
