"""Plans: the steps of a job in order, built in for four kinds of work, then moved, edited or left out by people.

The order of the stations is common practice, no source, unless a source is named where a number comes from.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from sumlight.craft.checks import one_of
from sumlight.text.message import Message, as_written, say

OWN = "own"
"""The kind of a step that people wrote themselves."""

_BARE = (("cut", ""), ("degrease", ""), ("water_break", ""), ("dry_bare", ""))
_DEVELOPED = (("develop", ""), ("rinse", ""), ("dry", ""), ("touch_up", ""))
_ETCHED = (
    *(("etch", ""), ("rinse", ""), ("look", "")),
    *(("strip", ""), ("rinse", ""), ("dry", ""), ("part", "")),
)
_TWO = (
    *_BARE,
    *(("laminate", "A"), ("laminate", "B"), ("settle", "")),
    *(("expose", "A"), ("expose", "B"), ("hold", ""), ("outer_films", "")),
    *_DEVELOPED,
    ("seal_edges", ""),
    *_ETCHED,
)
_ONE = (
    *_BARE,
    *(("laminate", "A"), ("settle", ""), ("expose", "A"), ("hold", ""), ("outer_film", "")),
    *_DEVELOPED,
    ("mask_back", ""),
    *_ETCHED,
)

PLANS: Final = {"board_one": _ONE, "board_two": _TWO, "sheet_two": _TWO, "half_etched": _TWO}
"""Steps as (kind, side) of each built-in plan."""

PLAN_NAMES: Final = {
    "board_one": say("plan_board_one"),
    "board_two": say("plan_board_two"),
    "sheet_two": say("plan_sheet_two"),
    "half_etched": say("plan_half_etched"),
}
BOARDS: Final = ("board_one", "board_two")
"""Plans of foil on a carrier: each side is etched for itself."""

USUAL: Final = {
    "board_one": ("copper", 35.0),
    "board_two": ("copper", 35.0),
    "sheet_two": ("brass", 150.0),
    "half_etched": ("brass", 200.0),
}
"""Metal and thickness in µm that are proposed until there was a job (common practice, no source)."""


@dataclass(frozen=True)
class Step:
    """A step of a job. `step_id` stays its own when it is moved; `own` are a person's words in place of ours."""

    step_id: int
    kind: str
    side: str = ""
    own: str = ""


def sides_of(plan: str) -> int:
    """How many sides a plan lights. Raises ValueError for a plan that is none."""
    one_of("plan", plan, tuple(PLANS))
    return 1 if plan == "board_one" else 2


def etched_sides(plan: str) -> int:
    """From how many sides an opening is etched: foil on a carrier from its open one, a free sheet from both."""
    return 1 if plan in BOARDS else 2


def steps_of(plan: str, *, together: bool = False) -> tuple[Step, ...]:
    """Give the steps of a built-in plan; `together` where both sides are lit at once. Raises ValueError."""
    one_of("plan", plan, tuple(PLANS))
    kinds = PLANS[plan]
    if together:
        kinds = tuple(("expose", "A+B") if each == ("expose", "A") else each for each in kinds)
        kinds = tuple(each for each in kinds if each != ("expose", "B"))
    return tuple(Step(number, kind, side) for number, (kind, side) in enumerate(kinds, 1))


def written(step: Step) -> str:
    """Write a step as shared jobs have it: its kind, its side, and a person's own words in brackets."""
    side = f" {step.side}" if step.side else ""
    return f"{step.kind}{side}" + (f" ({step.own})" if step.own else "")


def from_written(plan: str, texts: Sequence[str], *, together: bool = False) -> tuple[Step, ...]:
    """Read the steps of a plan in the order and words of a shared job; `together` as in `steps_of`.

    Raises ValueError for a text that is no step, or that the plan does not have, or not so often.
    """
    free = Counter((step.kind, step.side) for step in steps_of(plan, together=together))
    steps = []
    for number, text in enumerate(texts, 1):
        kind, side, own = _read(text)
        if kind == OWN and own and not side:
            steps.append(Step(number, OWN, "", own))
            continue
        if not free[kind, side]:
            raise ValueError(say("no_step_of_plan", number=number, step=text, plan=PLAN_NAMES[plan]))
        free[kind, side] -= 1
        steps.append(Step(number, kind, side, own))
    return tuple(steps)


def _read(text: str) -> tuple[str, str, str]:
    """Kind, side and own words of a written step; whether there is such a kind and side is not asked."""
    head, bracket, own = text.partition(" (")
    if bracket and not (own.endswith(")") and own[:-1].strip()):
        return "", "", ""
    kind, _, side = head.partition(" ")
    return kind, side, own[:-1]


def moved(steps: Sequence[Step], step_id: int, by: int) -> tuple[Step, ...]:
    """Move a step by so many places, as far as there are any. Raises ValueError for a step that is not there."""
    at = place_of(steps, step_id)
    others = [step for step in steps if step.step_id != step_id]
    others.insert(min(max(0, at + by), len(others)), steps[at])
    return tuple(others)


def left_out(steps: Sequence[Step], step_id: int) -> tuple[Step, ...]:
    """Leave a step out of the plan. Raises ValueError for one that is not there."""
    at = place_of(steps, step_id)
    return (*steps[:at], *steps[at + 1 :])


def edited(steps: Sequence[Step], step_id: int, words: str) -> tuple[Step, ...]:
    """Put a person's words in the place of ours; empty ones bring ours back. Raises ValueError."""
    at = place_of(steps, step_id)
    return (*steps[:at], replace(steps[at], own=words), *steps[at + 1 :])


def added(steps: Sequence[Step], after: int, words: str, step_id: int) -> tuple[Step, ...]:
    """Put a step of a person's own behind another one. Raises ValueError where that is not there."""
    at = place_of(steps, after)
    return (*steps[: at + 1], Step(step_id, OWN, "", words), *steps[at + 1 :])


def place_of(steps: Sequence[Step], step_id: int) -> int:
    """Find the place of a step in its plan. Raises ValueError."""
    for at, step in enumerate(steps):
        if step.step_id == step_id:
            return at
    raise ValueError(say("no_such_step", step_id=step_id))


def title(step: Step) -> Message:
    """Say what a step is called. One that people wrote is its own title."""
    match step.kind, step.side:
        case "laminate", side:
            return say("step_laminate", side=side)
        case "expose", "A+B":
            return say("step_expose_both")
        case "expose", side:
            return say("step_expose", side=side)
        case kind, _ if kind in _TITLES:
            return _TITLES[kind]
    return as_written(step.own)


_TITLES: Final = {
    "cut": say("step_cut"),
    "degrease": say("step_degrease"),
    "water_break": say("step_water_break"),
    "dry_bare": say("step_dry"),
    "dry": say("step_dry"),
    "settle": say("step_settle"),
    "hold": say("step_hold"),
    "outer_film": say("step_outer_film"),
    "outer_films": say("step_outer_films"),
    "develop": say("step_develop"),
    "rinse": say("step_rinse"),
    "touch_up": say("step_touch_up"),
    "seal_edges": say("step_seal_edges"),
    "mask_back": say("step_mask_back"),
    "etch": say("step_etch"),
    "look": say("step_look"),
    "strip": say("step_strip"),
    "part": say("step_part"),
}
