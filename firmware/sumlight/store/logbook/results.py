"""What is on record of the panels of a recipe, as `craft.learning` weighs it."""

import math
import statistics
from typing import Any

from sumlight.craft.learning import Learned, Result
from sumlight.store.logbook.calibrations import counted_alone
from sumlight.store.logbook.reading import LogbookReader
from sumlight.store.logbook.recipe_doses import SAME_SCALE

LOOKED_BACK = 60
"""Panels of a recipe that are looked at, newest first: older ones were lit by other lamps."""


def place(found: Learned) -> str:
    """Where in a recipe's file a number belongs that its results tell, as a dotted place."""
    if found.etch is None:
        return {"dose": "dose_mj_cm2", "break_point": "break_point_share"}[found.what]
    return f"etch_rates_um_min.{'.'.join(found.etch)}"


def results_of(book: LogbookReader, recipe_name: str) -> list[Result]:
    """The last completed panels of a recipe, newest first. Raises LogbookError.

    Doses are those of the newest panel's calibration; a dose of another scale is left out.
    """
    wanted = {"recipe": recipe_name, "kind": "panel", "outcome": "completed"}
    rows = [row for row in book.find(wanted, LOOKED_BACK) if row["recipe_name"] == recipe_name]
    scale = _anchors(rows[0]) if rows else {}
    return [_result(book, row, scale) for row in rows]


def _result(book: LogbookReader, row: dict[str, Any], scale: dict[str, Any]) -> Result:
    found, known = book.findings.of(row["exposure_id"]), book.findings.known_of(row)
    doses = [side["dose_mj_cm2"] for side in row["sides"] if side["state"] == "done"]
    same = all(_same_scale(anchor, scale.get(bank)) for bank, anchor in _anchors(row).items())
    relative = any(counted_alone(anchor) for anchor in _anchors(row).values())
    etched = book.findings.etched(row["panel"])
    return Result(
        dose_mj_cm2=statistics.fmean(doses) if doses and same and not row["doubtful"] else None,
        verdict=row["verdict"],
        causes=frozenset(found.confirmed),
        held_step=known.held_step,
        wanted_step=known.wanted_step,
        clear_s=known.clear_s,
        developed_s=known.developed_s,
        etch=None if etched is None else (etched.metal, etched.kind),
        depth_um=None if etched is None else etched.depth_um,
        etched_s=None if etched is None else etched.took_s,
        used=None if etched is None else etched.used,
        relative=relative,
    )


def _anchors(row: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """What a count was worth at each bank that lit a panel."""
    return {side["bank"]: (side["budget"] or {}).get("anchor") or {} for side in row["sides"]}


def _same_scale(then: dict[str, Any], now: dict[str, Any] | None) -> bool:
    """Whether two doses count alike: the same meter at the same place, worth nearly as much."""
    if now is None or any(then.get(key) != now.get(key) for key in ("meter", "position", "relative")):
        return False
    one, other = then.get("mw_cm2_per_basic_count"), now.get("mw_cm2_per_basic_count")
    return one is not None and other is not None and abs(math.log(one / other)) <= SAME_SCALE
