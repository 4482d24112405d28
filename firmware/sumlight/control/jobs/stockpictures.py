"""Things on the shelf as clients see them: dictionaries of plain values and messages, made anew for each answer."""

from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime
from typing import Any

from sumlight.craft.stock import shelf, stencils
from sumlight.craft.stock.rolls import Roll
from sumlight.craft.stock.stencils import Stencil
from sumlight.store.logbook.database import utc_text
from sumlight.store.logbook.rows import utc_or_none
from sumlight.store.logbook.stock import StockRecord
from sumlight.text.message import say_named


def thing(record: StockRecord, uses: int, now: datetime, taken_utc: Sequence[str] = ()) -> dict[str, Any]:
    """A thing in short; panels with a card took it at `taken_utc`."""
    return {
        "stock_id": record.stock_id,
        "kind": shelf.kind_of(record.thing),
        "name": shelf.name(record.stock_id, record.thing),
        "made": list(shelf.made(record.thing)),
        "sentences": list(shelf.sentences(record.thing, uses, now, taken_utc)),
        "uses": uses,
        "noted_utc": utc_text(record.noted_utc),
        "noted_by": record.noted_by,
        "ended_utc": utc_or_none(record.ended_utc),
    }


def whole(record: StockRecord, uses: int, now: datetime, taken_utc: Sequence[str] = ()) -> dict[str, Any]:
    """A thing with all that its kind has."""
    own = record.thing
    return thing(record, uses, now, taken_utc) | {
        "roll": asdict(own) if isinstance(own, Roll) else None,
        "stencil": _stencil(own) if isinstance(own, Stencil) else None,
    }


def _stencil(stencil: Stencil) -> dict[str, Any]:
    steps = []
    for step in stencils.steps_of(stencil):
        done = stencil.done.get(step)
        steps.append(
            {
                "step": step,
                "title": say_named(f"stencil_step_{step}"),
                "sentence": stencils.sentence(step, stencil),
                "done_utc": None if done is None else done.utc,
                "by": "" if done is None else done.by,
            }
        )
    return {
        "artwork": stencil.artwork,
        "sides": stencil.sides,
        "spacer_um": stencil.spacer_um,
        "recipe": stencil.recipe,
        "steps": steps,
        "measured": [asdict(each) for each in reversed(stencil.measured)],
    }
