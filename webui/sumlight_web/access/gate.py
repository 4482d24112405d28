"""The gate before every request: reading is free, *dark* is free, all else is for operators who have logged in.

What changes something is shut unless it is named here, so that a new route is safe before anyone thinks of it. Where a
request comes from allows nothing, not even from the box's own machine: a proxy or a tunnel there passes on anybody's.
"""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass

from flask import Flask, current_app, g, jsonify, make_response, render_template, request, url_for
from werkzeug.wrappers import Response as BaseResponse

from sumlight.store.operators import OperatorsError
from sumlight_web.access.backoff import Backoff
from sumlight_web.access.operators import OperatorStore
from sumlight_web.access.sessions import LIFE_LIMIT_S, SessionKeeper
from sumlight_web.guard import SAFE_METHODS, wants_json
from sumlight_web.language import _
from sumlight_web.texts import text_of

COOKIE = "sumlight_session"

FREE_FOR_ALL = frozenset({"static", "access.login", "access.set_up", "access.page", "choice", "access.logout"})
"""Endpoints that anybody may use at any time; *dark* is the other."""


@dataclass(frozen=True)
class Access:
    """Who operators are, who has logged in, and how often somebody guessed."""

    operators: OperatorStore
    sessions: SessionKeeper
    backoff: Backoff


@dataclass(frozen=True)
class Visitor:
    """Who asks: `operator` is their name when logged in. `first_run`: the box has no operator yet."""

    operator: str | None
    first_run: bool
    trouble: str = ""

    @property
    def may_operate(self) -> bool:
        """Whether they may do more than look and press *dark*."""
        return self.operator is not None


def install(app: Flask, access: Access) -> None:
    """Guard every route of `app`."""
    app.extensions["sumlight_access"] = access
    app.before_request(check)


def access_of(app: Flask) -> Access:
    """The access of an application."""
    found: Access = app.extensions["sumlight_access"]
    return found


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
    if isinstance(found, ipaddress.IPv6Address):  # one household has a whole /64 to guess from
        return str(ipaddress.ip_network((found, 64), strict=False))
    return address


def visitor() -> Visitor:
    """Who asks, worked out once a request."""
    if "visitor" not in g:
        g.visitor = _visitor(access_of(current_app))
    found: Visitor = g.visitor
    return found


def _visitor(access: Access) -> Visitor:
    try:
        known = access.operators.known()
    except OperatorsError as error:
        return Visitor(None, False, text_of(error.message))
    found = access.sessions.find(request.cookies.get(COOKIE, ""))
    valid = found is not None and found.epoch == known.epoch and known.hash_of(found.operator) is not None
    return Visitor(found.operator if found and valid else None, not known.hashes)


def is_dark() -> bool:
    """Whether the request asks for *dark*, which nothing but a foreign origin holds back."""
    return request.endpoint == "bench.plain" and (request.view_args or {}).get("command") == "dark"


def check() -> BaseResponse | None:
    """Let the request pass, or answer it."""
    if request.endpoint is None or request.endpoint in FREE_FOR_ALL or is_dark() or request.method in SAFE_METHODS:
        return None
    who = visitor()
    return None if who.may_operate else _refuse(first_run=who.first_run)


def _refuse(*, first_run: bool) -> BaseResponse:
    """Show people the page where they can become operators; tell scripts the same."""
    message = _("Log in to do that. Nothing was done.")
    if first_run:
        message = _("This box has no operator yet. Nothing was done.")
    if wants_json():
        remedy = _("Open the page Access.")
        where = url_for("access.page")
        error = {"code": "log_in", "field": None, "message": message, "remedy": remedy, "href": where}
        return make_response(jsonify({"ok": False, "error": error, "errors": [error]}), 401)
    return make_response(render_template("access/page.html", refused=message), 401)


def log_in(response: BaseResponse, name: str, epoch: str) -> None:
    """Begin a session, in place of the one that this browser may have."""
    response.set_cookie(
        COOKIE,
        access_of(current_app).sessions.begin(name, epoch, instead_of=request.cookies.get(COOKIE, "")),
        max_age=int(LIFE_LIMIT_S),
        # A proxy says so. Who lies about it only loses their own cookie.
        secure=request.headers.get("X-Forwarded-Proto", "").lower() == "https",
        httponly=True,
        samesite="Strict",
    )


def log_out(response: BaseResponse) -> None:
    """End this browser's session, and any copy of its cookie. Raises OperatorsError."""
    access_of(current_app).sessions.end(request.cookies.get(COOKIE, ""))
    response.delete_cookie(COOKIE)
