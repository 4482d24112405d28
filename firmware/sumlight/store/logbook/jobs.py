"""Jobs in the logbook: the cards of their panels, what was noted of each step, and timers."""

import json
from dataclasses import asdict, dataclass, field
from datetime import datetime
from typing import Any

from sumlight.craft.jobs.card import Mark
from sumlight.craft.jobs.instructions import PanelNumbers
from sumlight.craft.jobs.plans import Step
from sumlight.craft.jobs.proposals import numbers_from
from sumlight.craft.jobs.timers import Ring, Schedule
from sumlight.store.logbook.baths import KeptBaths
from sumlight.store.logbook.database import utc_from, utc_text
from sumlight.store.logbook.rows import readable, utc_or_none, when_or_none
from sumlight.store.logbook.session import Session
from sumlight.store.logbook.stock import KeptStock
from sumlight.text.message import Message, read_stored, stored


@dataclass(frozen=True)
class JobRecord:
    """A job: what is made, how many, and its plan. `ended_utc` None while it is open."""

    job_id: int
    artwork: str
    wanted: int
    numbers: PanelNumbers
    steps: tuple[Step, ...]
    made_utc: datetime
    made_by: str = ""
    ended_utc: datetime | None = None


@dataclass(frozen=True)
class PanelRecord:
    """One panel of a job; `outcome` finished or given_up once it has ended."""

    panel_id: int
    job_id: int
    label: str
    ended_utc: datetime | None = None
    outcome: str | None = None


@dataclass(frozen=True)
class TimerRecord:
    """A timer: `elapsed_s` had passed at `noted_utc`, `answered` rings were. `unsure`: the clock was set meanwhile."""

    timer_id: int
    panel_id: int | None
    step_id: int | None
    title: Message
    schedule: Schedule
    began_utc: datetime
    elapsed_s: float
    noted_utc: datetime
    answered: int = 0
    unsure: bool = False
    stopped_utc: datetime | None = None


@dataclass(frozen=True)
class ExposedSide:
    """A side of an open job's panel that has its dose on record; `ended_utc` and `rest_s` once all was completed."""

    panel_id: int
    side: str
    ended_utc: datetime | None
    rest_s: float


@dataclass(frozen=True)
class KeptJobs:
    """What a run of control takes up: open jobs, their panels with what was noted, running timers, the last job made.

    `exposed` is what the records of light say of these panels: a kill may have come before their cards said so.
    """

    jobs: tuple[JobRecord, ...] = ()
    panels: tuple[PanelRecord, ...] = ()
    marks: dict[int, dict[int, Mark]] = field(default_factory=dict)
    timers: tuple[TimerRecord, ...] = ()
    exposed: tuple[ExposedSide, ...] = ()
    last: JobRecord | None = None
    last_job_id: int = 0
    last_panel_id: int = 0
    last_timer_id: int = 0
    baths: KeptBaths = field(default_factory=KeptBaths)
    stock: KeptStock = field(default_factory=KeptStock)
    unreadable: int = 0
    """Rows that this version cannot make sense of; they stay as they are."""


