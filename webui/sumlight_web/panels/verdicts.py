"""Was it good? What a person says of a draft's panel after developing, and what follows from it for the recipe.

Nothing is lit from here: a step more or less only changes the draft, which waits on the Bench for a press of its own.
"""

from flask import Blueprint, redirect, request, url_for
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from sumlight.protocol.errors import BadRequestError
from sumlight.store.new_recipe import guard_s_for
from sumlight_web.access.gate import visitor
from sumlight_web.language import _
from sumlight_web.light.writing import NotWrittenError, put, put_all
from sumlight_web.link import LinkDownError
from sumlight_web.panels.blueprint import EXPOSURE
from sumlight_web.panels.drafts import VERDICTS, asks, draft_of, stepped_s
from sumlight_web.panels.views import page as record_page
from sumlight_web.panels.views import with_curves
from sumlight_web.services import services
from sumlight_web.texts import text_of

blueprint = Blueprint("verdicts", __name__, url_prefix="/panels", template_folder="templates")


@blueprint.post(f"{EXPOSURE}/verdict")
def judge(exposure_id: int) -> Response:
    """Keep the answer; a good panel makes its draft a recipe with the dose that was measured."""
    row, curves = with_curves(exposure_id)
    if not asks(row):
        raise NotFound(_("This panel was not lit by time: there is nothing to answer."))
    verdict = request.form.get("verdict", "")
    if verdict not in VERDICTS:
        return record_page(row, curves, {"verdict": _("Choose one.")}, 422)
    draft = draft_of(row) if verdict == "good" else None
    try:
        if draft is not None:  # first: pressed again after a failure, it is found done
            dose = row["sides"][0]["dose_mj_cm2"]
            put(services().shelf, draft.name, "dose_mj_cm2", round(dose, 1), draft.sha256)
        services().link.ask("judge", exposure_id=exposure_id, verdict=verdict, who=visitor().operator)
    except NotWrittenError as error:
        return record_page(row, curves, {"verdict": str(error)}, 409)
    except BadRequestError as error:
        return record_page(row, curves, {"verdict": f"{text_of(error.message)} {text_of(error.remedy or '')}"}, 409)
    except LinkDownError as error:
        return record_page(row, curves, {"verdict": text_of(error.message)}, 503)
    return redirect(url_for("panels.record", exposure_id=exposure_id, judged=verdict, _anchor="good"), 303)


@blueprint.post(f"{EXPOSURE}/step")
def step(exposure_id: int) -> Response:
    """Make the draft one tablet step longer or shorter and put it on the Bench; lit by a new press only."""
    row, curves = with_curves(exposure_id)
    draft = draft_of(row) if asks(row) else None
    lit_s = stepped_s(draft, request.form.get("verdict", "")) if draft is not None else None
    if draft is None or lit_s is None:
        told = _("The recipe has been changed since this panel. Nothing was written.")
        return record_page(row, curves, {"verdict": told}, 409)
    given = {"draft_lit_s": lit_s}
    if draft.recipe.time_guard_s <= lit_s:
        given["time_guard_s"] = guard_s_for(lit_s)
    try:
        put_all(services().shelf, draft.name, given, draft.sha256)
    except NotWrittenError as error:
        return record_page(row, curves, {"verdict": str(error)}, 409)
    return redirect(url_for("bench.page", recipe=draft.name), 303)
