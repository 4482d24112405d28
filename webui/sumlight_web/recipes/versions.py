"""Routes about whole texts of recipes: compare two, versions that panels were run with, export and import."""

from datetime import UTC, datetime
from itertools import pairwise
from typing import Any

from flask import Blueprint, Response, make_response, redirect, render_template, request, url_for
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response as BaseResponse

from sumlight.checkedfile import FileProblemsError
from sumlight.store.logbook.reading import LogbookReader
from sumlight.store.recipes import (
    NOT_THERE,
    RECIPE_BYTES,
    RecipeChangedError,
    RecipeStoreError,
    StoredRecipe,
    recipe_from_text,
)
from sumlight_web import scale
from sumlight_web.crowd import imports
from sumlight_web.language import _
from sumlight_web.logbook import reader
from sumlight_web.panels.code import address_of, code_svg, leads_here_only
from sumlight_web.recipes.compare import by_field, by_line, parameters
from sumlight_web.recipes.form import NAME_RULE, name_help
from sumlight_web.recipes.views import entries, stored_recipe
from sumlight_web.services import services
from sumlight_web.texts import text_of
from sumlight_web.words import sentence

blueprint = Blueprint("versions", __name__, url_prefix="/recipes", template_folder="templates")

SHOWN_VERSIONS = 30


@blueprint.get("/compare")
def compare() -> str:
    """Two recipes of the shelf side by side."""
    names = [entry.name for entry in entries() if isinstance(entry, StoredRecipe)]
    chosen = [request.args.get(side, "") for side in ("a", "b")]
    pair = [stored_recipe(name) for name in chosen] if all(chosen) else []
    rows = by_field(pair[0].text, pair[1].text) if pair else None
    return render_template("recipes/compare.html", names=names, chosen=chosen, pair=pair, rows=rows)


@blueprint.get("/<name>/history")
def history(name: str) -> str:
    """Every text that panels were run with, what changed from one to the next, and which panels those were."""
    if not NAME_RULE.match(name):
        raise NotFound(_("There is no recipe of this name."))
    with reader() as logbook:
        found = [] if logbook is None else _used(logbook, name)
    now = next((e for e in entries() if isinstance(e, StoredRecipe) and e.name == name), None)
    if now is None and not found:
        raise NotFound(_("There is no recipe of this name."))
    return render_template("recipes/history.html", name=name, now=now, versions=_with_changes(found, now))


@blueprint.get("/<name>/sheet")
def sheet(name: str) -> str:
    """One recipe for paper: all that it says, and a code that leads back to it."""
    stored = stored_recipe(name)
    address = address_of("recipes.edit", name=name)
    return render_template(
        "recipes/sheet.html",
        stored=stored,
        address=address,
        code=code_svg(address, _("Code that leads to recipe {name}", name=name)),
        here_only=leads_here_only(address),
        parameters=parameters(stored.text, scale.unit(stored.recipe.first_lit())),
        printed_utc=datetime.now(UTC).isoformat(),
    )


def _used(logbook: LogbookReader, name: str) -> list[dict[str, Any]]:
    """The texts that panels were run with, newest first, each with the newest of its exposures."""
    found = logbook.recipe_versions(name)[:SHOWN_VERSIONS]
    for version in found:
        version["exposures"] = logbook.find({"recipe": name, "recipe_sha256": version["recipe_sha256"]}, 8)
    return found


def _with_changes(found: list[dict[str, Any]], now: StoredRecipe | None) -> list[dict[str, Any]]:
    """The versions, newest first, each with its difference to the one before; the shelf's own text leads."""
    if now is not None and all(version["recipe_sha256"] != now.sha256 for version in found):
        found = [{"recipe_sha256": now.sha256, "recipe_text": now.text, "panels": 0, "exposures": []}, *found]
    for newer, older in pairwise(found):
        rows = by_field(older["recipe_text"], newer["recipe_text"])
        newer["changes"] = None if rows is None else [row for row in rows if not row.same]
        newer["lines"] = by_line(older["recipe_text"], newer["recipe_text"]) if not newer["changes"] else []
    return found


@blueprint.get("/<name>/export.yaml")
def export(name: str) -> Response:
    """The file itself."""
    stored = stored_recipe(name)
    headers = {"Content-Disposition": f'attachment; filename="{stored.name}.yaml"'}
    return Response(stored.text, mimetype="application/yaml", headers=headers)


@blueprint.get("/import")
def choose_file() -> BaseResponse:
    """The form for a file."""
    return _import_page({})


@blueprint.post("/import")
@imports
def take_file() -> BaseResponse:
    """Put a file on the shelf under a new name; every mistake in it is named with its line."""
    upload = request.files.get("file")
    raw = upload.read(RECIPE_BYTES + 1) if upload else b""
    typed, name = request.form.get("text", "").replace("\r\n", "\n"), request.form.get("name", "").strip()
    if upload and not name:
        name = (upload.filename or "").rpartition("/")[2].removesuffix(".yaml").removesuffix(".yml")
    try:
        text = raw.decode("utf-8") if raw else typed
    except UnicodeDecodeError:
        return _import_page({"file": [_("That is not a text file.")]}, name=name)
    errors: dict[str, list[str]] = {}
    if not NAME_RULE.match(name):
        errors["name"] = [_("Not a usable name.") + " " + name_help()]
    if not text.strip():
        errors["file"] = [_("Choose a file, or put its text in.")]
    else:
        try:
            recipe_from_text(text, name or "file")
        except FileProblemsError as error:
            errors["file"] = [text_of(problem.said) for problem in error.problems]
    if errors:
        return _import_page(errors, name=name, text=text)
    try:
        services().shelf.save(name, text, NOT_THERE)
    except RecipeChangedError:
        return _import_page({"name": [_("There is a recipe '{name}' already.", name=name)]}, name=name, text=text)
    except RecipeStoreError as error:
        return _import_page({"": [sentence(text_of(error.message))]}, name=name, text=text)
    return redirect(url_for("recipes.index", saved=name), 303)


def _import_page(errors: dict[str, list[str]], *, name: str = "", text: str = "") -> BaseResponse:
    page = render_template("recipes/import.html", errors=errors, name=name, text=text, name_help=name_help())
    return make_response(page, 422 if errors else 200)
