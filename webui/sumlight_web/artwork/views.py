"""Routes of Artwork: a file in, what was seen on it, what is asked, and the pair. The worktable has the work done."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from flask import Blueprint, Response, abort, jsonify, make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as BaseResponse

from sumlight.craft.chemistry import hazards
from sumlight.text.message import as_written, say
from sumlight_web.access.gate import visitor
from sumlight_web.artwork import inputs, shown
from sumlight_web.artwork.bench import Bench, Kept, kept_of
from sumlight_web.artwork.worktable import PIECE_BYTES, ArtworkDesk, DeskError, missing_libraries
from sumlight_web.choices import theme
from sumlight_web.forms import Form, blank, read
from sumlight_web.language import _
from sumlight_web.light.asking import ask
from sumlight_web.services import services
from sumlight_web.texts import text_of

blueprint = Blueprint("artwork", __name__, url_prefix="/artwork", template_folder="templates")


def _desk() -> ArtworkDesk:
    return services().artwork


def _bench() -> Bench:
    return _desk().bench


@blueprint.get("/")
def page() -> Response:
    """Where it stands."""
    return _page(blank(()))


def _page(told: Form, *, make: Form | None = None, scale: Form | None = None) -> Response:
    standing = _desk().standing()
    made = shown.made_view(standing) if standing.phase == "made" else None
    missing = missing_libraries()
    jobs: list[dict[str, Any]] = []
    if made is not None and visitor().may_operate:
        jobs = (ask(blank(()), "jobs", ("jobs",), {}) or {"jobs": []})["jobs"]
    offers = _bench().offers(standing.asked.get("asked", {}), standing.asked.get("metal") or inputs.METALS[0])
    taken = next((one for one in offers if one.metal == request.args.get("take")), None)
    into_form = inputs.taken(taken) if taken else None
    printer = inputs.corrected(standing.compared, standing.asked.get("asked", {}))
    if printer and "printer" in request.args:
        into_form = (into_form or {}) | printer
    body = render_template(
        "artwork/page.html",
        standing=standing,
        told=told,
        make=make or inputs.proposed(standing.asked, standing.seen.get("kind", ""), into_form),
        printer=printer,
        printer_taken=printer is not None and "printer" in request.args,
        offers=offers,
        taken=taken,
        kept=any(one.at == standing.compared.get("at") for one in _bench().kept()),
        scale=scale or blank(inputs.SCALE),
        made=made,
        met=shown.met_view(standing) if standing.compared else None,
        bars=shown.bars(standing.seen),
        line=shown.line(standing),
        missing_told=say("art_extra_missing", missing=", ".join(missing)) if missing else None,
        piece_bytes=PIECE_BYTES,
        daylight=theme() == "daylight",
        jobs=jobs,
        noted="noted" in request.args,
        names=hazards.NAMES,
        inputs=inputs,
    )
    return make_response(body, max(one.status for one in (told, make or told, scale or told)))


@blueprint.post("/begin")
def begin() -> tuple[Response, int]:
    """A script announces a file."""
    name, size = request.args.get("name", ""), request.args.get("size", default=0, type=int)
    try:
        _desk().begin(name, size, request.args.get("with", ""))
    except (DeskError, OSError) as error:
        return _no(error)
    return jsonify(piece_bytes=PIECE_BYTES), 201


@blueprint.post("/piece")
def piece() -> tuple[Response, int]:
    """A piece of it."""
    try:
        whole = _desk().put(request.args.get("at", default=-1, type=int), request.get_data(cache=False))
    except (DeskError, OSError) as error:
        return _no(error)
    return jsonify(whole=whole), 201 if whole else 200


@blueprint.post("/")
def small_file() -> BaseResponse:
    """A small file by a plain form, without a script."""
    file = request.files.get("file")
    raw = file.read() if file is not None else b""
    if file is None or not raw:
        form = blank(())
        form.add("", _("Choose a file."))
        return _page(form)
    name = file.filename or ""

    def put() -> None:
        _desk().begin(name, len(raw), request.form.get("with", ""))
        _desk().put(0, raw)

    return _done(put)


@blueprint.post("/scale")
def scale() -> BaseResponse:
    """One known length: the file is looked at anew."""
    form = read(inputs.SCALE, request.form)
    if form.errors:
        return _page(blank(()), scale=form)
    known = {"pixels": form.number("known_px"), "length_um": form.required_number("known_mm") * 1000}
    return _done(lambda: _desk().work("look", {"known": known}))


@blueprint.post("/make")
def make() -> BaseResponse:
    """Make the pair. Without a coupon's factor the coupon is offered first; a second press takes the guess."""
    form = inputs.typed(request.form.to_dict())
    if not form.errors and form.number("factor") is None and "guess" not in request.form:
        form.add("factor", _("Etch a coupon of this metal, thickness and bath first, or take the guess below."))
    if form.errors:
        return _page(blank(()), make=form)
    task = inputs.task_of(form, _desk().standing().known, str(visitor().operator))
    back = _desk().back()
    if back is not None and form.text("build") == "sheet":
        path, seen = back
        task |= {"back": str(path)}
        task["asked"]["back_mirrored"] = seen == "behind"
    return _done(lambda: _desk().work("make", task))


