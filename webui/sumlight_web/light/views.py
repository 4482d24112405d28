"""Routes of Light. Each measurement brings its own entry here."""

from flask import Blueprint, render_template

from sumlight_web.desk import desk
from sumlight_web.logbook import reader

blueprint = Blueprint("light", __name__, url_prefix="/light", template_folder="templates")


@blueprint.get("/")
def page() -> str:
    """What the meters see, and the measurements there have been."""
    latest = desk().watch.latest()
    with reader() as logbook:
        rows = [] if logbook is None else logbook.find({"kind": "series"}, 20)
    return render_template("light/page.html", latest=latest, rows=rows)
