"""Where the dose of a recipe was found, under which calibration, and what a person has taken over since."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sumlight.store.logbook.database import utc_text
from sumlight.store.logbook.session import Session

LOOKED_BACK = 200
"""Exposures of a recipe that are looked through, newest first: asked before light, this must not take long."""
SAME_SCALE = 0.1
"""One calibration after another may move the scale (ln) by so much: that is what checks are for (judgement, no
source)."""
ALIKE, ROUNDED_MJ_CM2 = 0.004, 0.0501
"""Doses that differ by less than this share, or by what writing them with one decimal leaves, are one, copied."""

_FOUND = """
    SELECT exposures.kind, exposure_id, started_utc, bank, target_mj_cm2, json_extract(budget, '$.anchor') AS anchor,
           CASE exposures.kind WHEN 'strip' THEN json_extract(measurements.result, '$.high_mj_cm2')
                ELSE coalesce(target_mj_cm2, dose_mj_cm2) END AS found_mj_cm2
    FROM exposures JOIN sides USING (exposure_id) LEFT JOIN measurements USING (exposure_id)
    WHERE exposure_id IN (SELECT exposure_id FROM exposures WHERE recipe_name = ? ORDER BY exposure_id DESC LIMIT ?)
      AND state = 'done' AND budget IS NOT NULL
      AND (exposures.kind IN ('teach', 'strip') OR exposures.kind = 'panel' AND outcome = 'completed')
    ORDER BY exposure_id DESC, side
"""


@dataclass(frozen=True)
class FoundDose:
    """What a dose rests on at one bank. `kind` is panel, draft, teach, strip, or taken for one that was taken over.

    `anchor` is what a count was worth then, as a side's budget holds it.
    """

    kind: str
    exposure_id: int
    found_utc: str
    dose_mj_cm2: float
    anchor: Mapping[str, Any]


@dataclass(frozen=True)
class TakenDose:
    """A dose of a recipe that is meant on the scale of `anchors`, by bank; see the table of that name."""

    recipe_name: str
    dose_mj_cm2: float
    before_mj_cm2: float
    anchors: Mapping[str, Mapping[str, Any]]
    who: str


def alike(a_mj_cm2: float, b_mj_cm2: float) -> bool:
    """Whether two doses are the same one, written down again."""
    return abs(a_mj_cm2 - b_mj_cm2) <= max(ALIKE * b_mj_cm2, ROUNDED_MJ_CM2)


class RecipeDoses:
    """The part of a logbook that knows on which scale a recipe's dose was found."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def found(self, recipe_name: str, dose_mj_cm2: float) -> dict[str, FoundDose]:
        """What this dose of a recipe rests on, by bank; nothing where it was never lit or found here.

        A dose of another number that panels were lit with since is the newer one: then nobody knows where this one is
        from.
        """
        with self._session.reading(f"looking for what the dose of recipe '{recipe_name}' rests on"):
            rows = self._session.all(_FOUND, recipe_name, LOOKED_BACK)
            taken = self._session.one(
                "SELECT * FROM taken_doses WHERE recipe_name = ? ORDER BY taken_dose_id DESC LIMIT 1", recipe_name
            )
        found: dict[str, FoundDose] = {}
        over: set[str] = set()
        if taken is not None and alike(taken["dose_mj_cm2"], dose_mj_cm2):
            rows = [row for row in rows if row["exposure_id"] > taken["after_exposure_id"]]
        for row in rows:
            bank, seen_mj_cm2 = row["bank"], row["found_mj_cm2"]
            if bank in found or bank in over or seen_mj_cm2 is None or row["anchor"] is None:
                continue
            by_dose = row["kind"] == "panel" and row["target_mj_cm2"] is not None
            if alike(seen_mj_cm2, dose_mj_cm2):
                kind = "draft" if row["kind"] == "panel" and not by_dose else row["kind"]
                found[bank] = FoundDose(
                    kind, row["exposure_id"], row["started_utc"], seen_mj_cm2, json.loads(row["anchor"])
                )
            elif by_dose:
                over.add(bank)
        if taken is not None and alike(taken["dose_mj_cm2"], dose_mj_cm2):
            for bank, anchor in json.loads(taken["anchors"]).items():
                if bank not in over:
                    since = taken["after_exposure_id"], taken["taken_utc"], taken["dose_mj_cm2"]
                    found.setdefault(bank, FoundDose("taken", *since, anchor))
        return found

    def take(self, taken: TakenDose, utc: datetime) -> None:
        """Keep that a dose is meant on the scale of now."""
        with self._session.writing(f"taking over the dose of recipe '{taken.recipe_name}'"):
            newest = self._session.value("SELECT coalesce(max(exposure_id), 0) FROM exposures")
            self._session.insert(
                "taken_doses",
                recipe_name=taken.recipe_name,
                dose_mj_cm2=taken.dose_mj_cm2,
                before_mj_cm2=taken.before_mj_cm2,
                after_exposure_id=newest,
                anchors=json.dumps({bank: dict(anchor) for bank, anchor in taken.anchors.items()}),
                taken_utc=utc_text(utc),
                taken_by=taken.who,
            )
