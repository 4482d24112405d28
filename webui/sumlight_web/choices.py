"""What a browser's owner chose for this browser: colours, language, units. Kept in cookies, for this box only."""

import re

from flask import Flask, redirect, request
from werkzeug.wrappers import Response

from sumlight_web.language import LANGUAGES, UNITS, Reader, wanted, write_for

THEMES = ("safelight", "daylight")
CHOICES: dict[str, tuple[str, ...]] = {"theme": THEMES, "language": tuple(LANGUAGES), "units": UNITS}
"""Each choice with what there is to choose; the first is the default, but for the language, where the browser's is."""

LOCAL_PATH = re.compile(r"/(?!/)[a-z0-9/_-]*\Z")
YEAR_S = 365 * 24 * 3600


def install(app: Flask) -> None:
    """Add the route, and write every answer for its reader."""
    app.before_request(_know_reader)
    app.teardown_request(lambda _error: write_for(Reader()))
    app.add_url_rule("/choice", "choice", choose, methods=["POST"])


def _know_reader() -> None:
    language = _chosen("language") or wanted([code for code, _ in request.accept_languages])
    write_for(Reader(language, _chosen("units") or UNITS[0]))


def _chosen(name: str) -> str:
    value = request.cookies.get(f"sumlight_{name}", "")
    return value if value in CHOICES[name] else ""


def theme() -> str:
    """The colours this browser asked for. Safelight unless daylight was chosen: a screen must not expose resist."""
    return _chosen("theme") or THEMES[0]


def choose() -> Response:
    """Remember what was chosen in a cookie and go back to the page the choice was made on."""
    back = request.form.get("back", "")
    response = redirect(back if LOCAL_PATH.match(back) else "/", 303)
    for name, values in CHOICES.items():
        given = request.form.get(name)
        if given is not None:
            value = given if given in values else values[0]
            response.set_cookie(f"sumlight_{name}", value, max_age=YEAR_S, httponly=True, samesite="Strict")
    return response
