"""Routes of the panels: the last exposures and one exposure's record. The logbook is only ever read here."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from flask import Blueprint, render_template, request
from werkzeug.exceptions import NotFound, ServiceUnavailable

from sumlight.store.logbook import Logbook, LogbookError
from sumlight_web.desk import desk
from sumlight_web.panels.curve import curve_svg

blueprint = Blueprint("panels", __name__, url_prefix="/panels", template_folder="templates")

PAGE_LENGTH = 20
HIGHEST_ID = 2**53
"""Row numbers above this cannot be asked for; SQLite would fail on one beyond 64 bits."""


@contextmanager
def _reader() -> Iterator[Logbook | None]:
    """The logbook, opened for reading and closed again; None while there is none yet."""
    path = desk().logbook_path
    if not path.exists():
        yield None
        return
    try:
        logbook = Logbook.open_reader(path)
        try:
            yield logbook
        finally:
            logbook.close()
    except LogbookError as error:
        raise ServiceUnavailable(f"The logbook cannot be read just now. {error}") from error


@blueprint.get("/")
def index() -> str:
    """The last exposures, newest first."""
    before = request.args.get("before", default=None, type=int)
    if before is not None and not 0 < before <= HIGHEST_ID:
        before = None
    with _reader() as logbook:
        rows = [] if logbook is None else logbook.recent(PAGE_LENGTH + 1, before)
    older = rows[PAGE_LENGTH - 1]["exposure_id"] if len(rows) > PAGE_LENGTH else None
    return render_template("panels/list.html", rows=rows[:PAGE_LENGTH], older=older, paged=before is not None)


@blueprint.get(f"/<int(max={HIGHEST_ID}):exposure_id>")
def record(exposure_id: int) -> str:
    """The record of one exposure, with the light of each side."""
    curves: dict[str, Any] = {}
    with _reader() as logbook:
        row = None if logbook is None else logbook.exposure(exposure_id)
        if logbook is not None and row is not None:
            for side in row["sides"]:
                samples = logbook.trace(side["side_id"])
                curves[side["side"]] = curve_svg(samples, side["side"], side["target_mj_cm2"], side["dose_mj_cm2"])
    if row is None:
        raise NotFound(f"There is no exposure number {exposure_id} in the logbook.")
    return render_template("panels/record.html", row=row, curves=curves)
