"""Questions to the logbook. Every answer is taken from one moment, whatever is being written meanwhile."""

import json
import math
import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Self

from sumlight.light.sample import Sample
from sumlight.store.codecs import journals
from sumlight.store.logbook import database, search
from sumlight.store.logbook.baths import BathRegister
from sumlight.store.logbook.calibrations import Calibrations
from sumlight.store.logbook.database import utc_from, utc_text
from sumlight.store.logbook.findings import FindingsRegister
from sumlight.store.logbook.jobs import JobRegister
from sumlight.store.logbook.labels import Labels
from sumlight.store.logbook.lamps import LampRegister
from sumlight.store.logbook.light_intervals import LightIntervals
from sumlight.store.logbook.past_faults import PastFaults
from sumlight.store.logbook.pruning import LogbookMaintenance, care_told
from sumlight.store.logbook.recipe_doses import RecipeDoses
from sumlight.store.logbook.records import (
    BankState,
    Commissioned,
    CommissioningRecord,
    InterruptedExposure,
    NewSide,
    OverrideRecord,
    SideState,
)
from sumlight.store.logbook.rows import when_or_none
from sumlight.store.logbook.session import Session
from sumlight.store.logbook.stock import StockRegister
from sumlight.text.message import Message, read_stored, say

__all__ = ["LogbookReader", "utc_from", "utc_text"]

_EXPOSURE = """
    SELECT exposure_id, kind, panel_id, label AS panel, note, result, noted_by, recipe_name, recipe_sha256,
           hold_s, hold_limit_s, box_name, simulated, started_by, started_utc, ended_utc, outcome, doubtful,
           utc_unsure, parameters, verdict, judged_by
    FROM exposures JOIN panels USING (panel_id)
"""
_SIDE = """
    SELECT side_id, exposure_id, side, bank, target_mj_cm2, transmission, state, dose_mj_cm2, doubt_mj_cm2,
           lit_s, pauses, longest_gap_s, budget
    FROM sides
"""
_LAST_LIGHT = "SELECT settled_mw_cm2 FROM lamp_readings WHERE bank = ? ORDER BY reading_id DESC LIMIT 1"
_LAST_UNDER_LIGHT = (
    "SELECT dose_mj_cm2, lit_s FROM dose_journal WHERE side_id = ? AND state = 'lit' ORDER BY entry_id DESC LIMIT 2"
)
_LONGEST_BETWEEN = (
    "SELECT max(between_s) AS longest_s FROM (SELECT lit_s - lag(lit_s) OVER (ORDER BY entry_id) AS between_s"
    " FROM dose_journal WHERE side_id = ? AND state = 'lit' ORDER BY entry_id DESC LIMIT ?)"
)
LOOKED_BACK = 240
"""Records: the last minute of light, as often as control writes them."""

SHORTEST_GROWTH_S = 0.1
"""Two records of a side under light that lie closer together than that tell nothing of the light between them."""


