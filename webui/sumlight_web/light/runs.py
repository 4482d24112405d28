"""Finished series as the logbook holds them; it is only ever read here."""

from collections.abc import Mapping
from typing import Any, Final

from werkzeug.exceptions import Conflict, NotFound, ServiceUnavailable

from sumlight_web.language import N_, _
from sumlight_web.logbook import reader

SHOWN: Final = 8
LOOKED_AT: Final = 60

KINDS: Final[Mapping[str, tuple[str, str, str]]] = {
    "tablet": (N_("Tablet run"), "light.tablet_run", N_("Enter the readings")),
    "teach": (N_("Taught exposure"), "light.taught", N_("Make it a dose")),
    "strip": (N_("Test strip"), "light.strip_run", N_("Enter what held")),
    "compare": (N_("Sheets"), "light.sheets_run", N_("Work it out")),
    "field": (N_("Field"), "light.field_run", N_("Work it out")),
    "steady": (N_("Steady light"), "light.radiometer", N_("Enter a radiometer's reading")),
}
"""Per kind of series: its name, the page that reads it, and what is done there."""


def any_run(exposure_id: int) -> dict[str, Any]:
    """An exposure of any kind. Raises NotFound."""
    with reader() as logbook:
        found = None if logbook is None else logbook.exposure(exposure_id)
    if found is None:
        raise NotFound(_("There is no exposure number {n} in the logbook.", n=exposure_id))
    return found


def run_of(exposure_id: int, kind: str) -> dict[str, Any]:
    """A series of that kind that has ended. Raises NotFound or Conflict."""
    found = any_run(exposure_id)
    if found["kind"] != kind:
        raise NotFound(
            _("Exposure {n} is of another kind: {kind} is needed here.", n=exposure_id, kind=_(KINDS[kind][0]))
        )
    if found["outcome"] is None:
        raise Conflict(_("This run has not ended yet. The Bench leads you through it; then come back."))
    return found


def done_sides(run: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The legs that were finished, in order."""
    return [side for side in run["sides"] if side["state"] == "done"]


def recent_runs() -> list[dict[str, Any]]:
    """The newest series, each with its title and what is done about it; empty when the logbook cannot be read."""
    found = []
    for row in _recent():
        if row["kind"] in KINDS and row["kind"] != "steady":
            title, _, action = KINDS[row["kind"]]
            found.append({**row, "title": title, "action": action})
    return found[:SHOWN]


def last_repeat(bank: str) -> float | None:
    """What the last completed dose of a bank left unsure in repeating it (k = 2, a share); None when none tells."""
    for row in _recent():
        for side in row["sides"]:
            budget = side.get("budget") or {}
            repeat = budget.get("expanded_repeat_mj_cm2")
            if side["bank"] == bank and side["state"] == "done" and side["dose_mj_cm2"] > 0 and repeat is not None:
                return float(repeat / side["dose_mj_cm2"])
    return None


def _recent() -> list[dict[str, Any]]:
    try:
        with reader() as logbook:
            return [] if logbook is None else logbook.recent(LOOKED_AT)
    except ServiceUnavailable:  # the state of calibration must come up all the same
        return []
