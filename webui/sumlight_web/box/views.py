"""Routes of Box: its health, its records, and the guided way from power-on to the first panel."""

from typing import Any

from flask import make_response, render_template
from werkzeug.exceptions import ServiceUnavailable
from werkzeug.wrappers import Response

from sumlight.store.recipes import RecipeStoreError, StoredRecipe
from sumlight_web import words
from sumlight_web.access.gate import visitor
from sumlight_web.box import backup, changes, commission, faults, progress
from sumlight_web.box.blueprint import blueprint
from sumlight_web.box.firstrun import Known, steps
from sumlight_web.language import _
from sumlight_web.language import reader as who_reads
from sumlight_web.live import viewer_of_request
from sumlight_web.logbook import reader
from sumlight_web.services import services
from sumlight_web.texts import text_of

CARE_SHOWN = 12

__all__ = ["blueprint", "commission", "faults"]


@blueprint.get("/")
def page() -> Response:
    """Health, faults, remarks, records, access."""
    return _page()


@blueprint.post("/backup")
def copy_of_the_logbook() -> Response:
    """The logbook as it stands at this moment, as a download."""
    try:
        return backup.download(services().logbook_path, services().own)
    except backup.NoCopyError as error:
        return _page(str(error), 409)


def _page(refused: str = "", status: int = 200) -> Response:
    frame = services().hall.frames.current(viewer_of_request())
    path = services().logbook_path
    snapshot = frame.latest.snapshot
    looked, care = _looked()
    body = render_template(
        "box/page.html",
        frame=frame,
        view=frame.view,
        snapshot=snapshot,
        stands=progress.standing(frame.latest),
        path=path,
        size_mb=backup.size_mb(path),
        looked=looked,
        care=care,
        keep_days=None if snapshot is None else snapshot["logbook"].get("keep_traces_days"),
        answers=[{"message": refused, "remedy": _("Nothing was changed.")}] if refused else [],
    )
    return make_response(body, status)


def _looked() -> tuple[tuple[str, str] | None, list[tuple[str, str, str]]]:
    """When the whole logbook was last looked through and what was found (None: never); and what was done to it.

    One that cannot be read has no time, only why: this page is where one looks then.
    """
    try:
        with reader() as logbook:
            if logbook is None:
                return None, []
            found, rows = logbook.last_maintenance("checked"), logbook.care.upkeep(CARE_SHOWN)
    except ServiceUnavailable as error:
        return ("", error.description or ""), []
    care = [
        (words.local_day_and_time(row["done_utc"]), words.upkeep(row["what"]), text_of(row["told"])) for row in rows
    ]
    return None if found is None else (found[0].isoformat(), found[1]), care


@blueprint.get("/changes")
def what_changed() -> str:
    """The changelog of the program that runs."""
    return render_template("box/changes.html", versions=changes.versions(who_reads().language))


@blueprint.get("/first")
def first() -> str:
    """The guided path; each step says whether it is done and leads to where it is done."""
    return render_template("box/first.html", steps=steps(known()))


def known() -> Known:
    """What there is already, for the guided path."""
    latest, who = services().watch.latest(), visitor()
    with reader() as logbook:
        rows: list[dict[str, Any]] = [] if logbook is None else logbook.find({"outcome": "completed"}, 1)
    try:
        usable = any(isinstance(entry, StoredRecipe) for entry in services().shelf.list())
    except RecipeStoreError:
        usable = False
    return Known(latest, not who.first_run, usable, bool(rows))
