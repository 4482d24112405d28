"""The commands about jobs, the cards of their panels, and timers. Pure.

None of them lights anything. What a new job does not say is as in the last one.
"""

from typing import Annotated, Final, Literal

from annotated_types import Ge, Le, MaxLen
from pydantic import Field, Strict

from sumlight.craft.etching import times
from sumlight.craft.etching.factor import SHEET_UM
from sumlight.craft.jobs.timers import LONGEST_S
from sumlight.protocol.bath_commands import BathWarmth, OpenArea
from sumlight.protocol.command import TERMINAL, Command
from sumlight.protocol.fields import Flag, Identity, RecipeName, StripSpace, Text, Whole, Word
from sumlight.text.message import say

MOST_WANTED = 20
MOST_STEPS = 60
ShortNote = Annotated[str, Strict(), MaxLen(200), StripSpace]
Seconds = Annotated[float, Strict(), Ge(1), Le(LONGEST_S)]
Clear = Annotated[float, Strict(), Ge(2), Le(3600)]
Steps = Annotated[
    Annotated[tuple[Annotated[str, Strict(), MaxLen(250)], ...], MaxLen(MOST_STEPS)] | None,
    Field(description=say("list_of_steps", most=MOST_STEPS)),
]
Rate = Annotated[float, Strict(), Ge(times.SLOWEST_UM_MIN), Le(times.FASTEST_UM_MIN)]


class Jobs(Command):
    """Ask for the open jobs, their panels and what is due on each, and what a new job would be."""


class Job(Command):
    """Ask for one open job with its plan."""

    job_id: Identity


class Card(Command):
    """Ask for the card of one panel."""

    panel_id: Identity


class JobNew(Command):
    """Begin a job. What is left out is as in the last job, or follows from the recipe.

    `steps` are those of a shared job, written as `job` tells them; without them they are the plan's.
    """

    plan: Word = ""
    recipe: RecipeName = ""
    metal: Word = ""
    thickness_um: Annotated[float, Strict(), Ge(SHEET_UM[0]), Le(SHEET_UM[1])] | None = None
    artwork: Text = ""
    wanted: Annotated[int, Whole, Strict(), Ge(1), Le(MOST_WANTED)] = 1
    steps: Steps = None
    who: Text = TERMINAL


class JobNumbers(Command):
    """Keep what was timed in the baths of a job: the time to clear, and the etchant with its rate on each side.

    `open_cm2` is the area that is etched open, over all faces, as it will be etched. What is left out is not
    known.
    """

    job_id: Identity
    clear_s: Clear | None = None
    etchant: Word = ""
    rate_um_min: Rate | None = None
    open_cm2: OpenArea | None = None


class JobBath(Command):
    """Choose a bath for a job, where several could take its panels."""

    job_id: Identity
    bath_id: Identity


class JobPlan(Command):
    """Change the plan of a job: move a step, leave it out, word it anew, or put one of your own behind it."""

    job_id: Identity
    step_id: Identity
    act: Literal["up", "down", "leave_out", "edit", "add"]
    words: ShortNote = ""


class JobStep(Command):
    """Note something of a step of a panel; `again` takes back what was noted.

    `clear`: the last open place in the developer has just cleared. `bath_c` is the bath's temperature at `begin`.
    """

    panel_id: Identity
    step_id: Identity
    act: Literal["begin", "done", "skip", "wrong", "again", "clear"]
    word: ShortNote = ""
    bath_c: BathWarmth | None = None
    who: Text = TERMINAL


class JobEnd(Command):
    """End a job, or give up one of its panels."""

    job_id: Identity
    panel_id: Identity | None = None


class TimerStart(Command):
    """Start a timer by hand."""

    seconds: Seconds
    title: Text = ""


class TimerAnswer(Command):
    """Answer a timer that rings, or `stop` it."""

    timer_id: Identity
    stop: Flag = False


COMMANDS: Final[dict[str, type[Command]]] = {
    "jobs": Jobs,
    "job": Job,
    "card": Card,
    "job_new": JobNew,
    "job_numbers": JobNumbers,
    "job_bath": JobBath,
    "job_plan": JobPlan,
    "job_step": JobStep,
    "job_end": JobEnd,
    "timer_start": TimerStart,
    "timer_answer": TimerAnswer,
}