class JobRegister:
    """The part of a logbook that knows jobs."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def kept(self) -> KeptJobs:
        """All that is still open."""
        with self._session.reading("reading the jobs"):
            jobs = self._session.all("SELECT * FROM jobs WHERE ended_utc IS NULL ORDER BY job_id")
            last = self._session.all("SELECT * FROM jobs ORDER BY job_id DESC LIMIT 1")
            panels = self._session.all(
                "SELECT job_panels.* FROM job_panels JOIN jobs USING (job_id)"
                " WHERE jobs.ended_utc IS NULL ORDER BY job_panel_id"
            )
            steps = self._session.all(
                "SELECT job_steps.* FROM job_steps JOIN job_panels USING (job_panel_id) JOIN jobs USING (job_id)"
                " WHERE jobs.ended_utc IS NULL"
            )
            timers = self._session.all("SELECT * FROM timers WHERE stopped_utc IS NULL ORDER BY timer_id")
            exposed = self._session.all(
                "SELECT job_panel_id, side, exposures.ended_utc, exposures.outcome,"
                " coalesce(exposures.hold_s, 0) AS rest_s"
                " FROM job_panels JOIN jobs USING (job_id) JOIN panels USING (label) JOIN exposures USING (panel_id)"
                " JOIN sides USING (exposure_id) WHERE jobs.ended_utc IS NULL AND job_panels.ended_utc IS NULL"
                " AND kind = 'panel' AND sides.state = 'done' ORDER BY exposure_id, side"
            )
            ids = self._session.one(
                "SELECT (SELECT coalesce(max(job_id), 0) FROM jobs),"
                " (SELECT coalesce(max(job_panel_id), 0) FROM job_panels),"
                " (SELECT coalesce(max(timer_id), 0) FROM timers)"
            )
        marks: dict[int, dict[int, Mark]] = {}
        for row in steps:
            mark = Mark(row["state"], row["began_utc"], row["ended_utc"], row["word"], row["noted_by"])
            marks.setdefault(row["job_panel_id"], {})[row["step_id"]] = mark
        read_jobs, read_panels = readable(_job, jobs), readable(_panel, panels)
        read_timers, read_last = readable(_timer, timers), readable(_job, last)
        lost = len(jobs) + len(panels) + len(timers) - len(read_jobs) - len(read_panels) - len(read_timers)
        known = {job.job_id for job in read_jobs}
        return KeptJobs(
            read_jobs,
            tuple(panel for panel in read_panels if panel.job_id in known),
            marks,
            read_timers,
            readable(_exposed, exposed),
            read_last[0] if read_last else None,
            last_job_id=ids[0],
            last_panel_id=ids[1],
            last_timer_id=ids[2],
            unreadable=lost,
        )

    def open_cards(self) -> list[tuple[str, str, PanelNumbers]]:
        """Every panel that has an open card: its label, and artwork and numbers of its job."""
        with self._session.reading("reading the cards"):
            rows = self._session.all(
                "SELECT label, artwork, numbers FROM job_panels JOIN jobs USING (job_id)"
                " WHERE jobs.ended_utc IS NULL AND job_panels.ended_utc IS NULL ORDER BY job_panel_id"
            )
        return list(
            readable(lambda row: (row["label"], row["artwork"], numbers_from(json.loads(row["numbers"]))), rows)
        )

    def put_job(self, job: JobRecord) -> None:
        """Record a job, or how it stands now."""
        values = {
            "artwork": job.artwork,
            "wanted": job.wanted,
            "numbers": json.dumps(asdict(job.numbers), ensure_ascii=False),
            "steps": json.dumps([asdict(step) for step in job.steps], ensure_ascii=False),
            "made_utc": utc_text(job.made_utc),
            "made_by": job.made_by,
            "ended_utc": utc_or_none(job.ended_utc),
        }
        with self._session.writing(f"writing job {job.job_id}"):
            self._session.put("jobs", {"job_id": job.job_id}, values)

    def put_panel(self, panel: PanelRecord) -> None:
        """Record a panel of a job, or how it ended."""
        values = {
            "job_id": panel.job_id,
            "label": panel.label,
            "ended_utc": utc_or_none(panel.ended_utc),
            "outcome": panel.outcome,
        }
        with self._session.writing(f"writing panel '{panel.label}' of a job"):
            self._session.put("job_panels", {"job_panel_id": panel.panel_id}, values)

    def put_mark(self, panel_id: int, step_id: int, mark: Mark | None) -> None:
        """Record what was noted of a step; None takes it back."""
        key = {"job_panel_id": panel_id, "step_id": step_id}
        with self._session.writing(f"noting step {step_id} of panel {panel_id}"):
            if mark is None:
                self._session.link.execute(
                    "DELETE FROM job_steps WHERE job_panel_id = :job_panel_id AND step_id = :step_id", key
                )
                return
            values = {
                "state": mark.state,
                "began_utc": mark.began_utc,
                "ended_utc": mark.ended_utc,
                "word": mark.word,
                "noted_by": mark.by,
            }
            self._session.put("job_steps", key, values)

    def put_timer(self, timer: TimerRecord) -> None:
        """Record a timer, or how it stands now."""
        values = {
            "job_panel_id": timer.panel_id,
            "step_id": timer.step_id,
            "title": stored(timer.title),
            "schedule": json.dumps(asdict(timer.schedule)),
            "answered": timer.answered,
            "began_utc": utc_text(timer.began_utc),
            "elapsed_s": timer.elapsed_s,
            "noted_utc": utc_text(timer.noted_utc),
            "unsure": int(timer.unsure),
            "stopped_utc": utc_or_none(timer.stopped_utc),
        }
        with self._session.writing(f"writing timer {timer.timer_id}"):
            self._session.put("timers", {"timer_id": timer.timer_id}, values)


def _job(row: Any) -> JobRecord:
    return JobRecord(
        row["job_id"],
        row["artwork"],
        row["wanted"],
        numbers_from(json.loads(row["numbers"])),
        tuple(Step(**step) for step in json.loads(row["steps"])),
        utc_from(row["made_utc"]),
        row["made_by"],
        when_or_none(row["ended_utc"]),
    )


def _exposed(row: Any) -> ExposedSide:
    ended = when_or_none(row["ended_utc"]) if row["outcome"] == "completed" else None
    return ExposedSide(row["job_panel_id"], row["side"], ended, row["rest_s"])


def _panel(row: Any) -> PanelRecord:
    return PanelRecord(row["job_panel_id"], row["job_id"], row["label"], when_or_none(row["ended_utc"]), row["outcome"])


def _timer(row: Any) -> TimerRecord:
    schedule = json.loads(row["schedule"])
    return TimerRecord(
        row["timer_id"],
        row["job_panel_id"],
        row["step_id"],
        read_stored(row["title"]),
        Schedule(tuple(Ring(**ring) for ring in schedule["rings"]), schedule["every_s"]),
        utc_from(row["began_utc"]),
        row["elapsed_s"],
        utc_from(row["noted_utc"]),
        row["answered"],
        bool(row["unsure"]),
        when_or_none(row["stopped_utc"]),
    )