class LogbookReader:
    """The reading half of a logbook: one connection, for the thread that made it, and the parts that share it.

    Every method raises LogbookError when the file cannot be read.
    """

    def __init__(self, link: sqlite3.Connection, path: Path) -> None:
        self.path = path
        self._session = Session(link, path)
        self.lamps = LampRegister(self._session)
        self.intervals = LightIntervals(self._session)
        self.calibrations = Calibrations(self._session, self.lamps)
        self.findings = FindingsRegister(self._session)
        self.recipe_doses = RecipeDoses(self._session)
        self.jobs = JobRegister(self._session)
        self.baths = BathRegister(self._session)
        self.stock = StockRegister(self._session)
        self.labels = Labels(self._session)
        self.faults = PastFaults(self._session)
        self.care = LogbookMaintenance(self._session)

    @classmethod
    def open_reader(cls, path: Path) -> Self:
        """A connection that only reads, as the page may; writing methods, where there are any, raise LogbookError."""
        reader = cls.__new__(cls)
        LogbookReader.__init__(reader, database.connect_reader(path), path)
        return reader

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; may be called twice."""
        self._session.link.close()

    def interrupted(self) -> InterruptedExposure | None:
        """The newest exposure that has no end, as it stands on the disk; None when all have ended.

        `pauses` and `longest_gap_s` cover the whole exposure; `last_known_utc` is its newest written time.
        """
        with self._session.reading("looking for an interrupted exposure"):
            row = self._session.one(
                "SELECT exposure_id, kind, panel_id, label, recipe_name, recipe_text, recipe_sha256, started_utc"
                " FROM exposures JOIN panels USING (panel_id)"
                " WHERE ended_utc IS NULL ORDER BY exposure_id DESC LIMIT 1"
            )
            if row is None:
                return None
            exposure_id = row["exposure_id"]
            sides = tuple(
                (_new_side(side), _side_state(side))
                for side in self._session.all(f"{_SIDE} WHERE exposure_id = ? ORDER BY side", exposure_id)
            )
            dark = self._session.one(
                "SELECT count(*) AS pauses, coalesce(max(gap_s), 0) AS longest_gap_s,"
                " max(began_utc) AS began_utc, total(cause = 'restart' AND gap_s IS NULL) > 0 AS gap_unknown"
                " FROM pauses WHERE exposure_id = ?",
                exposure_id,
            )
            journal = self._session.one(
                "SELECT max(written_utc) AS written_utc FROM dose_journal JOIN sides USING (side_id)"
                " WHERE exposure_id = ?",
                exposure_id,
            )
            settled = [(new.bank, self._session.one(_LAST_LIGHT, new.bank)) for new, _ in sides]
            growth = {new.side: _growth(self._session.all(_LAST_UNDER_LIGHT, state.side_id)) for new, state in sides}
            between = {
                new.side: self._session.value(_LONGEST_BETWEEN, state.side_id, LOOKED_BACK) for new, state in sides
            }
        last_known_utc, damage = _newest([row["started_utc"], dark["began_utc"], journal["written_utc"]])
        return InterruptedExposure(
            exposure_id=exposure_id,
            kind=row["kind"],
            panel_id=row["panel_id"],
            panel=row["label"],
            recipe_name=row["recipe_name"],
            recipe_text=row["recipe_text"],
            recipe_sha256=row["recipe_sha256"],
            sides=sides,
            pauses=max([dark["pauses"], *(state.pauses for _, state in sides)]),
            longest_gap_s=max([dark["longest_gap_s"], *(state.longest_gap_s for _, state in sides)]),
            last_known_utc=last_known_utc,
            settled_mw_cm2={bank: row["settled_mw_cm2"] for bank, row in settled if row is not None},
            growth_mw_cm2={side: value for side, value in growth.items() if value is not None},
            between_records_s={
                side: value for side, value in between.items() if value is not None and math.isfinite(value)
            },
            gap_unknown=bool(dark["gap_unknown"]),
            damage=damage,
        )

    def left_inside(self) -> str | None:
        """Kind of the newest exposure if it has begun and nobody saw the lid open since its end; None otherwise."""
        with self._session.reading("looking whether the last panel was taken out"):
            row = self._session.one("SELECT kind, taken_out_utc FROM exposures ORDER BY exposure_id DESC LIMIT 1")
        return None if row is None or row["taken_out_utc"] is not None else str(row["kind"])

    def bank_state(self, bank: str) -> BankState:
        """What is known of a bank; zeros and None when it was never seen."""
        with self._session.reading(f"reading bank '{bank}'"):
            row = self._session.one("SELECT lit_s, strikes, release_s, gain_code FROM banks WHERE bank = ?", bank)
        if row is None:
            return BankState(bank, 0.0, 0, None, None)
        return BankState(bank, row["lit_s"], row["strikes"], row["release_s"], row["gain_code"])

    def commissioned(self, wiring_sha256: str, *, simulated: bool = False) -> Commissioned:
        """How far a box with this wiring has been commissioned; what the twin passed says nothing of a real box."""
        query = (
            "SELECT * FROM commissionings WHERE wiring_sha256 = ? AND simulated = ? AND {}"
            " ORDER BY commissioning_id DESC LIMIT 1"
        )
        with self._session.reading("reading the commissioning"):
            passed = self._session.one(query.format("outcome = 'passed'"), wiring_sha256, simulated)
            newest = self._session.one(query.format("1"), wiring_sha256, simulated)
            override = self._session.one(
                "SELECT * FROM commissioning_overrides WHERE wiring_sha256 = ? ORDER BY override_id DESC LIMIT 1",
                wiring_sha256,
            )
        cut_off = newest is not None and newest["outcome"] is None
        return Commissioned(
            passed=None if passed is None else _commissioning(passed),
            cut_off=_commissioning(newest) if newest is not None and cut_off else None,
            override=None
            if override is None
            else OverrideRecord(
                override["wiring_sha256"], override["who"], override["reason"], utc_from(override["given_utc"])
            ),
        )

    def commissionings(self, limit: int = -1) -> list[CommissioningRecord]:
        """The newest runs of commissioning that passed or failed, newest first; all of them without `limit`."""
        with self._session.reading("reading the commissionings"):
            rows = self._session.all(
                "SELECT * FROM commissionings WHERE outcome IN ('passed', 'failed')"
                " ORDER BY commissioning_id DESC LIMIT ?",
                limit,
            )
        return [_commissioning(row) for row in rows]

    def last_maintenance(self, what: str) -> tuple[datetime, Message] | None:
        """When something was last done to the logbook itself, e.g. `checked`, and what came of it."""
        with self._session.reading("reading the upkeep"):
            row = self._session.one("SELECT * FROM upkeep WHERE what = ? ORDER BY upkeep_id DESC LIMIT 1", what)
        return None if row is None else (utc_from(row["done_utc"]), care_told(row["told"]))

    def recent(self, limit: int = 20, before_id: int | None = None) -> list[dict[str, Any]]:
        """The newest exposures with their sides, newest first; with `before_id` only older ones than that."""
        with self._session.reading("listing exposures"):
            rows = self._session.all(
                f"{_EXPOSURE} WHERE exposure_id < coalesce(?, exposure_id + 1) ORDER BY exposure_id DESC LIMIT ?",
                before_id,
                max(0, limit),
            )
            return self._with_sides(rows)

    def find(self, wanted: Mapping[str, str], limit: int = 20, before_id: int | None = None) -> list[dict[str, Any]]:
        """As `recent`, but only exposures that are `wanted`; see `finding.condition`."""
        condition, values = search.condition(wanted)
        with self._session.reading("looking for exposures"):
            rows = self._session.all(
                f"{_EXPOSURE} WHERE exposure_id < coalesce(?, exposure_id + 1) AND {condition}"
                " ORDER BY exposure_id DESC LIMIT ?",
                before_id,
                *values,
                max(0, limit),
            )
            return self._with_sides(rows)

    def unjudged(self, limit: int = 3) -> list[dict[str, Any]]:
        """Drafts of which nobody has said yet whether their panel came out well: number and panel, newest first."""
        with self._session.reading("looking for drafts that nobody has judged"):
            return _dicts(
                self._session.all(
                    "SELECT exposure_id, label AS panel, recipe_name FROM exposures JOIN panels USING (panel_id)"
                    " WHERE exposure_id IN (SELECT exposure_id FROM sides WHERE target_mj_cm2 IS NULL)"
                    " AND kind = 'panel' AND outcome = 'completed' AND verdict = ''"
                    " ORDER BY exposure_id DESC LIMIT ?",
                    max(0, limit),
                )
            )

    def recipe_versions(self, name: str) -> list[dict[str, Any]]:
        """Each text that was run under this recipe name: when first and last, on how many panels; newest first."""
        with self._session.reading(f"reading the versions of recipe '{name}'"):
            return _dicts(
                self._session.all(
                    "SELECT recipe_sha256, max(recipe_text) AS recipe_text, count(*) AS panels,"
                    " min(started_utc) AS first_utc, max(started_utc) AS last_utc, max(exposure_id) AS newest_id"
                    " FROM exposures WHERE recipe_name = ? GROUP BY recipe_sha256 ORDER BY newest_id DESC",
                    name,
                )
            )

    def exposure(self, exposure_id: int) -> dict[str, Any] | None:
        """One exposure as in `recent`, with recipe text, pauses, network darks, faults and journal length."""
        with self._session.reading(f"reading exposure {exposure_id}"):
            rows = self._session.all(f"{_EXPOSURE} WHERE exposure_id = ?", exposure_id)
            if not rows:
                return None
            found = self._with_sides(rows)[0]
            found["recipe_text"] = self._session.value(
                "SELECT recipe_text FROM exposures WHERE exposure_id = ?", exposure_id
            )
            found["pauses"] = _dicts(
                self._session.all(
                    "SELECT cause, began_utc, gap_s FROM pauses WHERE exposure_id = ? ORDER BY pause_id",
                    exposure_id,
                )
            )
            found["network_darks"] = _dicts(
                self._session.all(
                    "SELECT obeyed_utc, sender FROM network_darks WHERE exposure_id = ? ORDER BY network_dark_id",
                    exposure_id,
                )
            )
            found["faults"] = _dicts(
                self._session.all(
                    "SELECT fault_id, name, detail, raised_utc, cleared_utc, cleared_by, looked_utc, looked_by,"
                    " looked_word FROM faults WHERE exposure_id = ? ORDER BY fault_id",
                    exposure_id,
                )
            )
            for fault in found["faults"]:
                fault["detail"] = read_stored(fault["detail"])
            found["journal_length"] = self._session.value(
                "SELECT (SELECT count(*) FROM dose_journal JOIN sides USING (side_id) WHERE exposure_id = ?1)"
                " + coalesce((SELECT sum(entry_count) FROM packed_journals JOIN sides USING (side_id)"
                " WHERE exposure_id = ?1), 0)",
                exposure_id,
            )
        return found

    def journal(self, side_id: int) -> list[dict[str, Any]]:
        """How the dose of a side grew, in the order it was written."""
        with self._session.reading(f"reading the journal of side {side_id}"):
            packed = self._session.all(
                "SELECT packed FROM packed_journals WHERE side_id = ? ORDER BY packed_journal_id", side_id
            )
            rows = self._session.all(
                "SELECT written_utc, state, dose_mj_cm2, doubt_mj_cm2, lit_s"
                " FROM dose_journal WHERE side_id = ? ORDER BY entry_id",
                side_id,
            )
        try:
            entries = [entry for row in packed for entry in journals.decode(row["packed"])]
        except journals.JournalError as error:
            raise self._session.unfit(say("journal_of_side", side=side_id, why=str(error))) from error
        earlier = [{**asdict(entry), "written_utc": utc_text(entry.written_utc)} for entry in entries]
        return earlier + _dicts(rows)

    def trace(self, side_id: int) -> list[Sample]:
        """All samples of a side, in order and bit for bit as the meter gave them."""
        with self._session.reading(f"reading the trace of side {side_id}"):
            rows = self._session.all("SELECT trace_id, packed FROM traces WHERE side_id = ? ORDER BY trace_id", side_id)
        return self._session.unpacked(rows, f"side {side_id}")

    def page(self, sql: str, *values: object) -> list[dict[str, Any]]:
        """The answer to a question of the store's own modules, as of one moment."""
        with self._session.reading("reading rows"):
            return _dicts(self._session.all(sql, *values))

    def _with_sides(self, rows: list[sqlite3.Row]) -> list[dict[str, Any]]:
        found: dict[int, dict[str, Any]] = {}
        for row in rows:
            flags = {name: bool(row[name]) for name in ("simulated", "doubtful", "utc_unsure")}
            parameters = None if row["parameters"] is None else json.loads(row["parameters"])
            found[row["exposure_id"]] = {**dict(row), **flags, "parameters": parameters, "sides": []}
        marks = ", ".join("?" * len(found))
        for side in self._session.all(f"{_SIDE} WHERE exposure_id IN ({marks}) ORDER BY side_id", *found):
            shown = dict(side)
            shown["budget"] = None if shown["budget"] is None else json.loads(shown["budget"])
            found[shown.pop("exposure_id")]["sides"].append(shown)
        return list(found.values())


