"""Routes of the Bench: the page itself and the commands, which answer JSON to scripts and a page to people."""

from typing import Any

from flask import Blueprint, jsonify, make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from sumlight.store.recipes import RecipeShelfError, StoredRecipe
from sumlight_web.desk import desk
from sumlight_web.link import CommandRefusedError, LinkDownError
from sumlight_web.words import sentence

blueprint = Blueprint("bench", __name__, template_folder="templates")

STATUS = {"bad_request": 400, "unknown_command": 400, "bad_value": 422, "not_found": 422}
"""HTTP status per code of control; anything else is a conflict with the present state."""

WHO = "the page"
"""Who clears a fault, for the record; there is no login yet to know more."""

DARK_LOST = "Dark did NOT reach the box."
DARK_LOST_REMEDY = "Open the lid or use the emergency stop: both cut the lamps without this page."


def wants_json() -> bool:
    """Whether a script asks (it says so), and not a browser's form."""
    return request.accept_mimetypes.best_match(["text/html", "application/json"], "text/html") == "application/json"


@blueprint.get("/")
def page() -> str:
    """The Bench."""
    return _page()


@blueprint.post("/bench/start")
def start() -> Response:
    """Begin an exposure of `recipe` on the panel labelled `panel`."""
    fields = {name: request.form.get(name, "").strip() for name in ("recipe", "panel", "note")}
    missing = [("recipe", "Choose a recipe.")] if not fields["recipe"] else []
    missing += [("panel", "Give the panel a label, so that it can be found again.")] if not fields["panel"] else []
    if missing:
        return _refusal([{"code": "bad_value", "field": f, "message": m, "remedy": None} for f, m in missing], 422)
    return _carry_out("start", fields)


@blueprint.post("/bench/<any(go, dark, abandon, acknowledge):command>")
def plain(command: str) -> Response:
    """A command without any input."""
    return _carry_out(command, {"who": WHO} if command == "acknowledge" else {})


@blueprint.post("/bench/hands")
def hands() -> Response:
    """Move the lid of a simulated box; a real one refuses."""
    return _carry_out("simulate", {"do": request.form.get("do", "")})


def _carry_out(command: str, fields: dict[str, str]) -> Response:
    try:
        desk().link.ask(command, **fields)
    except CommandRefusedError as error:
        answer = {"code": error.code, "field": error.field, "message": error.message, "remedy": error.remedy}
        return _refusal([answer], STATUS.get(error.code, 409))
    except LinkDownError as error:
        return _refusal([_lost(command, error)], 503)
    if wants_json():
        return jsonify({"ok": True, "message": "The box took the command."})
    return redirect(url_for("bench.page"), 303)


def _lost(command: str, error: LinkDownError) -> dict[str, str | None]:
    """What to say when nobody answered. A command that may have arrived is never called lost."""
    if command == "dark":
        message, remedy = f"{DARK_LOST} {error.message}", DARK_LOST_REMEDY
    elif error.sent:
        message, remedy = (
            error.message,
            "The command may have arrived all the same. Look at the lamps before trying again.",
        )
    else:
        message, remedy = error.message, "Nothing was started or changed. Start the control program."
    return {"code": "unreachable", "field": None, "message": message, "remedy": remedy}


def _refusal(errors: list[dict[str, str | None]], status: int) -> Response:
    if wants_json():
        return make_response(jsonify({"ok": False, "error": errors[0], "errors": errors}), status)
    return make_response(_page(errors), status)


def _page(errors: list[dict[str, Any]] | None = None) -> str:
    frame = desk().hall.frames.current()
    shelf_trouble = ""
    try:
        shelf = desk().shelf.list()
    except RecipeShelfError as error:  # the Bench must come up all the same: dark is on it
        shelf, shelf_trouble = [], sentence(str(error))
    usable = [entry for entry in shelf if isinstance(entry, StoredRecipe)]
    at_fields = {error["field"]: error for error in errors or [] if error["field"] in ("recipe", "panel", "note")}
    snapshot = frame.latest.snapshot
    last = snapshot["exposure"]["recipe"] if snapshot and snapshot["exposure"] else ""
    return render_template(
        "bench/bench.html",
        frame=frame,
        view=frame.view,
        snapshot=snapshot,
        recipes=usable,
        broken=len(shelf) - len(usable),
        shelf_trouble=shelf_trouble,
        chosen=request.form.get("recipe", last),
        typed=request.form,
        errors=at_fields,
        answers=[error for error in errors or [] if error["field"] not in at_fields],
    )
