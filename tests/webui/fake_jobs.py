"""What the fake control says of jobs: one invented job, its two panels, one of them at its etch."""

from dataclasses import asdict, replace
from datetime import UTC, datetime
from typing import Any, cast

from sumlight.control.jobs import bathpictures, pictures, stockpictures
from sumlight.control.jobs.timekeeper import Timekeeper
from sumlight.craft.baths import tempo
from sumlight.craft.baths.contents import Contents
from sumlight.craft.baths.load import Taken, used
from sumlight.craft.jobs import plans
from sumlight.craft.jobs.card import Mark
from sumlight.craft.jobs.instructions import PanelNumbers
from sumlight.craft.stock.metal import Metal
from sumlight.craft.stock.rolls import Roll
from sumlight.craft.stock.stencils import Done, Measured, Stencil
from sumlight.store.logbook.baths import BathPanel, BathRecord, WasteRecord
from sumlight.store.logbook.database import utc_text
from sumlight.store.logbook.jobs import JobRecord, PanelRecord
from sumlight.store.logbook.stock import StockRecord
from sumlight.text.message import Message, say

MADE = datetime(2026, 11, 25, 8, tzinfo=UTC)
NUMBERS = PanelNumbers("sheet_two", "brass", 150.0, "blue-38", 60.0, 900.0, 28_800.0, 30.0, "iron", 10.0)
STEPS = plans.steps_of("sheet_two")
JOB = JobRecord(3, "gear", 2, NUMBERS, plans.edited(STEPS, 2, "Scrub it with the green pad."), MADE, "Ada")
PANELS = (PanelRecord(7, 3, "blue-38 · 4"), PanelRecord(8, 3, "blue-38 · 5"))


def marks(kind: str, state: str = "begun") -> dict[int, Mark]:
    """A card that has come to a step of a kind."""
    number = next(step.step_id for step in STEPS if step.kind == kind)
    done = Mark("done", None, "2026-11-25T08:30:00.000000Z", "two passes", "box")
    return {5: done, number: Mark(cast(Any, state), "2026-11-25T09:00:00.000000Z", None, "", "Ada")}


def timer(rings: Message | None = None, **changed: Any) -> dict[str, Any]:
    """The timer of an etch."""
    return {
        "timer_id": 2,
        "panel_id": 7,
        "step_id": 17,
        "title": say("step_etch"),
        "elapsed_s": 100.0,
        "next_s": 260.0,
        "rings": rings,
        "unsure": False,
    } | changed


class _OneTimer:
    def of(self, _panel_id: int) -> list[int]:
        return [2]

    def picture(self, _timer: int) -> dict[str, Any]:
        return timer()


def card(kind: str = "etch", state: str = "begun") -> dict[str, Any]:
    """The card of panel 7, come to a step of a kind."""
    return pictures.whole_card(JOB, PANELS[0], marks(kind, state), cast(Timekeeper, _OneTimer()))


def said(**changed: Any) -> dict[str, Any]:
    """The part of a snapshot."""
    due = {"panel_id": 7, "panel": "blue-38 · 4", "title": say("step_etch"), "left_s": 260.0}
    return {"panels": 2, "due": due, "timers": [timer(panel="blue-38 · 4")]} | changed


BATH = BathRecord(2, Contents("iron", 1.5, 36.0, bottle_percent=40.0), MADE, "Ada")
_TAKEN = Taken("brass", 25.0, 75.0, 540.0, 54.0, 22.0, 3.0)
_IN_IT = BathPanel(1, 2, _TAKEN, MADE, MADE, 7, 17, "blue-38 · 3", 500.0, 0.0, "Ada")


def bath(record: BathRecord = BATH, panels: int = 1) -> dict[str, Any]:
    """A bath with what it has taken."""
    return bath_in_short(record, panels) | bathpictures.panels(record.contents, [_TAKEN] * panels, [_IN_IT] * panels)


def bath_in_short(record: BathRecord = BATH, panels: int = 1) -> dict[str, Any]:
    """A bath as it stands among others."""
    known = tempo.fresh(record.contents)
    over = [_TAKEN] * panels
    for taken in over:
        known = tempo.learned(known, record.contents, taken)
    forecast = tempo.expected(known, record.contents, _TAKEN)
    return bathpictures.bath(record, used(record.contents, over), forecast, _TAKEN)


WASTED = replace(BATH, bath_id=1, waste_utc=MADE, waste_into="iron", waste_by="Ada")
ROLL = StockRecord(4, Roll("Invented film", 38.0, "2026-09-01", "2027-03-01", "cool"), MADE, "Ada")
STENCIL = StockRecord(
    5,
    Stencil(
        "gear", 2, 150.0, "hinge", {"print": Done(utc_text(MADE), "Ada")}, (Measured(utc_text(MADE), 2.4, 40.0, True),)
    ),
    MADE,
    "Ada",
)
USED_UP = StockRecord(3, Metal("brass", 150.0, 4, "invented"), MADE, "Ada", MADE)


def thing(record: StockRecord = STENCIL) -> dict[str, Any]:
    """A thing on the shelf."""
    return stockpictures.whole(record, 3, MADE)


def choice(record: StockRecord, chosen: bool) -> dict[str, Any]:
    """A thing that a job may choose."""
    told = thing(record)
    return {key: told[key] for key in ("stock_id", "kind", "name")} | {"chosen": chosen}


CONTAINERS = [bathpictures.container(WasteRecord("iron", 1.5, 1))]
_SHOWN = [pictures.panel(JOB, PANELS[0], marks("etch")), pictures.panel(JOB, PANELS[1], {})]
JOB_ANSWERS: dict[str, dict[str, Any]] = {
    "jobs": {"jobs": [pictures.job(JOB) | {"panels": _SHOWN}], "last": asdict(NUMBERS), **said()},
    **dict.fromkeys(
        ("job", "job_numbers", "job_plan", "job_bath", "job_stock"),
        pictures.job(JOB) | {"steps": pictures.plan(JOB), "panels": _SHOWN, "baths": [], "stock": []},
    ),
    "card": card(),
    "job_new": {"job_id": 3, "panel_ids": [7], "labels": ["blue-38 · 4"]},
    "job_step": card(),
    "job_end": {"job_id": 3, "open": True},
    "baths": {"baths": [bath_in_short()], "wasted": [bath_in_short(WASTED)], "containers": CONTAINERS},
    "waste_emptied": {"containers": CONTAINERS},
    **dict.fromkeys(("bath", "bath_new", "bath_panel", "bath_take_back", "bath_waste"), bath()),
    "stock": {
        "things": [stockpictures.thing(record, 3, MADE) for record in (ROLL, STENCIL)],
        "ended": [stockpictures.thing(USED_UP, 4, MADE)],
    },
    **dict.fromkeys(
        ("stock_thing", "stencil_new", "stencil_done", "stencil_measured", "stencil_recipe", "stock_end"), thing()
    ),
    "roll_new": thing(ROLL),
    "metal_new": thing(replace(USED_UP, ended_utc=None)),
    "timer_start": {"timer_id": 2},
    "timer_answer": {"timer_id": 2},
}
