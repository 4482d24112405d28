"""The open jobs of a box: what is noted on the cards of their panels, and whose turn is next.

Runs in the loop's thread, between ticks, and opens a file for a new job only. An exposure tells its panel's card by
itself: what it says is put down when it happens and taken in at the next look, outside the tick.
"""

import logging
from collections.abc import Callable
from contextlib import closing
from dataclasses import asdict, replace
from typing import Any

from sumlight.control.jobs import newjob, pictures
from sumlight.control.jobs.bathbook import BathBook
from sumlight.control.jobs.listener import Heard, Listener
from sumlight.control.jobs.stockbook import StockBook
from sumlight.control.jobs.timekeeper import Running, Timekeeper
from sumlight.control.loop import ControlLoop
from sumlight.control.refused import RefusedError, recipe_asked_for, refuse_if_unwritable
from sumlight.craft.checks import RefusedError as NeverError
from sumlight.craft.jobs import card, instructions, plans, timers
from sumlight.craft.jobs.card import Mark, Turn
from sumlight.craft.jobs.instructions import PanelNumbers
from sumlight.craft.jobs.plans import Step
from sumlight.protocol import job_commands as commands
from sumlight.protocol import stock_commands
from sumlight.protocol.command import Command
from sumlight.protocol.errors import BadRequestError
from sumlight.store.logbook.database import utc_from, utc_text
from sumlight.store.logbook.jobs import ExposedSide, JobRecord, KeptJobs, PanelRecord
from sumlight.store.logbook.reading import LogbookReader
from sumlight.store.recipes import RecipeStore
from sumlight.text.message import as_written, say

log = logging.getLogger(__name__)

MOST_PANELS = 60
"""Panels on their way at a time: an answer about all of them has to fit into a line."""

BOX = "box"
"""Who noted what the box itself has done."""


