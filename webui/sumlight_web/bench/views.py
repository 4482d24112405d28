"""Routes of the Bench: the page itself and the commands, which answer JSON to scripts and a page to people."""

from collections.abc import Mapping
from typing import Any

from flask import Blueprint, jsonify, make_response, redirect, render_template, request, url_for
from werkzeug.exceptions import ServiceUnavailable
from werkzeug.wrappers import Response

from sumlight.protocol.errors import BadRequestError
from sumlight_web.access.gate import visitor
from sumlight_web.guard import wants_json
from sumlight_web.language import _
from sumlight_web.link import LinkDownError
from sumlight_web.live import viewer_of_request
from sumlight_web.logbook import reader
from sumlight_web.seen import carried, carried_on
from sumlight_web.services import services
from sumlight_web.texts import text_of

blueprint = Blueprint("bench", __name__, template_folder="templates")

STATUS = {"bad_request": 400, "unknown_command": 400, "bad_value": 422, "not_found": 422}
"""HTTP status per code of control; anything else is a conflict with the present state."""

LONGEST_NAME = 100


def dark_lost() -> str:
    """What is said when nobody took the command *dark*."""
    return _("Lamps off did NOT reach the box.")


def dark_slow() -> str:
    """What is said while nobody has answered to *dark* yet."""
    return _("No answer to Lamps off yet.")


def dark_lost_remedy() -> str:
    """What helps then."""
    return _("Open the lid or use the emergency stop: both cut the lamps without this page.")


@blueprint.get("/")
def page() -> str:
    """The Bench."""
    return _page()


@blueprint.post("/bench/start")
def start() -> Response:
    """Begin an exposure of `recipe` on the panel labelled `panel`."""
    fields = {name: request.form.get(name, "").strip() for name in ("recipe", "panel", "note")}
    missing = [("recipe", _("Choose a recipe."))] if not fields["recipe"] else []
    missing += [("panel", _("Give the panel a label, so that it can be found again."))] if not fields["panel"] else []
    if missing:
        return _refusal([{"code": "bad_value", "field": f, "message": m, "remedy": None} for f, m in missing], 422)
    fields["who"] = str(visitor().operator)
    return _carry_out("start", fields | carried(fields["recipe"]))


@blueprint.post("/bench/<any(go, dark, abandon, acknowledge):command>")
def plain(command: str) -> Response:
    """A command without any input from the person."""
    fields: dict[str, object] = {"who": str(visitor().operator)} if command == "acknowledge" else {}
    return _carry_out(command, fields | (carried_on() if command == "go" else {}))


@blueprint.post("/bench/hands")
def hands() -> Response:
    """Move the lid of a simulated box; a real one refuses."""
    return _carry_out("simulate", {"do": request.form.get("do", "")})


def _carry_out(command: str, fields: Mapping[str, object]) -> Response:
    try:
        services().link.ask(command, **fields)
    except BadRequestError as error:
        answer = {
            "code": error.code,
            "field": error.field,
            "message": text_of(error.message),
            "remedy": text_of(error.remedy or ""),
        }
        return _refusal([answer], STATUS.get(error.code, 409))
    except LinkDownError as error:
        return _refusal([_lost(command, error)], 503)
    if wants_json():
        took = _("All lamps are off.") if command == "dark" else _("The box took the command.")
        return jsonify({"ok": True, "message": took})
    return redirect(url_for("bench.page"), 303)


def _lost(command: str, error: LinkDownError) -> dict[str, str | None]:
    """What to say when nobody answered. A command that may have arrived is never called lost."""
    message = text_of(error.message)
    if command == "dark":
        message, remedy = f"{dark_lost()} {message}", dark_lost_remedy()
    elif error.sent:
        remedy = _("The command may have arrived all the same. Look at the lamps before trying again.")
    else:
        remedy = _("Nothing was started or changed. Start the controller.")
    return {"code": "unreachable", "field": None, "message": message, "remedy": remedy}


def _refusal(errors: list[dict[str, str | None]], status: int) -> Response:
    if wants_json():
        return make_response(jsonify({"ok": False, "error": errors[0], "errors": errors}), status)
    return make_response(_page(errors), status)


def _nothing_exposed() -> bool:
    """Whether this is a new box; not when that cannot be told."""
    try:
        with reader() as logbook:
            return logbook is None or not logbook.recent(1)
    except ServiceUnavailable:
        return False


def _page(errors: list[dict[str, Any]] | None = None) -> str:
    hall = services().hall
    chosen = request.form.get("recipe") or request.args.get("recipe", "")
    frame = hall.frames.chosen(viewer_of_request(), chosen[:LONGEST_NAME])
    offer = frame.offers.next()
    at_fields = {error["field"]: error for error in errors or [] if error["field"] in ("recipe", "panel", "note")}
    return render_template(
        "bench/bench.html",
        frame=frame,
        bar=frame,
        view=frame.view,
        snapshot=frame.latest.snapshot,
        chosen=offer.name if offer is not None and offer.name == chosen else "",
        label=offer.panel if offer is not None else "",
        typed=request.form,
        errors=at_fields,
        first_run_steps=_nothing_exposed(),
        answers=[error for error in errors or [] if error["field"] not in at_fields],
    )
