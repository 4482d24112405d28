"""Routes of access: set-up, log-in and log-out, operators. Plain forms; they work without any script."""

import math

from flask import Blueprint, make_response, redirect, render_template, request, session, url_for
from flask.globals import current_app
from werkzeug.wrappers import Response

from sumlight_web.access.gate import access_of, client_address, log_in, visitor
from sumlight_web.access.operators import SHORTEST_PASSWORD, OperatorsError, check_name, check_password
from sumlight_web.crowd import log_ins
from sumlight_web.language import _
from sumlight_web.words import duration

blueprint = Blueprint("access", __name__, url_prefix="/access", template_folder="templates")

Errors = dict[str, str]


@blueprint.get("/")
def page() -> Response:
    """First run, log-in or the operators, whichever fits the visitor."""
    return _page()


@blueprint.post("/set-up")
@log_ins
def set_up() -> Response:
    """Make the first operator: on the box's own machine, or with the set-up code from anywhere."""
    access, who = access_of(current_app), visitor()
    if who.trouble or not who.first_run:
        return _page({"": _("This box has its operator already. Log in instead.")}, 409)
    name, password = _given("name"), request.form.get("password", "")
    errors = _mistakes(name, password)
    if not who.local:
        wait_s = access.backoff.begin(client_address())
        if wait_s > 0:
            return _wait(wait_s)
        if access.operators.is_set_up_code(request.form.get("code", "")):
            access.backoff.hit(client_address())
        else:
            errors["code"] = _("That is not the code. The box prints it when it starts.")
    if errors:
        return _page(errors, 422)
    return _put(name, password) or _enter(name)


@blueprint.post("/login")
@log_ins
def login() -> Response:
    """Begin a session, or say no; after a few misses, wait."""
    access = access_of(current_app)
    wait_s = access.backoff.begin(client_address())
    if wait_s > 0:
        return _wait(wait_s)
    name = _given("name")
    try:
        right = access.operators.is_password(name, request.form.get("password", "")[:1000])
    except OperatorsError as error:
        return _page({"": str(error)}, 503)
    if not right:
        return _page({"password": _("Name and password do not belong together.")}, 401)
    access.backoff.hit(client_address())
    return _enter(name)


@blueprint.post("/logout")
def logout() -> Response:
    """End this browser's session."""
    session.clear()
    return redirect(url_for("access.page"), 303)


@blueprint.post("/logout-everywhere")
def logout_everywhere() -> Response:
    """End every session there is, this one too."""
    try:
        access_of(current_app).operators.end_sessions()
    except OperatorsError as error:
        return _page({"": str(error)}, 503)
    session.clear()
    return redirect(url_for("access.page"), 303)


@blueprint.post("/operators")
@log_ins
def add() -> Response:
    """Add an operator, or give one a new password."""
    name, password = _given("name"), request.form.get("password", "")
    errors = _mistakes(name, password)
    if errors:
        return _page(errors, 422)
    myself = visitor().operator or name
    return _put(name, password) or _enter(myself)


@blueprint.post("/operators/remove")
def remove() -> Response:
    """Take another operator out; every session ends but this one."""
    name, myself = _given("name"), visitor().operator
    if myself is None or name == myself:
        return _page({"": _("Nobody takes themselves out.")}, 422)
    try:
        access_of(current_app).operators.remove(name)
    except OperatorsError as error:
        return _page({"": str(error)}, 503)
    return _enter(myself)


def _given(field: str) -> str:
    return request.form.get(field, "").strip()


def _mistakes(name: str, password: str) -> Errors:
    errors = {}
    try:
        check_name(name)
    except ValueError:
        errors["name"] = _("Give a name of up to 40 letters and digits.")
    try:
        check_password(password)
    except ValueError:
        errors["password"] = _("Give a password of at least {n} characters.", n=SHORTEST_PASSWORD)
    return errors


def _put(name: str, password: str) -> Response | None:
    try:
        access_of(current_app).operators.put(name, password)
    except ValueError:
        return _page({"": _("There are too many operators. Remove one first.")}, 422)
    except OperatorsError as error:
        return _page({"": str(error)}, 503)
    return None


def _enter(name: str) -> Response:
    known = access_of(current_app).operators.known()
    shown = next((n for n in known.names() if n.casefold() == name.casefold()), name)
    log_in(shown, known.epoch)
    return redirect(url_for("bench.page") if request.endpoint == "access.login" else url_for("access.page"), 303)


def _wait(wait_s: float) -> Response:
    seconds = math.ceil(wait_s)
    response = _page({"": _("Too many tries. Wait {time}, then try again.", time=duration(seconds))}, 429)
    response.headers["Retry-After"] = str(seconds)
    return response


def _page(errors: Errors | None = None, status: int = 200) -> Response:
    try:
        names = access_of(current_app).operators.known().names()
    except OperatorsError:
        names = []
    page = render_template("access/page.html", errors=errors or {}, names=names, typed=request.form)
    return make_response(page, status)
