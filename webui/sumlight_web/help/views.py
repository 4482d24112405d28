"""Routes of Help. They read only, and need neither control nor logbook."""

from flask import Blueprint, abort, render_template, request

from sumlight.manual.search import LONGEST_QUERY
from sumlight_web.help.manual import found, manual, shown
from sumlight_web.language import reader

blueprint = Blueprint("help", __name__, url_prefix="/help", template_folder="templates")


@blueprint.get("/")
def index() -> str:
    """All topics; with `q` the places where it stands."""
    query = request.args.get("q", "")[:LONGEST_QUERY]
    language = reader().language
    return render_template(
        "help/index.html", topics=manual(language), query=query, places=found(query, language), longest=LONGEST_QUERY
    )


@blueprint.get("/<name>")
def topic(name: str) -> str:
    """One topic with all its entries."""
    return render_template("help/topic.html", topic=shown(name, reader().language) or abort(404))
