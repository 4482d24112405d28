"""Records for other programs: CSV and JSON, written piece by piece so that ten years of them take no memory.

Few exports run at once, for each holds a thread of the server. Times are UTC; every column carries its unit.
"""

import csv
import json
import threading
from collections.abc import Iterator, Mapping
from io import StringIO
from pathlib import Path
from typing import Any

from flask import Blueprint, Response, request
from werkzeug.exceptions import NotFound, ServiceUnavailable

from sumlight.light.sensors import SensorKind, kind_of_record
from sumlight.store.logbook.export import harmless
from sumlight.store.logbook.reading import LogbookReader
from sumlight_web.language import _
from sumlight_web.logbook import reader
from sumlight_web.panels.blueprint import EXPOSURE
from sumlight_web.panels.filters import asked, wanted
from sumlight_web.services import services

blueprint = Blueprint("export", __name__, url_prefix="/panels")

AT_ONCE = 2
CHUNK = 200
MOST_EXPOSURES = 200_000

WORTH = ("expanded_repeat_mj_cm2", "expanded_absolute_mj_cm2", "relative")
"""From the side's budget; empty in records of older versions."""
COLUMNS = (
    "exposure_id",
    "kind",
    "panel",
    "recipe_name",
    "recipe_sha256",
    "started_utc",
    "ended_utc",
    "outcome",
    "doubtful",
    "simulated",
    "box_name",
    "parameters",
    "note",
    "result",
    "verdict",
    "side",
    "bank",
    "state",
    "target_mj_cm2",
    "dose_mj_cm2",
    "doubt_mj_cm2",
    *WORTH,
    "transmission",
    "lit_s",
    "pauses",
    "longest_gap_s",
)
TRACE_COLUMNS = ("side", "end_s", "mid_s", "gain_code", "flags")

_places = threading.BoundedSemaphore(AT_ONCE)


@blueprint.get("/export.csv")
def as_csv() -> Response:
    """The exposures that are asked for, one row a side."""
    found = _exposures(services().logbook_path, wanted(asked(request.args)))
    return stream(csv_rows(COLUMNS, _side_rows(found)), "text/csv", "panels.csv")


@blueprint.get("/export.json")
def as_json() -> Response:
    """The exposures that are asked for, as one array."""
    found = _exposures(services().logbook_path, wanted(asked(request.args)))
    return stream(_array(found), "application/json", "panels.json")


@blueprint.get(f"{EXPOSURE}/record.json")
def one(exposure_id: int) -> Response:
    """One record, with its recipe's text, pauses and faults."""
    with reader() as logbook:
        row = None if logbook is None else logbook.exposure(exposure_id)
    if row is None:
        raise NotFound(_("There is no exposure number {n} in the logbook.", n=exposure_id))
    return _file(json.dumps(row, ensure_ascii=False, indent=1), "application/json", f"panel-{exposure_id}.json")


@blueprint.get(f"{EXPOSURE}/trace.csv")
def trace(exposure_id: int) -> Response:
    """Every sample of one exposure, as the meter gave it."""
    rows: list[list[Any]] = []
    with reader() as logbook:
        row = None if logbook is None else logbook.exposure(exposure_id)
        if logbook is not None and row is not None:
            for side in row["sides"]:
                for s in logbook.trace(side["side_id"]):
                    rows.append([side["side"], s.end_s, s.mid_s, s.gain_code, s.flags, *s.counts])
    if row is None:
        raise NotFound(_("There is no exposure number {n} in the logbook.", n=exposure_id))
    columns = (*TRACE_COLUMNS, *(f"counts_{channel}" for channel in _sensor(row).channels))
    return stream(csv_rows(columns, iter(rows)), "text/csv", f"panel-{exposure_id}-trace.csv")


def _sensor(exposure: Mapping[str, Any]) -> SensorKind:
    """What saw the light of an exposure, by what its doses rest on."""
    budgets = (side["budget"] or {} for side in exposure["sides"])
    meters = [str(budget.get("anchor", {}).get("meter", "")) for budget in budgets]
    return kind_of_record(max(meters, default=""))


def _exposures(path: Path, conditions: Mapping[str, str]) -> Iterator[dict[str, Any]]:
    """Newest first, each chunk in a look of its own, so that nothing is held open for long."""
    before: int | None = None
    for _round in range(MOST_EXPOSURES // CHUNK):
        if not path.exists():
            return
        with LogbookReader.open_reader(path) as logbook:
            rows = logbook.find(conditions, CHUNK, before)
        yield from rows
        if len(rows) < CHUNK:
            return
        before = rows[-1]["exposure_id"]


def _side_rows(found: Iterator[dict[str, Any]]) -> Iterator[list[Any]]:
    for exposure in found:
        known = exposure["parameters"]
        told = {"parameters": None if known is None else json.dumps(known)}
        for side in exposure["sides"]:
            merged = exposure | told | dict.fromkeys(WORTH) | (side["budget"] or {}) | side
            yield [harmless(merged[name]) for name in COLUMNS]


def csv_rows(columns: tuple[str, ...], rows: Iterator[list[Any]]) -> Iterator[str]:
    """A CSV file, some rows at a time."""
    page = StringIO()
    writer = csv.writer(page)
    writer.writerow(columns)
    for number, row in enumerate(rows, 1):
        writer.writerow(row)
        if number % CHUNK == 0:
            yield page.getvalue()
            page.seek(0)
            page.truncate()
    yield page.getvalue()


def _array(found: Iterator[dict[str, Any]]) -> Iterator[str]:
    yield "["
    for number, exposure in enumerate(found):
        yield (",\n" if number else "\n") + json.dumps(exposure, ensure_ascii=False)
    yield "\n]\n"


def _file(body: str, kind: str, name: str) -> Response:
    return Response(body, mimetype=kind, headers={"Content-Disposition": f'attachment; filename="{name}"'})


def stream(pieces: Iterator[str], kind: str, name: str) -> Response:
    """Send piece by piece. The first is made at once, so that a logbook that cannot be read is still an error."""
    if not _places.acquire(blocking=False):
        raise ServiceUnavailable(_("Other exports are running. Try again in a moment."))
    given_back = threading.Lock()

    def give_back() -> None:
        if given_back.acquire(blocking=False):
            _places.release()

    try:
        with reader():  # says in words what is wrong with the file
            first = next(pieces, "")
    except BaseException:
        give_back()
        raise

    def all_pieces() -> Iterator[str]:
        try:
            yield first
            yield from pieces
        finally:
            give_back()

    response = Response(all_pieces(), mimetype=kind, headers={"Content-Disposition": f'attachment; filename="{name}"'})
    response.call_on_close(give_back)
    return response
