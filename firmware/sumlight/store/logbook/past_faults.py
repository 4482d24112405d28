"""The faults on record: what there was, and which of them nothing has cleared up since."""

import json
import statistics
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import Any

from sumlight.store.logbook.database import utc_text
from sumlight.store.logbook.session import Session
from sumlight.text.message import Message, read_stored

CLEAN_ENOUGH = 3
"""So many whole panels without a fault, and a fault that is none of the lamps is not told of any more (judgement)."""

LOOKED_BACK = 20
"""Faults that are looked at again; older ones are history."""

BEFORE_MOST = 8
SCATTERS, LEAST_SCATTER = 3.0, 0.02
"""Light counts as back from three standard deviations below what it was; less scatter than 2 % is not believed
(judgement)."""

AFTER_MOST = {"ASC": 200, "DESC": 20}
"""So many readings after a fault are looked at, the first and the newest ones: the page looks every two seconds."""

LAST_ID, AT_LAST = 2**62, "9999"
"""Larger and later than any number and time on record."""

_PAST = """
    SELECT fault_id, name, detail, exposure_id, label AS panel, utc_unsure, raised_utc, cleared_utc, cleared_by,
    looked_utc, looked_by, looked_word
    FROM faults LEFT JOIN exposures USING (exposure_id) LEFT JOIN panels USING (panel_id)
"""
_SINCE = """
    SELECT exposure_id FROM exposures
    WHERE exposure_id > ?1 AND exposure_id < ?2 AND started_utc >= ?3 AND kind = 'panel' AND outcome = 'completed'
    AND exposure_id NOT IN (SELECT exposure_id FROM faults WHERE exposure_id IS NOT NULL)
    ORDER BY exposure_id LIMIT ?4
"""
_FIRST_SIDE_FROM = "SELECT side_id FROM sides WHERE exposure_id >= ? ORDER BY exposure_id, side LIMIT 1"
_FIRST_READING_FROM = "SELECT reading_id FROM lamp_readings WHERE side_id >= ? ORDER BY side_id LIMIT 1"
_LIGHT_BEFORE = """
    SELECT settled_mw_cm2 FROM lamp_readings WHERE bank = ?1 AND reading_id < ?2 ORDER BY reading_id DESC LIMIT ?3
"""
_LIGHT_AFTER = """
    SELECT settled_mw_cm2 FROM (
        SELECT side_id, settled_mw_cm2 FROM lamp_readings
        WHERE bank = ?1 AND reading_id >= ?2 AND reading_id < ?3 ORDER BY reading_id {way} LIMIT ?4
    ) JOIN sides USING (side_id) JOIN exposures USING (exposure_id) WHERE outcome = 'completed'
"""
_NEW_TUBES = "SELECT 1 FROM lamp_changes WHERE bank = ?1 AND changed_utc BETWEEN ?2 AND ?3 LIMIT 1"
_COMMISSIONED = "SELECT 1 FROM commissionings WHERE outcome = 'passed' AND began_utc BETWEEN ?1 AND ?2 LIMIT 1"


