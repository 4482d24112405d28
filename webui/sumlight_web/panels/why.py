"""Why did it fail? Signs are put on a panel, and the likeliest causes come back with a check and what to change."""

from collections.abc import Mapping
from typing import Any

from flask import make_response, redirect, render_template, request, url_for
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

from sumlight.bounds import Bounds
from sumlight.craft.causes.known import Known
from sumlight.craft.causes.signs import CAUSES, PLACES, SIGNS, STATIONS
from sumlight.protocol.finding_commands import Findings
from sumlight.store.logbook.findings import Findings as Kept
from sumlight.text.message import say_named
from sumlight_web.access.gate import visitor
from sumlight_web.forms import APART_C, Form, Input, blank, quantity, read
from sumlight_web.language import N_, _
from sumlight_web.light.asking import ask
from sumlight_web.logbook import reader
from sumlight_web.panels.blueprint import EXPOSURE, blueprint
from sumlight_web.panels.drawings import DRAWINGS
from sumlight_web.services import wait_until
from sumlight_web.texts import text_of

STATION_WORDS = {
    "develop": N_("In the developer"),
    "image": N_("On the developed image"),
    "etch": N_("In the etchant"),
    "part": N_("On the finished part"),
    "strip": N_("In the stripper"),
}
SEEN = (
    Input("place", N_("Where does it show?"), "pick", optional=True),
    Input("same_place", N_("On a second panel at the same place?"), "pick", optional=True),
    quantity(Findings, "held_step", N_("Last held step of a tablet"), optional=True),
    quantity(Findings, "wanted_step", N_("Step that should be held"), optional=True),
)
BEFORE = (
    Input("contact", N_("Did the artwork lie close?"), "pick", optional=True),
    quantity(Findings, "faces_off_um", N_("Front and back lie apart by"), "µm", optional=True),
    quantity(Findings, "roll_months", N_("Months since the roll was opened"), optional=True),
    quantity(Findings, "rested_s", N_("Rest before developing"), "s", optional=True),
)
BATHS = (
    quantity(Findings, "clear_s", N_("Time to clear"), "s", optional=True),
    quantity(Findings, "fresh_clear_s", N_("Time to clear in the fresh bath"), "s", optional=True),
    quantity(Findings, "developed_s", N_("Whole time in the developer"), "s", optional=True),
    Input("developer_used", N_("Developer used up to"), "number", "%", optional=True, bounds=Bounds(0, 200)),
    quantity(Findings, "developer_warmer_c", N_("Developer warmer than usual by"), APART_C, optional=True),
    quantity(Findings, "etched_s", N_("Time in the etchant"), "s", optional=True),
    quantity(Findings, "expected_etch_s", N_("Time that was planned for it"), "s", optional=True),
    Input("etchant_used", N_("Etchant used up to"), "number", "%", optional=True, bounds=Bounds(0, 100)),
    quantity(Findings, "etchant_warmer_c", N_("Etchant warmer than usual by"), APART_C, optional=True),
)
INPUTS = (*SEEN, *BEFORE, *BATHS)
PER_CENT = ("developer_used", "etchant_used")
LASTING = ("wanted_step", "fresh_clear_s", "expected_etch_s")
"""What rarely changes: proposed as it was told for the last panel of this recipe."""


@blueprint.get(f"{EXPOSURE}/why")
def why_page(exposure_id: int) -> str:
    """Signs, causes, and what else is known."""
    row, kept, last = _kept(exposure_id)
    proposed = _typed(kept.known) if kept.found_utc else {key: _typed(last).get(key, "") for key in LASTING}
    return _page(row, kept, blank(INPUTS, **proposed), kept.signs)


