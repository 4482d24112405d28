"""A stencil: two films, front and mirrored back, between clear sheets with a strip as thick as the panel.

The order of its steps is common practice, no source. A film takes 80 % of its growth by damp in 3 h and all of it in
8 h (trade notes T7); the black that a resist needs is the density of the first step of a tablet that comes out clean
and 0.3 more, two steps to be safe (trade notes 1.4).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Literal, get_args

from sumlight.craft.checks import between, one_of
from sumlight.craft.tablet import FIRST_DENSITY, STEP_DENSITY, STEPS
from sumlight.text.message import Message, say, say_named

Held = Literal["hinge", "pins"]
HELD: tuple[Held, ...] = get_args(Held)
StencilStep = Literal["print", "condition", "register", "check"]
ORDER: tuple[StencilStep, ...] = get_args(StencilStep)
"""The steps of a stencil, in order. One of a single film is not registered."""

SPACER_UM = (5.0, 10_000.0)
DENSITY = (0.0, 6.0)
APART_UM = (0.0, 20_000.0)
SAFE_DENSITY = 0.3
USUAL_CLEAN_STEP, WEAK_CLEAN_STEP = 14, 10
"""First clean step of a film that holds 11, the usual optimum, and of one that holds 7 (trade notes 1.4)."""

WORN_DAYS, WORN_PANELS = 30, 50
"""A registration is measured again after so long, and after so many panels: films grow with warmth and damp, and a
hinge works loose (common practice, no source)."""

SPACER_SHARE, SPACER_LEAST_UM = 0.25, 50.0
"""A strip is as thick as the panel when it is off by no more (common practice, no source)."""


@dataclass(frozen=True)
class Measured:
    """What was measured of a stencil at `utc`; None: not then. `density` is black over clear, by the lamps' light.

    `apart_um` is how far front and back lie apart. `readable_a` and `readable_b`: whether text of that side can be read
    from the lamp's side, as on the part. Raises ValueError for what cannot be.
    """

    utc: str
    density: float | None = None
    apart_um: float | None = None
    readable_a: bool | None = None
    readable_b: bool | None = None
    by: str = ""

    def __post_init__(self) -> None:
        if self.density is not None:
            between("density", self.density, *DENSITY)
        if self.apart_um is not None:
            between("apart_um", self.apart_um, *APART_UM)


@dataclass(frozen=True)
class Done:
    """A step that is done."""

    utc: str
    by: str = ""


@dataclass(frozen=True)
class Lit:
    """A panel without a card that was lit through a stencil."""

    utc: str
    panel: str


MOST_LIT = 50
"""Panels without a card that a stencil still knows by name; it counts all of them."""


@dataclass(frozen=True)
class Stencil:
    """Films for one `artwork`. `spacer_um` is the strip between the sheets, None where there is none or nobody knows.

    Panels of `recipe` that have no card count for it: `uncarded` so many, the last of them in `lit`; empty: none do.
    Raises ValueError for what cannot be.
    """

    artwork: str
    sides: int = 2
    spacer_um: float | None = None
    held: Held = "hinge"
    done: Mapping[str, Done] = field(default_factory=dict)
    measured: tuple[Measured, ...] = ()
    recipe: str = ""
    uncarded: int = 0
    lit: tuple[Lit, ...] = ()

    def __post_init__(self) -> None:
        if not self.artwork.strip():
            raise ValueError(say("artwork_needed"))
        between("sides", self.sides, 1, 2)
        one_of("held", self.held, HELD)
        if self.spacer_um is not None:
            between("spacer_um", self.spacer_um, *SPACER_UM)
        for step in self.done:
            one_of("step", step, ORDER)


def lit_through(stencil: Stencil, panel: str, utc: str) -> Stencil:
    """The same with one more panel without a card."""
    lit = (*stencil.lit, Lit(utc, panel))[-MOST_LIT:]
    return replace(stencil, uncarded=stencil.uncarded + 1, lit=lit)


def steps_of(stencil: Stencil) -> tuple[str, ...]:
    """Its steps, in order."""
    return ORDER if stencil.sides == 2 else tuple(step for step in ORDER if step != "register")


def open_steps(stencil: Stencil) -> tuple[str, ...]:
    """Those that are still to come. Whoever has done a later one has done those before."""
    steps = steps_of(stencil)
    last = max((number for number, step in enumerate(steps, 1) if step in stencil.done), default=0)
    return steps[last:]


def sentence(step: str, stencil: Stencil) -> Message:
    """What a step asks for."""
    if stencil.sides == 1:
        return say_named(f"do_stencil_{step}_one") if step != "condition" else say("do_stencil_condition")
    return say_named(f"do_stencil_{step}_{stencil.held}" if step == "register" else f"do_stencil_{step}")


def last(measured: Sequence[Measured], name: str) -> tuple[Measured, float | bool] | None:
    """The last measurement that holds a value of that name, and the value."""
    for each in reversed(measured):
        value = getattr(each, name)
        if value is not None:
            return each, value
    return None


def black_needed(first_clean_step: int) -> float:
    """The density that black needs over clear for a resist that comes out clean from this step of a tablet on.

    Raises ValueError for a step that a tablet does not have.
    """
    between("first_clean_step", first_clean_step, 1, STEPS)
    return FIRST_DENSITY + STEP_DENSITY * (first_clean_step - 1) + SAFE_DENSITY


def spacer_fits(spacer_um: float, panel_um: float) -> bool:
    """Whether a strip is as thick as the panel."""
    return abs(spacer_um - panel_um) <= max(SPACER_LEAST_UM, SPACER_SHARE * panel_um)


def worn(stencil: Stencil, now: datetime, taken_utc: Sequence[str] = ()) -> Message | None:
    """Say that its registration is to be measured again: films and hinge have moved since, or nobody has measured it.

    None while it holds, and for one film. Panels are those that took it at `taken_utc`, and those without a card that
    it still knows by name.
    """
    if stencil.sides == 1:
        return None
    apart = last(stencil.measured, "apart_um")
    if apart is None:
        return say("stencil_not_measured")
    measured = datetime.fromisoformat(apart[0].utc)
    days = (now - measured).days
    lit = [*taken_utc, *(each.utc for each in stencil.lit)]
    panels = sum(datetime.fromisoformat(utc) > measured for utc in lit)
    if days < WORN_DAYS and panels < WORN_PANELS:
        return None
    return say("stencil_worn", day=apart[0].utc[:10], days=max(0, days), panels=panels)


def against(stencil: Stencil, now: datetime, taken_utc: Sequence[str] = ()) -> tuple[Message, ...]:
    """What speaks against lighting through it now: it reads the wrong way round, or nobody knows how it lies."""
    told = worn(stencil, now, taken_utc)
    return (*_mirrored(stencil), *(() if told is None else (told,)))


def _mirrored(stencil: Stencil) -> list[Message]:
    return [
        say("stencil_mirrored", side=side)
        for side in "AB"[: stencil.sides]
        if (found := last(stencil.measured, f"readable_{side.lower()}")) is not None and not found[1]
    ]


def sentences(stencil: Stencil, now: datetime, taken_utc: Sequence[str] = ()) -> tuple[Message, ...]:
    """How it stands, what is wrong with it first."""
    told = _mirrored(stencil)
    left = open_steps(stencil)
    if left:
        told.append(say("stencil_steps_left", steps=[say_named(f"stencil_step_{step}") for step in left]))
    told += _density(stencil)
    if stencil.sides == 2:
        apart = last(stencil.measured, "apart_um")
        if apart is not None:
            told.append(say("stencil_apart", apart_um=apart[1], day=apart[0].utc[:10]))
        if (again := worn(stencil, now, taken_utc)) is not None:
            told.append(again)
    if stencil.recipe:
        told.append(say("stencil_of_recipe", recipe=stencil.recipe))
    return tuple(told)


def _density(stencil: Stencil) -> tuple[Message, ...]:
    found = last(stencil.measured, "density")
    if found is None:
        return ()
    day, density = found[0].utc[:10], float(found[1])
    usual, least = black_needed(USUAL_CLEAN_STEP), black_needed(WEAK_CLEAN_STEP)
    if density >= usual:
        return (say("black_good", density=density, day=day),)
    if density >= least:
        return (say("black_weak", density=density, day=day, needed=usual),)
    return (say("black_thin", density=density, day=day, needed=least),)
