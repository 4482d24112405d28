"""The gate before every request: reading is free, *dark* is free, all else is for operators.

What changes something is shut unless it is named here, so that a new route is safe before anyone thinks of it.
"""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass
from datetime import timedelta
from urllib.parse import urlsplit

from flask import Flask, current_app, g, jsonify, make_response, redirect, render_template, request, session, url_for
from flask.sessions import SecureCookieSessionInterface
from werkzeug.wrappers import Response as BaseResponse

from sumlight_web.access.backoff import Backoff
from sumlight_web.access.operators import OperatorDesk, OperatorsError
from sumlight_web.guard import SAFE_METHODS, wants_json
from sumlight_web.language import _

SESSION_LIFE = timedelta(days=14)

FREE_FOR_ALL = frozenset({"static", "access.login", "access.set_up", "access.page", "choice", "access.logout"})
"""Endpoints that anybody may use at any time; *dark* is the other."""

PROXY_HEADERS = ("Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Real-Ip", "Via")


@dataclass(frozen=True)
class Access:
    """Who operators are, and how often somebody guessed."""

    operators: OperatorDesk
    backoff: Backoff


@dataclass(frozen=True)
class Visitor:
    """Who asks: `operator` their name when logged in; `may_operate` also on the box's own machine before set-up."""

    operator: str | None
    may_operate: bool
    first_run: bool
    local: bool
    trouble: str = ""


class Sessions(SecureCookieSessionInterface):
    """Signed cookies; marked `Secure` when a proxy on this machine says that the browser came by HTTPS."""

    def get_cookie_secure(self, app: Flask) -> bool:
        """Whether the cookie is for HTTPS only."""
        return request.headers.get("X-Forwarded-Proto", "").lower() == "https"


def install(app: Flask, access: Access, key: bytes) -> None:
    """Guard every route of `app`."""
    app.extensions["sumlight_access"] = access
    app.secret_key = key
    app.session_interface = Sessions()
    app.config.update(
        SESSION_COOKIE_NAME="sumlight_session",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Strict",
        PERMANENT_SESSION_LIFETIME=SESSION_LIFE,
        SESSION_REFRESH_EACH_REQUEST=False,
    )
    app.before_request(check)


def access_of(app: Flask) -> Access:
    """The access of an application."""
    found: Access = app.extensions["sumlight_access"]
    return found


def from_this_machine() -> bool:
    """Whether a person on the box's own machine asks, and not a proxy on it for somebody else."""
    try:
        address = ipaddress.ip_address((request.remote_addr or "").partition("%")[0])
    except ValueError:
        return False
    if not address.is_loopback or any(name in request.headers for name in PROXY_HEADERS):
        return False
    try:
        host = urlsplit("//" + request.host).hostname or ""
    except ValueError:
        return False
    return host in ("127.0.0.1", "localhost", "::1")


def client_address() -> str:
    """Whose misses are counted together. Behind a proxy that is the last hop it names, which it wrote itself."""
    address = request.remote_addr or "?"
    named = request.headers.get("X-Forwarded-For", "").rpartition(",")[2].strip()
    if address in ("127.0.0.1", "::1") and named:
        address = named[:60]
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    # One household has a whole /64 to guess from.
    return str(ipaddress.ip_network((found, 64), strict=False)) if found.version == 6 else address


def visitor() -> Visitor:
    """Who asks, worked out once a request."""
    if "visitor" not in g:
        g.visitor = _visitor(access_of(current_app).operators)
    found: Visitor = g.visitor
    return found


def _visitor(desk: OperatorDesk) -> Visitor:
    local = from_this_machine()
    try:
        known = desk.known()
    except OperatorsError as error:
        return Visitor(None, False, False, local, str(error))
    if not known.hashes:
        return Visitor(None, local, True, local)
    name, epoch = session.get("operator"), session.get("epoch")
    valid = isinstance(name, str) and epoch == known.epoch and known.hash_of(name) is not None
    return Visitor(name if valid else None, valid, False, local)


def is_dark() -> bool:
    """Whether the request asks for *dark*, which nothing but a foreign origin holds back."""
    return request.endpoint == "bench.plain" and (request.view_args or {}).get("command") == "dark"


def check() -> BaseResponse | None:
    """Let the request pass, or answer it."""
    if request.endpoint is None or request.endpoint in FREE_FOR_ALL or is_dark():
        return None
    who = visitor()
    if who.first_run and not who.local:
        return _refuse(first_run=True)
    if request.method not in SAFE_METHODS and not who.may_operate:
        return _refuse(first_run=False)
    return None


def _refuse(*, first_run: bool) -> BaseResponse:
    """Send people to the page where they can become operators; tell scripts the same."""
    where = url_for("access.page")
    message = _("This box has no operator yet.") if first_run else _("Log in to do that. Nothing was done.")
    if wants_json():
        remedy = _("Open the page Access.")
        error = {"code": "log_in", "field": None, "message": message, "remedy": remedy, "href": where}
        return make_response(jsonify({"ok": False, "error": error, "errors": [error]}), 401)
    if request.method in SAFE_METHODS:
        return redirect(where, 303)
    return make_response(render_template("access/page.html", refused=message), 401)


def log_in(name: str, epoch: int) -> None:
    """Begin a session."""
    session.clear()
    session.permanent = True
    session["operator"], session["epoch"] = name, epoch
