"""The commands about the shelf: rolls of resist, metal and stencils. Pure. None of them lights anything."""

from typing import Annotated, Final, Literal

from annotated_types import Ge, Le
from pydantic import AfterValidator, Field, Strict

from sumlight.craft.etching.factor import SHEET_UM
from sumlight.craft.stock import metal, rolls, stencils
from sumlight.craft.stock.rolls import Storage, day_of
from sumlight.craft.stock.stencils import Held, StencilStep
from sumlight.protocol.command import TERMINAL, Command
from sumlight.protocol.fields import Flag, Identity, RecipeName, Text, Whole, Word
from sumlight.text.message import say


def _day(text: str) -> str:
    if text:
        day_of("day", text)
    return text


Resist = Annotated[str, Strict(), Field(min_length=1, max_length=80)]
Day = Annotated[Word, AfterValidator(_day), Field(description=say("day_or_empty"))]
Spacer = Annotated[float, Strict(), Ge(stencils.SPACER_UM[0]), Le(stencils.SPACER_UM[1])]
Density = Annotated[float, Strict(), Ge(stencils.DENSITY[0]), Le(stencils.DENSITY[1])]
Apart = Annotated[float, Strict(), Ge(stencils.APART_UM[0]), Le(stencils.APART_UM[1])]


class Stock(Command):
    """Ask for what is on the shelf, and what left it last."""


class StockThing(Command):
    """Ask for one thing on the shelf."""

    stock_id: Identity


class RollNew(Command):
    """Put a roll of resist on the shelf. `opened_on` left out: today; empty: it is still closed."""

    resist: Resist
    film_um: Annotated[float, Strict(), Ge(rolls.FILM_UM[0]), Le(rolls.FILM_UM[1])] | None = None
    opened_on: Day | None = None
    expires_on: Day = ""
    storage: Storage | None = None
    who: Text = TERMINAL


class MetalNew(Command):
    """Put metal on the shelf; `pieces` left out: nobody counts them."""

    metal: Word
    thickness_um: Annotated[float, Strict(), Ge(SHEET_UM[0]), Le(SHEET_UM[1])]
    pieces: Annotated[int, Whole, Strict(), Ge(1), Le(metal.MOST_PIECES)] | None = None
    remark: Text = ""
    who: Text = TERMINAL


class StencilNew(Command):
    """Begin a stencil for an artwork, named as in its jobs. `spacer_um` is the strip between its two sheets."""

    artwork: Text
    sides: Annotated[int, Whole, Strict(), Ge(1), Le(2)] = 2
    spacer_um: Spacer | None = None
    held: Held = "hinge"
    who: Text = TERMINAL


class StencilDone(Command):
    """Note a step of a stencil as done, or take that back."""

    stock_id: Identity
    step: StencilStep
    done: Flag = True
    who: Text = TERMINAL


class StencilMeasured(Command):
    """Keep what was measured of a stencil today. `density` is black over clear; `apart_um` front against back.

    `readable_a` and `readable_b`: whether that side reads from the lamps' side as the part is to.
    """

    stock_id: Identity
    density: Density | None = None
    apart_um: Apart | None = None
    readable_a: Flag | None = None
    readable_b: Flag | None = None
    who: Text = TERMINAL


class StencilRecipe(Command):
    """Let panels of a recipe that have no card count for a stencil, and for no other; without a recipe: none."""

    stock_id: Identity
    recipe: RecipeName | None = None


class StockEnd(Command):
    """Take a thing off the shelf, or put it back."""

    stock_id: Identity
    ended: Flag = True


class JobStock(Command):
    """Choose what a job takes from the shelf."""

    job_id: Identity
    stock_id: Identity


KindOfThing = Literal["roll", "metal", "stencil"]

COMMANDS: Final[dict[str, type[Command]]] = {
    "stock": Stock,
    "stock_thing": StockThing,
    "roll_new": RollNew,
    "metal_new": MetalNew,
    "stencil_new": StencilNew,
    "stencil_done": StencilDone,
    "stencil_measured": StencilMeasured,
    "stencil_recipe": StencilRecipe,
    "stock_end": StockEnd,
    "job_stock": JobStock,
}
