"""The faults so far: when, what, over which panel, and who cleared it when."""

from typing import Any

from flask import render_template, request

from sumlight.protocol.fields import LARGEST_ID
from sumlight.protocol.snapshot import ONLY_TOLD
from sumlight_web.box.blueprint import blueprint
from sumlight_web.logbook import reader
from sumlight_web.services import services

PAGE_LENGTH = 20


@blueprint.get("/faults")
def past_faults() -> str:
    """Faults on record, newest first."""
    before = request.args.get("before", default=None, type=int)
    if before is not None and not 0 < before <= LARGEST_ID:
        before = None
    with reader() as logbook:
        rows = [] if logbook is None else logbook.faults.past(PAGE_LENGTH + 1, before)
    older = rows[PAGE_LENGTH - 1]["fault_id"] if len(rows) > PAGE_LENGTH else None
    latest = services().watch.latest()
    standing = {str(fault["name"]) for fault in latest.snapshot["faults"]} if latest.live and latest.snapshot else None
    shown = rows[:PAGE_LENGTH]
    return render_template(
        "box/faults.html", rows=shown, older=older, paged=before is not None, end=end(shown, standing)
    )


def end(rows: list[dict[str, Any]], standing: set[str] | None) -> dict[int, str]:
    """How each fault ended, by its number.

    `cleared`, `stands`, `told` (a remark that nobody took away), `lost` (the box was restarted while it stood) or
    `unknown` (`standing` is None: no word from the box).
    """
    found = {}
    for row in rows:
        if row["cleared_utc"] is not None:
            found[row["fault_id"]] = "cleared"
        elif standing is None:
            found[row["fault_id"]] = "unknown"
        elif row["name"] in standing:
            found[row["fault_id"]] = "stands"
        else:
            found[row["fault_id"]] = "told" if row["name"] in ONLY_TOLD else "lost"
    return found
