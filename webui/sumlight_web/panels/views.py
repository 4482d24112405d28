"""Routes of the panels: the exposures, one exposure's record, its note and result, its traveller, the drift."""

from typing import Any

from flask import make_response, redirect, render_template, request, url_for
from markupsafe import Markup
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from sumlight.craft.control_chart import FALSE_ALARM_PER_POINT, RULES
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.fields import LARGEST_ID, LONGEST_NOTE
from sumlight.protocol.run_parameters import recorded
from sumlight.protocol.snapshot import OF_LIGHT, ONLY_TOLD
from sumlight.text.message import say_named
from sumlight_web import scale
from sumlight_web.access.gate import visitor
from sumlight_web.language import _
from sumlight_web.link import LinkDownError
from sumlight_web.logbook import reader
from sumlight_web.panels import photo, why
from sumlight_web.panels.blueprint import EXPOSURE, blueprint
from sumlight_web.panels.code import address_of, code_svg, leads_here_only
from sumlight_web.panels.curve import curve_svg
from sumlight_web.panels.drafts import VERDICTS, question
from sumlight_web.panels.drawings import DRAWINGS
from sumlight_web.panels.drift import drifts, shifts
from sumlight_web.panels.filters import FILTERS, asked, mistaken, wanted
from sumlight_web.recipes.compare import parameters
from sumlight_web.services import services
from sumlight_web.texts import text_of

__all__ = ["blueprint", "photo", "why"]

PAGE_LENGTH = 10
"""Entries of a list: two or three screens of a phone."""

LONGEST_TEXT = LONGEST_NOTE


@blueprint.get("/")
def index() -> str:
    """The exposures that are asked for, newest first."""
    before = request.args.get("before", default=None, type=int)
    if before is not None and not 0 < before <= LARGEST_ID:
        before = None
    chosen = asked(request.args)
    with reader() as logbook:
        rows = [] if logbook is None else logbook.find(wanted(chosen), PAGE_LENGTH + 1, before)
        shifted = [] if logbook is None or before or chosen else shifts(logbook)
    older = rows[PAGE_LENGTH - 1]["exposure_id"] if len(rows) > PAGE_LENGTH else None
    return render_template(
        "panels/list.html",
        rows=rows[:PAGE_LENGTH],
        older=older,
        paged=before is not None,
        chosen=chosen,
        filters=FILTERS,
        mistaken=mistaken(request.args),
        shifted=shifted,
    )


@blueprint.get("/drift")
def drift() -> str:
    """Held step, dose and warm-up week by week, with the rules and how often they are wrong."""
    with reader() as logbook:
        found = [] if logbook is None else drifts(logbook)
    rates = {name: f"{1 / share:.0f}" for name, share in FALSE_ALARM_PER_POINT.items()}
    return render_template("panels/drift.html", found=found, rates=rates, rules=RULES.values())


@blueprint.get(EXPOSURE)
def record(exposure_id: int) -> str:
    """The record of one exposure, with the light of each side."""
    row, curves = with_curves(exposure_id)
    return _record(row, curves)


@blueprint.get(f"{EXPOSURE}/traveller")
def traveller(exposure_id: int) -> str:
    """The sheet that goes with the panel, for paper."""
    row, curves = with_curves(exposure_id)
    address = address_of("panels.record", exposure_id=exposure_id)
    return render_template(
        "panels/traveller.html",
        row=row,
        curves=curves,
        address=address,
        code=_code(row, address),
        here_only=leads_here_only(address),
        parameters=parameters(row["recipe_text"], scale.of_run(row)),
        label=request.args.get("as") == "label",
    )


def _code(row: dict[str, Any], address: str) -> Markup:
    return code_svg(address, _("Code that leads to the record of panel {name}", name=row["panel"]))


@blueprint.post(f"{EXPOSURE}/note")
def note(exposure_id: int) -> Response:
    """Put note and result on an exposure; control writes them, the page only asks."""
    row, curves = with_curves(exposure_id)
    typed = {name: request.form.get(name, "").replace("\r\n", "\n").strip() for name in ("note", "result")}
    errors = {
        name: _("At most {n} characters; this has {m}.", n=LONGEST_TEXT, m=len(text))
        for name, text in typed.items()
        if len(text) > LONGEST_TEXT
    }
    status = 422
    if not errors:
        try:
            who = visitor().operator
            services().link.ask("note", exposure_id=exposure_id, who=who, **typed)
            return redirect(url_for("panels.record", exposure_id=exposure_id, noted=1), 303)
        except BadRequestError as error:
            errors, status = {error.field or "": f"{text_of(error.message)} {text_of(error.remedy or '')}"}, 409
        except LinkDownError as error:
            errors, status = {"": text_of(error.message)}, 503
    return page(row | typed, curves, errors, status)


def page(row: dict[str, Any], curves: dict[str, Any], errors: dict[str, str], status: int) -> Response:
    """The record with what is wrong with what was just sent."""
    return make_response(_record(row, curves, errors), status)


def _record(row: dict[str, Any], curves: dict[str, Any], errors: dict[str, str] | None = None) -> str:
    # Control writes a moment later than it answers: what was just given is shown as taken, not as missing.
    noted = request.method == "GET" and "noted" in request.args
    known = recorded(row["kind"], row["parameters"])
    address = address_of("panels.record", exposure_id=row["exposure_id"])
    just = request.args.get("judged", "") if request.method == "GET" else ""
    shown = {
        "asked": question(row, just),
        "verdicts": VERDICTS,
        "row": row,
        "address": address,
        "code": _code(row, address),
        "parameters": parameters(row["recipe_text"], scale.of_run(row)),
        "known": known.model_dump() if known else {},
        "curves": curves,
        "errors": errors or {},
        "noted": noted,
        "has_photo": photo.has_photo(row["exposure_id"]),
        "piece_bytes": photo.PIECE_BYTES,
        "before": _before(row),
        "signs": [(text_of(say_named(f"sign_{name}")), DRAWINGS[name]) for name in _signs(row["exposure_id"])],
    }
    return render_template("panels/record.html", **shown)


def _before(row: dict[str, Any]) -> list[dict[str, Any]]:
    """Faults of light of which nothing had shown that they were over when this was lit."""
    with reader() as logbook:
        told = [] if logbook is None else logbook.faults.not_mended(OF_LIGHT, ONLY_TOLD, row)
    return [fault for fault in told if fault["name"] in OF_LIGHT]


def _signs(exposure_id: int) -> tuple[str, ...]:
    with reader() as logbook:
        return () if logbook is None else logbook.findings.of(exposure_id).signs


def with_curves(exposure_id: int) -> tuple[dict[str, Any], dict[str, Any]]:
    """One record and the drawing of each side. Raises NotFound."""
    curves: dict[str, Any] = {}
    with reader() as logbook:
        row = None if logbook is None else logbook.exposure(exposure_id)
        if logbook is not None and row is not None:
            for side in row["sides"]:
                samples = logbook.trace(side["side_id"])
                dose, unit = side["dose_mj_cm2"], scale.of_side(row, side)
                curves[side["side"]] = curve_svg(samples, side["side"], side["target_mj_cm2"], dose, unit)
    if row is None:
        raise NotFound(_("There is no exposure number {n} in the logbook.", n=exposure_id))
    return row, curves
