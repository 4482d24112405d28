"""Routes of access: set-up, log-in and log-out, operators. Plain forms; they work without any script."""

import math
from collections.abc import Callable

from flask import Blueprint, make_response, redirect, render_template, request, url_for
from flask.globals import current_app
from werkzeug.wrappers import Response

from sumlight.store.operators import Operators, OperatorsError
from sumlight_web.access.gate import access_of, client_address, log_in, log_out, visitor
from sumlight_web.access.operators import COMMAND_LINE, SHORTEST_PASSWORD, NotNowError, check_name, check_password
from sumlight_web.crowd import log_ins
from sumlight_web.language import _
from sumlight_web.texts import text_of
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
    """Make the first operator, with the set-up code."""
    desk, who = access_of(current_app).operators, visitor()
    if who.trouble or not who.first_run:
        return _page({"": _("This box has its operator already. Log in instead.")}, 409)
    name, password, code = _given("name"), request.form.get("password", ""), request.form.get("code", "")
    errors = _mistakes(name, password)
    try:
        if not desk.is_set_up_code(code):
            errors["code"] = _("That is not the code. The box prints it when it starts.")
    except OperatorsError as error:
        return _page({"": text_of(error.message)}, 503)
    return _page(errors, 422) if errors else _changed(lambda: desk.found(name, password, code), name)


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
        known = access.operators.known()
        if not access.operators.is_password(name, request.form.get("password", "")[:1000]):
            return _page({"password": _("Name and password do not belong together.")}, 401)
        access.backoff.hit(client_address())
        return _enter(known, name)
    except OperatorsError as error:
        return _page({"": text_of(error.message)}, 503)


@blueprint.post("/logout")
def logout() -> Response:
    """End this browser's session."""
    response = redirect(url_for("access.page"), 303)
    try:
        log_out(response)
    except OperatorsError as error:
        return _page({"": text_of(error.message)}, 503)
    return response


@blueprint.post("/logout-everywhere")
def logout_everywhere() -> Response:
    """End every session there is, this one too."""
    try:
        access_of(current_app).operators.end_sessions()
    except OperatorsError as error:
        return _page({"": text_of(error.message)}, 503)
    return redirect(url_for("access.page"), 303)


@blueprint.post("/operators")
@log_ins
def add() -> Response:
    """Add an operator, or give one a new password."""
    name, password = _given("name"), request.form.get("password", "")
    errors = _mistakes(name, password)
    if errors:
        return _page(errors, 422)
    desk = access_of(current_app).operators
    return _changed(lambda: desk.put(name, password), visitor().operator or name)


@blueprint.post("/operators/remove")
def remove() -> Response:
    """Take another operator out; every session ends but this one."""
    name, myself = _given("name"), visitor().operator
    if myself is None or name == myself:
        return _page({"": _("Nobody takes themselves out.")}, 422)
    desk = access_of(current_app).operators
    return _changed(lambda: desk.remove(name), myself)


def _given(field: str) -> str:
    return request.form.get(field, "").strip()


def _mistakes(name: str, password: str) -> Errors:
    errors = {}
    try:
        check_name(name)
    except ValueError:
        errors["name"] = _("Give a name of up to 40 letters and digits.")
        if name.casefold() == COMMAND_LINE:
            errors["name"] = _("Records call the command line so. Choose another name.")
    try:
        check_password(password)
    except ValueError:
        errors["password"] = _("Give a password of at least {n} characters.", n=SHORTEST_PASSWORD)
    return errors


def _changed(change: Callable[[], Operators], myself: str) -> Response:
    """Change the operators and stay logged in, or say why not."""
    try:
        return _enter(change(), myself)
    except ValueError:
        return _page({"": _("There are too many operators. Remove one first.")}, 422)
    except NotNowError:
        return _page({"": _("Somebody else changed the operators at the same time. Look, then try again.")}, 409)
    except OperatorsError as error:
        return _page({"": text_of(error.message)}, 503)


def _enter(known: Operators, name: str) -> Response:
    """Begin a session. Raises OperatorsError."""
    response = redirect(url_for("bench.page") if request.endpoint == "access.login" else url_for("access.page"), 303)
    log_in(response, known.known_as(name) or name, known.epoch)
    return response


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
