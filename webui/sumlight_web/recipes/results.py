"""What came of a recipe's panels: what it says of dose, dwell and etching, and one press that puts it in."""

from dataclasses import dataclass
from typing import Any

from flask import Blueprint, make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from sumlight.craft import learning
from sumlight.craft.learning import Learned
from sumlight.protocol.errors import BadRequestError
from sumlight.quantity import shown
from sumlight.store.logbook.results import LOOKED_BACK, place, results_of
from sumlight.store.recipes import StoredRecipe
from sumlight.store.rewriting import same_light
from sumlight_web.access.gate import visitor
from sumlight_web.language import _
from sumlight_web.light.writing import NotWrittenError, put_all
from sumlight_web.link import LinkDownError
from sumlight_web.logbook import reader
from sumlight_web.recipes.views import stored_recipe
from sumlight_web.services import services
from sumlight_web.texts import text_of
from sumlight_web.words import sentence

blueprint = Blueprint("results", __name__, url_prefix="/recipes", template_folder="templates")

DIGITS = 3


@dataclass(frozen=True)
class Offered:
    """What the results say of one number of a recipe; `value` is what a press would write, as text, at a `place`."""

    found: Learned
    value: str
    place: str


@blueprint.get("/<name>/results")
def page(name: str) -> Response:
    """What the results say. Nothing changes by itself."""
    return _page(stored_recipe(name), "", 200)


@blueprint.post("/<name>/results")
def apply(name: str) -> Response:
    """Put one number in; the versions show what it makes."""
    stored = stored_recipe(name)
    what, value = request.form.get("what", ""), request.form.get("value", "")
    offered: dict[str, str] = {each.place: each.value for each in _offered(stored)}
    if request.form.get("sha256", "") != stored.sha256 or offered.get(what) != value:
        return _page(stored, _("Recipe or results have changed meanwhile. Look at it, then press again."), 409)
    try:
        if what == "dose_mj_cm2":
            _put_dose(stored, float(value))
        else:
            put_all(services().shelf, name, {what: float(value)}, stored.sha256)
    except NotWrittenError as error:
        return _page(stored, str(error), 409)
    except BadRequestError as error:
        return _page(stored, f"{sentence(text_of(error.message))} {text_of(error.remedy or '')}".strip(), 409)
    except LinkDownError as error:
        return _page(stored, text_of(error.message), 503)
    return redirect(url_for("versions.history", name=name), 303)


def _put_dose(stored: StoredRecipe, dose_mj_cm2: float) -> None:
    """Write a dose on the scale of now, and have control keep that it is meant so. Refused where the scale moved."""
    for scale in services().link.ask("recipe_scales", recipe=stored.name).get("recipes", []):
        if scale["moved"]:
            raise NotWrittenError(_("The dose was found on another scale: take it over first, on the page Recipes."))
    saved = put_all(services().shelf, stored.name, same_light(stored.recipe, dose_mj_cm2), stored.sha256)
    asked: dict[str, Any] = {"recipe_sha256": saved.sha256, "before_mj_cm2": stored.recipe.dose_mj_cm2}
    services().link.ask("keep_dose", recipe=stored.name, who=visitor().operator, **asked)


def _page(stored: StoredRecipe, trouble: str, status: int) -> Response:
    told = [(each, text_of(learning.sentence(each.found))) for each in _offered(stored)]
    body = render_template("recipes/results.html", stored=stored, told=told, trouble=trouble, most=LOOKED_BACK)
    return make_response(body, status)


def _offered(stored: StoredRecipe) -> list[Offered]:
    with reader() as logbook:
        results = [] if logbook is None else results_of(logbook, stored.name)
    recipe = stored.recipe
    found = learning.of_recipe(results, recipe.dose_mj_cm2, recipe.break_point_share, recipe.etch_rates_um_min)
    return [Offered(each, shown(each.mid, DIGITS), place(each)) for each in found]
