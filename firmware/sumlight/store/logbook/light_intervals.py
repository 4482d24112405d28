"""Stretches of light in the logbook: what is needed to work a recorded dose out again from its trace."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sumlight.light.sample import Sample
from sumlight.store.logbook import database
from sumlight.store.logbook.session import Session


@dataclass(frozen=True)
class LightInterval:
    """The beginning of uninterrupted light on a side. Seconds are on control's monotonic clock, as in the trace.

    `dark_end_s` is the end of the last dark conversion before, `dark_mw_cm2` the dark reading at the glass;
    `mw_cm2_per_basic_count`, by gain code, and `integration_ms` turn counts into irradiance at the glass. The last two
    are the recipe's departure from reciprocity.
    """

    side_id: int
    began_utc: datetime
    lit_s: float
    dark_end_s: float
    dark_mw_cm2: float
    mw_cm2_per_basic_count: tuple[float, ...]
    integration_ms: float
    transmission: float
    lead_s: float
    from_mj_cm2: float
    from_doubt_mj_cm2: float
    found_at_mw_cm2: float | None = None
    reciprocity_p: float = 1.0


@dataclass(frozen=True)
class LightIntervalEnd:
    """How the latest stretch of a side ended: `cut` by its dose or `interrupted`. Tail over at `closed_s`."""

    side_id: int
    ended: str
    off_s: float
    closed_s: float
    to_mj_cm2: float
    to_doubt_mj_cm2: float


@dataclass(frozen=True)
class RecordedLightInterval:
    """A stretch as it stands in the logbook, with its samples; `end` is None where control was killed under light."""

    stretch_id: int
    exposure_id: int
    side: str
    bank: str
    target_mj_cm2: float | None
    begin: LightInterval
    end: LightIntervalEnd | None
    samples: list[Sample]


class LightIntervals:
    """The part of a logbook that knows when sides were lit, and by what."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def unreplayable_sides(self) -> int:
        """How many lit sides were recorded before stretches were kept."""
        with self._session.reading("counting sides without stretches"):
            found = self._session.all(
                "SELECT count(*) FROM sides WHERE lit_s > 0"
                " AND NOT EXISTS (SELECT 1 FROM light_stretches WHERE light_stretches.side_id = sides.side_id)"
            )
        return int(found[0][0])

    def stretches(self, exposure_id: int | None = None) -> Iterator[RecordedLightInterval]:
        """Every stretch with its samples, oldest first; those of one exposure only where it is given.

        Each is read by itself, so a long look does not hold the logbook.
        """
        with self._session.reading("listing stretches of light"):
            rows = self._session.all(
                "SELECT stretch_id FROM light_stretches JOIN sides USING (side_id)"
                " WHERE exposure_id = coalesce(?, exposure_id) ORDER BY stretch_id",
                exposure_id,
            )
        for row in rows:
            yield self._light_interval(row["stretch_id"])

    def _light_interval(self, stretch_id: int) -> RecordedLightInterval:
        with self._session.reading(f"reading stretch {stretch_id}"):
            row = self._session.all(
                "SELECT light_stretches.*, exposure_id, side, bank, target_mj_cm2"
                " FROM light_stretches JOIN sides USING (side_id) WHERE stretch_id = ?",
                stretch_id,
            )[0]
            blobs = self._session.all(
                "SELECT trace_id, packed FROM traces WHERE stretch_id = ? ORDER BY trace_id", stretch_id
            )
        return _recorded(row, self._session.unpacked(blobs, f"stretch {stretch_id}"))

    def begin_light_interval(self, stretch: LightInterval) -> None:
        """Record that a side is lit now; samples that follow belong to it."""
        with self._session.writing(f"writing that side {stretch.side_id} is lit"):
            self._session.insert(
                "light_stretches",
                side_id=stretch.side_id,
                began_utc=database.utc_text(stretch.began_utc),
                lit_mono_s=stretch.lit_s,
                dark_end_mono_s=stretch.dark_end_s,
                dark_mw_cm2=stretch.dark_mw_cm2,
                mw_cm2_per_basic_count=json.dumps(stretch.mw_cm2_per_basic_count),
                integration_ms=stretch.integration_ms,
                transmission=stretch.transmission,
                lead_s=stretch.lead_s,
                from_mj_cm2=stretch.from_mj_cm2,
                from_doubt_mj_cm2=stretch.from_doubt_mj_cm2,
                found_at_mw_cm2=stretch.found_at_mw_cm2,
                reciprocity_p=stretch.reciprocity_p,
            )

    def end_light_interval(self, end: LightIntervalEnd) -> None:
        """Record how the latest stretch of a side ended."""
        with self._session.writing(f"writing that the light of side {end.side_id} ended"):
            self._session.link.execute(
                "UPDATE light_stretches SET ended = ?, off_mono_s = ?, closed_mono_s = ?, to_mj_cm2 = ?,"
                " to_doubt_mj_cm2 = ? WHERE stretch_id ="
                " (SELECT max(stretch_id) FROM light_stretches WHERE side_id = ?)",
                (end.ended, end.off_s, end.closed_s, end.to_mj_cm2, end.to_doubt_mj_cm2, end.side_id),
            )


def _recorded(row: Any, samples: list[Sample]) -> RecordedLightInterval:
    begin = LightInterval(
        side_id=row["side_id"],
        began_utc=database.utc_from(row["began_utc"]),
        lit_s=row["lit_mono_s"],
        dark_end_s=row["dark_end_mono_s"],
        dark_mw_cm2=row["dark_mw_cm2"],
        mw_cm2_per_basic_count=tuple(json.loads(row["mw_cm2_per_basic_count"])),
        integration_ms=row["integration_ms"],
        transmission=row["transmission"],
        lead_s=row["lead_s"],
        from_mj_cm2=row["from_mj_cm2"],
        from_doubt_mj_cm2=row["from_doubt_mj_cm2"],
        found_at_mw_cm2=row["found_at_mw_cm2"],
        reciprocity_p=row["reciprocity_p"],
    )
    end = None
    if row["ended"] is not None:
        end = LightIntervalEnd(
            side_id=row["side_id"],
            ended=row["ended"],
            off_s=row["off_mono_s"],
            closed_s=row["closed_mono_s"],
            to_mj_cm2=row["to_mj_cm2"],
            to_doubt_mj_cm2=row["to_doubt_mj_cm2"],
        )
    return RecordedLightInterval(
        row["stretch_id"], row["exposure_id"], row["side"], row["bank"], row["target_mj_cm2"], begin, end, samples
    )
