"""The records of a logbook in the order of their changes, read as the page reads it. The logbook is the outbox."""

import sqlite3
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sumlight.fleet.messages import BODIES, LONGEST_WORD, Record
from sumlight.store.logbook import database
from sumlight.store.logbook.calibrations import certificate_in
from sumlight.store.logbook.session import Session

_SIDES = (
    "SELECT side, bank, target_mj_cm2, dose_mj_cm2, json_extract(budget, '$.expanded_repeat_mj_cm2') AS"
    " half_width_repeat_mj_cm2, CASE WHEN json_extract(budget, '$.relative') THEN NULL"
    " ELSE json_extract(budget, '$.expanded_absolute_mj_cm2') END AS half_width_absolute_mj_cm2,"
    " lit_s, pauses, state FROM sides WHERE exposure_id = ? ORDER BY side_id"
)
_STEPS = "SELECT step_id, state, began_utc, ended_utc FROM job_steps WHERE job_panel_id = ? ORDER BY step_id"

_BODY = {
    "exposure": "SELECT exposure_id, label AS panel, kind AS what, recipe_name AS recipe, recipe_sha256, started_utc,"
    " ended_utc, outcome, doubtful, utc_unsure, verdict, simulated FROM exposures JOIN panels USING (panel_id)"
    " WHERE exposure_id = ?",
    "fault": "SELECT name, exposure_id, raised_utc, cleared_utc FROM faults WHERE fault_id = ?",
    "lamp_reading": "SELECT bank, read_utc, settled_mw_cm2 AS irradiance_mw_cm2, lit_s / 3600.0 AS lamp_hours,"
    " total_lit_s / 3600.0 AS total_lamp_hours, strikes,"
    " warm_up_s, air_c FROM lamp_readings WHERE reading_id = ?",
    "tube": "SELECT bank, position, lamp_type, wavelength_class, expected_life_h, fitted_utc, hours_at_fitting,"
    " bank_total_lit_s / 3600.0 AS bank_total_lamp_hours,"
    " removed_utc, hours_at_removal FROM tubes WHERE tube_id = ?",
    "calibration": "SELECT origin, bank, lamp_set, ln_sigma, common_ln_sigma, lamp_hours, made_utc FROM calibrations"
    " WHERE calibration_id = ?",
    "tablet_reading": "SELECT exposure_id, recipe_name AS recipe, zone, dose_mj_cm2, step, half, convention, lot,"
    " read_utc, simulated, certificate FROM tablet_readings JOIN exposures USING (exposure_id) WHERE reading_id = ?",
    "job_panel": "SELECT label AS panel, artwork, made_utc, job_panels.ended_utc AS ended_utc, outcome"
    " FROM job_panels JOIN jobs USING (job_id) WHERE job_panel_id = ?",
    "bath": "SELECT json_extract(contents, '$.kind') AS bath, mixed_utc, waste_utc,"
    " (SELECT count(*) FROM bath_panels WHERE bath_panels.bath_id = baths.bath_id) AS panels FROM baths"
    " WHERE bath_id = ?",
}
_AT = ("started_utc", "raised_utc", "read_utc", "fitted_utc", "made_utc", "mixed_utc")
_FLAGS = ("doubtful", "utc_unsure", "simulated", "half")


@dataclass(frozen=True)
class Place:
    """A place in the row of changes, with the mark that tells this card's row from that of a copy."""

    seq: int
    mark: str


class Outbox:
    """A logbook, opened for reading only. Raises LogbookError where it cannot be read."""

    def __init__(self, path: Path) -> None:
        self._session = Session(database.connect_reader(path), path)
        self._file = path.stat()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._session.link.close()

    def replaced(self) -> bool:
        """Whether another file stands under the name now, as after a restore."""
        try:
            there = self._session.path.stat()
        except OSError:
            return True
        return (there.st_dev, there.st_ino) != (self._file.st_dev, self._file.st_ino)

    def holds(self, place: Place) -> bool:
        """Whether the change of that number has that mark: not so in a restored logbook, or in another card's."""
        with self._session.reading("looking for a change"):
            row = self._session.one("SELECT mark FROM changes WHERE seq = ?", place.seq)
        return place.seq == 0 or (row is not None and row["mark"] == place.mark)

    def waiting(self, after: int) -> int:
        """How many changes come after that number."""
        with self._session.reading("counting changes"):
            return int(self._session.value("SELECT count(*) FROM changes WHERE seq > ?", after))

    def after(self, seq: int, limit: int, box_id: str, epoch: str) -> list[Record]:
        """The next changes after a number, oldest first: each record as it stands now."""
        with self._session.reading("reading changes"):
            rows = self._session.all(
                "SELECT seq, kind, row_id, mark, (SELECT mark FROM changes AS first WHERE first.kind = changes.kind"
                " AND first.row_id = changes.row_id ORDER BY seq LIMIT 1) AS record FROM changes WHERE seq > ?"
                " ORDER BY seq LIMIT ?",
                seq,
                limit,
            )
            records, previous = (
                [],
                int(self._session.value("SELECT coalesce(max(seq), 0) FROM changes WHERE seq <= ?", seq)),
            )
            for row in rows:
                body = self._body(row["kind"], row["row_id"])
                at_utc = None if body is None else next(body[name] for name in _AT if name in body)
                records.append(
                    Record(
                        box_id=box_id,
                        epoch=epoch,
                        seq=row["seq"],
                        previous_seq=previous,
                        record=row["record"],
                        mark=row["mark"],
                        kind=row["kind"],
                        at_utc=at_utc,
                        body=body,
                    )
                )
                previous = row["seq"]
        return records

    def _body(self, kind: str, row_id: int) -> dict[str, Any] | None:
        row = self._session.one(_BODY[kind], row_id)
        if row is None:
            return None
        body = _plain(row)
        if kind == "exposure":
            body["sides"] = [_plain(side) for side in self._session.all(_SIDES, row_id)]
        if kind == "tablet_reading":
            del body["certificate"]
            body["densities"] = list(certificate_in(row["certificate"])[0])
        if kind == "job_panel":
            body["steps"] = [_plain(step) for step in self._session.all(_STEPS, row_id)]
        return BODIES[kind].model_validate(body).model_dump()


def _plain(row: sqlite3.Row) -> dict[str, Any]:
    return {name: _fitting(name, row[name]) for name in row.keys()}  # noqa: SIM118 - a row itself gives values


def _fitting(name: str, value: Any) -> Any:
    if name in _FLAGS:
        return bool(value)
    return value[:LONGEST_WORD].replace("\0", "") if isinstance(value, str) else value
