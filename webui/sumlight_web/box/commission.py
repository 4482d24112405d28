"""Routes of commissioning: where it stands, and the way through it, step by step. Plain forms; the script only looks.

Control knows the steps and judges them. The page sends along which moment a press was meant for, so that a second
browser's press never skips a step.
"""

from hashlib import blake2s
from typing import Any

from flask import jsonify, make_response, redirect, render_template, request, url_for
from werkzeug.exceptions import NotFound, ServiceUnavailable
from werkzeug.wrappers import Response

from sumlight.protocol.amounts import LeakReading
from sumlight.protocol.errors import BadRequestError
from sumlight_web.access.gate import visitor
from sumlight_web.box import progress, reports
from sumlight_web.box.blueprint import blueprint
from sumlight_web.forms import quantity, read
from sumlight_web.language import N_, _
from sumlight_web.link import LinkDownError
from sumlight_web.logbook import reader
from sumlight_web.services import hear_of_it, services
from sumlight_web.texts import text_of

PARTS = ("standing", "told", "acts", "facts", "results", "override")
"""Pieces of the page that are drawn anew when they change."""

FORMS = ("acts", "override")
"""Parts with inputs, beside which mistakes stand until the next press."""

LONGEST = {"who": 60, "override_who": 60, "reason": 500}
SHORTEST_REASON = 8
LEAK = quantity(LeakReading, "leak_mw_cm2", N_("Highest reading"), "mW/cm²")

Errors = dict[str, str]


@blueprint.get("/commissioning")
def commissioning() -> Response:
    """Where it stands, and what to do now."""
    return _page({})


@blueprint.get("/commissioning/now.json")
def commissioning_now() -> Response:
    """The parts of the page whose keys are not among those that the browser has."""
    had = set(request.args.get("have", "")[:400].split(","))
    parts = {name: {"key": _key(name, html), "html": html} for name, html in _parts({}).items()}
    return jsonify({"parts": {name: part for name, part in parts.items() if part["key"] not in had}})


@blueprint.post("/commissioning/begin")
def commissioning_begin() -> Response:
    """Begin a run."""
    errors = _too_long("who")
    if not _text("who"):
        errors["who"] = _("Say who does it: the name stands in the report.")
    return _page(errors, 422) if errors else _ask("commission_begin", who=_text("who"))


@blueprint.post("/commissioning/next")
def commissioning_next() -> Response:
    """Go on, with the reading or the answer where the step asks for one."""
    fields: dict[str, Any] = {"at": request.form.get("at", "")[:120]}
    if "leak_mw_cm2" in request.form:
        form = read((LEAK,), request.form)
        if not form.text(LEAK.key):
            return _page({LEAK.key: _("Enter the highest reading. Nothing seen at all is 0.")}, 422)
        if form.errors:
            return _page({LEAK.key: " ".join(form.errors[LEAK.key])}, 422)
        fields[LEAK.key] = form.required_number(LEAK.key)
    if "answer" in request.form:
        fields["answer"] = request.form["answer"][:10]
    if request.form.get("at_the_box") == "yes":
        fields["at_the_box"] = True
    return _ask("commission_next", **fields)


@blueprint.post("/commissioning/abort")
def commissioning_abort() -> Response:
    """Give up; dark at once."""
    return _ask("commission_abort")


@blueprint.post("/commissioning/override")
def commissioning_override() -> Response:
    """Unlock a box that has not passed: who, and why."""
    errors = _too_long("override_who", "reason")
    if not _text("override_who"):
        errors["override_who"] = _("Say who unlocks it: the name is shown at all times.")
    if len(_text("reason")) < SHORTEST_REASON:
        errors["reason"] = _("Say why in words, at least {n} letters.", n=SHORTEST_REASON)
    if errors:
        return _page(errors, 422)
    return _ask("commission_override", who=_text("override_who"), reason=_text("reason"))