class PastFaults:
    """The part of a logbook that remembers faults."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def past(self, limit: int, before_id: int | None = None) -> list[dict[str, Any]]:
        """Faults, newest first, with the panel that lay under the light; with `before_id` only older ones."""
        with self._session.reading("listing faults"):
            rows = self._session.all(
                f"{_PAST} WHERE fault_id < coalesce(?, fault_id + 1) ORDER BY fault_id DESC LIMIT ?",
                before_id,
                max(0, limit),
            )
        return [_read(row) for row in rows]

    def look_at(self, fault_id: int, names: Collection[str], word: str, who: str, utc: datetime) -> None:
        """Keep that somebody has looked into a fault, in place of an earlier look.

        A number that does not exist, or is of a fault by none of `names`, changes nothing.
        """
        with self._session.writing(f"noting a look at fault {fault_id}"):
            self._session.link.execute(
                "UPDATE faults SET looked_utc = ?, looked_by = ?, looked_word = ? WHERE fault_id = ?"
                " AND name IN (SELECT value FROM json_each(?))",
                (utc_text(utc), who, word, fault_id, json.dumps(sorted(names))),
            )

    def not_mended(
        self, of_light: Collection[str], only_told: Collection[str], panel: Mapping[str, Any] | None = None
    ) -> list[dict[str, Any]]:
        """The newest fault of each kind and bank of which nothing shows yet that it is over, newest first.

        `of_light` names faults of the lamps, `only_told` those that nobody has to mend. A fault of the lamps is over
        once a whole exposure got the light of before from the same bank, within its scatter, or new tubes were
        recorded there, or somebody has looked. Any other is over after CLEAN_ENOUGH whole panels without a fault, or
        after a commissioning that was passed. One that nobody cleared is among them: it may stand now, or the box was
        restarted. With `panel`, an exposure as `exposure` gives it: as things stood when that was lit.
        """
        until_id, until = (LAST_ID, AT_LAST) if panel is None else (panel["exposure_id"], panel["started_utc"])
        with self._session.reading("looking for faults that may not be over"):
            rows = self._session.all(
                f"{_PAST} WHERE coalesce(exposure_id, 0) < ? AND raised_utc <= ? ORDER BY fault_id DESC LIMIT ?",
                until_id,
                until,
                LOOKED_BACK,
            )
            newest: dict[tuple[str, str | None], dict[str, Any]] = {}
            for row in rows:
                fault = _read(row)
                newest.setdefault((fault["name"], _bank(fault["detail"])), fault)
            told = [fault for fault in newest.values() if fault["name"] not in only_told]
            return [each for each in told if not self._is_over(each, each["name"] in of_light, until_id, until)]

    def _is_over(self, fault: dict[str, Any], lamps: bool, until_id: int, until: str) -> bool:
        raised, from_id = fault["raised_utc"], fault["exposure_id"]
        if from_id is None:  # raised between panels: what was begun before it is what came before
            newest = self._session.one("SELECT max(exposure_id) AS id FROM exposures WHERE started_utc <= ?", raised)
            from_id = (newest["id"] if newest is not None else None) or 0
        if lamps and fault["looked_utc"] is not None and fault["looked_utc"] <= until:
            return True
        bank = _bank(fault["detail"])
        if lamps and bank is not None:
            return self._lamps_are_well(bank, from_id, raised, until_id, until)
        if not lamps and self._session.all(_COMMISSIONED, raised, until):
            return True
        return len(self._session.all(_SINCE, from_id, until_id, raised, CLEAN_ENOUGH)) >= CLEAN_ENOUGH

    def _lamps_are_well(self, bank: str, from_id: int, raised: str, until_id: int, until: str) -> bool:
        if self._session.all(_NEW_TUBES, bank, raised, until):
            return True
        of_fault, next_one, end = (self._first_reading(number) for number in (from_id, from_id + 1, until_id))
        before = [row[0] for row in self._session.all(_LIGHT_BEFORE, bank, of_fault, BEFORE_MOST)]
        for way, most in AFTER_MOST.items():
            after = self._session.all(_LIGHT_AFTER.format(way=way), bank, next_one, end, most)
            if any(is_back(row[0], before) for row in after):
                return True
        return False

    def _first_reading(self, exposure_id: int) -> int:
        """The first reading of that exposure or a later one, by its number; readings come in the order of sides."""
        side = self._session.one(_FIRST_SIDE_FROM, exposure_id)
        reading = None if side is None else self._session.one(_FIRST_READING_FROM, side["side_id"])
        return LAST_ID if reading is None else int(reading["reading_id"])


def is_back(light_mw_cm2: float, before_mw_cm2: Sequence[float]) -> bool:
    """Whether the light of a whole panel is that of before, within the scatter of what came before.

    With fewer than two readings before there is nothing to compare with, and it is not.
    """
    if len(before_mw_cm2) < 2:
        return False
    usual = statistics.median(before_mw_cm2)
    scatter = max(LEAST_SCATTER * usual, statistics.stdev(before_mw_cm2))
    return light_mw_cm2 >= usual - SCATTERS * scatter


def _read(row: Any) -> dict[str, Any]:
    return {**dict(row), "detail": read_stored(row["detail"])}


def _bank(detail: str) -> str | None:
    """The bank that a fault's detail names; of an old record, or of another fault, none."""
    found = detail.values.get("bank") if isinstance(detail, Message) else None
    return found if isinstance(found, str) else None
