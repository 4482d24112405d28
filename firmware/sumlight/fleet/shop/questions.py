"""Questions to the collector's database. Each answer is bounded, whatever the database holds."""

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import combinations
from typing import Any

from sqlalchemy import Connection, select

from sumlight.craft.tablet import TabletReading
from sumlight.fleet.collector.tables import BOXES, CURRENT, DELIVERIES
from sumlight.fleet.messages import BoxState
from sumlight.fleet.shop.drift import Drift, compared
from sumlight.store.logbook.database import utc_text

MOST = 20_000
"""Newest records of a kind that an answer is made of."""
WORN = 0.8
"""A tube that has burned this share of its life is ordered (common practice, no source)."""
SILENT_S = 120.0
"""A box that has said nothing for so long is called silent: it speaks every 30 s."""
TWO_AT_ONCE = timedelta(hours=1)


@dataclass(frozen=True)
class Now:
    """What a box is doing. `twice`: two computers call themselves so."""

    box_id: str
    online: bool
    silent: bool
    state: BoxState | None
    twice: bool


@dataclass(frozen=True)
class Result:
    """What one recipe gave on one box. The dose is `relative`, in the box's own units, where it has no others."""

    recipe: str
    box_id: str
    panels: int
    good: int
    too_little: int
    too_much: int
    doubtful: int
    median_dose_mj_cm2: float | None
    relative: bool
    last_utc: str


@dataclass(frozen=True)
class Order:
    """Tubes of a kind that should lie on the shelf."""

    lamp_type: str
    wavelength_class: str
    count: int
    boxes: tuple[str, ...]


@dataclass(frozen=True)
class Compared:
    """Two boxes' scales by tablets of one lot behind one recipe."""

    one: str
    other: str
    recipe: str
    lot: str
    drift: Drift


def now(link: Connection, at: datetime) -> list[Now]:
    """All boxes that were ever heard of, by name."""
    recent = utc_text(at - TWO_AT_ONCE)
    alive: dict[str, int] = defaultdict(int)
    for row in link.execute(select(DELIVERIES.c.box_id, DELIVERIES.c.epoch).where(DELIVERIES.c.last_utc > recent)):
        alive[row.box_id] += 1
    found = []
    for row in link.execute(select(BOXES).order_by(BOXES.c.box_id).limit(MOST)):
        state = None if row.state is None else BoxState.model_validate(row.state)
        age_s = (at - datetime.fromisoformat(row.heard_utc)).total_seconds()
        found.append(Now(row.box_id, row.online, age_s > SILENT_S, state, alive[row.box_id] > 1))
    return found


def results(link: Connection) -> list[Result]:
    """Recipe by recipe, box by box: what panels came out as."""
    grouped: dict[tuple[str, str], list[dict[str, Any]]] = defaultdict(list)
    for box_id, body in _bodies(link, "exposure"):
        if body["what"] == "panel" and body["outcome"] == "completed":
            grouped[body["recipe"], box_id].append(body)
    return [_result(recipe, box_id, bodies) for (recipe, box_id), bodies in sorted(grouped.items())]


def _result(recipe: str, box_id: str, bodies: list[dict[str, Any]]) -> Result:
    verdicts = [body["verdict"] for body in bodies]
    sides = [side for body in bodies for side in body["sides"] if not body["doubtful"]]
    absolute = [side for side in sides if side["half_width_absolute_mj_cm2"] is not None]
    doses = sorted(side["dose_mj_cm2"] for side in absolute or sides)
    return Result(
        recipe,
        box_id,
        len(bodies),
        verdicts.count("good"),
        verdicts.count("too_little"),
        verdicts.count("too_much"),
        sum(body["doubtful"] for body in bodies),
        doses[len(doses) // 2] if doses else None,
        not absolute,
        max(body["started_utc"] for body in bodies),
    )


def orders(link: Connection) -> list[Order]:
    """Tubes in place that have burned most of their life, by what is printed on them."""
    hours: dict[tuple[str, str], float] = {}
    for box_id, body in _bodies(link, "lamp_reading"):
        if body["total_lamp_hours"] is not None:
            place = (box_id, body["bank"])
            hours[place] = max(hours.get(place, 0.0), body["total_lamp_hours"])
    worn: dict[tuple[str, str], list[str]] = defaultdict(list)
    for box_id, body in _bodies(link, "tube"):
        if body["removed_utc"] is not None or body["expected_life_h"] is None:
            continue
        since_h = hours.get((box_id, body["bank"]), 0.0) - body["bank_total_lamp_hours"]
        if body["hours_at_fitting"] + max(0.0, since_h) >= WORN * body["expected_life_h"]:
            worn[body["lamp_type"], body["wavelength_class"]].append(box_id)
    return [Order(*kind, len(boxes), tuple(sorted(set(boxes)))) for kind, boxes in sorted(worn.items())]


def drifts(link: Connection) -> list[Compared]:
    """Every two boxes that read tablets of one lot behind one recipe; the largest difference first."""
    shared: dict[tuple[str, str], dict[str, list[TabletReading]]] = defaultdict(lambda: defaultdict(list))
    for box_id, body in _bodies(link, "tablet_reading"):
        reading = _reading(body)
        if reading is not None and body["lot"]:
            shared[body["recipe"], body["lot"]][box_id].append(reading)
    found = []
    for (recipe, lot), boxes in shared.items():
        for one, other in combinations(sorted(boxes), 2):
            drift = compared(boxes[one], boxes[other])
            if drift is not None:
                found.append(Compared(one, other, recipe, lot, drift))
    return sorted(found, key=lambda each: -abs(math.log(each.drift.ratio)))


def _reading(body: dict[str, Any]) -> TabletReading | None:
    """A reading with a step; None for one of which nothing follows."""
    try:
        return TabletReading(
            dose_mj_cm2=body["dose_mj_cm2"],
            step=int(body["step"]),
            convention=body["convention"],
            half=body["half"],
            densities=tuple(body["densities"]),
        )
    except ValueError:
        return None


def _bodies(link: Connection, kind: str) -> Iterable[tuple[str, dict[str, Any]]]:
    """The newest records of a kind that still stand, newest first."""
    asked = (
        select(CURRENT.c.box_id, CURRENT.c.body)
        .where(CURRENT.c.kind == kind)
        .order_by(CURRENT.c.at_utc.desc())
        .limit(MOST)
    )
    for row in link.execute(asked):
        if row.body is not None:
            yield row.box_id, row.body
