"""The Flask application: pages, guards, and one way to answer errors."""

import logging
import re

from flask import Flask, Response, jsonify, make_response, redirect, render_template, request
from werkzeug.exceptions import HTTPException, SecurityError
from werkzeug.wrappers import Response as BaseResponse

from sumlight.store.recipes import RecipeShelf
from sumlight_web import guard, stream, words
from sumlight_web.bench import views as bench
from sumlight_web.desk import Desk, PageConfig, desk
from sumlight_web.light import views as light
from sumlight_web.link import ControlLink, SnapshotWatch
from sumlight_web.panels import views as panels
from sumlight_web.recipes import views as recipes
from sumlight_web.stream import StreamHall

log = logging.getLogger(__name__)

THEME_COOKIE = "sumlight_theme"
THEMES = ("safelight", "daylight")
LOCAL_PATH = re.compile(r"/(?!/)[a-z0-9/_-]*\Z")
YEAR_S = 365 * 24 * 3600


def create_app(config: PageConfig) -> Flask:
    """Build the application and start its watch on control; `app.extensions["sumlight"].close()` ends it."""
    app = Flask(__name__)
    guard.install(app, config.trusted_hosts)
    link, watch = ControlLink(config.socket), SnapshotWatch(config.socket)
    hall = StreamHall(watch, link, app.jinja_env, config.stream_limit, config.stream_life_s)
    shelf = RecipeShelf(config.data / "recipes")
    app.extensions["sumlight"] = Desk(link, watch, hall, shelf, config.data / "logbook.sqlite")
    app.jinja_env.globals["words"] = words
    for blueprint in (bench.blueprint, stream.blueprint, recipes.blueprint, panels.blueprint, light.blueprint):
        app.register_blueprint(blueprint)
    app.context_processor(_page_frame)
    app.register_error_handler(HTTPException, answer_error)
    app.add_url_rule("/theme", "theme", set_theme, methods=["POST"])
    watch.start()
    return app


def _page_frame() -> dict[str, object]:
    """What every page shows around its own content."""
    snapshot = desk().watch.latest().snapshot
    return {
        "theme": theme(),
        "dark_lost": f"{bench.DARK_LOST} {bench.DARK_LOST_REMEDY}",
        "box_name": snapshot["box"] if snapshot else "",
        "simulated": bool(snapshot and snapshot["simulated"]),
    }


def theme() -> str:
    """The colours this browser asked for. Safelight unless daylight was chosen: a screen must not expose resist."""
    return "daylight" if request.cookies.get(THEME_COOKIE) == "daylight" else "safelight"


def set_theme() -> BaseResponse:
    """Remember the colours in a cookie and go back to the page the choice was made on."""
    chosen = request.form.get("theme", "")
    back = request.form.get("back", "")
    response = redirect(back if LOCAL_PATH.match(back) else "/", 303)
    value = chosen if chosen in THEMES else THEMES[0]
    response.set_cookie(THEME_COOKIE, value, max_age=YEAR_S, httponly=True, samesite="Strict")
    return response


def answer_error(error: HTTPException) -> Response:
    """Answer any error in the form that was asked for: JSON for scripts, a page for people."""
    code = error.code or 500
    message = error.description or "The request could not be carried out."
    if code >= 500:
        log.warning("%s %s answered with %d: %s", request.method, request.path, code, message)
    if isinstance(error, SecurityError):
        # No page here: with a host that is not trusted, no addresses can be made.
        response = make_response("This address is not known to this box.\n", 400, {"Content-Type": "text/plain"})
    elif bench.wants_json():
        body = {"ok": False, "error": {"code": error.name, "field": None, "message": message, "remedy": None}}
        response = make_response(jsonify(body), code)
    else:
        response = make_response(render_template("error.html", code=code, name=error.name, message=message), code)
    for name, value in error.get_headers():
        if name not in ("Content-Type", "Content-Length"):
            response.headers[name] = value
    return response
