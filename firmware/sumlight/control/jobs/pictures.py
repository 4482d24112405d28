"""Jobs and cards as clients see them: dictionaries of plain values and messages, made anew for each answer."""

from collections.abc import Callable, Mapping
from dataclasses import asdict
from typing import Any

from sumlight.control.jobs.timekeeper import Timekeeper
from sumlight.craft.baths.life import Within
from sumlight.craft.jobs import card, instructions, plans, timers
from sumlight.craft.jobs.card import Mark
from sumlight.craft.jobs.instructions import PanelNumbers
from sumlight.craft.jobs.plans import Step
from sumlight.store.logbook.database import utc_text
from sumlight.store.logbook.jobs import JobRecord, PanelRecord
from sumlight.text.message import Message

Marks = Mapping[int, Mark]
Baths = Callable[[Step, PanelNumbers], Within | None]
"""Finds the bath that a step of a panel goes into."""

Shelf = Callable[[JobRecord, Step], tuple[Message, ...]]
"""What is to be said of the shelf at a step of a job."""


def no_baths(_step: Step, _numbers: PanelNumbers) -> Within | None:
    """Where none is in use."""
    return None


def no_shelf(_job: JobRecord, _step: Step) -> tuple[Message, ...]:
    """Where nothing is on it."""
    return ()


def job(record: JobRecord) -> dict[str, Any]:
    """A job in short."""
    return {
        "job_id": record.job_id,
        "artwork": record.artwork,
        "wanted": record.wanted,
        "plan_name": plans.PLAN_NAMES[record.numbers.plan],
        "numbers": asdict(record.numbers),
        "made_utc": utc_text(record.made_utc),
        "made_by": record.made_by,
    }


def plan(record: JobRecord, baths: Baths = no_baths) -> list[dict[str, Any]]:
    """The plan of a job, with what each step says."""
    return [
        {
            "step_id": step.step_id,
            "title": plans.title(step),
            "sentence": instructions.sentence(step, record.numbers, baths(step, record.numbers)),
            "own": step.own,
            "written": plans.written(step),
        }
        for step in record.steps
    ]


def panel(record: JobRecord, one: PanelRecord, marks: Marks) -> dict[str, Any]:
    """A panel in short: what is due on it and how far it is."""
    step = card.current(record.steps, marks)
    mark = None if step is None else marks.get(step.step_id)
    return {
        "panel_id": one.panel_id,
        "job_id": one.job_id,
        "label": one.label,
        "outcome": one.outcome,
        "gone": card.gone(record.steps, marks),
        "of": len(record.steps),
        "step_id": None if step is None else step.step_id,
        "title": None if step is None else plans.title(step),
        "state": None if mark is None else mark.state,
    }


def whole_card(
    record: JobRecord,
    one: PanelRecord,
    marks: Marks,
    keeper: Timekeeper,
    baths: Baths = no_baths,
    shelf: Shelf = no_shelf,
) -> dict[str, Any]:
    """The card of a panel: every step, the one at hand with its cautions."""
    now = card.current(record.steps, marks)
    return panel(record, one, marks) | {
        "job": job(record),
        "steps": [_step(step, record, marks.get(step.step_id), baths, shelf, now is step) for step in record.steps],
        "timers": [keeper.picture(timer) for timer in keeper.of(one.panel_id)],
    }


def _step(
    step: Step, record: JobRecord, mark: Mark | None, baths: Baths, shelf: Shelf, at_hand: bool
) -> dict[str, Any]:
    numbers = record.numbers
    within = baths(step, numbers)
    in_bath = within is not None and within.bath_id is not None and step.kind in ("develop", "etch")
    return {
        "step_id": step.step_id,
        "kind": step.kind,
        "title": plans.title(step),
        "sentence": instructions.sentence(step, numbers, within),
        "more": [*shelf(record, step), *instructions.more(step, numbers, within)] if at_hand else [],
        "cautions": list(instructions.cautions(step, numbers, within)) if at_hand else [],
        "timed": in_bath or timers.schedule_of(step, numbers, within) is not None,
        "in_bath": in_bath,
        "state": None if mark is None else mark.state,
        "began_utc": None if mark is None else mark.began_utc,
        "ended_utc": None if mark is None else mark.ended_utc,
        "word": "" if mark is None else mark.word,
        "by": "" if mark is None else mark.by,
    }
