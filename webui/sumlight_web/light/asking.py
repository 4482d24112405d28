"""How the forms of Light ask control, and what they make of a no."""

from collections.abc import Mapping, Sequence
from typing import Any

from flask import redirect, url_for
from werkzeug.exceptions import NotFound, ServiceUnavailable
from werkzeug.wrappers import Response

from sumlight.protocol.errors import BadRequestError
from sumlight.store.recipes import StoredRecipe
from sumlight.text.message import AS_WRITTEN, Message
from sumlight_web import words
from sumlight_web.access.gate import visitor
from sumlight_web.forms import Form, Input, blank
from sumlight_web.language import N_, _
from sumlight_web.link import LinkDownError
from sumlight_web.live import viewer_of_request
from sumlight_web.seen import carried
from sumlight_web.services import hear_of_it, services, usable_recipes
from sumlight_web.texts import text_of
from sumlight_web.words import sentence

STATUS = {"bad_request": 400, "unknown_command": 400, "bad_value": 422, "not_found": 422}
"""HTTP status per code of control; anything else is a conflict with the present state."""
RECIPE = Input("recipe", N_("Recipe"), "pick", help=N_("Its side A and its time guard are used."))
"""The recipe that a run rests on."""

NO_ANSWER = 503
ODD_ANSWER = N_("The controller gave an answer that this page does not understand.")


def ask(
    form: Form, command: str, keys: Sequence[str], fields: Mapping[str, Any], at: Mapping[str, str] | None = None
) -> dict[str, Any] | None:
    """Carry out `command`; None when control said no, which then stands in the form.

    `keys` must be in the result. `at` tells which input a field of the command was typed into.
    """
    try:
        result = services().link.ask(command, **fields)
    except BadRequestError as error:
        field = error.field or ""
        words = [_in_words(part) for part in (error.message, error.remedy) if part]
        form.add((at or {}).get(field, field), " ".join(words), STATUS.get(error.code, 409))
        return None
    except LinkDownError as error:
        remedy = _("It may have arrived all the same.") if error.sent else _("Nothing was started or changed.")
        form.add("", " ".join((text_of(error.message), remedy, _("Try again in a moment."))), NO_ANSWER)
        return None
    if not isinstance(result, dict) or any(key not in result for key in keys):
        form.add("", _(ODD_ANSWER), NO_ANSWER)
        return None
    return result


def told_of(command: str, keys: Sequence[str], **fields: Any) -> dict[str, Any]:
    """What control says of one thing by its number. Raises NotFound when it has none, ServiceUnavailable without an
    answer.
    """
    form = blank(())
    told = ask(form, command, keys, fields)
    if told is None:
        words = " ".join(form.errors.get("", []))
        raise ServiceUnavailable(words) if form.status == NO_ANSWER else NotFound(words)
    return told


def _in_words(part: Message) -> str:
    return text_of(sentence(part)) if part.code == AS_WRITTEN else sentence(text_of(part))


def begin_series(
    form: Form,
    kind: str,
    legs: Mapping[str, Any],
    *,
    go_to: str = "",
    parameters: Mapping[str, Any] | None = None,
) -> Response | None:
    """Start a series of `legs` on the form's recipe and go to the Bench, or to `go_to`; None when control said no.

    What lies in the light is called what the series is for, in the words of whoever starts it. `parameters` go into its
    record: whoever works the series out reads them there.
    """
    at = {"doses": "zones", "count": "zones", "sides": "recipe"}
    at |= {f"parameters.{name}": name for name in parameters or {}}
    recipe = form.text("recipe")
    seen = carried(recipe)
    asked = {"kind": kind, "recipe": recipe, "panel": words.kind(kind), **legs, **seen}
    asked |= {"parameters": dict(parameters)} if parameters else {}
    asked["who"] = str(visitor().operator)
    if ask(form, "series", (), asked, at) is None:
        return None
    hear_of_it()
    return redirect(go_to or url_for("bench.page"), 303)


def usual_recipe() -> str:
    """The name of the recipe that a measurement is lit with unless another is chosen: the one used last; or nothing."""
    offers = services().hall.frames.current(viewer_of_request()).offers
    offer = offers.next() or (offers.known[0] if offers.known else None)
    return offer.name if offer is not None else ""


def recipe_named(name: str) -> StoredRecipe | None:
    """A usable recipe of that name."""
    return next((stored for stored in usable_recipes() if stored.name == name), None)
