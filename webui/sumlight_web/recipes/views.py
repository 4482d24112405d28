"""Routes of the recipes: list, new, copy, edit. Plain forms; they work without any script."""

from collections.abc import Callable
from typing import Any

from flask import Blueprint, make_response, redirect, render_template, request, url_for
from werkzeug.exceptions import NotFound, ServiceUnavailable
from werkzeug.wrappers import Response

from sumlight.checkedfile import FileProblemsError
from sumlight.craft.chemistry import hazards
from sumlight.craft.etching.plan import ETCHANTS
from sumlight.protocol.errors import BadRequestError
from sumlight.store.new_recipe import slug
from sumlight.store.recipe import SIDE_NAMES
from sumlight.store.recipes import (
    NOT_THERE,
    RecipeChangedError,
    RecipeStoreError,
    StoredRecipe,
    UnknownRecipeError,
    UnusableRecipe,
    recipe_to_text,
)
from sumlight.store.rewriting import CommentsLostError, rewritten
from sumlight_web.bar.act import ONE_BANK
from sumlight_web.language import N_, _
from sumlight_web.link import LinkDownError
from sumlight_web.recipes.form import (
    KNOWN,
    MORE,
    NAME_RULE,
    RecipeForm,
    empty_form,
    form_of,
    new_name_help,
    read_form,
)
from sumlight_web.services import services
from sumlight_web.texts import text_of
from sumlight_web.words import capital, sentence, sides

blueprint = Blueprint("recipes", __name__, url_prefix="/recipes", template_folder="templates")

CHANGED = N_(
    "Someone else has changed this recipe since you opened it. Your values are kept below, nothing was saved. "
    "Look at the recipe as it is now; pressing save again puts yours in its place."
)


KNOWN_WORDS = {
    "time": N_("that was good with these lamps"),
    "dose": N_("from a data sheet or a tablet"),
    "neither": N_("a test strip finds it"),
}


@blueprint.get("/")
def index() -> Response:
    """All recipes, the unusable ones with what is wrong with them."""
    return list_page()


def list_page(trouble: str = "", status: int = 200) -> Response:
    """The list; `trouble` is what was wrong with a press on it."""
    shelf, query = entries(), request.args.get("q", "").strip()[:100]
    usable = [entry for entry in shelf if isinstance(entry, StoredRecipe)]
    scales = _scales()
    page = render_template(
        "recipes/list.html",
        recipes=[entry for entry in usable if _matches(entry, query)],
        unusable=[entry for entry in shelf if not isinstance(entry, StoredRecipe)],
        query=query,
        several=len(usable) > 1,
        saved=request.args.get("saved", ""),
        scales=scales,
        waiting=[entry for entry in usable if scales.get(entry.name, {}).get("moved")],
        trouble=trouble,
        away=_away(),
        shared=services().shared is not None,
        moved=request.args.get("moved", ""),
    )
    return make_response(page, status)


def _away() -> list[StoredRecipe | UnusableRecipe]:
    """What was put away; nothing when it cannot be read."""
    try:
        return services().shelf.away.list()
    except RecipeStoreError:
        return []


@blueprint.post("/<name>/away")
def put_away(name: str) -> Response:
    """Take a recipe off the shelf, where nothing can be lit with it; it is kept."""
    return _moved(services().shelf.put_away, name)


@blueprint.post("/<name>/back")
def take_back(name: str) -> Response:
    """Put it on the shelf again."""
    return _moved(services().shelf.take_back, name)


def _moved(move: Callable[[str], str | None], name: str) -> Response:
    try:
        kept = move(name) or name
    except UnknownRecipeError as error:
        return list_page(sentence(text_of(error.told)), 404)
    except RecipeChangedError as error:
        return list_page(sentence(text_of(error.message)), 409)
    except RecipeStoreError as error:
        return list_page(sentence(text_of(error.message)), 503)
    return redirect(url_for("recipes.index", moved=kept), 303)


def _scales() -> dict[str, dict[str, Any]]:
    """On which scale each dose was found, by recipe; nothing while control is busy with light, or silent."""
    try:
        found = services().link.ask("recipe_scales").get("recipes", [])
    except (BadRequestError, LinkDownError):
        return {}
    return {scale["name"]: scale for scale in found}


def _matches(entry: StoredRecipe, query: str) -> bool:
    """Whether every word of the query is somewhere in name, resist or note."""
    text = f"{entry.name} {entry.recipe.resist} {entry.recipe.note}".casefold()
    return all(word in text for word in query.casefold().split())


@blueprint.get("/new")
def new() -> Response:
    """An empty form."""
    return _show(empty_form(), name="", title=_("New recipe"))


@blueprint.get("/<name>/copy")
def copy(name: str) -> Response:
    """A form with the values of an existing recipe, to be saved under another name."""
    stored = stored_recipe(name)
    title = _("Copy of {name}", name=stored.name)
    return _show(form_of(stored.recipe), name=_free_name(stored.name), whole=True, title=title)


