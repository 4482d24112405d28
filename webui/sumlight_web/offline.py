"""The page as an app: its manifest, its worker, and what that shows while the box cannot be reached.

The offline page says nothing of the box, for it is kept by the browser and shown at a time when nothing is known.
"""

from flask import Blueprint, Response, current_app, jsonify, render_template, request, url_for

from sumlight_web.bench.views import dark_lost_remedy, dark_slow
from sumlight_web.language import LANGUAGES, Reader, _, reader, written_for

blueprint = Blueprint("offline", __name__)

ICON_PIXELS = (192, 512)
"""Widths of the icon for phones that take no drawing."""

BLACK = "#000000"
"""Safelight, also before the page is drawn."""


@blueprint.get("/manifest.webmanifest")
def manifest() -> Response:
    """What the browser installs the page as (W3C Web Application Manifest)."""
    who = _asked_for()
    with written_for(who):
        description = _("UV exposure box: light, dose and records")
    response = jsonify(
        {
            "id": "/",
            "name": "Sumlight",
            "short_name": "Sumlight",
            "description": description,
            "lang": who.language,
            "start_url": "/",
            "scope": "/",
            "display": "standalone",
            "background_color": BLACK,
            "theme_color": BLACK,
            "icons": [
                {"src": url_for("static", filename="icon.svg"), "sizes": "any", "type": "image/svg+xml"},
                *(
                    {
                        "src": url_for("static", filename=f"icon-{size}.png"),
                        "sizes": f"{size}x{size}",
                        "type": "image/png",
                        "purpose": "any maskable",
                    }
                    for size in ICON_PIXELS
                ),
            ],
        }
    )
    response.mimetype = "application/manifest+json"
    return response


@blueprint.get("/worker.js")
def worker() -> Response:
    """The worker, at the root, for it may only answer for what lies below its own address."""
    return current_app.send_static_file("worker.js")


@blueprint.get("/offline")
def page() -> str:
    """What is shown while the box cannot be reached; the same for everybody, in the language that is asked for."""
    who = _asked_for()
    with written_for(who):
        return render_template(
            "offline.html",
            language=who.language,
            lost=_("NOT sent: use the emergency stop at the box or open the lid."),
            slow=f"{dark_slow()} {dark_lost_remedy()}",
        )


def _asked_for() -> Reader:
    """Whose language the address names: what a worker keeps must not depend on cookies."""
    language = request.args.get("language", "")
    return Reader(language) if language in LANGUAGES else reader()