def _dicts(rows: Iterable[sqlite3.Row]) -> list[dict[str, Any]]:
    return [dict(row) for row in rows]


def _growth(rows: list[sqlite3.Row]) -> float | None:
    """Mean effective irradiance between the last two records under light; None where there is only one."""
    if len(rows) < 2 or not rows[0]["lit_s"] - rows[1]["lit_s"] >= SHORTEST_GROWTH_S:
        return None
    return float((rows[0]["dose_mj_cm2"] - rows[1]["dose_mj_cm2"]) / (rows[0]["lit_s"] - rows[1]["lit_s"]))


def _newest(texts: list[str | None]) -> tuple[datetime, tuple[Message, ...]]:
    """The newest of these times, and words for those that are none."""
    times, damage = [], []
    for text in texts:
        if text is None:
            continue
        try:
            times.append(utc_from(text).astimezone(UTC))
        except (ValueError, OverflowError):
            damage.append(say("left_time_unreadable", text=text[:40]))
    return max(times, default=datetime.fromtimestamp(0, UTC)), tuple(damage)


def _new_side(row: sqlite3.Row) -> NewSide:
    return NewSide(row["side"], row["bank"], row["target_mj_cm2"], row["transmission"])


def _side_state(row: sqlite3.Row) -> SideState:
    return SideState(
        side_id=row["side_id"],
        state=row["state"],
        dose_mj_cm2=row["dose_mj_cm2"],
        doubt_mj_cm2=row["doubt_mj_cm2"],
        lit_s=row["lit_s"],
        pauses=row["pauses"],
        longest_gap_s=row["longest_gap_s"],
    )


def _commissioning(row: sqlite3.Row) -> CommissioningRecord:
    return CommissioningRecord(
        began_utc=utc_from(row["began_utc"]),
        wiring_sha256=row["wiring_sha256"],
        box_name=row["box_name"],
        simulated=bool(row["simulated"]),
        who=row["who"],
        step_index=row["step_index"],
        results=row["results"],
        ended_utc=when_or_none(row["ended_utc"]),
        outcome=row["outcome"],
    )
