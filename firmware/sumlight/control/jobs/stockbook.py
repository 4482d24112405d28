"""The shelf of a bench: rolls of resist, metal and stencils, which job takes what, and what cards say of it.

Runs in the loop's thread, between ticks. Nothing has to be entered: what fits is found, and used by the panel that
comes to the step.
"""

import logging
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from sumlight.control.jobs import stockpictures
from sumlight.control.loop import ControlLoop
from sumlight.control.refused import RefusedError
from sumlight.craft.jobs.instructions import PanelNumbers
from sumlight.craft.jobs.plans import Step
from sumlight.craft.stock import shelf, stencils
from sumlight.craft.stock.metal import Metal
from sumlight.craft.stock.rolls import Roll, day_of, wants_tablet
from sumlight.craft.stock.shelf import Thing
from sumlight.craft.stock.stencils import Done, Measured, Stencil, steps_of
from sumlight.protocol import stock_commands as commands
from sumlight.protocol.command import Command
from sumlight.protocol.errors import BadRequestError
from sumlight.store.logbook.database import utc_text
from sumlight.store.logbook.jobs import JobRecord
from sumlight.store.logbook.stock import ENDED_KEPT, KeptStock, StockRecord
from sumlight.store.recipes import StoredRecipe
from sumlight.text.message import say

log = logging.getLogger(__name__)

MOST_HERE = 60
MOST_MEASURED = 50
"""Measurements kept of a stencil; the oldest make room."""


