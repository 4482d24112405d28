"""Baths in the logbook: what they were mixed of, the panels they have taken, and the container they ended in."""

import json
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from sumlight.craft.baths.contents import Contents
from sumlight.craft.baths.load import Taken
from sumlight.store.logbook.database import utc_from, utc_text
from sumlight.store.logbook.rows import readable, utc_or_none, when_or_none
from sumlight.store.logbook.session import Session

WASTED_KEPT = 20
"""Baths that are waste already, of which a run of control still knows."""


@dataclass(frozen=True)
class BathRecord:
    """A bath; `waste_into` is the kind of the container it went into, None while it is in use."""

    bath_id: int
    contents: Contents
    mixed_utc: datetime
    mixed_by: str = ""
    waste_utc: datetime | None = None
    waste_into: str | None = None
    waste_by: str | None = None


@dataclass(frozen=True)
class BathPanel:
    """A panel in a bath; `ended_utc` None while it is in there. `panel_id` and `step_id` are those of its card.

    `expected_s` and `used` is what was expected of the time, and the share used before it.
    """

    bath_panel_id: int
    bath_id: int
    taken: Taken
    began_utc: datetime
    ended_utc: datetime | None = None
    panel_id: int | None = None
    step_id: int | None = None
    label: str = ""
    expected_s: float | None = None
    used: float | None = None
    noted_by: str = ""


@dataclass(frozen=True)
class WasteRecord:
    """The waste container of a kind: what went into it since it was `emptied_utc`, None where it never was."""

    kind: str
    litres: float = 0.0
    baths: int = 0
    emptied_utc: datetime | None = None


@dataclass(frozen=True)
class KeptBaths:
    """What a run of control takes up: baths in use and the last ones that became waste, with all their panels."""

    baths: tuple[BathRecord, ...] = ()
    panels: tuple[BathPanel, ...] = ()
    last_bath_id: int = 0
    last_bath_panel_id: int = 0
    waste: tuple[WasteRecord, ...] = ()
    unreadable: int = 0


class BathRegister:
    """The part of a logbook that knows baths."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def kept(self) -> KeptBaths:
        """Baths in use, and the last ones that became waste."""
        known = (
            "SELECT bath_id FROM baths WHERE waste_utc IS NULL OR bath_id IN"
            " (SELECT bath_id FROM baths WHERE waste_utc IS NOT NULL ORDER BY waste_utc DESC LIMIT ?)"
        )
        with self._session.reading("reading the baths"):
            rows = self._session.all(
                f"SELECT * FROM baths WHERE bath_id IN ({known}) ORDER BY bath_id",  # noqa: S608 - no foreign text in it
                WASTED_KEPT,
            )
            panels = self._session.all(
                f"SELECT * FROM bath_panels WHERE bath_id IN ({known}) ORDER BY bath_panel_id",  # noqa: S608
                WASTED_KEPT,
            )
            ids = self._session.one(
                "SELECT (SELECT coalesce(max(bath_id), 0) FROM baths),"
                " (SELECT coalesce(max(bath_panel_id), 0) FROM bath_panels)"
            )
        read_baths, read_panels = readable(_bath, rows), readable(_panel, panels)
        here = {bath.bath_id for bath in read_baths}
        lost = len(rows) + len(panels) - len(read_baths) - len(read_panels)
        kept = tuple(panel for panel in read_panels if panel.bath_id in here)
        return KeptBaths(read_baths, kept, ids[0], ids[1], self._waste(), lost)

    def _waste(self) -> tuple[WasteRecord, ...]:
        with self._session.reading("reading what is in the waste containers"):
            rows = self._session.all(
                "WITH emptied AS (SELECT kind, max(emptied_utc) AS utc FROM emptied_containers GROUP BY kind),"
                " kinds AS (SELECT waste_into AS kind FROM baths WHERE waste_into IS NOT NULL"
                " UNION SELECT kind FROM emptied)"
                " SELECT kinds.kind, emptied.utc AS emptied_utc,"
                " coalesce(sum(json_extract(contents, '$.volume_l')), 0.0) AS litres, count(bath_id) AS baths"
                " FROM kinds LEFT JOIN emptied USING (kind) LEFT JOIN baths ON waste_into = kinds.kind"
                " AND (emptied.utc IS NULL OR waste_utc > emptied.utc) GROUP BY kinds.kind ORDER BY kinds.kind"
            )
        return readable(
            lambda row: WasteRecord(row["kind"], row["litres"], row["baths"], when_or_none(row["emptied_utc"])), rows
        )

    def put_emptied(self, kind: str, utc: datetime, who: str) -> None:
        """Record that a container was taken away."""
        with self._session.writing(f"emptying the waste container of {kind}"):
            self._session.insert("emptied_containers", kind=kind, emptied_utc=utc_text(utc), emptied_by=who)

    def put_bath(self, bath: BathRecord) -> None:
        """Record a bath, or how it stands now."""
        values = {
            "contents": json.dumps(asdict(bath.contents)),
            "mixed_utc": utc_text(bath.mixed_utc),
            "mixed_by": bath.mixed_by,
            "waste_utc": utc_or_none(bath.waste_utc),
            "waste_into": bath.waste_into,
            "waste_by": bath.waste_by,
        }
        with self._session.writing(f"writing bath {bath.bath_id}"):
            self._session.put("baths", {"bath_id": bath.bath_id}, values)

    def put_bath_panel(self, panel: BathPanel) -> None:
        """Record a panel in a bath, or how it came out."""
        values = {
            "bath_id": panel.bath_id,
            "job_panel_id": panel.panel_id,
            "step_id": panel.step_id,
            "label": panel.label,
            "taken": json.dumps(asdict(panel.taken)),
            "expected_s": panel.expected_s,
            "used": panel.used,
            "began_utc": utc_text(panel.began_utc),
            "ended_utc": utc_or_none(panel.ended_utc),
            "noted_by": panel.noted_by,
        }
        with self._session.writing(f"writing panel {panel.bath_panel_id} of bath {panel.bath_id}"):
            self._session.put("bath_panels", {"bath_panel_id": panel.bath_panel_id}, values)

    def drop_bath_panel(self, bath_panel_id: int) -> None:
        """Take back that a panel was in a bath."""
        with self._session.writing(f"taking back panel {bath_panel_id} of a bath"):
            self._session.link.execute("DELETE FROM bath_panels WHERE bath_panel_id = ?", (bath_panel_id,))


def _bath(row: Any) -> BathRecord:
    return BathRecord(
        row["bath_id"],
        Contents(**json.loads(row["contents"])),
        utc_from(row["mixed_utc"]),
        row["mixed_by"],
        when_or_none(row["waste_utc"]),
        row["waste_into"],
        row["waste_by"],
    )


def _panel(row: Any) -> BathPanel:
    return BathPanel(
        row["bath_panel_id"],
        row["bath_id"],
        Taken(**json.loads(row["taken"])),
        utc_from(row["began_utc"]),
        when_or_none(row["ended_utc"]),
        row["job_panel_id"],
        row["step_id"],
        row["label"],
        row["expected_s"],
        row["used"],
        row["noted_by"],
    )
