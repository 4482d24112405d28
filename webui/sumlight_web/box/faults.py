"""The faults so far: when, what, over which panel, who cleared it when, and what was found by looking."""

from typing import Any

from flask import make_response, redirect, render_template, request, url_for
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from sumlight.protocol.fields import LARGEST_ID
from sumlight.protocol.finding_commands import LookedAt
from sumlight.protocol.snapshot import OF_LIGHT, ONLY_TOLD
from sumlight_web.access.gate import visitor
from sumlight_web.box.blueprint import blueprint
from sumlight_web.forms import Form, blank, read, text
from sumlight_web.language import N_, _
from sumlight_web.light.asking import ask
from sumlight_web.logbook import reader
from sumlight_web.services import services, wait_until

PAGE_LENGTH = 20
WORD = text(LookedAt, "word", N_("What did you find?"))


@blueprint.get("/faults")
def past_faults() -> str:
    """Faults on record, newest first."""
    return _page()


@blueprint.post("/faults/<int:fault_id>/looked")
def looked_at(fault_id: int) -> Response:
    """Note that an operator has looked at the lamps; control writes it, the page only asks."""
    if not any(fault["fault_id"] == fault_id for fault in _not_mended()):
        raise NotFound(_("There is no such fault of light that anything is still said of."))
    form = read((WORD,), request.form)
    if not form.errors:
        fields = {"fault_id": fault_id, "word": form.text("word"), "who": visitor().operator}
        if ask(form, "looked_at", (), fields) is not None:
            arrived = wait_until(lambda: all(fault["fault_id"] != fault_id for fault in _not_mended()))
            late: dict[str, Any] = {} if arrived else {"late": 1}
            return redirect(url_for("box.past_faults", _anchor=f"fault-{fault_id}", **late), 303)
    return make_response(_page(form, fault_id), form.status)


def _not_mended() -> list[dict[str, Any]]:
    """Faults of light that a look would end."""
    with reader() as logbook:
        found = [] if logbook is None else logbook.faults.not_mended(OF_LIGHT, ONLY_TOLD)
    return [fault for fault in found if fault["name"] in OF_LIGHT]


def _page(form: Form | None = None, of: int = 0) -> str:
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
        "box/faults.html",
        rows=shown,
        older=older,
        paged=before is not None,
        end=end(shown, standing),
        not_looked={each["fault_id"] for each in _not_mended() if each["name"] not in (standing or ())},
        form=form or blank((WORD,)),
        of=of,
        late="late" in request.args,
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
