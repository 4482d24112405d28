"""What control answers about jobs, the cards of their panels, and timers, as types. Pure."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, NotRequired

from pydantic import with_config
from typing_extensions import TypedDict

from sumlight.craft.jobs.card import State as StepState
from sumlight.protocol.snapshot import STRICT, CardTimer, Due, Timer
from sumlight.protocol.stock_commands import KindOfThing
from sumlight.text.message import Message


@with_config(STRICT)
class PanelNumbers(TypedDict):
    """What is known of a job's panels: metal, recipe, and what was timed in their baths; null: not known.

    `open_cm2` is opened over all faces; `film_um` and `resist` are the film. `break_point_share` is null for the
    usual one. `baths` and `stock` are those chosen where several could do. `recipe_rates_um_min` is what the recipe
    knows of the metal, by kind of bath. `dose_in_box_units`: nothing outside the box has checked what its doses are.
    """

    plan: str
    metal: str
    thickness_um: float
    recipe: str
    dose_mj_cm2: float | None
    hold_s: float
    hold_limit_s: float | None
    clear_s: float | None
    etchant: str | None
    rate_um_min: float | None
    open_cm2: float | None
    film_um: float | None
    baths: list[int]
    resist: str
    break_point_share: float | None
    stock: list[int]
    recipe_rates_um_min: dict[str, float]
    dose_in_box_units: bool


@with_config(STRICT)
class JobInShort(TypedDict):
    """What a job is: what is made, how many are wanted, by which plan."""

    job_id: int
    artwork: str
    wanted: int
    plan_name: Message
    numbers: PanelNumbers
    made_utc: str
    made_by: str


@with_config(STRICT)
class Panel(TypedDict):
    """How far a panel is: `gone` steps `of` so many, and the one that is due with what was noted of it."""

    panel_id: int
    job_id: int
    label: str
    outcome: str | None
    gone: int
    of: int
    step_id: int | None
    title: Message | None
    state: StepState | None


@with_config(STRICT)
class JobWithPanels(JobInShort):
    """A job and how far its panels are."""

    panels: list[Panel]


@with_config(STRICT)
class OpenJobs(TypedDict):
    """The open jobs and the numbers of the last one, how many panels are on their way, what is due, and the timers."""

    jobs: list[JobWithPanels]
    last: PanelNumbers | None
    panels: int
    due: Due | None
    timers: list[Timer]


@with_config(STRICT)
class PlanStep(TypedDict):
    """A step of a job's plan; `own` are a person's words in place of ours, `written` is how a shared job has it."""

    step_id: int
    title: Message
    sentence: Message
    own: str
    written: str


@with_config(STRICT)
class BathChoice(TypedDict):
    """A bath that could take a step of a job beside others."""

    bath_id: int
    name: Message
    chosen: bool


@with_config(STRICT)
class StockChoice(TypedDict):
    """A thing on the shelf that fits a job, where there is something to choose."""

    stock_id: int
    kind: KindOfThing
    name: Message
    chosen: bool


@with_config(STRICT)
class Job(JobWithPanels):
    """A job with its plan, and the baths and things on the shelf to choose from."""

    steps: list[PlanStep]
    baths: list[BathChoice]
    stock: list[StockChoice]


@with_config(STRICT)
class CardStep(TypedDict):
    """A step on a card: what it asks for, and what was noted of it; only the one at hand has `more` and `cautions`.

    `timed`: a timer starts with it. `in_bath`: it goes into a bath that is known, which takes note of it.
    """

    step_id: int
    kind: str
    title: Message
    sentence: Message
    more: list[Message]
    cautions: list[Message]
    timed: bool
    in_bath: bool
    state: StepState | None
    began_utc: str | None
    ended_utc: str | None
    word: str
    by: str


@with_config(STRICT)
class Card(TypedDict):
    """The card of a panel. One whose job ended with this very note has the first four fields only."""

    panel_id: int
    job_id: int
    label: str
    outcome: str | None
    gone: NotRequired[int]
    of: NotRequired[int]
    step_id: NotRequired[int | None]
    title: NotRequired[Message | None]
    state: NotRequired[StepState | None]
    job: NotRequired[JobInShort]
    steps: NotRequired[list[CardStep]]
    timers: NotRequired[list[CardTimer]]


@with_config(STRICT)
class NewJob(TypedDict):
    """The number of a job that begins, and its panels with the labels to be put on them."""

    job_id: int
    panel_ids: list[int]
    labels: list[str]


@with_config(STRICT)
class EndedJob(TypedDict):
    """Whether the job still has panels on their way."""

    job_id: int
    open: bool


@with_config(STRICT)
class OfTimer(TypedDict):
    """The number of the timer that was started or answered."""

    timer_id: int


ANSWERS: Final[Mapping[str, type]] = MappingProxyType(
    {
        "jobs": OpenJobs,
        **dict.fromkeys(("job", "job_numbers", "job_bath", "job_stock", "job_plan"), Job),
        **dict.fromkeys(("card", "job_step"), Card),
        "job_new": NewJob,
        "job_end": EndedJob,
        **dict.fromkeys(("timer_start", "timer_answer"), OfTimer),
    }
)
"""The type of each answer by the name of its command."""
