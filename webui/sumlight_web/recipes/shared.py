"""Routes of the shared folder: what differs from this box's shelf, and one recipe taken over by a press.

There is nothing of it where no folder is set. What is new there is fetched at the command line: the page's account has
neither a network nor the right to write there.
"""

from dataclasses import dataclass
from datetime import UTC, datetime

from flask import Blueprint, make_response, redirect, render_template, request, url_for
from werkzeug.exceptions import NotFound, ServiceUnavailable
from werkzeug.wrappers import Response

from sumlight.checkedfile import FileProblemsError
from sumlight.store import worktree
from sumlight.store.lamplight import LampLight, cautions, lamplight_of
from sumlight.store.logbook.database import LogbookError
from sumlight.store.recipes import NOT_THERE, RecipeChangedError, RecipeStoreError, UnknownRecipeError
from sumlight.store.sharing import Compared, NotAdoptedError, SharedRecipes, Standing
from sumlight.text.message import Message, say_named
from sumlight_web.language import _
from sumlight_web.recipes.compare import Difference, by_field
from sumlight_web.recipes.form import NAME_RULE
from sumlight_web.services import services
from sumlight_web.texts import text_of
from sumlight_web.words import sentence

blueprint = Blueprint("shared", __name__, url_prefix="/recipes", template_folder="templates")

LOSES: tuple[Standing, ...] = ("newer_here", "apart", "unusable")
"""Where taking over loses what stands on this box."""


@dataclass(frozen=True)
class Offer:
    """A recipe of the folder that is not the shelf's: what differs, and why it need not give the same light here."""

    compared: Compared
    told: Message
    rows: list[Difference]
    cautions: list[Message]

    @property
    def may_be_adopted(self) -> bool:
        """Whether its text there can be read."""
        return self.compared.there is not None

    @property
    def loses(self) -> bool:
        """Whether what stands on this box would be lost."""
        return self.compared.standing in LOSES

    @property
    def seen(self) -> tuple[str, str]:
        """The texts that are shown, by their hashes: here and there."""
        both = (self.compared.here, self.compared.there)
        here, there = (NOT_THERE if one is None else one.sha256 for one in both)
        return here, there


@blueprint.get("/shared")
def page() -> Response:
    """What differs."""
    return _page()


@blueprint.post("/shared/<name>")
def adopt(name: str) -> Response:
    """Take one over, as it was shown; a panel under light keeps what it began with."""
    places = _places()
    if not NAME_RULE.match(name):
        raise NotFound(_("There is no recipe of this name."))
    version = worktree.version_of(places.folder, f"{name}.yaml")
    seen = (request.form.get("here", ""), request.form.get("there", ""))
    try:
        places.adopt(name, datetime.now(UTC), version, replace="replace" in request.form, seen=seen)
    except NotAdoptedError:
        return _page(_("What stands on this box would be lost. Nothing was changed: look at both again."), 409)
    except RecipeChangedError:
        return _page(_("One of the two was changed meanwhile. Nothing was taken over: look at both again."), 409)
    except UnknownRecipeError as error:
        return _page(sentence(text_of(error.told)), 404)
    except FileProblemsError as error:
        return _page(" ".join(text_of(problem.said) for problem in error.problems), 422)
    except RecipeStoreError as error:
        return _page(sentence(text_of(error.message)), 503)
    except OSError as error:  # the recipe is there; that it came from the folder could not be noted
        return _page(
            _(
                "The recipe was taken over, but which version it is could not be kept: {why}",
                why=error.strerror or error,
            ),
            503,
        )
    return redirect(url_for("shared.page", adopted=name), 303)


def _page(trouble: str = "", status: int = 200) -> Response:
    places = _places()
    try:
        every = places.compared()
    except RecipeStoreError as error:
        raise ServiceUnavailable(sentence(text_of(error.message))) from error
    light = _light()
    page = render_template(
        "recipes/shared.html",
        offers=[_offer(places, one, light) for one in every if one.standing not in ("same", "only_here")],
        same=[one.name for one in every if one.standing == "same"],
        only_here=[one.name for one in every if one.standing == "only_here"],
        adopted=request.args.get("adopted", ""),
        trouble=trouble,
    )
    return make_response(page, status)


def _offer(places: SharedRecipes, one: Compared, light: LampLight) -> Offer:
    rows: list[Difference] = []
    if one.here is not None and one.there is not None:
        rows = [row for row in by_field(one.here.text, one.there.text) or [] if not row.same]
    found = [] if one.there is None else list(cautions(one.there, places.origin(one.there), light))
    return Offer(one, say_named(f"standing_{one.standing}"), rows, found)


def _places() -> SharedRecipes:
    """The folder and the shelf. Raises NotFound where none is set, ServiceUnavailable where it is not there."""
    folder = services().shared
    if folder is None:
        raise NotFound(_("No shared folder is set for this box."))
    if not folder.is_dir():
        raise ServiceUnavailable(_("The shared folder is not there. Is its drive or network connected?"))
    return SharedRecipes(services().shelf, folder)


def _light() -> LampLight:
    try:
        return lamplight_of(services().logbook_path)
    except LogbookError:
        return LampLight()
