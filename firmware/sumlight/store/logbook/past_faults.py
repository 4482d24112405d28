"""The faults on record: what there was, and which of them nothing has cleared up since."""

import statistics
from collections.abc import Collection, Sequence
from typing import Any

from sumlight.store.logbook.session import Session
from sumlight.text.message import Message, read_stored

CLEAN_ENOUGH = 3
"""So many whole panels without a fault, and a fault is not told of any more (judgement)."""

LOOKED_BACK = 20
"""Faults that are looked at again; older ones are history."""

BEFORE_MOST = 8
SCATTERS, LEAST_SCATTER = 3.0, 0.02
"""Light counts as back from three standard deviations below what it was; less scatter than 2 % is not believed
(judgement)."""

_PAST = """
    SELECT fault_id, name, detail, exposure_id, label AS panel, utc_unsure, raised_utc, cleared_utc, cleared_by
    FROM faults LEFT JOIN exposures USING (exposure_id) LEFT JOIN panels USING (panel_id)
"""
_SINCE = """
    SELECT exposure_id FROM exposures
    WHERE exposure_id > ?1 AND started_utc >= ?2 AND kind = 'panel' AND outcome = 'completed'
    AND exposure_id NOT IN (SELECT exposure_id FROM faults WHERE exposure_id IS NOT NULL)
    ORDER BY exposure_id LIMIT ?3
"""
_LIGHT_BEFORE = """
    SELECT settled_mw_cm2 FROM lamp_readings JOIN sides USING (side_id)
    WHERE lamp_readings.bank = ?1 AND sides.exposure_id < ?2 ORDER BY reading_id DESC LIMIT ?3
"""
_LIGHT_AFTER = """
    SELECT settled_mw_cm2 FROM lamp_readings JOIN sides USING (side_id) JOIN exposures USING (exposure_id)
    WHERE lamp_readings.bank = ?1 AND exposure_id > ?2 AND outcome = 'completed' ORDER BY reading_id DESC LIMIT 1
"""


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
        return [{**dict(row), "detail": read_stored(row["detail"])} for row in rows]

    def not_mended(self, of_light: Collection[str], only_told: Collection[str]) -> list[dict[str, Any]]:
        """The newest fault of each kind that was cleared and of which nothing shows yet that it is over, newest first.

        `of_light` names faults of the lamps, `only_told` those that nobody has to mend. A fault of the lamps is over
        once a whole panel got the light of before from the same bank, within its scatter, or new tubes were recorded
        there. Any fault is over after CLEAN_ENOUGH whole panels without one.
        """
        newest: dict[str, dict[str, Any]] = {}
        for fault in self.past(LOOKED_BACK):
            newest.setdefault(fault["name"], fault)
        told = [f for f in newest.values() if f["cleared_utc"] is not None and f["name"] not in only_told]
        return [fault for fault in told if not self._is_over(fault, fault["name"] in of_light)]

    def _is_over(self, fault: dict[str, Any], lamps: bool) -> bool:
        from_id = fault["exposure_id"] or 0
        with self._session.reading("looking for panels after a fault"):
            since = self._session.all(_SINCE, from_id, fault["raised_utc"], CLEAN_ENOUGH)
        if len(since) >= CLEAN_ENOUGH:
            return True
        bank = _bank(fault["detail"])
        return lamps and bank is not None and self._lamps_are_well(bank, from_id, fault)

    def _lamps_are_well(self, bank: str, from_id: int, fault: dict[str, Any]) -> bool:
        with self._session.reading(f"comparing the light of bank '{bank}' with that before a fault"):
            if self._session.all(
                "SELECT 1 FROM lamp_changes WHERE bank = ? AND changed_utc >= ? LIMIT 1", bank, fault["raised_utc"]
            ):
                return True
            before = [row[0] for row in self._session.all(_LIGHT_BEFORE, bank, from_id, BEFORE_MOST)]
            after = self._session.all(_LIGHT_AFTER, bank, from_id)
        return bool(after) and is_back(after[0][0], before)


def is_back(light_mw_cm2: float, before_mw_cm2: Sequence[float]) -> bool:
    """Whether the light of a whole panel is that of before, within the scatter of what came before.

    With fewer than two readings before there is nothing to compare with, and it is not.
    """
    if len(before_mw_cm2) < 2:
        return False
    usual = statistics.median(before_mw_cm2)
    scatter = max(LEAST_SCATTER * usual, statistics.stdev(before_mw_cm2))
    return light_mw_cm2 >= usual - SCATTERS * scatter


def _bank(detail: str) -> str | None:
    """The bank that a fault's detail names; of an old record, or of another fault, none."""
    found = detail.values.get("bank") if isinstance(detail, Message) else None
    return found if isinstance(found, str) else None