class JobBook:
    """Jobs, cards and timers of one box. `kept` is what the logbook holds; `open_book` opens a reader of it.

    `in_box_units` tells whether the dose of a recipe is in the box's own.
    """

    def __init__(
        self,
        loop: ControlLoop,
        kept: KeptJobs,
        shelf: RecipeStore,
        open_book: Callable[[], LogbookReader],
        in_box_units: Callable[[str], bool],
    ) -> None:
        self._in_box_units = in_box_units
        self._loop = loop
        self._shelf = shelf
        self._open_book = open_book
        self._jobs = {job.job_id: job for job in kept.jobs}
        self._panels = {panel.panel_id: panel for panel in kept.panels}
        self._marks = {panel_id: dict(kept.marks.get(panel_id, {})) for panel_id in self._panels}
        self._last = kept.last
        self._last_job_id, self._last_panel_id = kept.last_job_id, kept.last_panel_id
        self.timers = Timekeeper(loop.clock, loop.writer, kept.timers, kept.last_timer_id)
        self.baths = BathBook(loop, kept.baths)
        self._listener = Listener(loop.observers)
        self.stock = StockBook(loop, kept.stock)
        self._where: dict[int, tuple[Step | None, int]] = {}
        for side in kept.exposed:
            self._take_up(side)
        if kept.unreadable:
            log.error("%d rows about jobs cannot be read; they are left as they are", kept.unreadable)

    # -- the exposure --------------------------------------------------------------------------------------------

    def look(self) -> None:
        """Take in what exposures did, and see after the timers."""
        for each in self._listener.take():
            try:
                self._take(each)
            except Exception:
                log.exception("the card of panel '%s' could not be noted", each.label)
        self.timers.look()

    def _take(self, heard: Heard) -> None:
        if heard.what == "tablet":
            self.stock.tablet(heard.label)
            return
        found = [p for p in self._panels.values() if p.label == heard.label and p.outcome is None]
        if not found:
            if heard.what == "rest":
                self.stock.lit_without_card(heard.recipe, heard.label)
            return
        panel = found[-1]
        if heard.what == "rest":
            self._begin_rest(panel, heard.rest_s)
            return
        for step in self._jobs[panel.job_id].steps:
            if step.kind != "expose" or heard.side not in step.side.split("+"):
                continue
            mark = self._marks[panel.panel_id].get(step.step_id)
            if heard.what == "lit" and (mark is None or mark.state not in card.OVER):
                self._mark(panel, step, "begun", by=BOX)
            elif heard.what == "done" and (heard.side == step.side or heard.whole):
                self._mark(panel, step, "done", by=BOX)

    def _take_up(self, side: ExposedSide) -> None:
        """A kill came after the light was recorded and before its card said so."""
        panel = self._panels.get(side.panel_id)
        if panel is None:
            return
        marks = self._marks[panel.panel_id]
        for step in self._jobs[panel.job_id].steps:
            whole = step.side == "A+B" and side.ended_utc is not None
            if step.kind != "expose" or not (whole or step.side == side.side):
                continue
            mark = marks.get(step.step_id)
            if mark is None or mark.state == "begun":
                self._mark(panel, step, "done", by=BOX)
                if side.ended_utc is not None:
                    passed_s = (self._loop.clock.utc() - side.ended_utc).total_seconds()
                    self._begin_rest(panel, side.rest_s, max(0.0, passed_s))

    def _begin_rest(self, panel: PanelRecord, rest_s: float, passed_s: float = 0.0) -> None:
        step = next((s for s in self._jobs[panel.job_id].steps if s.kind == "hold"), None)
        if step is None or self._marks[panel.panel_id].get(step.step_id) is not None or rest_s <= 0:
            return
        self._mark(panel, step, "begun", by=BOX)
        ids = {"panel_id": panel.panel_id, "step_id": step.step_id}
        self.timers.start(plans.title(step), timers.after(rest_s), passed_s=passed_s, **ids)

    # -- commands ------------------------------------------------------------------------------------------------

    def handle(self, asked: Command) -> dict[str, Any]:
        """Carry out one command about jobs. Raises BadRequestError, RefusedError or LogbookError."""
        match asked:
            case commands.Jobs():
                return self._all()
            case commands.Job(job_id=job_id):
                return self._one(self._job(job_id))
            case commands.Card(panel_id=panel_id):
                return self._card(self._panel(panel_id))
        if (told := self.baths.look_up(asked) or self.stock.look_up(asked)) is not None:
            return told
        refuse_if_unwritable(self._loop.writer)
        try:
            return self._change(asked)
        except NeverError as error:
            raise BadRequestError("refused", error.args[0]) from error
        except BadRequestError:
            raise
        except ValueError as error:
            raise BadRequestError("bad_value", as_written(error.args[0])) from error

    def _change(self, asked: Command) -> dict[str, Any]:
        match asked:
            case commands.JobNew():
                return self._new(asked)
            case commands.JobNumbers():
                return self._time_baths(asked)
            case commands.JobBath(job_id=job_id, bath_id=bath_id):
                job = self._job(job_id)
                self._keep_numbers(job, self.baths.choose(job.numbers, bath_id))
                return self._one(self._jobs[job_id])
            case stock_commands.JobStock(job_id=job_id, stock_id=stock_id):
                job = self._job(job_id)
                self._keep_numbers(job, self.stock.choose(job.numbers, stock_id))
                return self._one(self._jobs[job_id])
            case stock_commands.StencilRecipe(stock_id=stock_id, recipe=recipe):
                stored = None if recipe is None else recipe_asked_for(self._shelf, recipe)
                return self.stock.put_recipe(stock_id, stored)
            case commands.JobPlan():
                return self._replan(asked)
            case commands.JobStep():
                return self._note(asked)
            case commands.JobEnd(job_id=job_id, panel_id=panel_id):
                return self._end(self._job(job_id), panel_id)
            case commands.TimerStart(seconds=seconds, title=title):
                named = as_written(title) if title else say("timer_by_hand")
                return {"timer_id": self.timers.start(named, timers.after(seconds))}
            case commands.TimerAnswer(timer_id=timer_id, stop=stop):
                self.timers.answer(timer_id, stop=stop)
                return {"timer_id": timer_id}
        if (told := self.baths.change(asked) or self.stock.change(asked)) is not None:
            return told
        raise TypeError(f"{type(asked).__name__} is no command about jobs, baths or the shelf")

    def _new(self, asked: commands.JobNew) -> dict[str, Any]:
        if len(self._under_way()) + asked.wanted > MOST_PANELS:
            told = say("too_many_panels", panels=len(self._under_way()), most=MOST_PANELS)
            raise RefusedError(told, say("end_a_job_first"))
        last = None if self._last is None else self._last.numbers
        numbers, together = newjob.numbers_of(asked, last, self._shelf)
        steps = newjob.steps_of(asked, numbers.plan, together=together)
        own = self._in_box_units(numbers.recipe)
        numbers = replace(numbers, stock=self.stock.carried(self._last, asked.artwork), dose_in_box_units=own)
        with closing(self._open_book()) as book:
            labels = book.labels.next(numbers.recipe, asked.wanted, [p.label for p in self._panels.values()])
        self._last_job_id += 1
        made = self._loop.clock.utc()
        job = JobRecord(self._last_job_id, asked.artwork, asked.wanted, numbers, steps, made, asked.who)
        self._keep_job(job)
        self._last = job
        panels = []
        for label in labels:
            self._last_panel_id += 1
            panel = PanelRecord(self._last_panel_id, job.job_id, label)
            self._marks[panel.panel_id] = {}
            self._keep_panel(panel)
            panels.append(panel.panel_id)
        return {"job_id": job.job_id, "panel_ids": panels, "labels": labels}

    def _time_baths(self, asked: commands.JobNumbers) -> dict[str, Any]:
        job = self._job(asked.job_id)
        if bool(asked.etchant) != (asked.rate_um_min is not None):
            raise BadRequestError("bad_value", say("etchant_and_rate"), field="etchant")
        rate = asked.rate_um_min
        numbers = replace(job.numbers, clear_s=asked.clear_s, etchant=asked.etchant or None, rate_um_min=rate)
        numbers = replace(numbers, open_cm2=asked.open_cm2)
        instructions.etch_plan(numbers)  # refuses what must not meet, before it is kept
        self._keep_numbers(job, numbers)
        return self._one(self._jobs[job.job_id])

    def _keep_numbers(self, job: JobRecord, numbers: PanelNumbers) -> None:
        self._keep_job(replace(job, numbers=numbers))
        if self._last is not None and self._last.job_id == job.job_id:
            self._last = self._jobs[job.job_id]

    def _replan(self, asked: commands.JobPlan) -> dict[str, Any]:
        job = self._job(asked.job_id)
        steps = job.steps
        match asked.act:
            case "up" | "down":
                steps = plans.moved(steps, asked.step_id, -1 if asked.act == "up" else 1)
            case "leave_out":
                steps = plans.left_out(steps, asked.step_id)
            case "edit":
                steps = plans.edited(steps, asked.step_id, asked.words)
            case "add":
                steps = self._with_own(job, asked)
        self._keep_job(replace(job, steps=steps))
        return self._one(self._jobs[job.job_id])

    def _with_own(self, job: JobRecord, asked: commands.JobPlan) -> tuple[Step, ...]:
        if not asked.words:
            raise BadRequestError("bad_value", say("words_needed"), field="words")
        if len(job.steps) >= commands.MOST_STEPS:
            raise BadRequestError("refused", say("too_many_steps", most=commands.MOST_STEPS))
        noted = [step_id for p in self._of(job) for step_id in self._marks[p.panel_id]]
        step_id = 1 + max([*(step.step_id for step in job.steps), *noted], default=0)
        return plans.added(job.steps, asked.step_id, asked.words, step_id)

    def _note(self, asked: commands.JobStep) -> dict[str, Any]:
        panel = self._panel(asked.panel_id)
        if panel.outcome is not None:
            raise BadRequestError("not_found", say("no_such_panel", panel_id=panel.panel_id), field="panel_id")
        job = self._jobs[panel.job_id]
        step = job.steps[plans.place_of(job.steps, asked.step_id)]
        if asked.act == "again":
            self._marks[panel.panel_id].pop(step.step_id, None)
            self._where.pop(panel.panel_id, None)
            self.timers.stop_of(panel.panel_id, step.step_id)
            self.baths.drop(panel.panel_id, step.step_id)
            self._loop.writer.add(
                f"step {step.step_id} of '{panel.label}' again",
                lambda book: book.jobs.put_mark(panel.panel_id, step.step_id, None),
            )
            return self._card(panel)
        if asked.act == "clear":
            return self._clear(job, panel, step)
        after_s = self._since_begun_s(panel, step)
        before = self._marks[panel.panel_id].get(step.step_id)
        state: dict[str, card.State] = {"begin": "begun", "done": "done", "skip": "skipped", "wrong": "wrong"}
        self._mark(panel, step, state[asked.act], word=asked.word, by=asked.who)
        if asked.act == "begin":
            self.baths.begin(panel.panel_id, panel.label, step, job.numbers, asked.bath_c)
            schedule = timers.schedule_of(step, job.numbers, self.baths.within(step, job.numbers, asked.bath_c))
            if schedule is not None and not any(t.record.step_id == step.step_id for t in self._timers_of(panel)):
                self.timers.start(plans.title(step), schedule, panel_id=panel.panel_id, step_id=step.step_id)
        elif asked.act in ("done", "wrong"):
            sound_s = after_s if asked.act == "done" else None
            self.baths.finish(panel.panel_id, panel.label, step, job.numbers, sound_s, asked.who)
        elif before is not None and before.state == "begun":  # skipped after all: it never went in
            self.baths.drop(panel.panel_id, step.step_id)
        if asked.act != "begin" and card.current(job.steps, self._marks[panel.panel_id]) is None:
            self._finish(job, panel, "finished")
        return self._card(self._panels.get(panel.panel_id, panel))

    def _since_begun_s(self, panel: PanelRecord, step: Step) -> float | None:
        """Seconds since a step was begun, by its timer or the wall clock; None when it was not, or that is unsure."""
        for timer in self._timers_of(panel):
            if timer.record.step_id == step.step_id:
                return None if timer.record.unsure else timer.elapsed_s(self._loop.clock.mono_s())
        mark = self._marks[panel.panel_id].get(step.step_id)
        if mark is None or mark.state != "begun" or mark.began_utc is None:
            return None
        return (self._loop.clock.utc() - utc_from(mark.began_utc)).total_seconds()

    def _clear(self, job: JobRecord, panel: PanelRecord, step: Step) -> dict[str, Any]:
        """The break point is seen: the bath learns its time, and the timer rings when the dwell is over."""
        if self.baths.cleared(panel.panel_id, step.step_id):
            return self._card(panel)
        after_s = self._since_begun_s(panel, step)
        if step.kind != "develop" or after_s is None:
            raise BadRequestError("refused", say("say_is_clear"), field="act")
        schedule = timers.dwell_from(after_s, instructions.break_point_share(job.numbers))
        self.baths.clear(panel.panel_id, step.step_id, after_s)
        ids = {"panel_id": panel.panel_id, "step_id": step.step_id}
        self.timers.stop_of(*ids.values())
        self.timers.start(plans.title(step), schedule, passed_s=after_s, **ids)
        return self._card(panel)

    def _mark(self, panel: PanelRecord, step: Step, state: card.State, *, word: str = "", by: str = "") -> None:
        now = utc_text(self._loop.clock.utc())
        steps = self._jobs[panel.job_id].steps
        if state in ("begun", "done"):  # whoever goes on has left what lay before
            for earlier in steps[: plans.place_of(steps, step.step_id)]:
                self.timers.stop_of(panel.panel_id, earlier.step_id)
                self.baths.leave(panel.panel_id, earlier.step_id)
        before = self._marks[panel.panel_id].get(step.step_id)
        began = before.began_utc if before is not None else None
        if state == "begun":
            mark = Mark(state, began or now, None, word, by)
        else:
            mark = Mark(state, began, now, word, by)
            self.timers.stop_of(panel.panel_id, step.step_id)
        self._marks[panel.panel_id][step.step_id] = mark
        self.stock.take(self._jobs[panel.job_id], panel.panel_id, step, state)
        self._where.pop(panel.panel_id, None)
        what = f"step {step.step_id} ({step.kind}) of panel '{panel.label}': {mark}"
        self._loop.writer.add(what, lambda book: book.jobs.put_mark(panel.panel_id, step.step_id, mark))

    def _end(self, job: JobRecord, panel_id: int | None) -> dict[str, Any]:
        for panel in self._of(job):
            if panel.outcome is None and panel_id in (None, panel.panel_id):
                self._finish(job, panel, "given_up")
        if panel_id is None and job.job_id in self._jobs:
            self._close(job)
        return {"job_id": job.job_id, "open": job.job_id in self._jobs}

    def _finish(self, job: JobRecord, panel: PanelRecord, outcome: str) -> None:
        self.timers.stop_of(panel.panel_id)
        self.baths.leave(panel.panel_id)
        self._keep_panel(replace(panel, ended_utc=self._loop.clock.utc(), outcome=outcome))
        if all(each.outcome is not None for each in self._of(job)):
            self._close(job)

    def _close(self, job: JobRecord) -> None:
        """The job is over; what it was stays in the logbook."""
        self._keep_job(replace(self._jobs[job.job_id], ended_utc=self._loop.clock.utc()))
        for panel in self._of(job):
            del self._panels[panel.panel_id], self._marks[panel.panel_id]
        del self._jobs[job.job_id]

    # -- pictures ------------------------------------------------------------------------------------------------

    def picture(self) -> dict[str, Any]:
        """What every page shows of jobs: timers, and whose turn is next."""
        now_s = self._loop.clock.mono_s()
        first = card.first_due(self._turn(panel, now_s) for panel in self._under_way())
        due: dict[str, Any] | None = None
        if first is not None:
            panel = self._panels[first.panel_id]
            step, _gone = self._stands(panel)
            due = {
                "panel_id": panel.panel_id,
                "panel": panel.label,
                "title": None if step is None else plans.title(step),
                "left_s": first.left_s,
            }
        shown = []
        for timer in self.timers.running.values():
            owner = self._panels.get(timer.record.panel_id or 0)
            shown.append(self.timers.picture(timer) | {"panel": None if owner is None else owner.label})
        return {"panels": len(self._under_way()), "due": due, "timers": shown}

    def _turn(self, panel: PanelRecord, now_s: float) -> Turn:
        running = self._timers_of(panel)
        nexts = [left_s for timer in running if (left_s := timer.next_s(now_s)) is not None]
        ringing = any(timer.ringing(now_s) for timer in running)
        left_s = 0.0 if ringing or not nexts else min(nexts)
        return Turn(panel.panel_id, left_s, ringing, self._stands(panel)[1])

    def _stands(self, panel: PanelRecord) -> tuple[Step | None, int]:
        """The step that is due on a panel and how many lie behind it, worked out once: pictures are made often."""
        if panel.panel_id not in self._where:
            steps, marks = self._jobs[panel.job_id].steps, self._marks[panel.panel_id]
            self._where[panel.panel_id] = card.current(steps, marks), card.gone(steps, marks)
        return self._where[panel.panel_id]

    def _all(self) -> dict[str, Any]:
        jobs = []
        for job in self._jobs.values():
            jobs.append(pictures.job(job) | {"panels": self._panels_of(job)})
        last = None if self._last is None else asdict(self._last.numbers)
        return {"jobs": jobs, "last": last} | self.picture()

    def _one(self, job: JobRecord) -> dict[str, Any]:
        return pictures.job(job) | {
            "steps": pictures.plan(job, self.baths.within),
            "panels": self._panels_of(job),
            "baths": self.baths.choices(job.steps, job.numbers),
            "stock": self.stock.choices(job.numbers, job.artwork),
        }

    def _panels_of(self, job: JobRecord) -> list[dict[str, Any]]:
        return [pictures.panel(job, panel, self._marks[panel.panel_id]) for panel in self._of(job)]

    def _card(self, panel: PanelRecord) -> dict[str, Any]:
        job = self._jobs.get(panel.job_id)
        if job is None:  # the job ended with this very note
            return {"panel_id": panel.panel_id, "job_id": panel.job_id, "label": panel.label, "outcome": "finished"}
        return pictures.whole_card(
            job, panel, self._marks[panel.panel_id], self.timers, self.baths.within, self.stock.told
        )

    # -- what is kept --------------------------------------------------------------------------------------------

    def _job(self, job_id: int) -> JobRecord:
        if job_id not in self._jobs:
            raise BadRequestError("not_found", say("no_such_job", job_id=job_id), field="job_id")
        return self._jobs[job_id]

    def _panel(self, panel_id: int) -> PanelRecord:
        if panel_id not in self._panels:
            raise BadRequestError("not_found", say("no_such_panel", panel_id=panel_id), field="panel_id")
        return self._panels[panel_id]

    def _of(self, job: JobRecord) -> list[PanelRecord]:
        return [panel for panel in self._panels.values() if panel.job_id == job.job_id]

    def _under_way(self) -> list[PanelRecord]:
        return [panel for panel in self._panels.values() if panel.outcome is None]

    def _timers_of(self, panel: PanelRecord) -> list[Running]:
        return self.timers.of(panel.panel_id)

    def _keep_job(self, job: JobRecord) -> None:
        self._jobs[job.job_id] = job
        self._where.clear()
        self._loop.writer.add(f"job {job.job_id}", lambda book: book.jobs.put_job(job))

    def _keep_panel(self, panel: PanelRecord) -> None:
        self._panels[panel.panel_id] = panel
        self._loop.writer.add(f"panel '{panel.label}' of a job", lambda book: book.jobs.put_panel(panel))