@blueprint.post("/stop")
def stop() -> BaseResponse:
    """Stop what is being done."""
    return _done(_desk().stop)


@blueprint.post("/no-back")
def no_back() -> BaseResponse:
    """Do without artwork of the back's own."""
    return _done(_desk().leave_back)


@blueprint.post("/forget")
def forget() -> BaseResponse:
    """Throw it away."""
    return _done(_desk().forget)


@blueprint.post("/card")
def card() -> BaseResponse:
    """Note the opened area on the card of a job; what else was timed there stays."""
    form = blank(())
    made = _desk().standing().made
    told = ask(form, "job", ("numbers",), {"job_id": request.form.get("job_id", type=int)})
    if told is not None and made:
        kept = {key: told["numbers"].get(key) for key in ("clear_s", "etchant", "rate_um_min")}
        fields = kept | {"job_id": told["job_id"], "open_cm2": round(made["open_cm2"], 2)}
        if ask(form, "job_numbers", (), fields) is not None:
            return redirect(url_for("artwork.page", noted=1), 303)
    return _page(form)


@blueprint.post("/keep")
def keep() -> BaseResponse:
    """Keep what a comparison told, for the next compensation to be offered."""
    standing = _desk().standing()
    one = kept_of(request.form.get("what", ""), standing.compared, standing.made, standing.asked)
    if one is None:
        abort(409)
    job_id = request.form.get("job_id", type=int)
    if job_id:
        form = blank(())
        told = ask(form, "job", ("numbers", "panels"), {"job_id": job_id})
        if told is not None and one.metal and not _of_one_sheet(one, told["numbers"]):
            form.add(
                "", _("That job is of another metal or thickness. Choose the job whose coupon it was, or none."), 409
            )
        if told is None or form.errors:
            return _page(form)
        labels = tuple(str(panel["label"]) for panel in told["panels"])
        one = replace(one, job_id=job_id, labels=labels)
    found = one
    return _done(lambda: _bench().keep(found))


def _of_one_sheet(one: Kept, numbers: dict[str, Any]) -> bool:
    """Whether a comparison is of a job's metal and thickness."""
    thickness_um = numbers.get("thickness_um") or one.thickness_um
    return one.metal == numbers.get("metal") and abs(one.thickness_um - thickness_um) < 1.0


@blueprint.post("/take-back")
def take_back() -> BaseResponse:
    """Forget the comparison that was kept last."""
    return _done(_bench().take_back)


@blueprint.get("/progress.json")
def progress() -> Response:
    """Where it stands, for the page's script: it loads the page anew when `phase` is another one."""
    standing = _desk().standing()
    return jsonify(phase=standing.phase, kind=standing.kind, line=shown.line(standing))


@blueprint.get("/<kind>/<name>")
def file(kind: str, name: str) -> Response:
    """A picture, or a film to print."""
    path = _desk().file(kind, name) or abort(404)
    response = Response(path.read_bytes(), mimetype=shown.KINDS[path.suffix])
    if name in shown.FILMS:
        response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def _done(what: Callable[[], object]) -> BaseResponse:
    """Do it and show where it stands now, or why it was not done."""
    form = blank(())
    try:
        what()
    except (DeskError, OSError) as error:
        form.add("", text_of(_told(error)), _status(error))
        return _page(form)
    return redirect(url_for("artwork.page"), 303)


def _told(error: Exception) -> Any:
    return error.message if isinstance(error, DeskError) else as_written(str(error))


def _status(error: Exception) -> int:
    return error.status if isinstance(error, DeskError) else 507


def _no(error: Exception) -> tuple[Response, int]:
    return jsonify(message=text_of(_told(error))), _status(error)
