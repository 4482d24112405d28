"""Routes of Lamps: what is left of each bank, its tubes, swaps, the replacement level, CSV."""

from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from itertools import chain
from typing import Any

from flask import Blueprint, make_response, redirect, render_template, request, url_for
from werkzeug.exceptions import NotFound, ServiceUnavailable
from werkzeug.wrappers import Response

from sumlight.checkedfile import FileProblemsError
from sumlight.light.lampanswer import compare
from sumlight.protocol.errors import BadRequestError
from sumlight.store import lamp_settings
from sumlight.store.lamp_settings import LampSettings
from sumlight.store.logbook.export import What, harmless, rows
from sumlight.store.logbook.reading import LogbookReader
from sumlight_web.forms import quantity, read
from sumlight_web.lamps.bankview import bank_view
from sumlight_web.lamps.swap import FIELD_OF, SwapForm, empty_form, read_form
from sumlight_web.language import N_, _, figure
from sumlight_web.link import LinkDownError
from sumlight_web.logbook import reader
from sumlight_web.panels.export import csv_rows, stream
from sumlight_web.services import services, wait_until
from sumlight_web.texts import text_of
from sumlight_web.words import sentence, temperature

blueprint = Blueprint("lamps", __name__, url_prefix="/lamps", template_folder="templates")

LEVEL = quantity(LampSettings, "replace_at_percent", N_("Replace lamps at"), "%", key="percent")
STATUS = {"bad_request": 400, "bad_value": 422, "not_found": 422}
FILES: Mapping[str, What] = {"readings": "lamps", "tubes": "tubes"}


@blueprint.get("/")
def page() -> Response:
    """Every bank."""
    return _page({}, "")


def _page(errors: Mapping[str, str], typed: str, status: int = 200) -> Response:
    settings, broken = _settings()
    now = datetime.now(UTC)
    with reader() as logbook:
        names = _banks(logbook)
        usual = None if logbook is None else logbook.lamps.usual_recipe()
        views = [] if logbook is None else [bank_view(logbook, n, usual, settings.level, now) for n in names]
    fitted = request.args.get("fitted", "")
    body = render_template(
        "lamps/page.html",
        banks=views,
        between=[text_of(told) for told in compare([view.found for view in views])],
        percent=typed or f"{settings.replace_at_percent:g}",
        level=figure(settings.replace_at_percent, "g"),
        bounds=(f"{LEVEL.bounds.low:g}", f"{LEVEL.bounds.high:g}"),
        broken=broken,
        errors=errors,
        saved=request.method == "GET" and "saved" in request.args,
        fitted=fitted if fitted in names else "",
        whole="whole" in request.args,
        air=_air(),
    )
    return make_response(body, status)


def _air() -> str:
    """What the thermometer says, or why it says nothing; empty for a box without one."""
    snapshot = services().watch.latest().snapshot
    air = snapshot.get("air") if snapshot else None
    if air is None:
        return ""
    if air["trouble"] is not None:
        return sentence(text_of(air["trouble"]))
    return "" if air["air_c"] is None else _("Air at the tubes: {air}.", air=temperature(air["air_c"]))


def _settings() -> tuple[LampSettings, str]:
    """The settings, or the defaults and what is wrong with the file."""
    try:
        return lamp_settings.load(services().logbook_path.parent), ""
    except FileProblemsError as error:
        return LampSettings(), str(error)


def _banks(logbook: LogbookReader | None) -> list[str]:
    """Those that control has, and those that the logbook knows of while control is silent."""
    snapshot = services().watch.latest().snapshot
    if snapshot:
        return [bank["name"] for bank in snapshot["banks"]]
    return [] if logbook is None else [bank["bank"] for bank in logbook.lamps.banks()]


@blueprint.post("/level")
def level() -> Response:
    """Set the replacement level."""
    form = read((LEVEL,), request.form)
    typed, percent = form.text("percent"), form.number("percent")
    if percent is None:
        told = " ".join([*form.errors["percent"], _("Nothing was changed.")])
        return _page({"percent": told}, typed, form.status)
    try:
        services().link.ask("replacement_level", percent=percent)
    except BadRequestError as error:
        told = " ".join(sentence(text_of(part)) for part in (error.message, error.remedy) if part)
        return _page({"percent": told}, typed, STATUS.get(error.code, 409))
    except LinkDownError as error:
        raise ServiceUnavailable(_("The level could not be saved ({why}).", why=text_of(error.message))) from error
    wait_until(lambda: _settings()[0].replace_at_percent == percent)
    return redirect(url_for("lamps.page", saved=1), 303)


@blueprint.route("/tubes", methods=["GET", "POST"])
def tubes() -> Response:
    """Tell of tubes that were fitted."""
    with reader() as logbook:
        names = _banks(logbook)
        register: list[dict[str, Any]] = [] if logbook is None else logbook.lamps.tubes()
    if request.method == "GET":
        asked = request.args.get("bank", "")
        return _tubes(empty_form(names, asked if asked in names or len(names) != 1 else names[0], register), names)
    form = read_form(request.form, names, register)
    if not form.errors and _fit(form):
        return redirect(url_for("lamps.page", fitted=form.text("bank"), whole=1 if form.whole else None), 303)
    return _tubes(form, names)


def _tubes(form: SwapForm, names: list[str]) -> Response:
    return make_response(render_template("lamps/tubes.html", form=form, names=names), form.status)


def _fit(form: SwapForm) -> bool:
    """Let control record it; false when it said no, which then stands in the form."""
    bank = form.text("bank")
    before = _changes(bank)
    try:
        services().link.ask("tubes_fitted", **form.asked)
    except BadRequestError as error:
        field = error.field or ""
        message = " ".join(sentence(text_of(part)) for part in (error.message, error.remedy) if part)
        form.add(FIELD_OF.get(field, field), message, STATUS.get(error.code, 409))
        return False
    except LinkDownError as error:
        maybe = _("It may have arrived all the same: look at the register before you try again.")
        told = maybe if error.sent else _("Nothing was recorded.")
        form.add("", f"{text_of(error.message)} {told}", 503)
        return False
    wait_until(lambda: _changes(bank) != before)
    return True


def _changes(bank: str) -> int:
    with reader() as logbook:
        return 0 if logbook is None else len(logbook.lamps.lamp_changes(bank))


@blueprint.get("/<name>.csv")
def as_csv(name: str) -> Response:
    """Every reading, or every tube."""
    if name not in FILES:
        raise NotFound(_("There is no such file."))
    return stream(_csv(FILES[name]), "text/csv", f"lamps-{name}.csv")


def _csv(what: What) -> Iterator[str]:
    if not services().logbook_path.exists():
        return
    with LogbookReader.open_reader(services().logbook_path) as logbook:
        found = rows(logbook, what)
        first = next(found, None)
        if first is not None:
            lines = ([harmless(value) for value in row.values()] for row in chain([first], found))
            yield from csv_rows(tuple(first), lines)
