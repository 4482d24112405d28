"""Baths as clients see them: dictionaries of plain values and messages, made anew for each answer."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from sumlight.craft.baths import contents, gassing, life, load
from sumlight.craft.baths.contents import Contents
from sumlight.craft.baths.load import Taken, Used
from sumlight.craft.baths.tempo import Forecast
from sumlight.craft.chemistry import hazards
from sumlight.store.logbook.baths import BathPanel, BathRecord, WasteRecord
from sumlight.store.logbook.database import utc_text
from sumlight.store.logbook.rows import utc_or_none

SHOWN = 40
"""The last panels of a bath that are shown."""


def bath(record: BathRecord, found: Used, forecast: Forecast | None, like: Taken) -> dict[str, Any]:
    """A bath in short: how much of it is used, and whether to mix new."""
    kind = record.contents.kind
    return {
        "bath_id": record.bath_id,
        "kind": kind,
        "name": life.name(record.bath_id, kind),
        "made": contents.told(record.contents),
        "volume_l": record.contents.volume_l,
        "mixed_utc": utc_text(record.mixed_utc),
        "mixed_by": record.mixed_by,
        "waste_utc": utc_or_none(record.waste_utc),
        "waste_into": record.waste_into,
        "panels": found.panels,
        "metal_g": found.metal_g,
        "used": found.share,
        "worn": life.worn(record.contents, found, forecast),
        "verdict": life.verdict(record.contents, found, forecast, like),
        "expected": None if forecast is None else asdict(forecast),
        "expectation": None if forecast is None or not found.panels else life.expectation(forecast, kind),
    }


def container(waste: WasteRecord) -> dict[str, Any]:
    """A waste container: what is in it since it was emptied."""
    return {
        "kind": waste.kind,
        "name": hazards.NAMES[waste.kind],
        "litres": waste.litres,
        "baths": waste.baths,
        "emptied_utc": utc_or_none(waste.emptied_utc),
        "sentence": life.in_container(waste.litres, waste.baths, utc_or_none(waste.emptied_utc)),
    }


def panels(mixed: Contents, over: Sequence[Taken], noted: Sequence[BathPanel]) -> dict[str, Any]:
    """What a bath has taken, the last ones first, and what a tight lid over it would hold back."""
    shown = [
        {
            "label": one.label,
            "began_utc": utc_text(one.began_utc),
            "ended_utc": utc_or_none(one.ended_utc),
            "expected_s": one.expected_s,
            **asdict(one.taken),
        }
        for one in reversed(noted[-SHOWN:])
    ]
    return {"taken": shown, "sentences": list(load.sentences(mixed, over)), "tight_lid": gassing.tight_lid(mixed)}
