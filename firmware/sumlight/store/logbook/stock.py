"""The shelf in the logbook: rolls of resist, metal and stencils, and which panel took what."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import datetime
from typing import Any

from sumlight.craft.stock.metal import Metal
from sumlight.craft.stock.rolls import Roll
from sumlight.craft.stock.shelf import Thing, kind_of
from sumlight.craft.stock.stencils import Done, Lit, Measured, Stencil
from sumlight.store.logbook.database import utc_from, utc_text
from sumlight.store.logbook.rows import readable, utc_or_none, when_or_none
from sumlight.store.logbook.session import Session

ENDED_KEPT = 20
"""Things that are off the shelf, of which a run of control still knows."""


@dataclass(frozen=True)
class StockRecord:
    """A thing on the shelf; `ended_utc` None while it is there."""

    stock_id: int
    thing: Thing
    noted_utc: datetime
    noted_by: str = ""
    ended_utc: datetime | None = None


@dataclass(frozen=True)
class KeptStock:
    """What a run of control takes up: what is on the shelf and what left it last, and the panels that took it, when."""

    things: tuple[StockRecord, ...] = ()
    uses: Mapping[int, Mapping[int, str]] = field(default_factory=dict)
    last_stock_id: int = 0
    unreadable: int = 0


class StockRegister:
    """The part of a logbook that knows the shelf."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def kept(self) -> KeptStock:
        """What is on the shelf, and the last things that left it."""
        known = (
            "SELECT stock_id FROM stock WHERE ended_utc IS NULL OR stock_id IN"
            " (SELECT stock_id FROM stock WHERE ended_utc IS NOT NULL ORDER BY ended_utc DESC LIMIT ?)"
        )
        with self._session.reading("reading the shelf"):
            rows = self._session.all(
                f"SELECT * FROM stock WHERE stock_id IN ({known}) ORDER BY stock_id",  # noqa: S608 - no foreign text
                ENDED_KEPT,
            )
            uses = self._session.all(
                f"SELECT stock_id, job_panel_id, used_utc FROM stock_uses WHERE stock_id IN ({known})",  # noqa: S608
                ENDED_KEPT,
            )
            last = self._session.one("SELECT coalesce(max(stock_id), 0) FROM stock")
        read = readable(_record, rows)
        taken: dict[int, dict[int, str]] = {}
        for row in uses:
            taken.setdefault(row["stock_id"], {})[row["job_panel_id"]] = row["used_utc"]
        return KeptStock(read, taken, last[0], len(rows) - len(read))

    def stencils(self) -> list[tuple[int, Stencil, tuple[str, ...]]]:
        """The stencils on the shelf by number, each with the times at which panels with a card took it."""
        with self._session.reading("reading the stencils"):
            rows = self._session.all(
                "SELECT stock.*, json_group_array(used_utc) FILTER (WHERE used_utc IS NOT NULL) AS taken_utc"
                " FROM stock LEFT JOIN stock_uses USING (stock_id)"
                " WHERE kind = 'stencil' AND ended_utc IS NULL GROUP BY stock_id ORDER BY stock_id"
            )
        read = readable(lambda row: (row["stock_id"], _thing(row), tuple(json.loads(row["taken_utc"]))), rows)
        return [(number, thing, taken) for number, thing, taken in read if isinstance(thing, Stencil)]

    def put_stock(self, record: StockRecord) -> None:
        """Record a thing, or how it stands now."""
        values = {
            "kind": kind_of(record.thing),
            "content": json.dumps(asdict(record.thing), ensure_ascii=False),
            "noted_utc": utc_text(record.noted_utc),
            "noted_by": record.noted_by,
            "ended_utc": utc_or_none(record.ended_utc),
        }
        with self._session.writing(f"writing {values['kind']} {record.stock_id}"):
            self._session.put("stock", {"stock_id": record.stock_id}, values)

    def put_use(self, stock_id: int, panel_id: int, used_utc: datetime) -> None:
        """Record that a panel took it; once is enough."""
        with self._session.writing(f"panel {panel_id} took {stock_id}"):
            self._session.link.execute(
                "INSERT INTO stock_uses (stock_id, job_panel_id, used_utc) VALUES (?, ?, ?) ON CONFLICT DO NOTHING",
                (stock_id, panel_id, utc_text(used_utc)),
            )

    def taken_by(self, label: str) -> list[tuple[Thing, datetime]]:
        """What the last panel of that label took, and when; without a card, the stencil that it was lit through."""
        with self._session.reading(f"reading what panel '{label}' took"):
            rows = self._session.all(
                "SELECT stock.*, used_utc FROM stock_uses JOIN stock USING (stock_id) WHERE job_panel_id ="
                " (SELECT max(job_panel_id) FROM job_panels WHERE label = ?) ORDER BY stock_id",
                label,
            ) or self._session.all(
                "SELECT stock.*, json_extract(each.value, '$.utc') AS used_utc FROM stock,"
                " json_each(stock.content, '$.lit') AS each WHERE stock.kind = 'stencil'"
                " AND json_extract(each.value, '$.panel') = ? ORDER BY used_utc DESC LIMIT 1",
                label,
            )
        return list(readable(lambda row: (_thing(row), utc_from(row["used_utc"])), rows))


def _record(row: Any) -> StockRecord:
    return StockRecord(
        row["stock_id"], _thing(row), utc_from(row["noted_utc"]), row["noted_by"], when_or_none(row["ended_utc"])
    )


def _thing(row: Any) -> Thing:
    values = json.loads(row["content"])
    match row["kind"]:
        case "roll":
            return Roll(**values)
        case "metal":
            return Metal(**values)
        case "stencil":
            done = {step: Done(**each) for step, each in values.pop("done").items()}
            measured = tuple(Measured(**each) for each in values.pop("measured"))
            lit = tuple(Lit(**each) for each in values.pop("lit", ()))
            return Stencil(**values, done=done, measured=measured, lit=lit)
    raise ValueError(row["kind"])
