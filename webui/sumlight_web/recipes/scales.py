"""Doses that were found on another scale: told beside the recipes, taken over or kept by one press."""

from typing import Any

from flask import Blueprint, redirect, request, url_for
from werkzeug.wrappers import Response

from sumlight.protocol.errors import BadRequestError
from sumlight.store.rewriting import same_light
from sumlight_web.access.gate import visitor
from sumlight_web.language import _
from sumlight_web.light.writing import NotWrittenError, put_all
from sumlight_web.link import LinkDownError
from sumlight_web.recipes.views import list_page, stored_recipe
from sumlight_web.services import services
from sumlight_web.texts import text_of
from sumlight_web.words import sentence

blueprint = Blueprint("scales", __name__, url_prefix="/recipes", template_folder="templates")


@blueprint.post("/<name>/take-over")
def take_over(name: str) -> Response:
    """Put in what the same light is called now, or keep the dose as it stands; control notes who said so."""
    stored = stored_recipe(name)
    try:
        scale = _scale_of(name)
        dose, before = scale["same_light_mj_cm2"], {}
        if request.form.get("sha256", "") != stored.sha256 or scale["sha256"] != stored.sha256:
            return list_page(_("Recipe '{name}' was changed meanwhile. Look at it, then press again.", name=name), 409)
        if request.form.get("act") != "keep":
            if dose is None or request.form.get("dose", "") != f"{dose:.4g}":
                return list_page(_("Its number has changed meanwhile. Look at it, then press again."), 409)
            before = {"before_mj_cm2": scale["dose_mj_cm2"]}
            stored = put_all(services().shelf, name, same_light(stored.recipe, dose), stored.sha256)
        services().link.ask("keep_dose", recipe=name, recipe_sha256=stored.sha256, who=visitor().operator, **before)
    except NotWrittenError as error:
        return list_page(str(error), 409)
    except BadRequestError as error:
        return list_page(f"{sentence(text_of(error.message))} {text_of(error.remedy or '')}".strip(), 409)
    except LinkDownError as error:
        return list_page(text_of(error.message), 503)
    return redirect(url_for("recipes.index", saved=name), 303)


def _scale_of(name: str) -> dict[str, Any]:
    """What control says of one recipe's dose. Raises BadRequestError, LinkDownError, NotWrittenError."""
    found = services().link.ask("recipe_scales", recipe=name).get("recipes", [])
    if not found:
        raise NotWrittenError(_("Recipe '{name}' has no dose any more.", name=name))
    scale: dict[str, Any] = found[0]
    return scale