@blueprint.post(f"{EXPOSURE}/signs")
def put_signs(exposure_id: int) -> Response:
    """Put signs on the panel; control writes them, the page only asks."""
    row, kept, _last = _kept(exposure_id)
    form, put = read(INPUTS, request.form), request.form.getlist("sign")
    if not form.errors:
        fields = {"signs": [name for name in SIGNS if name in put], **_fields(form), "who": visitor().operator}
        if ask(form, "findings", (), {"exposure_id": exposure_id, **fields}) is not None:
            wanted = (tuple(fields["signs"]), Known(**_fields(form)))
            arrived = wait_until(lambda: _signs_of(exposure_id) == wanted)
            return redirect(url_for("panels.why_page", exposure_id=exposure_id, _anchor="why", **_late(arrived)), 303)
    return make_response(_page(row, kept, form, put), form.status)


@blueprint.post(f"{EXPOSURE}/cause")
def confirm_cause(exposure_id: int) -> Response:
    """Keep that this was it, or take that back."""
    row, kept, _last = _kept(exposure_id)
    form = blank(INPUTS, **_typed(kept.known))
    name, confirmed = request.form.get("cause", ""), request.form.get("confirmed") != "no"
    if name not in CAUSES:
        form.add("", _("Choose one."))
    else:
        fields = {"exposure_id": exposure_id, "cause": name, "confirmed": confirmed, "who": visitor().operator}
        if ask(form, "confirm_cause", (), fields) is not None:
            arrived = wait_until(lambda: (name in _kept(exposure_id)[1].confirmed) == confirmed)
            return redirect(url_for("panels.why_page", exposure_id=exposure_id, _anchor="why", **_late(arrived)), 303)
    return make_response(_page(row, kept, form, kept.signs), form.status)


def _page(row: Mapping[str, Any], kept: Kept, form: Form, put: Any) -> str:
    with reader() as logbook:
        answer = None if logbook is None or kept.found_utc is None else logbook.findings.why(row)
    chips = [
        (_(STATION_WORDS[station]), [(name, _sign(name), DRAWINGS[name]) for name in SIGNS if SIGNS[name] == station])
        for station in STATIONS
    ]
    return render_template(
        "panels/why.html",
        row=row,
        kept=kept,
        seen=[(_sign(name), DRAWINGS[name]) for name in kept.signs],
        form=form,
        put=put,
        chips=chips,
        places=[(place, text_of(say_named(f"place_{place}")), "") for place in PLACES],
        before=BEFORE,
        baths=BATHS,
        answer=answer,
        causes=[(name, text_of(say_named(f"cause_{name}"))) for name in CAUSES],
        late="late" in request.args,
    )


def _sign(name: str) -> str:
    return text_of(say_named(f"sign_{name}"))


def _fields(form: Form) -> dict[str, Any]:
    """What was told, as control takes it."""
    fields: dict[str, Any] = dict(form.numbers)
    fields |= {key: fields[key] / 100 for key in PER_CENT if key in fields}
    fields |= {key: form.text(key) for key in ("place", "contact") if form.text(key)}
    return fields | ({"same_place": form.text("same_place") == "yes"} if form.text("same_place") else {})


def _typed(known: Known) -> dict[str, str]:
    """What was told, as it would be typed."""
    typed = {key: getattr(known, key) for key in (each.key for each in INPUTS)}
    typed |= {key: typed[key] * 100 for key in PER_CENT if typed[key] is not None}
    if typed["same_place"] is not None:
        typed["same_place"] = "yes" if typed["same_place"] else "no"
    return {
        key: value if isinstance(value, str) else f"{value:.6g}" for key, value in typed.items() if value is not None
    }


def _kept(exposure_id: int) -> tuple[dict[str, Any], Kept, Known]:
    """The record, what is put on it, and what was told last for its recipe. Raises NotFound."""
    with reader() as logbook:
        row = None if logbook is None else logbook.exposure(exposure_id)
        if logbook is None or row is None:
            raise NotFound(_("There is no exposure number {n} in the logbook.", n=exposure_id))
        return row, logbook.findings.of(exposure_id), logbook.findings.last_known(row["recipe_name"])


def _signs_of(exposure_id: int) -> tuple[tuple[str, ...], Known]:
    kept = _kept(exposure_id)[1]
    return kept.signs, kept.known


def _late(arrived: bool) -> dict[str, Any]:
    return {} if arrived else {"late": 1}
