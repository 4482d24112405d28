"""Routes of Box: its health, and the guided way from power-on to the first panel."""

from typing import Any

from flask import Blueprint, render_template
from werkzeug.exceptions import ServiceUnavailable

from sumlight.store.recipes import RecipeShelfError, StoredRecipe
from sumlight_web import words
from sumlight_web.access.gate import visitor
from sumlight_web.box.firstrun import Known, steps
from sumlight_web.desk import desk
from sumlight_web.logbook import reader
from sumlight_web.stream import viewer_of_request

CARE_SHOWN = 12

blueprint = Blueprint("box", __name__, url_prefix="/box", template_folder="templates")


@blueprint.get("/")
def page() -> str:
    """Health, faults, remarks, records, access."""
    frame = desk().hall.frames.current(viewer_of_request())
    path = desk().logbook_path
    size_mb = path.stat().st_size / 1e6 if path.exists() else None
    snapshot = frame.latest.snapshot
    care, unreadable = _care()
    return render_template(
        "box/page.html",
        frame=frame,
        view=frame.view,
        snapshot=snapshot,
        path=path,
        size_mb=size_mb,
        care=care,
        unreadable=unreadable,
        keep_days=None if snapshot is None else snapshot["logbook"].get("keep_traces_days"),
    )


def _care() -> tuple[list[tuple[str, str, str]], str]:
    """What was done to the logbook, in words; else why it cannot be read: this page is where one looks then."""
    try:
        with reader() as logbook:
            rows = [] if logbook is None else logbook.upkeep(CARE_SHOWN)
    except ServiceUnavailable as error:
        return [], error.description or ""
    return [(words.local_day_and_time(row["done_utc"]), words.upkeep(row["what"]), row["told"]) for row in rows], ""


@blueprint.get("/first")
def first() -> str:
    """The guided path; each step says whether it is done and leads to where it is done."""
    return render_template("box/first.html", steps=steps(known()))


def known() -> Known:
    """What there is already, for the guided path."""
    latest, who = desk().watch.latest(), visitor()
    with reader() as logbook:
        rows: list[dict[str, Any]] = [] if logbook is None else logbook.find({"outcome": "completed"}, 1)
    try:
        usable = any(isinstance(entry, StoredRecipe) for entry in desk().shelf.list())
    except RecipeShelfError:
        usable = False
    return Known(latest, not who.first_run, usable, bool(rows))