@blueprint.post("/commissioning/hands")
def commissioning_hands() -> Response:
    """On a simulated box: do what the step asks of a person's hands."""
    run = progress.run_under_way(services().watch.latest())
    killing = run is not None and (run["step"], run["phase"]) == ("process_killed", "act")
    return _ask("simulate", away_is_well=killing, do="as_asked")


@blueprint.get("/commissioning/reports/<name>")
def commissioning_report(name: str) -> str:
    """One report, from its record, in the reader's language; it prints dark on white."""
    with reader() as logbook:
        found = None if logbook is None else reports.report_named(logbook, name)
    if found is None:
        raise NotFound(_("There is no such report."))
    report, begun = found
    has_file = reports.file_text(services().reports, name) is not None
    return render_template("box/report.html", name=name, begun=begun, report=report, has_file=has_file)


@blueprint.get("/commissioning/reports/<name>/file")
def commissioning_report_file(name: str) -> Response:
    """The same as the file that control wrote, to be kept elsewhere."""
    text = reports.file_text(services().reports, name)
    if text is None:
        raise NotFound(_("There is no such report."))
    response = make_response(text)
    response.headers["Content-Type"] = "text/html; charset=utf-8"
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def _text(name: str) -> str:
    return request.form.get(name, "").strip()


def _too_long(*names: str) -> Errors:
    return {
        name: _("At most {n} characters; this has {m}.", n=LONGEST[name], m=len(_text(name)))
        for name in names
        if len(_text(name)) > LONGEST[name]
    }


def _ask(command: str, *, away_is_well: bool = False, **fields: Any) -> Response:
    """Carry it out and show the page again, or say in control's words why not."""
    try:
        services().link.ask(command, **fields)
    except BadRequestError as error:
        status = 422 if error.code in ("bad_value", "bad_request") else 409
        return _page({"": f"{text_of(error.message)} {text_of(error.remedy or '')}".strip()}, status)
    except LinkDownError as error:
        if not (away_is_well and error.sent):
            doubt = _("It may have arrived all the same.") if error.sent else _("Nothing was started or changed.")
            again = _("Try again in a moment.")
            return _page({"": f"{text_of(error.message)} {doubt} {again}"}, 503)
    else:
        hear_of_it()
    return redirect(url_for("box.commissioning"), 303)


def _parts(errors: Errors) -> dict[str, str]:
    """The markup of each part now."""
    latest = services().watch.latest()
    told = progress.commissioning_of(latest)
    run = None if told is None else told.get("run")
    now = {
        "latest": latest,
        "told": told,
        "run": run,
        "simulated": bool(latest.snapshot and latest.snapshot["simulated"]),
        "operator": visitor().may_operate,
        "who": visitor().operator or "",
        "progress": progress,
        "errors": errors,
        "typed": request.form if errors else {},
    }
    return {name: render_template(f"box/commissioning/_{name}.html", **now).strip() for name in PARTS}


def _key(name: str, html: str) -> str:
    """Names a part and what stands in it: two empty parts are two."""
    return blake2s(f"{name} {html}".encode(), digest_size=8).hexdigest()


def _page(errors: Errors, status: int = 200) -> Response:
    clean = _parts({})
    # The key is that of the form without mistakes: only real news replaces a form that somebody has to correct.
    keys = {name: _key(name, html) for name, html in clean.items()}
    parts = clean | ({name: html for name, html in _parts(errors).items() if name in FORMS} if errors else {})
    try:
        with reader() as logbook:
            listed, unread = [] if logbook is None else reports.listed(logbook), ""
    except ServiceUnavailable as error:  # a box whose logbook is broken can be walked through all the same
        listed, unread = [], error.description or ""
    body = render_template(
        "box/commissioning/page.html",
        parts=parts,
        keys=keys,
        run=progress.run_under_way(services().watch.latest()),
        reports=listed,
        unread=unread,
        answers=[{"message": errors[""]}] if "" in errors else [],
    )
    return make_response(body, status)
