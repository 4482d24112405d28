"""Which thing on the shelf a job uses, and what its cards say of it where it matters."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Final

from sumlight.craft.chemistry import hazards
from sumlight.craft.jobs.instructions import PanelNumbers
from sumlight.craft.jobs.plans import BOARDS, Step, sides_of
from sumlight.craft.stock import metal, rolls, stencils
from sumlight.craft.stock.metal import Metal
from sumlight.craft.stock.rolls import Roll
from sumlight.craft.stock.stencils import Stencil
from sumlight.text.message import Message, as_written, say, say_named

Thing = Roll | Metal | Stencil
KINDS: Final = {"roll": Roll, "metal": Metal, "stencil": Stencil}
SAME_SHARE = 0.02
"""Two thicknesses are one when they differ by no more: that is how they are written, not how they are measured."""


def kind_of(thing: Thing) -> str:
    """Its kind by name."""
    return next(name for name, kind in KINDS.items() if isinstance(thing, kind))


def name(number: int, thing: Thing) -> Message:
    """What it is called: by its number and what stands on it."""
    match thing:
        case Roll():
            return say("roll_name", number=number, what=thing.resist)
        case Stencil():
            return say("stencil_name", number=number, what=thing.artwork)
        case Metal():
            return say("metal_name", number=number, what=hazards.NAMES[thing.metal], um=thing.thickness_um)


def made(thing: Thing) -> tuple[Message, ...]:
    """What it was from the beginning, beside its name."""
    match thing:
        case Roll():
            thick = () if thing.film_um is None else (say("roll_made", film_um=thing.film_um),)
            return (*thick, *(() if thing.expires_on is None else (say("roll_expires", day=thing.expires_on),)))
        case Metal():
            return (as_written(thing.remark),) if thing.remark else ()
        case Stencil():
            strip = () if thing.spacer_um is None else (say("stencil_strip", spacer_um=thing.spacer_um),)
            if thing.sides == 1:
                return (say("stencil_one"),)
            return (say("stencil_two"), *strip, say_named(f"stencil_by_{thing.held}"))


def fits(thing: Thing, numbers: PanelNumbers) -> bool:
    """Whether a job can use it at all."""
    match thing:
        case Roll():
            return thing.resist.casefold() == numbers.resist.casefold()
        case Metal():
            near = abs(thing.thickness_um - numbers.thickness_um) <= SAME_SHARE * numbers.thickness_um
            return thing.metal == numbers.metal and near
        case Stencil():
            return thing.sides == sides_of(numbers.plan)


def is_for(thing: Thing, artwork: str) -> bool:
    """Whether it is taken by itself when it is the only one that fits: a stencil for its own artwork only."""
    if not isinstance(thing, Stencil):
        return True
    return bool(artwork) and thing.artwork.casefold() == artwork.casefold()


def taken(kind: str, things: Mapping[int, Thing], numbers: PanelNumbers, artwork: str) -> int | None:
    """The number of the thing of a kind that a job takes: the one chosen, or the only one that is for it."""
    fitting = {number: one for number, one in things.items() if kind_of(one) == kind and fits(one, numbers)}
    chosen = [number for number in fitting if number in numbers.stock]
    own = [number for number, one in fitting.items() if is_for(one, artwork)]
    found = chosen or own
    return found[0] if len(found) == 1 else None


def in_frame(side: str, number: int, stencil: Stencil) -> Message:
    """Which stencil is to lie in the frame for a side, which film of it towards the lamps, and how its text reads.

    `side` is A, B or both at once (A+B); a stencil of one film has one side only.
    """
    thing = name(number, stencil)
    if stencil.sides == 1:
        return say("frame_one", thing=thing)
    match side:
        case "A":
            return say("frame_front", thing=thing)
        case "B":
            return say("frame_back", thing=thing)
    return say("frame_both", thing=thing)


def before_light(
    side: str, number: int, stencil: Stencil, numbers: PanelNumbers | None, now: datetime, taken_utc: Sequence[str] = ()
) -> tuple[Message, ...]:
    """What is to be seen to where a panel is begun: the stencil in the frame, and what speaks against it.

    `numbers` are those of the panel's job, None without one; `taken_utc` is when panels took the stencil.
    """
    strip = () if numbers is None else _strip(stencil, numbers)
    return (in_frame(side, number, stencil), *strip, *stencils.against(stencil, now, taken_utc))


def told(
    step: Step, number: int, thing: Thing, numbers: PanelNumbers, now: datetime, taken_utc: Sequence[str] = ()
) -> tuple[Message, ...]:
    """What the card says at a step of a thing that panels took at `taken_utc`; nothing where it does not matter."""
    match step.kind, thing:
        case "cut", Metal():
            return (say("take_thing", thing=name(number, thing)), *metal.sentences(thing, len(taken_utc)))
        case "laminate", Roll():
            return (say("take_thing", thing=name(number, thing)), *rolls.sentences(thing, now)[:2])
        case "expose", Roll() if rolls.wants_tablet(thing):
            return (say("roll_wants_tablet"),)
        case "expose", Stencil():
            frame = in_frame(step.side, number, thing)
            return (frame, *_strip(thing, numbers), *stencils.sentences(thing, now, taken_utc))
    return ()


def _strip(stencil: Stencil, numbers: PanelNumbers) -> tuple[Message, ...]:
    """Whether the strip is as thick as the panel; of a board nobody told how thick the whole is."""
    spacer_um, panel_um = stencil.spacer_um, numbers.thickness_um
    if spacer_um is None or numbers.plan in BOARDS or stencils.spacer_fits(spacer_um, panel_um):
        return ()
    return (say("spacer_wrong", spacer_um=spacer_um, panel_um=panel_um),)


def sentences(thing: Thing, uses: int, now: datetime, taken_utc: Sequence[str] = ()) -> tuple[Message, ...]:
    """How it stands, with what it was used for so far: `uses` panels, those with a card at `taken_utc`."""
    used = (say("used_for", panels=uses),) if uses else (say("not_used_yet"),)
    match thing:
        case Roll():
            lit = () if thing.tablet_utc is None else (say("roll_had_tablet", day=thing.tablet_utc[:10]),)
            return (*rolls.sentences(thing, now), *lit, *used)
        case Metal():
            return (*metal.sentences(thing, uses), *used)
        case Stencil():
            return (*stencils.sentences(thing, now, taken_utc), *used)