@blueprint.post("/new")
def create() -> Response:
    """Save a new recipe; never over an existing one."""
    label = request.form.get("name", "").strip()
    name = slug(label)
    form = read_form(request.form, name or "new", label)
    if not NAME_RULE.match(name):
        form.add("name", _("Give a name of letters or digits, up to 48, such as Brass 8 min."))
    return _save(form, name, NOT_THERE) or _show(form, name=label, title=_("New recipe"), status=422)


@blueprint.get("/<name>")
def edit(name: str) -> Response:
    """The form of an existing recipe."""
    stored = stored_recipe(name)
    return _show(form_of(stored.recipe), name=name, title=name, stored=stored, sha256=stored.sha256)


@blueprint.post("/<name>")
def save(name: str) -> Response:
    """Save changes, unless the file was changed since the form was opened."""
    stored = stored_recipe(name)
    form = read_form(request.form, name)
    expected = request.form.get("sha256", "")
    if expected != stored.sha256:
        form.add("", _(CHANGED))
        return _show(form, name=name, title=name, stored=stored, sha256=stored.sha256, status=409)
    saved = _save(form, name, expected, stored)
    return saved or _show(form, name=name, title=name, stored=stored, sha256=expected, status=422)


def _save(form: RecipeForm, name: str, expected_sha256: str, stored: StoredRecipe | None = None) -> Response | None:
    """Save a sound form and go on; None when the form has to be shown again.

    A new recipe waits on the Bench, to be lit; one of which nothing is known goes to the test strip. The text of a
    `stored` recipe keeps its comments; where it cannot, the person is asked first.
    """
    if form.errors:
        return None
    anew = request.form.get("comments") == "drop"
    try:
        text = rewritten(stored, form.fields, comments_may_go=anew) if stored else recipe_to_text(form.fields)
        services().shelf.save(name, text, expected_sha256)
    except CommentsLostError:
        form.comments_go = True
        form.add("", _("The comments in this file cannot be kept. Nothing was saved yet: save again to drop them."))
    except RecipeChangedError:
        if expected_sha256 == NOT_THERE:
            form.add("name", _("There is a recipe '{name}' already. Choose another name, or edit that one.", name=name))
        else:
            form.add("", _(CHANGED))
    except FileProblemsError as error:
        for problem in error.problems:
            form.add("", text_of(problem.said))
    except RecipeStoreError as error:
        form.add("", sentence(text_of(error.message)))
    else:
        if stored is not None:
            return redirect(url_for("recipes.index", saved=name), 303)
        return redirect(url_for("light.strip" if form.known == "neither" else "bench.page", recipe=name), 303)
    return None


def entries() -> list[StoredRecipe | UnusableRecipe]:
    """The whole shelf. Raises ServiceUnavailable when it cannot be read."""
    try:
        return services().shelf.list()
    except RecipeStoreError as error:
        raise ServiceUnavailable(sentence(text_of(error.message))) from error


def stored_recipe(name: str) -> StoredRecipe:
    """One usable recipe. Raises NotFound, ServiceUnavailable."""
    if not NAME_RULE.match(name):
        raise NotFound(_("There is no recipe of this name."))
    try:
        return services().shelf.load(name)
    except RecipeStoreError as error:
        raise ServiceUnavailable(sentence(text_of(error.message))) from error
    except UnknownRecipeError as error:
        raise NotFound(_("There is no recipe '{name}'. It may have been removed or renamed.", name=name)) from error
    except FileProblemsError as error:
        raise NotFound(_("Recipe '{name}' cannot be used until its file is put right by hand.", name=name)) from error


def _free_name(name: str) -> str:
    taken = {entry.name for entry in entries()}
    for number in range(2, 100):
        proposal = f"{name[:44]}-{number}"
        if proposal not in taken:
            return proposal
    return ""


def _cannot(sides: str) -> str:
    """What bars this box from lighting a panel so; nothing while nobody has told how many banks it has."""
    snapshot = services().watch.latest().snapshot
    banks = {bank["side"] for bank in snapshot["banks"]} if snapshot else set()
    return _(ONE_BANK) if snapshot and sides == "together" and len(banks) < 2 else ""


def _show(
    form: RecipeForm,
    *,
    name: str,
    title: str,
    stored: StoredRecipe | None = None,
    sha256: str = "",
    status: int = 200,
    whole: bool = False,
) -> Response:
    form.values["name"] = name
    page = render_template(
        "recipes/form.html",
        form=form,
        more=MORE,
        metals=hazards.METALS,
        etchants=ETCHANTS,
        names=hazards.NAMES,
        name=name,
        name_help=new_name_help(),
        known=[(value, _(label), _(KNOWN_WORDS[value])) for value, label, _key in KNOWN],
        sides=[(mode, capital(sides(mode)), _cannot(mode)) for mode in SIDE_NAMES],
        title=title,
        existing=stored is not None,
        whole=whole or stored is not None or form.more_wrong,
        sha256=sha256,
    )
    return make_response(page, status)