class StockBook:
    """What is on the shelf of one box. `kept` is what the logbook holds."""

    def __init__(self, loop: ControlLoop, kept: KeptStock) -> None:
        self._loop = loop
        self._things = {record.stock_id: record for record in kept.things}
        self._uses = {number: dict(kept.uses.get(number, {})) for number in self._things}
        self._last_id = kept.last_stock_id
        if kept.unreadable:
            log.error("%d rows about the shelf cannot be read; they are left as they are", kept.unreadable)

    # -- commands ------------------------------------------------------------------------------------------------

    def look_up(self, asked: Command) -> dict[str, Any] | None:
        """Answer a question about the shelf; None for a command that changes something."""
        match asked:
            case commands.Stock():
                gone = [record for record in self._things.values() if record.ended_utc is not None]
                return {"things": [*map(self._short, self._here())], "ended": [*map(self._short, gone)]}
            case commands.StockThing(stock_id=stock_id):
                return self._whole(self._record(stock_id))
        return None

    def change(self, asked: Command) -> dict[str, Any] | None:
        """Carry out a command that changes the shelf; None for any other. Raises as the craft does, or
        BadRequestError.
        """
        match asked:
            case commands.RollNew():
                return self._new(self._roll(asked), asked.who)
            case commands.MetalNew():
                thing = Metal(asked.metal, asked.thickness_um, asked.pieces, asked.remark)
                return self._new(thing, asked.who)
            case commands.StencilNew():
                return self._new(Stencil(asked.artwork, asked.sides, asked.spacer_um, asked.held), asked.who)
            case commands.StencilDone():
                return self._done(asked)
            case commands.StencilMeasured():
                return self._measured(asked)
            case commands.StockEnd(stock_id=stock_id, ended=ended):
                return self._end(self._record(stock_id), ended)
        return None

    def _roll(self, asked: commands.RollNew) -> Roll:
        today = self._now().date()
        opened = today.isoformat() if asked.opened_on is None else asked.opened_on
        day = day_of("opened_on", opened or None)
        if day is not None and day > today:
            raise BadRequestError("bad_value", say("day_to_come", field="opened_on", given=opened), field="opened_on")
        return Roll(asked.resist.strip(), asked.film_um, opened or None, asked.expires_on or None, asked.storage)

    def _new(self, thing: Thing, who: str) -> dict[str, Any]:
        self._refuse_if_full()
        self._last_id += 1
        record = StockRecord(self._last_id, thing, self._now(), who)
        self._uses[record.stock_id] = {}
        return self._keep(record)

    def _done(self, asked: commands.StencilDone) -> dict[str, Any]:
        record, stencil = self._stencil(asked.stock_id)
        if asked.step not in steps_of(stencil):
            raise BadRequestError("refused", say("stencil_without_back"), field="step")
        done = {step: each for step, each in stencil.done.items() if step != asked.step}
        if asked.done:
            done[asked.step] = Done(utc_text(self._now()), asked.who)
        return self._keep(replace(record, thing=replace(stencil, done=done)))

    def _measured(self, asked: commands.StencilMeasured) -> dict[str, Any]:
        record, stencil = self._stencil(asked.stock_id)
        found = asked.model_dump(exclude={"stock_id", "who"})
        if all(value is None for value in found.values()):
            raise BadRequestError("bad_value", say("nothing_to_note"), field="density")
        if stencil.sides == 1 and (asked.apart_um is not None or asked.readable_b is not None):
            field = "readable_b" if asked.apart_um is None else "apart_um"
            raise BadRequestError("bad_value", say("stencil_without_back"), field=field)
        measured = (*stencil.measured, Measured(utc_text(self._now()), **found, by=asked.who))[-MOST_MEASURED:]
        return self._keep(replace(record, thing=replace(stencil, measured=measured)))

    def _refuse_if_full(self) -> None:
        if len(self._here()) >= MOST_HERE:
            raise RefusedError(say("too_much_stock", most=MOST_HERE), say("end_a_thing_first"))

    def _end(self, record: StockRecord, ended: bool) -> dict[str, Any]:
        if ended == (record.ended_utc is not None):
            return self._whole(record)
        if not ended:
            self._refuse_if_full()
        told = self._keep(replace(record, ended_utc=self._now() if ended else None))
        gone = [each for each in self._things.values() if each.ended_utc is not None]
        gone.sort(key=lambda each: utc_text(each.ended_utc or each.noted_utc))
        for old in gone[:-ENDED_KEPT]:
            del self._things[old.stock_id], self._uses[old.stock_id]
        return told

    # -- jobs and cards ------------------------------------------------------------------------------------------

    def using(self, numbers: PanelNumbers, artwork: str) -> dict[str, StockRecord]:
        """What a job takes of each kind: what was chosen, or the only one that fits."""
        here = {record.stock_id: record.thing for record in self._here()}
        found = {kind: shelf.taken(kind, here, numbers, artwork) for kind in shelf.KINDS}
        return {kind: self._things[number] for kind, number in found.items() if number is not None}

    def choices(self, numbers: PanelNumbers, artwork: str) -> list[dict[str, Any]]:
        """The things that fit a job, of kinds of which there is something to choose."""
        taken = {record.stock_id for record in self.using(numbers, artwork).values()}
        found = []
        for kind in shelf.KINDS:
            fitting = self._fitting(kind, numbers)
            if len(fitting) > 1 or any(record.stock_id not in taken for record in fitting):
                found += [
                    {
                        "stock_id": record.stock_id,
                        "kind": kind,
                        "name": shelf.name(record.stock_id, record.thing),
                        "chosen": record.stock_id in taken,
                    }
                    for record in fitting
                ]
        return found

    def choose(self, numbers: PanelNumbers, stock_id: int) -> PanelNumbers:
        """The numbers of a job with a thing chosen in place of others of its kind. Raises BadRequestError."""
        record = self._here_one(stock_id)
        if not shelf.fits(record.thing, numbers):
            raise BadRequestError("refused", say("thing_does_not_fit"), field="stock_id")
        kind = shelf.kind_of(record.thing)
        others = [n for n in numbers.stock if n in self._things and shelf.kind_of(self._things[n].thing) != kind]
        return replace(numbers, stock=(*others, stock_id))

    def carried(self, last: JobRecord | None, artwork: str) -> tuple[int, ...]:
        """What the next job takes over of what was chosen for the last: a stencil only for the same artwork."""
        if last is None:
            return ()
        same = last.artwork == artwork
        known = [n for n in last.numbers.stock if n in self._things]
        return tuple(n for n in known if same or not isinstance(self._things[n].thing, Stencil))

    def told(self, job: JobRecord, step: Step) -> tuple[Any, ...]:
        """What a card says of the shelf at a step."""
        now = self._now()
        return tuple(
            sentence
            for record in self.using(job.numbers, job.artwork).values()
            for sentence in shelf.told(step, record.stock_id, record.thing, job.numbers, now, self._taken_utc(record))
        )

    def take(self, job: JobRecord, panel_id: int, step: Step, state: str) -> None:
        """A step of a panel was noted: what it takes there counts as used."""
        if state == "skipped":
            return
        kinds = {"laminate": ("metal", "roll"), "expose": ("metal", "roll", "stencil") if state == "done" else ()}
        using = self.using(job.numbers, job.artwork)
        for kind in kinds.get(step.kind, ("metal",)):
            if kind in using:
                self._take(using[kind], panel_id)

    def _take(self, record: StockRecord, panel_id: int) -> None:
        if panel_id in self._uses[record.stock_id]:
            return
        now = self._now()
        self._uses[record.stock_id][panel_id] = utc_text(now)
        if isinstance(record.thing, Roll) and record.thing.opened_on is None:
            self._keep(replace(record, thing=replace(record.thing, opened_on=now.date().isoformat())))
        number = record.stock_id
        self._loop.writer.add(f"panel {panel_id} took {number}", lambda book: book.stock.put_use(number, panel_id, now))

    def put_recipe(self, stock_id: int, stored: StoredRecipe | None) -> dict[str, Any]:
        """Let panels of a recipe that have no card count for a stencil, and for no other any more.

        Raises BadRequestError for a thing that is no stencil, or for a recipe that lights other sides.
        """
        record, stencil = self._stencil(stock_id)
        name = "" if stored is None else stored.name
        if stored is not None and len(stored.recipe.side_names()) != stencil.sides:
            raise BadRequestError("refused", say("sides_and_films_differ"), field="recipe")
        for other, had in self._stencils_of(name) if name else []:
            self._keep(replace(other, thing=replace(had, recipe="")))
        return self._keep(replace(record, thing=replace(stencil, recipe=name)))

    def lit_without_card(self, recipe: str, label: str) -> None:
        """A panel was lit that no card knows."""
        for record, stencil in self._stencils_of(recipe):
            lit = stencils.lit_through(stencil, label, utc_text(self._now()))
            self._keep(replace(record, thing=lit))

    def _stencils_of(self, recipe: str) -> list[tuple[StockRecord, Stencil]]:
        here = [(record, record.thing) for record in self._here() if isinstance(record.thing, Stencil)]
        return [(record, stencil) for record, stencil in here if stencil.recipe == recipe]

    def tablet(self, resist: str) -> None:
        """A step tablet was lit on a resist: its rolls that are open have had theirs.

        A closed one was opened for it where it is the only one; of several nobody knows which, and they go on asking.
        """
        of_resist = [
            (record, record.thing)
            for record in self._here()
            if isinstance(record.thing, Roll) and record.thing.resist.casefold() == resist.casefold()
        ]
        now = self._now()
        for record, roll in of_resist:
            if wants_tablet(roll) and (roll.opened_on is not None or len(of_resist) == 1):
                opened = roll.opened_on or now.date().isoformat()
                self._keep(replace(record, thing=replace(roll, opened_on=opened, tablet_utc=utc_text(now))))

    # -- what is kept --------------------------------------------------------------------------------------------

    def _now(self) -> datetime:
        return self._loop.clock.utc()

    def _here(self) -> list[StockRecord]:
        return [record for record in self._things.values() if record.ended_utc is None]

    def _fitting(self, kind: str, numbers: PanelNumbers) -> list[StockRecord]:
        return [
            record
            for record in self._here()
            if shelf.kind_of(record.thing) == kind and shelf.fits(record.thing, numbers)
        ]

    def _record(self, stock_id: int) -> StockRecord:
        if stock_id not in self._things:
            raise BadRequestError("not_found", say("no_such_thing", stock_id=stock_id), field="stock_id")
        return self._things[stock_id]

    def _here_one(self, stock_id: int) -> StockRecord:
        record = self._record(stock_id)
        if record.ended_utc is not None:
            raise BadRequestError("refused", say("thing_is_gone", stock_id=stock_id), field="stock_id")
        return record

    def _stencil(self, stock_id: int) -> tuple[StockRecord, Stencil]:
        record = self._here_one(stock_id)
        if not isinstance(record.thing, Stencil):
            raise BadRequestError("refused", say("no_stencil", stock_id=stock_id), field="stock_id")
        return record, record.thing

    def _short(self, record: StockRecord) -> Mapping[str, Any]:
        return stockpictures.thing(record, self._used(record), self._now(), self._taken_utc(record))

    def _whole(self, record: StockRecord) -> dict[str, Any]:
        return stockpictures.whole(record, self._used(record), self._now(), self._taken_utc(record))

    def _used(self, record: StockRecord) -> int:
        """How many panels took a thing, those without a card too."""
        uncarded = record.thing.uncarded if isinstance(record.thing, Stencil) else 0
        return len(self._uses[record.stock_id]) + uncarded

    def _taken_utc(self, record: StockRecord) -> tuple[str, ...]:
        """When panels with a card took a thing."""
        return tuple(self._uses[record.stock_id].values())

    def _keep(self, record: StockRecord) -> dict[str, Any]:
        self._things[record.stock_id] = record
        self._loop.writer.add(f"on the shelf: {record}", lambda book: book.stock.put_stock(record))
        return self._whole(record)
